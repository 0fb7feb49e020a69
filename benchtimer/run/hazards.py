"""Baths that must never meet, when a run brings both to one shop.

ICSC 0360 (sodium hydroxide) and ICSC 1499 (ferric chloride): strong base and acid react
violently; nitrite with acid sets poisonous gas free.
"""

from __future__ import annotations

from collections.abc import Iterable

from benchtimer.recipe.model import Caution, Recipe

ACID_AND_CAUSTIC = Caution(
    before=("acid", "caustic"),
    title="Acid and caustic in one run: never together",
    text="This run has an acid bath and a caustic one. Keep them apart: no shared tray, sink, "
    "brush, wire, glove or rag, and no drip across. A part goes from one to the other only "
    "rinsed, neutralised and rinsed again. If they can't be kept apart, run them on "
    "different days.",
    wear=("face shield over goggles", "a fresh pair of gloves for each bath", "apron"),
    first_aid="Skin and eyes: rinse at once with plenty of water, at least 15 minutes; then a "
    "doctor.",
    never=(
        "etchant into caustic or hot salts, or the other way: violent heat and spray",
        "acid near nitrite salts: poisonous gas",
    ),
)


def clash_cautions(recipes: Iterable[Recipe], station: str | None) -> list[Caution]:
    """The caution before a station that holds one of two baths of the run that must not meet."""
    hazards = {s.id: s.hazard for recipe in recipes for s in recipe.station if s.hazard}
    clash = {"acid", "caustic"} <= set(hazards.values())
    return [ACID_AND_CAUSTIC] if clash and station in hazards else []
