"""Grit sizes in both systems, and a ladder judged step by step."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import abrasive, result, sources
from benchtimer.trade.abrasive import Grit, LadderStep, StepVerdict
from benchtimer.trade.figure import Figure, FigureSource, ResultLine
from benchtimer.trade.topic import Parameter, Topic, Values

_LIMITS: Final = (
    "Average grain only: papers with the same number differ by maker, wear and backing.",
    "F grits (bonded wheels), Japanese stones and compound grades are different systems.",
)


def grit(values: Values) -> Figure:
    """Grain size of a grit, and the nearest one of the other system."""
    asked = abrasive.parse_grit(values.text("grit"))
    other = abrasive.nearest_in_other_system(asked)
    return Figure(
        title=f"Grain size of {asked}",
        results=(
            _size(str(asked), asked),
            _size(f"nearest in the other system: {other}", other),
        ),
        working=("the two systems are compared by grain size, never by number",),
        sources=_sources((asked, other)),
        limits=_LIMITS,
    )


def ladder(values: Values) -> Figure:
    """Steps of a ladder of grits, and which grit is missing."""
    grits = abrasive.parse_ladder(values.text("grits"))
    most = values.base("step")
    steps = abrasive.ladder(grits, most)
    return Figure(
        title="Grit ladder",
        results=(*(_step(step) for step in steps), result.words("in all", _sum_up(steps))),
        working=tuple(
            f"{s.coarse} {s.coarse.mean_um:g} um / {s.fine} {s.fine.mean_um:g} um = {s.ratio:.2f}"
            for s in steps
        ),
        sources=(*_sources(grits), sources.LADDER_STEP),
        limits=(
            f"A step counts as too long above a ratio of {most:g}; judge what a finish allows by "
            "eye, under a light from the side.",
            *_LIMITS,
        ),
    )


def _size(label: str, asked: Grit) -> ResultLine:
    note = "from memory" if asked.from_memory else ""
    return result.plain(label, asked.mean_um, "um", 1, note)


def _step(step: LadderStep) -> ResultLine:
    missing = f": try {', '.join(map(str, step.missing))}" if step.missing else ""
    rough = " (rough: a size is from memory)" if step.rough else ""
    said = f"{step.verdict}{missing}{rough}"
    return result.plain(f"{step.coarse} to {step.fine}", step.ratio, "times finer", 2, said)


def _sum_up(steps: list[LadderStep]) -> str:
    bad = sum(step.verdict is not StepVerdict.FINE for step in steps)
    rough = ", roughly: a size is from memory" if any(step.rough for step in steps) else ""
    if bad:
        return f"{bad} of {len(steps)} steps to fix{rough}"
    return f"every step is fine{rough}"


def _sources(grits: list[Grit] | tuple[Grit, ...]) -> tuple[FigureSource, ...]:
    if any(g.from_memory for g in grits):
        return (sources.GRIT_SIZES, sources.GRIT_MEMORY)
    return (sources.GRIT_SIZES,)


TOPICS: Final = (
    Topic(
        "grit",
        "grain size of a grit, P or CAMI, and the nearest one in the other system",
        (Parameter("grit", "grits", "one grit with its system", "P400", needed=True),),
        grit,
        {"grit": "CAMI 400"},
    ),
    Topic(
        "grit-ladder",
        "step ratios of a ladder of grits, and which grit is missing",
        (
            Parameter(
                "grits",
                "grits",
                "grits in the order of use, with commas",
                "P120, P220, P400, P600",
                needed=True,
            ),
            Parameter(
                "step",
                "number",
                "largest step accepted, as a ratio of grain sizes",
                "2",
                default=f"{abrasive.USUAL_STEP:g}",
            ),
        ),
        ladder,
        {"grits": "P120, P400, CAMI 600, P1000"},
    ),
)
