"""The causes in words and as a table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from benchtimer.learn.causes import ALPHA, Cause, Causes, Experiment
from benchtimer.quantity import how_many, show_number
from benchtimer.values import asdict

SHOWN = 5
"""How many facts are shown unless you ask for all."""

MOST_SIDES = 4
"""A choice with more values than these shows only its first and last."""

Cell = str | int | float | bool | None | Sequence[object] | Mapping[str, object]


def causes_table(found: Causes, recipe: str, part: str | None) -> dict[str, Cell]:
    """The causes for programs.

    Args:
        found: what was found.
        recipe: the recipe's id.
        part: the part, if only one.
    """
    experiment = found.experiment
    return {
        "recipe": recipe,
        "part": part,
        "tries": found.tries,
        "failed": found.failed,
        "runs": found.runs,
        "facts_looked_at": found.looked_at,
        "within_reach": found.within_reach,
        "least_chance": found.least,
        "tries_that_could_show_something": found.enough,
        "causes": [_row(cause) for cause in found.causes],
        "next_experiment": None if experiment is None else asdict(experiment),
    }


def _row(cause: Cause) -> dict[str, Cell]:
    return {
        "kind": cause.kind,
        "what": cause.label,
        "same_as": list(cause.same_as),
        "sides": [asdict(share) for share in cause.shares],
        "chance": cause.chance,
        "corrected": cause.corrected,
        "verdict": verdict(cause),
        "counted_by_run": cause.runs,
        "mixed_with": [
            {"what": label, "tries_apart": apart, "tries": count}
            for label, apart, count in cause.mixed_with
        ],
    }


def causes_text(found: Causes, recipe: str, part: str | None = None, most: int = SHOWN) -> str:
    """The causes for reading.

    Args:
        found: what was found.
        recipe: the recipe's id.
        part: the part, if only one.
        most: how many facts to show.
    """
    return "\n".join(_lines(found, recipe, part, most))


def _lines(found: Causes, recipe: str, part: str | None, most: int) -> Iterator[str]:
    of = f", part {part}" if part is not None else ""
    yield f"{recipe}{of}: what the failures have in common"
    good = found.tries - found.failed
    yield (
        f"{how_many(found.tries, 'try', 'tries')} in {how_many(found.runs, 'run')}: "
        f"{found.failed} failed, {good} came out well. {_facts(found.looked_at)} among them."
    )
    if not found.failed or not good:
        yield ""
        missing = "came out well" if found.failed else "failed"
        yield f"No try {missing}, so there is nothing to compare with."
        return
    if not found.looked_at:
        return
    if not found.within_reach:
        yield ""
        yield (
            f"With {found.failed} failures among these tries, no fact could have gotten below "
            f"{percent(ALPHA)}. What follows shows what differed, not why."
        )
        yield (
            f"With {how_many(found.looked_at, 'fact')} you need {found.enough} tries or "
            f"more, half of them failed."
        )
    yield ""
    for number, cause in enumerate(found.causes[:most], start=1):
        yield from _cause_lines(number, cause, found)
    left = found.causes[most:]
    if left:
        least = percent(min(cause.chance for cause in left))
        more = how_many(len(left), "fact")
        yield f"Not shown: {more}, {least} by chance or more (--all)."
    if found.experiment is not None:
        yield ""
        yield from _experiment_lines(found.experiment)


def _cause_lines(number: int, cause: Cause, found: Causes) -> Iterator[str]:
    yield f"{number:>3} {cause.label}"
    yield f"      {sides_words(cause)}"
    yield (
        f"      {percent(cause.chance)} by chance alone, {percent(cause.corrected)} corrected "
        f"for {how_many(found.looked_at, 'fact')}: {verdict(cause)}"
    )
    if cause.runs is not None:
        runs = how_many(cause.runs, "run")
        yield f"      the same for all parts of a run, so it counts {runs}, not tries"
    if cause.same_as:
        yield f"      the same in every try: {'; '.join(cause.same_as)}"
    for label, apart, count in cause.mixed_with[:3]:
        yield f"      can't be separated from {label} (differs in {apart} of {count} tries)"


def sides_words(cause: Cause) -> str:
    """The effect: ``dish soap: 3 of 5 failed; solvent then alkaline: 0 of 7``."""
    shares = cause.shares
    if len(shares) > MOST_SIDES:
        shares = (*shares[: MOST_SIDES - 1], shares[-1])
    first, *rest = shares
    return "; ".join([first.words, *(f"{s.label}: {s.failed} of {s.tries}" for s in rest)])


def verdict(cause: Cause) -> str:
    """How much evidence there is for a fact."""
    if cause.corrected <= ALPHA:
        return "clear, but not proof: change it alone and see"
    if cause.chance <= ALPHA:
        return "a hint, not proof"
    return "no sign of a cause"


def _experiment_lines(experiment: Experiment) -> Iterator[str]:
    yield f"Next: change one thing only, {experiment.label}."
    if experiment.last_was_worse:
        yield f"  The last try was on the side that failed more ({experiment.worse})."
        yield f"  Next time: {experiment.better}. Leave everything else as it was."
    else:
        better = experiment.better
        yield f"  The last try was on the side that failed less ({better}). Keep it there."
        yield f"  To be sure, try the other side ({experiment.worse}) on a scrap piece."
    if experiment.hold:
        same = "; ".join(experiment.hold[:4])
        yield f"  Keep these as they were, or they stay mixed up with it: {same}."
    if experiment.tries:
        more = how_many(experiment.tries, "more try", "more tries")
        yield f"  If this goes on, about {more}, taking turns between the sides, would settle it."


def _facts(count: int) -> str:
    if not count:
        return "No fact differs"
    return "1 fact differs" if count == 1 else f"{count} facts differ"


def percent(chance: float) -> str:
    """A chance as text: two digits, never 0% and never over 100%."""
    if chance < 0.0001:
        return "under 0.01%"
    places = 0 if chance >= 0.0995 else 1 if chance >= 0.00995 else 2
    return f"{show_number(100 * chance, places)}%"
