"""Molar masses and the equations of the bench, balanced.

Source: CIAAW/IUPAC abridged standard atomic weights (2021, conventional values).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

ATOMIC_WEIGHT_G_MOL: Final[Mapping[str, float]] = {
    "H": 1.008,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "Na": 22.990,
    "Cl": 35.45,
    "Fe": 55.845,
}

GAS_CONSTANT_J_MOL_K: Final = 8.314462618
"""Molar gas constant (CODATA 2018, exact to these figures)."""

COMPOSITION: Final[Mapping[str, Mapping[str, int]]] = {
    "Fe": {"Fe": 1},
    "FeCl2": {"Fe": 1, "Cl": 2},
    "FeCl3": {"Fe": 1, "Cl": 3},
    "FeCl3.6H2O": {"Fe": 1, "Cl": 3, "H": 12, "O": 6},
    "Fe(OH)3": {"Fe": 1, "O": 3, "H": 3},
    "FeCO3": {"Fe": 1, "C": 1, "O": 3},
    "HCl": {"H": 1, "Cl": 1},
    "H2O": {"H": 2, "O": 1},
    "CO2": {"C": 1, "O": 2},
    "NaCl": {"Na": 1, "Cl": 1},
    "NaOH": {"Na": 1, "O": 1, "H": 1},
    "NaHCO3": {"Na": 1, "H": 1, "C": 1, "O": 3},
}
"""Atoms in one formula unit of each substance in the equations."""

Reaction = Mapping[str, int]
"""Moles by substance: what is used up is negative, what is formed positive."""

ETCHING: Final[Reaction] = {"FeCl3": -2, "Fe": -1, "FeCl2": 3}
"""Ferric chloride dissolves iron and becomes ferrous chloride."""

NEUTRALIZING_FERRIC: Final[Reaction] = {
    "FeCl3": -1,
    "NaHCO3": -3,
    "Fe(OH)3": 1,
    "NaCl": 3,
    "CO2": 3,
}
"""Bicarbonate removes ferric chloride as hydroxide and releases carbon dioxide."""


NEUTRALIZING_ACID: Final[Reaction] = {"HCl": -1, "NaHCO3": -1, "NaCl": 1, "CO2": 1, "H2O": 1}
"""Bicarbonate neutralizes free hydrochloric acid."""


def molar_mass_g(substance: str) -> float:
    """Grams in one mole of a substance listed in ``COMPOSITION``."""
    atoms = COMPOSITION[substance]
    return sum(ATOMIC_WEIGHT_G_MOL[element] * count for element, count in atoms.items())


def mass_ratio(reaction: Reaction, wanted: str, per: str) -> float:
    """Grams of one substance that go with one gram of another in a reaction.

    Args:
        reaction: one of the balanced equations above.
        wanted: the substance to calculate.
        per: the known substance.

    Returns:
        Grams of ``wanted`` per gram of ``per``, always positive.
    """
    moles = abs(reaction[wanted] / reaction[per])
    return moles * molar_mass_g(wanted) / molar_mass_g(per)
