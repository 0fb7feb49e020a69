"""The expected plan drawings: ``python -m tests.plan.drawings`` rewrites them.

Read the diff before you commit it: does the drawing still match the plan?
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

from benchtimer.plan.draw import draw_plan
from benchtimer.plan.outcome import Infeasible, Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime, PlanPart, PlanStation, Problem
from tests.plan.build import equal_parts, route

FOLDER = Path(__file__).parent / "cases" / "drawings"
HOUR = 3600


def planned(problem: Problem) -> tuple[Problem, Plan]:
    """The problem with its best plan, or the least bad one."""
    outcome = solve(problem, rescue=True, nodes=3000)
    plan = outcome.least_bad if isinstance(outcome, Infeasible) else outcome.plan
    assert plan is not None
    return problem, plan


def _night() -> Problem:
    soak = route("soak", [600, 600], [("tray", 8 * HOUR, 14 * HOUR)])
    parts = (PlanPart("petty knife", soak), PlanPart("hunting knife with a long name", soak))
    return Problem((PlanStation("tray", 2),), parts, away=(AwayTime(4 * HOUR, 12 * HOUR),))


def _late() -> Problem:
    soak = route("soak", [60, 60], [("salts", 480, 600)])
    parts = (
        PlanPart("bolster", soak, moves_made=1, entered_s=-600),
        PlanPart("ferrule", soak, moves_made=1, entered_s=-590),
    )
    return Problem((PlanStation("salts", 2),), parts)


def _held() -> Problem:
    parts = equal_parts(2).parts
    kept = replace(parts[0], moves_made=2, entered_s=-300, held=True)
    return replace(equal_parts(2), parts=(kept, parts[1]))


def _under_way() -> Problem:
    parts = equal_parts(3).parts
    inside = replace(parts[0], moves_made=2, entered_s=-400)
    moving = replace(parts[1], moves_made=1, moving_s=30)
    return replace(equal_parts(3), parts=(inside, moving, parts[2]))


def _full() -> Problem:
    one = route("dip", [5, 5], [("drum", 600, 900)])
    return Problem((PlanStation("drum", 12),), tuple(PlanPart(f"pin {n}", one) for n in range(12)))


CASES: dict[str, tuple[Callable[[], Problem], int, bool]] = {
    "three fittings at 80": (lambda: equal_parts(3), 80, False),
    "three fittings at 40": (lambda: equal_parts(3), 40, False),
    "three fittings at 120 in ascii": (lambda: equal_parts(3), 120, True),
    "one fitting too narrow": (lambda: equal_parts(1), 10, False),
    "two pairs of hands": (lambda: replace(equal_parts(3), hands=2), 80, False),
    "a night between": (_night, 80, False),
    "too long": (_late, 60, False),
    "one held": (_held, 70, False),
    "in mid-run": (_under_way, 80, False),
    "more than nine in a drum": (_full, 72, False),
}


@cache
def drawings() -> dict[str, str]:
    """The file of each case and its expected contents."""
    return {
        f"{name}.txt": "\n".join(draw_plan(*planned(make()), width, plain=plain)) + "\n"
        for name, (make, width, plain) in CASES.items()
    }


if __name__ == "__main__":
    for name, text in drawings().items():
        (FOLDER / name).write_text(text, "utf-8")
