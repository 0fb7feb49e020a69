"""Hazards shown before a figure whose use can hurt, and the signal words of ANSI Z535 with their
meanings.
"""

from __future__ import annotations

from typing import Final, Literal

DEFER: Final = (
    "The supplier's safety data sheet, local codes and the rules for licensed work come "
    "before anything printed here."
)
COOL_FOR_WATER: Final = "below 190 F (88 C)"
"""How cool a bath must be before you add water, in the same words everywhere.

Plain water boils at 90 C at 3000 m.
"""
COOL_FOR_SALTS: Final = "to 104 F (40 C)"
"""How cool a bath must be before you add salts: hand-warm, common practice."""

HOT_CAUSTIC: Final = (
    "Hot caustic burns skin and blinds: face shield over goggles, long gauntlets, rubber apron, "
    "long pants over the boots; running water and an eyewash within reach. On skin or in the "
    "eyes: rinse at once, for 60 minutes, and call for help."
)
ADDING_WATER: Final = (
    "Less heat slows the climb: turn it down first. To add water, turn off the heat and let the "
    f"bath cool {COOL_FOR_WATER}; then add a little at a time, "
    "down a pipe to the bottom, standing back. Never pour water into a hotter bath: it flashes "
    "to about 1700 times its volume of steam and throws caustic."
)
ADDING_SALTS: Final = (
    f"Dry salts dropped into a hot bath make it boil over: let it cool {COOL_FOR_SALTS}, then "
    "add them slowly, by the supplier's data sheet."
)
CAUSTIC_MIXING: Final = (
    "Salts go slowly into cold water, never water onto salts; keep caustic away from acids, "
    "aluminum, zinc, tin and ammonium salts."
)
FERRIC: Final = (
    "Ferric chloride burns eyes and skin, stains, and eats metal tools: goggles, gloves, apron, "
    "good air; keep it away from the caustic bath and from bleach."
)
FERRIC_MIXING: Final = (
    "Add etchant to water, slowly: it warms up. Dry FeCl3 gets very hot and fumes when it gets wet."
)
OPEN_VESSEL: Final = (
    "Never close the vessel: the gas would burst it. Use one several times larger than the "
    "liquid, add bicarbonate by spoonfuls, wait for the foam, and air out the room: carbon dioxide "
    "collects near the floor."
)
DISPOSAL: Final = (
    "Dissolved metals stay in the sludge and liquid, often with nickel or chromium from the "
    "steel: collect and dispose of both by local code, not down a drain."
)
SPINNING: Final = (
    "Never exceed the speed marked on the wheel, or that of its flange or arbor. Wear eye and face "
    "protection; no gloves or loose sleeves at a spinning wheel."
)
HOT_STEEL: Final = (
    "Stop at the first bloom of color on a hardened edge: it may already have lost hardness."
)
HOT_PART: Final = (
    "A part fresh from the boil burns your hand and makes oil give off flammable vapor: use tongs "
    "or its wire, and no oil until it is cool."
)
OIL_VAPOR: Final = (
    "Oil near its flash point gives off flammable vapor: no flame, hot plate or hot part near the "
    "tray; keep the air moving and a lid at hand."
)
SHARP: Final = "A sharp edge cuts the hand that holds it: mask it until you need it."


Level = Literal["danger", "warning", "caution"]

LEVELS: Final[dict[Level, str]] = {
    "danger": "will cause death or serious injury if not avoided",
    "warning": "could cause death or serious injury if not avoided",
    "caution": "could cause minor or moderate injury if not avoided",
}
"""The levels, worst first. Source: ANSI Z535.4-2007, 4.14.1 to 4.14.3, as quoted by
safetylabel.com."""

BOTTLES: Final = (
    "The word on a bottle (GHS: Danger or Warning) rates what is in it. The word here rates this "
    "step (ANSI Z535: danger, warning or caution). They can differ: follow the stricter one."
)


def headed(level: Level, title: str) -> str:
    """A title after its signal word: ``DANGER: Boiling caustic salts``."""
    return f"{level.upper()}: {title}"


def level_line(level: Level) -> str:
    """The signal word with its meaning: ``DANGER: will cause death or serious injury ...``."""
    return f"{level.upper()}: this {LEVELS[level]}."
