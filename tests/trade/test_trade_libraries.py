"""The figures against general reference libraries and the correlation behind the salts table."""

from __future__ import annotations

import tomllib
from math import exp, log
from pathlib import Path

import pytest
from ambiance import Atmosphere
from iapws import IAPWS95, IAPWS97
from molmass import Formula

from benchtimer.quantity import KINDS, Quantity
from benchtimer.trade import caustic, etchant, species, water
from tests.units import UNITS

CORRELATION = tomllib.loads((Path(__file__).parent / "naoh_correlation.toml").read_text("utf-8"))


@pytest.mark.parametrize("pressure_kpa", [1, 20, 50, 60, 70, 80, 90, 100, 101.325, 108, 1000])
def test_boiling_point_agrees_with_iapws(pressure_kpa: float) -> None:
    """IF97 saturation temperature agrees with iapws over the pressures of a shop and beyond."""
    want_c = IAPWS97(P=pressure_kpa / 1000, x=0).T - 273.15
    assert water.boiling_c(pressure_kpa * 1000) == pytest.approx(want_c, abs=1e-6)


@pytest.mark.parametrize(
    "altitude_m", [-500, -100, 0, 250, 800, 1600, 2400, 3600, 5000, 9000, 11000]
)
def test_pressure_agrees_with_the_standard_atmosphere(altitude_m: int) -> None:
    """Pressure agrees with the ISO 2533 model of ambiance."""
    want_pa = float(Atmosphere(altitude_m).pressure[0])
    assert water.pressure_pa(altitude_m) == pytest.approx(want_pa, rel=1e-6)


@pytest.mark.parametrize("substance", list(species.COMPOSITION))
def test_molar_mass_agrees_with_molmass(substance: str) -> None:
    """Molar masses agree with molmass to 0.01 percent in any edition of the atomic weights."""
    want_g = Formula(substance.replace(".6H2O", "(H2O)6")).mass
    assert species.molar_mass_g(substance) == pytest.approx(want_g, rel=1e-4)


_PINT_NAMES = {
    "C": "degC", "F": "degF", "gal": "gallon", "qt": "quart", "fl oz": "floz", "min": "minute",
    "h": "hour", "d": "day", "in": "inch", "cm2": "cm**2", "in2": "inch**2", "oz/gal": "oz/gallon",
    "lb/gal": "lb/gallon", "ft/min": "ft/minute", "um": "micrometer",
}  # fmt: skip
_UNITS = [
    (kind.name, unit)
    for kind in KINDS.values()
    for unit in kind.units
    if kind.name not in ("dose", "share", "acidity", "strength", "rotation", "angle")
]


@pytest.mark.parametrize(("kind", "unit"), _UNITS)
def test_units_convert_as_in_pint(kind: str, unit: str) -> None:
    """Every unit a figure accepts or prints converts as in pint."""
    base = KINDS[kind].base.symbol
    there = UNITS.Quantity(290.0, _PINT_NAMES.get(unit, unit))
    want = there.to(_PINT_NAMES.get(base, base)).magnitude
    assert Quantity(290.0, unit).base == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize("solution_c", range(0, 60, 10))
def test_density_of_the_water_row_agrees_with_iapws(solution_c: int) -> None:
    """At zero strength the density is that of water (IAPWS-95)."""
    want_kg_l = IAPWS95(T=solution_c + 273.16, P=0.101325).rho / 1000
    assert etchant.density_kg_l(0, solution_c) == pytest.approx(want_kg_l, abs=1e-4)


def test_water_at_60_f_agrees_with_iapws() -> None:
    """The hydrometer's reference density is that of water at 60 F (IAPWS-95)."""
    want_kg_l = IAPWS95(T=etchant.HYDROMETER_C + 273.15, P=0.101325).rho / 1000
    assert pytest.approx(want_kg_l, abs=1e-5) == etchant.WATER_60F_KG_L


def test_a_slug_of_water_makes_the_steam_the_hazard_states() -> None:
    """Cold water turns into about 1 700 times its volume of steam at 100 C (IF97)."""
    cold = IAPWS97(T=293.15, P=0.101325).v
    steam = IAPWS97(P=0.101325, x=1).v
    assert 1600 < steam / cold < 1750


def _naoh_pressure_pa(naoh_pct: float, solution_c: float) -> float:
    z = log(1 - naoh_pct / 100)
    a1, a2, a3 = (
        sum(factor * z**power for power, factor in enumerate(CORRELATION[name]))
        for name in ("a1", "a2", "a3")
    )
    return 1000 * exp((a1 + a2 * solution_c) / (solution_c - a3))


def _naoh_boils_c(naoh_pct: float, pressure_pa: float) -> float:
    low, high = 60.0, 199.0
    for _ in range(60):
        middle = (low + high) / 2
        if _naoh_pressure_pa(naoh_pct, middle) < pressure_pa:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@pytest.mark.parametrize("pressure_pa", [108_000, 101_325, 95_000, 84_560, 70_121, 60_000])
def test_salts_table_follows_the_correlation(pressure_pa: float) -> None:
    """Table, straight lines and Duehring's rule stay within 0.15 C of the correlation itself."""
    gaps = [
        caustic.boiling_c(pct, pressure_pa) - _naoh_boils_c(pct, pressure_pa)
        for pct in [step * 0.7 for step in range(86)]
    ]
    assert max(map(abs, gaps)) < 0.15
