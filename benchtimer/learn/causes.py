"""What the failures of a recipe have in common, over all its tries, one fact at a time.

1. A fact counts if it differs among the tries, and of the tries that have it, some failed and some
   came out well. Names, such as a bath's, and words that are new each time are left out; the bath's
   state is included. Facts that agree in every try are one fact. A try without a fact is left out
   for that fact.
2. Yes or no, and choices, use Fisher's exact test: one value against all others, the best
   value's chance times the number of values. Figures use the best cut, whose chance accounts for
   all cuts; if some are outside their limits, they use the better of that and Fisher's test, times
   two.
3. A fact that is the same for all parts of a run, such as a bath, counts runs, not tries.
4. Holm's method corrects the chances for the number of facts. First of all, the program checks
   whether these tries could show anything at all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import comb

from benchtimer.learn.fact import Fact, Facts, differ, numbers_of
from benchtimer.learn.fact_kinds import KINDS
from benchtimer.learn.significance import (
    best_cut,
    fisher_p,
    holm,
    least_cut_p,
    least_fisher_p,
)
from benchtimer.values import dataclass

ALPHA = 0.05
"""A corrected chance this small or smaller counts as clear."""


@dataclass(frozen=True, slots=True)
class TryFacts:
    """One try that counts: it was sent back, accepted or rejected.

    Attributes:
        name: its address, ``RUN:PART:TRY``, and ``run`` its run's name.
        failed: whether it was sent back or rejected.
        facts: what was true before its outcome was seen.
    """

    name: str
    run: str
    failed: bool
    facts: Facts


@dataclass(frozen=True, slots=True)
class Share:
    """One side of a fact, and how many of its tries failed.

    Attributes:
        label: the side, such as ``dish soap`` or ``26 C or more``.
    """

    label: str
    failed: int
    tries: int

    @property
    def words(self) -> str:
        """Such as ``dish soap: 3 of 5 failed``."""
        return f"{self.label}: {self.failed} of {self.tries} failed"


@dataclass(frozen=True, slots=True)
class Cause:
    """A fact that was tested.

    Attributes:
        kind: one of ``fact_kinds.KINDS``.
        label: what it is.
        same_as: other facts that agree with it in every try.
        shares: its sides, the one that failed most first.
        chance: the probability of a pattern this strong or stronger by chance alone.
        corrected: the same, corrected for the number of facts.
        runs: how many runs it comes from, if it was the same for all parts of a run.
        mixed_with: facts that can't be separated from it, each with the number of tries in which
            they differ and in which both are known.
        place: index of its step.
    """

    kind: str
    label: str
    same_as: tuple[str, ...]
    shares: tuple[Share, ...]
    chance: float
    corrected: float
    runs: int | None
    mixed_with: tuple[tuple[str, int, int], ...]
    place: int


@dataclass(frozen=True, slots=True)
class Experiment:
    """What to change next.

    Attributes:
        label: the one fact to change.
        better: the side that failed least, and ``worse`` the one that failed most.
        last_was_worse: whether the newest try was on the worse side.
        tries: about how many more tries would settle it if results stay the same; None if too many.
        hold: what has to stay as it is, because it can't be separated yet.
    """

    label: str
    better: str
    worse: str
    last_was_worse: bool
    tries: int | None
    hold: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Causes:
    """What the failures have in common.

    Attributes:
        tries: how many tries count, ``failed`` of them failed, in ``runs`` runs.
        looked_at: how many facts differ among them.
        causes: the facts, the smallest chance first.
        within_reach: whether any outcome with this many failures could have reached ``ALPHA``.
        least: the smallest corrected chance that any outcome could have had.
        enough: how many tries, half of them failed, it takes to show something.
        experiment: what to change next, if there is any evidence.
    """

    tries: int
    failed: int
    runs: int
    looked_at: int
    causes: tuple[Cause, ...]
    within_reach: bool
    least: float
    enough: int
    experiment: Experiment | None


def find_causes(tries: Sequence[TryFacts], kinds: Sequence[str] = KINDS) -> Causes:
    """Rank the facts that the failures have in common.

    Args:
        tries: those that count, the oldest first.
        kinds: the kinds of facts to look at; fewer facts make a smaller correction, if you choose
            them before you look.
    """
    found = _merged(_columns(tries, kinds))
    failed = sum(each.failed for each in tries)
    chances = [column.chance for column in found]
    corrected = holm(chances)
    least = min((column.least for column in found), default=1.0) * len(found)
    order = sorted(range(len(found)), key=lambda n: (chances[n], *found[n].rank))
    causes = tuple(_cause(found[n], corrected[n], found) for n in order)
    return Causes(
        len(tries),
        failed,
        len({each.run for each in tries}),
        len(found),
        causes,
        least <= ALPHA,
        min(1.0, least),
        _enough(len(found)),
        _experiment([found[n] for n in order], len(found)),
    )


def _enough(looked_at: int) -> int:
    """The fewest tries, half of them failed, that could show one cause among this many facts."""
    half = next(n for n in range(1, 200) if 2 * looked_at <= ALPHA * comb(2 * n, n))
    return 2 * half


class _Column:
    """One fact over all the tries that have it."""

    def __init__(self, key: tuple[str, str], rows: Sequence[tuple[int, TryFacts, Fact]]) -> None:
        self.rows = rows
        self.facts = [fact for _, _, fact in rows]
        self.key, self.first = key, self.facts[-1]
        self.same_as: tuple[str, ...] = ()
        self.failed = [each.failed for _, each, _ in rows]
        self.numbers = numbers_of(self.facts)
        if self.numbers is not None and len(set(self.numbers)) < 3:
            self.numbers = None
        self.runs = self._runs()
        self.chance, self.least = self._chances()
        self.shares = self._shares()
        self.worse = self._worse()
        # One bit per try: whether it has the fact, and whether it is on the worse side.
        self.known = sum(1 << index for index, _, _ in rows)
        self.bad = sum(1 << row[0] for row, worse in zip(rows, self.worse, strict=True) if worse)

    @property
    def rank(self) -> tuple[float, int, int]:
        """What ranks facts with the same chance."""
        worst, best = self.shares[0], self.shares[-1]
        apart = worst.failed / worst.tries - best.failed / best.tries
        return -apart, KINDS.index(self.first.kind), self.first.place

    def _runs(self) -> list[list[int]] | None:
        """Rows by run, if the fact is the same for all parts of each run and some run has several
        parts.
        """
        by_run: dict[str, list[int]] = {}
        for row, (_, each, _) in enumerate(self.rows):
            by_run.setdefault(each.run, []).append(row)
        several = len(by_run) < len(self.rows)
        alike = all(len({self.facts[r].shown for r in rows}) == 1 for rows in by_run.values())
        return list(by_run.values()) if several and alike else None

    def _units(self) -> tuple[list[int], list[bool]]:
        """A row for each unit that counts, a try or a run, and whether it failed.

        A run failed if at least half of its tries did.
        """
        if self.runs is None:
            return list(range(len(self.rows))), self.failed
        failed = [2 * sum(self.failed[r] for r in rows) >= len(rows) for rows in self.runs]
        return [rows[0] for rows in self.runs], failed

    def _chances(self) -> tuple[float, float]:
        """The chance from the test, and the smallest one that any outcome could have."""
        units, failed = self._units()
        hits = sum(failed)
        if not 0 < hits < len(failed):
            return 1.0, 1.0
        if self.numbers is None:
            words = [self.facts[unit].shown for unit in units]
            return _choice_chances(words, failed)
        numbers = [self.numbers[unit] for unit in units]
        cut, least = best_cut(numbers, failed), least_cut_p(numbers, hits)
        chance = 1.0 if cut is None else cut.chance
        outside = [self.facts[unit].is_outside for unit in units]
        if any(outside) and not all(outside):
            other, other_least = _choice_chances([str(o) for o in outside], failed)
            return min(1.0, 2 * min(chance, other)), min(1.0, 2 * min(least, other_least))
        return chance, least

    def _shares(self) -> tuple[Share, ...]:
        if self.numbers is None:
            counts = Counter(fact.shown for fact in self.facts)
            pairs = list(zip(self.facts, self.failed, strict=True))
            bad = Counter(fact.shown for fact, failed in pairs if failed)
            shares = [Share(value, bad[value], count) for value, count in counts.items()]
            return tuple(sorted(shares, key=lambda s: (-s.failed / s.tries, -s.tries, s.label)))
        return self._cut(self.numbers)

    def _cut(self, numbers: Sequence[float]) -> tuple[Share, ...]:
        """Both sides of the best cut; if there is none, the middle of the row."""
        order = sorted(range(len(numbers)), key=numbers.__getitem__)
        cut = best_cut(numbers, self.failed)
        end = cut.below if cut is not None else self._middle([numbers[row] for row in order])
        bad, hits = sum(self.failed[row] for row in order[:end]), sum(self.failed)
        low, high = self.facts[order[end - 1]].shown, self.facts[order[end]].shown
        sides = [
            Share(f"{low} or less", bad, end),
            Share(f"{high} or more", hits - bad, len(order) - end),
        ]
        return tuple(sorted(sides, key=lambda s: -s.failed / s.tries))

    @staticmethod
    def _middle(ordered: Sequence[float]) -> int:
        """The gap between different figures that is nearest to the middle."""
        places = [n for n in range(1, len(ordered)) if ordered[n - 1] < ordered[n]]
        return min(places, key=lambda n: abs(2 * n - len(ordered)))

    def _worse(self) -> list[bool]:
        """By row, whether it is on the side that failed most."""
        label = self.shares[0].label
        if self.numbers is None:
            return [fact.shown == label for fact in self.facts]
        tries = self.shares[0].tries
        order = sorted(range(len(self.rows)), key=self.numbers.__getitem__)
        side = set(order[-tries:] if label.endswith("or more") else order[:tries])
        return [row in side for row in range(len(self.rows))]

    def pattern(self) -> tuple[object, ...]:
        """The same for two facts that agree in every try, whatever their names."""
        at = tuple(index for index, _, _ in self.rows)
        if self.numbers is None:
            names: dict[str, int] = {}
            return at, tuple(names.setdefault(fact.shown, len(names)) for fact in self.facts)
        place = {number: rank for rank, number in enumerate(sorted(set(self.numbers)))}
        up = tuple(place[number] for number in self.numbers)
        down = tuple(len(place) - 1 - rank for rank in up)
        return at, min(up, down)


def _choice_chances(words: Sequence[str], failed: Sequence[bool]) -> tuple[float, float]:
    """The best value against all others, times the number of values; and the smallest chance
    possible.
    """
    counts, hits, total = Counter(words), sum(failed), len(words)
    bad = Counter(word for word, f in zip(words, failed, strict=True) if f)
    ways = len(counts) if len(counts) > 2 else 1
    chances = [
        fisher_p(bad[w], n - bad[w], hits - bad[w], total - n - hits + bad[w])
        for w, n in counts.items()
    ]
    leasts = [least_fisher_p(n, total, hits) for n in counts.values()]
    return min(1.0, ways * min(chances)), min(1.0, ways * min(leasts))


def _columns(tries: Sequence[TryFacts], kinds: Sequence[str]) -> Iterator[_Column]:
    keys = dict.fromkeys(key for each in tries for key in each.facts if key[0] in kinds)
    for key in keys:
        rows = [(n, each, each.facts[key]) for n, each in enumerate(tries) if key in each.facts]
        facts = [fact for _, _, fact in rows]
        both = len({each.failed for _, each, _ in rows}) == 2
        if both and not facts[0].is_name and differ(facts) and not _is_new(facts):
            yield _Column(key, rows)


def _is_new(facts: Sequence[Fact]) -> bool:
    """Words that are new in most tries can't repeat, so they show nothing."""
    values = len({fact.shown for fact in facts})
    return numbers_of(facts) is None and values > 2 and 2 * values > len(facts)


def _merged(columns: Iterator[_Column]) -> list[_Column]:
    """Facts that agree in every try merged into one, named after the most useful."""
    by_pattern: dict[tuple[object, ...], list[_Column]] = {}
    for column in columns:
        by_pattern.setdefault(column.pattern(), []).append(column)
    found = []
    for same in by_pattern.values():
        first, *others = sorted(same, key=lambda c: (KINDS.index(c.first.kind), c.first.place))
        first.same_as = tuple(other.first.label for other in others)
        found.append(first)
    return found


def _cause(column: _Column, corrected: float, all_of_them: Sequence[_Column]) -> Cause:
    first = column.first
    return Cause(
        first.kind, first.label, column.same_as, column.shares, column.chance, corrected,
        None if column.runs is None else len(column.runs),
        tuple(_mixed_with(column, all_of_them)), first.place,
    )  # fmt: skip


def _mixed_with(column: _Column, all_of_them: Sequence[_Column]) -> Iterator[tuple[str, int, int]]:
    """The facts whose worse side has the same tries, except for one in eight or a single one."""
    for other in all_of_them:
        if other is column:
            continue
        both = column.known & other.known
        one, two = column.bad & both, other.bad & both
        count, apart = both.bit_count(), (one ^ two).bit_count()
        has_sides = one not in (0, both) and two not in (0, both)
        if has_sides and apart <= max(1, count // 8):
            yield other.first.label, apart, count


MOST_MORE = 40
"""An experiment with more tries than these is too long for a shop."""
CANDIDATES = 5
"""How many of the likeliest facts the experiment is chosen from."""


def _experiment(ranked: Sequence[_Column], looked_at: int) -> Experiment | None:
    """The one fact to change: of the likeliest, the one that needs the fewest more tries."""
    able = [c for c in ranked[:CANDIDATES] if c.first.kind != "part" and c.chance < 1]
    if not able:
        return None
    more = {id(column): _more_tries(column, looked_at) for column in able}
    best = min(able, key=lambda c: (more[id(c)] is None, more[id(c)] or 0, able.index(c)))
    hold = [label for label, _, _ in _mixed_with(best, ranked)]
    return Experiment(
        best.first.label, best.shares[-1].label, best.shares[0].label,
        best.worse[-1], more[id(best)], (*best.same_as, *hold),
    )  # fmt: skip


def _more_tries(column: _Column, looked_at: int) -> int | None:
    """How many more tries, in turn on each side and failing as so far, would settle it."""
    pairs = list(zip(column.worse, column.failed, strict=True))
    worst, rest = [f for w, f in pairs if w], [f for w, f in pairs if not w]
    if not worst or not rest:
        return None
    sides = [(sum(worst), len(worst)), (sum(rest), len(rest))]
    for more in range(MOST_MORE + 1):
        added = ((more + 1) // 2, more // 2)
        table: list[int] = []
        for (bad, total), extra in zip(sides, added, strict=True):
            hits = bad + round(extra * (bad + 0.5) / (total + 1))
            table += [hits, total + extra - hits]
        if fisher_p(*table) * looked_at <= ALPHA:
            return more
    return None
