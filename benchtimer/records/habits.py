"""How the work of one recipe really goes, over many runs: hands-on times, dwells, overruns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median, quantiles

from benchtimer.plan.spread import SpreadEstimate, clearly_differs, estimate_spread, spread_words
from benchtimer.records.card import counted
from benchtimer.records.inert import visible
from benchtimer.records.record import Record, Visit
from benchtimer.times import duration

TENTHS = 10
"""From this many times on one in ten is a time."""


@dataclass(frozen=True, slots=True)
class Times:
    """Times of one kind.

    Attributes:
        count: how many.
        low_s: the tenth; one in ten is below.
        median_s: the middle one.
        high_s: the ninth tenth; one in ten is above.
        shortest_s: the shortest, and ``longest_s`` the longest.
    """

    count: int
    low_s: float
    median_s: float
    high_s: float
    shortest_s: float
    longest_s: float

    @classmethod
    def of(cls, times: Sequence[float]) -> Times | None:
        """Count some times; None for none."""
        if not times:
            return None
        tenths = quantiles(times, n=10, method="inclusive") if len(times) > 1 else [*times] * 9
        return cls(len(times), tenths[0], median(times), tenths[8], min(times), max(times))


@dataclass(frozen=True, slots=True)
class StepHabit:
    """How one step really goes.

    Attributes:
        planned_hands_s: what the newest run's recipe says.
        hands: the real hands-on times, and ``hands_differ`` whether they clearly differ.
        target_s: the dwell's aim, if it has a dwell, and ``dwells`` the real ones.
        overruns: how many dwells were too long, and ``early`` too short.
    """

    step: str
    title: str
    planned_hands_s: int
    hands: Times | None
    target_s: int | None
    dwells: Times | None
    overruns: int
    early: int
    hands_differ: bool = False


@dataclass(frozen=True, slots=True)
class Habits:
    """How a recipe really goes.

    Attributes:
        runs: names of the runs looked at, oldest first.
        spread: of the hands-on times, as the planner takes it; None without enough times.
    """

    recipe: str
    runs: tuple[str, ...]
    steps: tuple[StepHabit, ...]
    spread: SpreadEstimate | None

    @property
    def worst(self) -> StepHabit | None:
        """The step that overruns most, if any does."""
        found = max(self.steps, key=lambda s: s.overruns, default=None)
        return found if found is not None and found.overruns else None

    def estimates(self) -> dict[str, tuple[int, int]]:
        """By step, the recipe's hands-on time and the real one, where they clearly differ."""
        told = {}
        for step in self.steps:
            if step.hands is not None and step.hands_differ:
                real_s = max(1, round(step.hands.median_s))
                told[step.step] = (step.planned_hands_s, real_s)
        return told


def habits_of(recipe: str, records: Sequence[Record]) -> Habits:
    """How a recipe went in some runs; practice is left out.

    Args:
        recipe: the recipe's id or its key in the runs.
        records: the runs, oldest first.
    """
    real = [record for record in records if not record.practice]
    visits: dict[str, list[Visit]] = {}
    for record in real:
        for part in record.parts:
            if recipe in (part.recipe, record.recipes[part.recipe].id):
                for visit in part.visits:
                    visits.setdefault(visit.step, []).append(visit)
    steps = tuple(_habit(step, told) for step, told in visits.items())
    return Habits(recipe, tuple(r.run for r in real), steps, _spread(visits.values()))


def _habit(step: str, visits: list[Visit]) -> StepHabit:
    newest = visits[-1]
    hands = [v.hands_s for v in visits if v.hands_s is not None]
    return StepHabit(
        step,
        newest.title,
        newest.planned_hands_s,
        Times.of(hands),
        newest.target_s,
        Times.of([v.dwell_s for v in visits if v.dwell_s is not None]),
        sum(v.verdict == "overrun" for v in visits),
        sum(v.verdict == "early" for v in visits),
        clearly_differs(hands, newest.planned_hands_s),
    )


def _spread(steps: Iterable[Sequence[Visit]]) -> SpreadEstimate | None:
    """The spread of all steps together; a step with a changed recipe time counts as another."""
    groups: dict[tuple[str, int], list[float]] = {}
    for visit in (visit for visits in steps for visit in visits):
        if visit.hands_s is not None:
            groups.setdefault((visit.step, visit.planned_hands_s), []).append(visit.hands_s)
    return estimate_spread(groups.values())


def habits_table(habits: Habits) -> dict[str, object]:
    """The habits for programs."""
    spread = habits.spread
    return {
        "recipe": habits.recipe,
        "runs": list(habits.runs),
        "steps": [
            {
                "step": s.step,
                "planned_hands_s": s.planned_hands_s,
                "hands": _times_table(s.hands),
                "target_s": s.target_s,
                "dwell": _times_table(s.dwells),
                "overruns": s.overruns,
                "too_short": s.early,
            }
            for s in habits.steps
        ],
        "overruns_most": habits.worst.step if habits.worst is not None else None,
        "estimates": {
            step: {"planned_s": planned, "real_s": real}
            for step, (planned, real) in habits.estimates().items()
        },
        "spread": None if spread is None else round(spread.spread, 3),
        "spread_error": None if spread is None else round(spread.error, 3),
    }


def _times_table(times: Times | None) -> dict[str, object] | None:
    if times is None:
        return None
    return {
        "count": times.count,
        "tenth_s": times.low_s,
        "median_s": times.median_s,
        "ninth_s": times.high_s,
    }


def habits_text(habits: Habits) -> str:
    """The habits for reading."""
    return visible("\n".join(_lines(habits)))


def _lines(habits: Habits) -> Iterator[str]:
    yield f"{habits.recipe}: how it really goes, over {counted(len(habits.runs), 'run')}"
    yield "median (shortest .. longest; from 10 times on, 8 of 10 are between), times counted"
    for step in habits.steps:
        yield ""
        yield f"{step.title} [{step.step}]"
        if step.hands is not None:
            yield f"  in hand {_words(step.hands)}; planned {duration(step.planned_hands_s)}"
        if step.dwells is not None:
            wrong = f"; {step.overruns} overruns" if step.overruns else ""
            wrong += f"; {step.early} cut short" if step.early else ""
            target = duration(step.target_s or 0)
            yield f"  dwell   {_words(step.dwells)}; target {target}{wrong}"
    yield ""
    worst = habits.worst
    yield (
        f"Overruns most: {worst.title}, {counted(worst.overruns, 'time')}"
        if worst is not None
        else "No step overruns."
    )
    for step_id, (planned, real) in habits.estimates().items():
        told = f"{duration(planned)} planned, {duration(real)} really"
        yield f'  --set {step_id}.hands="{duration(real)}"   ({told})'
    spread = habits.spread
    if spread is not None:
        yield f"Spread of the hands-on times, for benchtimer plan: --spread {spread.spread:.2f}"
        yield f"  {spread_words(spread.spread)}"
        yield f"  from {counted(spread.count, 'time')}, give or take {2 * spread.error:.2f}"


def _words(times: Times) -> str:
    """The middle and the range; tenths of fewer than ten times would be made up."""
    many = times.count >= TENTHS
    ends = (times.low_s, times.high_s) if many else (times.shortest_s, times.longest_s)
    low, high = (duration(round(end)) for end in ends)
    middle = duration(round(times.median_s))
    return f"{middle} ({low} .. {high}), {counted(times.count, 'time')}"
