"""What wears a ferric chloride bath out, and what it takes to neutralize one.

Source: the balanced equations of species.py; that of etching is also printed in
D. M. Allen, PCMI Journal no. 137, 2021.
"""

from __future__ import annotations

from typing import Final

from benchtimer.trade.species import (
    ETCHING,
    GAS_CONSTANT_J_MOL_K,
    NEUTRALIZING_ACID,
    NEUTRALIZING_FERRIC,
    mass_ratio,
    molar_mass_g,
)
from benchtimer.trade.valid_range import CannotTellError, within
from benchtimer.values import dataclass

BICARBONATE_G_PER_100_G_WATER: Final = 9.6
"""Solubility of sodium bicarbonate at 20 C (Seidell, as quoted in a properties database)."""


def iron_capacity_g(fecl3_g: float) -> float:
    """Iron that an amount of FeCl3 can dissolve before it is all used up. A bath slows down long
    before that. Other effects are left out: air slowly renews the bath, free acid dissolves a
    little more, nickel layers use it up as iron does (g for g within 6 percent).

    Args:
        fecl3_g: FeCl3 in the fresh bath, g.

    Raises:
        OutOfRangeError: negative or absurd mass.
    """
    within("ferric chloride", fecl3_g, 0, 1e7, "g", "a vessel in a shop")
    return fecl3_g * mass_ratio(ETCHING, "Fe", "FeCl3")


def exhaustion(removed_g: float, fecl3_g: float) -> float:
    """Share of the fresh ferric chloride that dissolved metal has used up, 0 to 1.

    Args:
        removed_g: metal dissolved so far, g (weigh the parts before and after).
        fecl3_g: FeCl3 in the fresh bath, g, above 0.

    Raises:
        OutOfRangeError: negative mass, or no ferric chloride.
        CannotTellError: more metal than the bath could ever dissolve.
    """
    within("ferric chloride", fecl3_g, 1e-3, 1e7, "g", "a vessel in a shop")
    within("metal removed", removed_g, 0, 1e7, "g", "a vessel in a shop")
    share = removed_g / iron_capacity_g(fecl3_g)
    if share > 1:
        raise CannotTellError(
            "the exhaustion",
            f"{removed_g:.4g} g of metal is more than the bath could dissolve at all",
            "check the volume, the strength and the weights",
        )
    return share


def metal_removed_g(area_cm2: float, depth_um: float, metal_kg_l: float = 7.85) -> float:
    """Metal etched off an area to an even depth.

    Args:
        area_cm2: etched area, both sides, cm2, 0 to 100 000.
        depth_um: mean depth, micrometres, 0 to 5000.
        metal_kg_l: density of the metal, kg/L, 1 to 25; 7.85 is the usual figure for
            carbon steel (common practice, no source).

    Returns:
        Mass, g.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    within("etched area", area_cm2, 0, 1e5, "cm2", "parts on a bench")
    within("etch depth", depth_um, 0, 5000, "um", "an etch, not milling")
    within("metal density", metal_kg_l, 1, 25, "kg/L", "metals")
    return area_cm2 * depth_um * 1e-4 * metal_kg_l


@dataclass(frozen=True, slots=True)
class Neutralizing:
    """What it takes to neutralize etchant, and what comes off.

    Attributes:
        bicarbonate_g: sodium bicarbonate used up.
        co2_g: carbon dioxide released.
        co2_l: its volume at the temperature and pressure asked for.
        hydroxide_g: iron hydroxide sludge, dry.
    """

    bicarbonate_g: float
    co2_g: float
    co2_l: float
    hydroxide_g: float


def neutralize(
    fecl3_g: float, hcl_g: float = 0.0, gas_c: float = 20.0, pressure_pa: float = 101_325.0
) -> Neutralizing:
    """Bicarbonate for an amount of ferric chloride, fresh or spent.

    The bicarbonate follows the chloride, which stays when the bath wears: the fresh FeCl3 also
    gives the demand of the spent bath. Carbon dioxide and sludge are for a fresh bath; a spent one
    releases less at once.

    Args:
        fecl3_g: FeCl3 the bath was made with, g, 0 to 10 000 000.
        hcl_g: free hydrochloric acid, g, same range.
        gas_c: temperature of the gas, degrees C, -20 to 60.
        pressure_pa: pressure, Pa, 20 000 to 110 000.

    Raises:
        OutOfRangeError: a value outside its range.
    """
    within("ferric chloride", fecl3_g, 0, 1e7, "g", "a vessel in a shop")
    within("free acid", hcl_g, 0, 1e7, "g", "a vessel in a shop")
    within("gas temperature", gas_c, -20, 60, "C", "a shop")
    within("pressure", pressure_pa, 20_000, 110_000, "Pa", "open air")
    co2_g = fecl3_g * mass_ratio(NEUTRALIZING_FERRIC, "CO2", "FeCl3") + hcl_g * mass_ratio(
        NEUTRALIZING_ACID, "CO2", "HCl"
    )
    moles = co2_g / molar_mass_g("CO2")
    return Neutralizing(
        bicarbonate_g=moles * molar_mass_g("NaHCO3"),
        co2_g=co2_g,
        co2_l=1000 * moles * GAS_CONSTANT_J_MOL_K * (gas_c + 273.15) / pressure_pa,
        hydroxide_g=fecl3_g * mass_ratio(NEUTRALIZING_FERRIC, "Fe(OH)3", "FeCl3"),
    )
