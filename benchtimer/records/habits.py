"""How the work of one recipe really goes, over many runs: hands-on times, dwells, overstays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import mean, median, quantiles
from typing import Any

from benchtimer.quantity import show_duration
from benchtimer.records.card import counted
from benchtimer.records.inert import visible
from benchtimer.records.record import Record, Visit

ENOUGH = 5
"""Fewer times than this give no estimate."""

MAX_SPREAD = 0.95


@dataclass(frozen=True, slots=True)
class Spread:
    """Times of one kind: how many, the middle one, and what one in ten is below and above."""

    count: int
    low_s: float
    median_s: float
    high_s: float

    @classmethod
    def of(cls, times: Sequence[float]) -> Spread | None:
        """The spread of some times; None of none."""
        if not times:
            return None
        tenths = quantiles(times, n=10, method="inclusive") if len(times) > 1 else [*times] * 9
        return cls(len(times), tenths[0], median(times), tenths[8])


@dataclass(frozen=True, slots=True)
class StepHabit:
    """How one step really goes.

    Attributes:
        planned_hands_s: what the newest run's recipe says.
        hands: the real hands-on times.
        aim_s: the dwell's aim, if it has a dwell, and ``dwells`` the real ones.
        overstays: how many dwells were too long, and ``early`` too short.
    """

    step: str
    title: str
    planned_hands_s: int
    hands: Spread | None
    aim_s: int | None
    dwells: Spread | None
    overstays: int
    early: int


@dataclass(frozen=True, slots=True)
class Habits:
    """How a recipe really goes.

    Attributes:
        runs: names of the runs looked at, oldest first.
        spread: of the hands-on times, as the planner takes it: half the width of a triangle,
            as a share of the middle; None without enough times.
    """

    recipe: str
    runs: tuple[str, ...]
    steps: tuple[StepHabit, ...]
    spread: float | None

    @property
    def worst(self) -> StepHabit | None:
        """The step that overstays most, if any does."""
        found = max(self.steps, key=lambda s: s.overstays, default=None)
        return found if found is not None and found.overstays else None

    def estimates(self) -> dict[str, tuple[int, int]]:
        """By step, the recipe's hands-on time and the real one, where they clearly differ."""
        told = {}
        for step in self.steps:
            if step.hands is None or step.hands.count < ENOUGH:
                continue
            real_s = max(1, round(step.hands.median_s))
            if abs(real_s - step.planned_hands_s) > max(2, 0.1 * step.planned_hands_s):
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
            table = record.recipes.get(part.recipe, {})
            if recipe in (part.recipe, table.get("id")):
                for visit in part.visits:
                    visits.setdefault(visit.step, []).append(visit)
    steps = tuple(_habit(step, told) for step, told in visits.items())
    return Habits(recipe, tuple(r.run for r in real), steps, _spread(visits.values()))


def _habit(step: str, visits: list[Visit]) -> StepHabit:
    newest = visits[-1]
    return StepHabit(
        step,
        newest.title,
        newest.planned_hands_s,
        Spread.of([v.hands_s for v in visits if v.hands_s is not None]),
        newest.aim_s,
        Spread.of([v.dwell_s for v in visits if v.dwell_s is not None]),
        sum(v.verdict == "overstay" for v in visits),
        sum(v.verdict == "early" for v in visits),
    )


def _spread(steps: Any) -> float | None:
    """The planner draws from a triangle around the middle, whose variance is spread^2 / 6."""
    shares = []
    for visits in steps:
        times = [v.hands_s for v in visits if v.hands_s is not None]
        middle = median(times) if len(times) >= ENOUGH else 0
        if middle > 0:
            shares.append(mean((t / middle - 1) ** 2 for t in times))
    return round(min(MAX_SPREAD, sqrt(6 * mean(shares))), 2) if shares else None


def habits_table(habits: Habits) -> dict[str, Any]:
    """The habits for programs."""
    return {
        "recipe": habits.recipe,
        "runs": list(habits.runs),
        "steps": [
            {
                "step": s.step,
                "planned_hands_s": s.planned_hands_s,
                "hands": _spread_table(s.hands),
                "aim_s": s.aim_s,
                "dwell": _spread_table(s.dwells),
                "overstays": s.overstays,
                "too_short": s.early,
            }
            for s in habits.steps
        ],
        "overstays_most": habits.worst.step if habits.worst is not None else None,
        "estimates": {
            step: {"planned_s": planned, "real_s": real}
            for step, (planned, real) in habits.estimates().items()
        },
        "spread": habits.spread,
    }


def _spread_table(spread: Spread | None) -> dict[str, Any] | None:
    if spread is None:
        return None
    return {
        "count": spread.count,
        "tenth_s": spread.low_s,
        "median_s": spread.median_s,
        "ninth_s": spread.high_s,
    }


def habits_text(habits: Habits) -> str:
    """The habits for reading."""
    return visible("\n".join(_lines(habits)))


def _lines(habits: Habits) -> Iterator[str]:
    yield f"{habits.recipe}: how it really goes, over {counted(len(habits.runs), 'run')}"
    yield "middle time (one in ten is below .. one in ten above), times counted"
    for step in habits.steps:
        yield ""
        yield f"{step.title} [{step.step}]"
        if step.hands is not None:
            yield f"  in hand {_words(step.hands)}; planned {show_duration(step.planned_hands_s)}"
        if step.dwells is not None:
            wrong = f"; {step.overstays} overstays" if step.overstays else ""
            wrong += f"; {step.early} too short" if step.early else ""
            yield f"  dwell   {_words(step.dwells)}; aim {show_duration(step.aim_s or 0)}{wrong}"
    yield ""
    worst = habits.worst
    yield (
        f"Overstays most: {worst.title}, {counted(worst.overstays, 'time')}"
        if worst is not None
        else "No step overstays."
    )
    for step_id, (planned, real) in habits.estimates().items():
        told = f"{show_duration(planned)} planned, {show_duration(real)} really"
        yield f'  --set {step_id}.hands="{show_duration(real)}"   ({told})'
    if habits.spread is not None:
        yield f"  --spread {habits.spread:g}   (of the hands-on times, for benchtimer plan)"


def _words(spread: Spread) -> str:
    low, high = show_duration(round(spread.low_s)), show_duration(round(spread.high_s))
    middle = show_duration(round(spread.median_s))
    return f"{middle} ({low} .. {high}), {counted(spread.count, 'time')}"
