"""What differed between tries, likeliest reason first. The rule is simple on purpose:

1. Only what differed is shown. Figures differ if they are further apart than a tenth of the width
   of their limits; without limits, than a tenth of the larger (a time: at least of a minute; of an
   hour where a part only waits). Anything seen at or after the check that failed is an outcome, not
   a cause, and is left out.
2. A fact separates if no failed try shares a value with a good try or, for figures, if all failed
   ones are on one side. Facts that separate come first.
3. Then the larger difference: for figures the gap between the failed and the good ones,
   measured in widths of the limits (or by the larger value); words that differ count as a
   whole width, and so does a figure that was outside its limits in every failed try
   and inside in every good one.
4. Then the kinds in the order of ``fact_kinds.KINDS``, then the order of the work.

Few tries prove little, so the output shows how often an unrelated figure would separate them as
well. A star marks a fact only where that chance, times the number of facts that differ, is
``ALPHA`` at most. ``learn.causes`` looks at all tries of a recipe.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import comb

from benchtimer.learn.causes import ALPHA
from benchtimer.learn.fact import SAME, Fact, differ, numbers_of, scale_of
from benchtimer.learn.fact_kinds import KINDS
from benchtimer.records.facts import facts_of
from benchtimer.records.inert import visible
from benchtimer.records.life import life_of
from benchtimer.records.record import Record
from benchtimer.records.tries import FAILED, WELL, Try
from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that differed.

    Attributes:
        kind: one of ``fact_kinds.KINDS``.
        label: what it is.
        values: as text, in the order of the tries; None if unknown.
        separates: whether it separates failed from good.
        size: how far apart they are, 0 to 1.
    """

    kind: str
    label: str
    values: tuple[str | None, ...]
    separates: bool
    size: float
    place: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """What differed between tries.

    Attributes:
        tries: the tries compared.
        differences: likeliest reason first.
        same: how many facts were the same in all.
        chance: how likely an unrelated figure is to separate failed from good; None unless there
            are both.
    """

    tries: tuple[Try, ...]
    differences: tuple[Difference, ...]
    same: int
    chance: float | None

    @property
    def is_carried(self) -> bool:
        """Whether there are enough tries for a star: chance alone would seldom separate a fact this
        way.
        """
        return self.chance is not None and self.chance * len(self.differences) <= ALPHA


def compare(tries: Sequence[Try]) -> Comparison:
    """Compare tries, from one run or several."""
    each = [facts_of(one) for one in tries]
    outcomes = [one.outcome for one in tries]
    keys = list(dict.fromkeys(key for facts in each for key in facts))
    end = _first_failure(tries)
    found = []
    same = 0
    for key in keys:
        facts = [known.get(key) for known in each]
        if any(fact is not None and fact.place >= end for fact in facts):
            continue
        difference = _difference(facts, outcomes)
        if difference is None:
            same += 1
        else:
            found.append(difference)
    found.sort(key=lambda d: (not d.separates, -d.size, KINDS.index(d.kind), d.place))
    return Comparison(tuple(tries), tuple(found), same, _chance(outcomes))


def _first_failure(tries: Sequence[Try]) -> float:
    """Index of the earliest step that sent one of the tries back."""
    places = [a.recipe.step_index(a.failed_at) for a in tries if a.failed_at is not None]
    return min(places, default=float("inf"))


def _chance(outcomes: Sequence[str]) -> float | None:
    good, bad = outcomes.count(WELL), outcomes.count(FAILED)
    return min(1.0, 2 / comb(good + bad, good)) if good and bad else None


def _difference(facts: Sequence[Fact | None], outcomes: Sequence[str]) -> Difference | None:
    known = [fact for fact in facts if fact is not None]
    if not differ(known):
        return None
    groups = _Groups.of(facts, outcomes)
    first = known[0]
    values = tuple(fact.shown if fact is not None else None for fact in facts)
    separates, size = groups.separation() if groups.both else (False, _spread(known))
    if len(known) < len(facts):
        # Some values are unknown: the known ones differ, but that separates nothing.
        separates, size = False, 0.0
    return Difference(first.kind, first.label, values, separates, size, first.place)


def _spread(facts: Sequence[Fact]) -> float:
    numbers = numbers_of(facts)
    if numbers is None:
        return 1.0
    return min(1.0, (max(numbers) - min(numbers)) / scale_of(facts))


@dataclass(frozen=True, slots=True)
class _Groups:
    """A fact in the good tries and in the failed ones."""

    good: list[Fact]
    bad: list[Fact]

    @classmethod
    def of(cls, facts: Sequence[Fact | None], outcomes: Sequence[str]) -> _Groups:
        pairs = [(f, o) for f, o in zip(facts, outcomes, strict=True) if f is not None]
        return cls([f for f, o in pairs if o == WELL], [f for f, o in pairs if o == FAILED])

    @property
    def both(self) -> bool:
        return bool(self.good and self.bad)

    def separation(self) -> tuple[bool, float]:
        """Whether the fact separates them, and by how much."""
        all_of_them = [*self.good, *self.bad]
        if numbers_of(all_of_them) is None:
            apart = not {f.shown for f in self.good} & {f.shown for f in self.bad}
            return apart, 1.0
        good, bad = numbers_of(self.good) or [], numbers_of(self.bad) or []
        gap = max(min(good) - max(bad), min(bad) - max(good))
        explained = all(f.is_outside for f in self.bad) and not any(f.is_outside for f in self.good)
        if explained:
            return gap > 0, 1.0
        # A gap too small to count as a difference separates nothing.
        scale = scale_of(all_of_them)
        if gap <= SAME * scale + 1e-9:
            return False, _spread(all_of_them)
        return True, min(1.0, gap / scale)


def tries_text_of(records: Sequence[Record], part: str) -> str:
    """What differed between the tries of a part in some runs, or a note that there is only one."""
    tries = life_of(records, part)
    if len(tries) < 2:
        return f"{part} has had one try so far: there is nothing to compare."
    return comparison_text(compare(tries))


def comparison_table(found: Comparison) -> dict[str, object]:
    """The comparison for programs."""
    tries = [
        {
            "run": a.record.run,
            "part": a.part.name,
            "try": a.number,
            "of": a.of,
            "outcome": a.outcome,
            "words": a.words,
        }
        for a in found.tries
    ]
    differences = [
        {
            "kind": d.kind,
            "what": d.label,
            "values": list(d.values),
            "separates": d.separates,
            "starred": d.separates and found.is_carried,
            "size": round(d.size, 3),
        }
        for d in found.differences
    ]
    return {
        "tries": tries,
        "differences": differences,
        "same": found.same,
        "chance": None if found.chance is None else round(found.chance, 3),
    }


def comparison_text(found: Comparison) -> str:
    """The comparison for reading."""
    letters = [chr(ord("A") + i) if i < 26 else str(i + 1) for i in range(len(found.tries))]
    lines = [f"What differed between {len(found.tries)} tries", ""]
    marks = {WELL: "+", FAILED: "-"}
    for letter, a in zip(letters, found.tries, strict=True):
        day = a.record.created[:10]
        lines.append(f"  {letter} {marks.get(a.outcome, '?')} {a.name}, {day}: {a.words}")
    lines.append("")
    if not found.differences:
        lines.append("Nothing recorded differed.")
    separating = any(d.separates for d in found.differences)
    if separating and found.is_carried:
        lines.append("The likeliest reason first; * separates what failed (-) from what held (+).")
    elif separating:
        lines.append("First: what separates the failed tries (-) from the good ones (+).")
    for number, d in enumerate(found.differences, start=1):
        star = "*" if d.separates and found.is_carried else " "
        lines.append(f"{number:>3} {star} {d.label}")
        pairs = zip(letters, d.values, strict=True)
        values = "; ".join(
            f"{letter}: {v if v is not None else 'not known'}" for letter, v in pairs
        )
        lines.append(f"        {values}")
    lines += ["", f"The same in all: {found.same} more facts.", *_caution(found, separating)]
    return visible("\n".join(lines))


def _caution(found: Comparison, separating: bool) -> list[str]:
    if found.chance is None:
        return ["You need a try that failed and one that came out well to find a reason."]
    good = sum(a.outcome == WELL for a in found.tries)
    bad = sum(a.outcome == FAILED for a in found.tries)
    word = (
        f"Few tries prove little: with {good} good and {bad} failed, an unrelated figure "
        f"would separate them {100 * found.chance:.0f}% of the time."
    )
    recipe = found.tries[-1].recipe.id
    more = f"benchtimer causes {recipe} looks at all tries of the recipe."
    return [word, *(["To be sure, change one thing at a time."] if separating else []), more]
