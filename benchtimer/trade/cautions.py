"""Cautions that stand before a figure whose use can hurt."""

from __future__ import annotations

from typing import Final

DEFER: Final = (
    "The supplier's safety data sheet, local codes and licensed practice come before anything "
    "printed here."
)
HOT_CAUSTIC: Final = (
    "Hot caustic burns skin and blinds: face shield over goggles, long gauntlets, apron, closed "
    "shoes; running water and an eyewash within reach."
)
ADDING_WATER: Final = (
    "Never pour water into a bath above 100 C: it flashes to some 1 700 times its volume of steam "
    "and throws caustic. Take off the heat, let the bath cool, add a little at a time with a long "
    "ladle or pipe, standing back."
)
ADDING_SALTS: Final = (
    "Dry salts dropped into a hot bath make it boil over: let it cool and add them slowly, by the "
    "supplier's sheet."
)
CAUSTIC_MIXING: Final = (
    "Caustic goes slowly into cold water, never water onto caustic; keep it from acids, "
    "aluminium, zinc, tin and ammonium salts."
)
FERRIC: Final = (
    "Ferric chloride burns eyes and skin, stains, and eats metal tools: goggles, gloves, apron, "
    "good air; keep it from the caustic bath and from bleach."
)
FERRIC_MIXING: Final = (
    "Add etchant to water, slowly: it warms up. Dry FeCl3 heats hard and fumes when wetted."
)
OPEN_VESSEL: Final = (
    "Never close the vessel: the gas would burst it. Use one several times larger than the "
    "liquid, add bicarbonate by spoonfuls, wait for the foam, and air the room: carbon dioxide "
    "gathers low down."
)
DISPOSAL: Final = (
    "Dissolved metals stay in the sludge and liquid, often with nickel or chromium from the "
    "steel: collect and dispose of both by local code, not down a drain."
)
SPINNING: Final = (
    "Never above the speed marked on the wheel, nor that of its flange or arbor. Eye and face "
    "protection, no gloves and no loose sleeves at a spinning wheel."
)
HOT_STEEL: Final = (
    "Stop at the first bloom of colour on a hardened edge: it may already have lost hardness."
)
SHARP: Final = "A sharp edge cuts the hand that holds it: mask it until it is wanted."
