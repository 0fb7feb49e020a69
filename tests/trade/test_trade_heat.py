"""Cooling parts and heating salts, compared with published values and other methods."""

from __future__ import annotations

import tomllib
from math import exp, log
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from benchtimer.quantity import Quantity
from benchtimer.trade import caustic
from benchtimer.trade.sheets import cooling_sheet
from benchtimer.trade.sheets.cooling_sheet import Block

CORRELATION = tomllib.loads((Path(__file__).parent / "naoh_correlation.toml").read_text("utf-8"))
FITTING, CAP, BLADE = Block(25, 12, 5), Block(30, 30, 8), Block(200, 30, 3)


@pytest.mark.parametrize(
    ("block", "minutes"),
    [
        (FITTING, (27.3, 13.6, 9.1, 5.5)),
        (CAP, (46.0, 23.0, 15.3, 9.2)),
        (BLADE, (23.7, 11.9, 7.9, 4.7)),
    ],
)
def test_cooling_at_a_steady_coefficient(block: Block, minutes: tuple[float, ...]) -> None:
    """100 to 40 C in 20 C air, worked by hand: t = rho c V / (h A) ln(80/20), h 5 to 25."""
    found = [cooling_sheet.cooling_s(block, 100, 40, 20, h) / 60 for h in (5, 10, 15, 25)]
    assert found == pytest.approx(minutes, abs=0.06)


def test_time_constant_of_a_small_plate() -> None:
    """A 25 x 12 x 5 mm plate at h = 10 W/(m2 K) has a time constant of 590.0 s."""
    one_e = 20 + 80 / exp(1)
    assert cooling_sheet.cooling_s(FITTING, 100, one_e, 20, 10) == pytest.approx(590.0, abs=0.1)


@pytest.mark.parametrize(
    ("block", "height_mm", "emissivity", "minutes"),
    [
        (FITTING, 25, cooling_sheet.OXIDIZED, 9.3),
        (FITTING, 25, cooling_sheet.POLISHED, 13.2),
        (BLADE, 30, cooling_sheet.OXIDIZED, 8.3),
    ],
)
def test_cooling_by_convection_and_radiation(
    block: Block, height_mm: float, emissivity: float, minutes: float
) -> None:
    """100 to 40 C in still 20 C air by convection and radiation together, computed elsewhere."""
    found = cooling_sheet.still_air_s(block, 100, 40, 20, emissivity, height_mm) / 60
    assert found == pytest.approx(minutes, abs=0.06)


@given(
    st.floats(5, 200), st.floats(2, 50), st.floats(50, 200), st.floats(-10, 30), st.floats(0.1, 1)
)
def test_the_sum_over_small_steps_is_the_integral(
    length_mm: float, thickness_mm: float, from_c: float, air_c: float, emissivity: float
) -> None:
    """The time agrees with a library's integral to one part in a thousand."""
    block, to_c = Block(length_mm, length_mm, thickness_mm), air_c + 5
    height_m = block.longest_mm / 1000

    def slowness(steel_c: float) -> float:
        h = cooling_sheet.still_air_w_m2_k(steel_c, air_c, height_m, emissivity)
        return block.j_m2_k / (h * (steel_c - air_c))

    want_s = quad(slowness, to_c, from_c)[0]
    found = cooling_sheet.still_air_s(block, from_c, to_c, air_c, emissivity)
    assert found == pytest.approx(want_s, rel=1e-3)


@given(st.floats(41, 150), st.floats(0.5, 30))
def test_hotter_parts_and_thicker_ones_take_longer(from_c: float, thickness_mm: float) -> None:
    """A hotter or thicker part never cools sooner."""
    thin, thick = Block(30, 30, thickness_mm), Block(30, 30, thickness_mm * 1.1)
    time_s = cooling_sheet.still_air_s(thin, from_c, 40)
    assert cooling_sheet.still_air_s(thin, from_c + 1, 40) > time_s
    assert cooling_sheet.still_air_s(thick, from_c, 40) > time_s


def test_fifty_fahrenheit_degrees_are_twenty_eight_celsius_degrees() -> None:
    """29 CFR 1910.126 says 50 F below the flash point; as a difference that is 27.8 C."""
    assert Quantity(50, "F").base_span == pytest.approx(27.8, abs=0.03)
    assert Quantity(50, "F").base_span <= cooling_sheet.FLASH_MARGIN_C


@pytest.mark.parametrize(
    ("flash_c", "limit_c"), [(60, 32), (105, 40), (68, 40), (67.9, 39.9), (38, 10)]
)
def test_oil_stays_below_its_flash_point(flash_c: float, limit_c: float) -> None:
    """Flash 60 C: below 32 C; flash 105 C: 77 C by the rule, but never above hand-warm."""
    assert cooling_sheet.oil_limit_c(flash_c) == pytest.approx(limit_c)


def _boils_c(naoh_pct: float) -> float:
    """Boiling point at sea level from the correlation itself, not from the program's table."""
    z = log(1 - naoh_pct / 100)
    a1, a2, a3 = (
        sum(factor * z**power for power, factor in enumerate(CORRELATION[name]))
        for name in ("a1", "a2", "a3")
    )
    pressure = log(101.325)
    return float((a1 + a3 * pressure) / (pressure - a2))


def _climbs_min(volume_l: float, from_f: float, to_f: float, power_w: float, heat: float) -> float:
    """Minutes to climb, stepping the boil through time; ``heat`` times that of plain water."""
    from_c, to_c = ((f - 32) / 1.8 for f in (from_f, to_f))
    first_pct = brentq(lambda pct: _boils_c(pct) - from_c, 30, 59)
    mass_kg = volume_l * caustic.density_kg_l(first_pct)
    salt_kg = mass_kg * first_pct / 100

    def loses(_t: float, mass: list[float]) -> list[float]:
        kelvin = _boils_c(100 * salt_kg / mass[0]) + 273.15
        boils = IAPWS97(T=kelvin, x=1).h - IAPWS97(T=kelvin, x=0).h
        return [-power_w / (1000 * boils * heat)]

    def arrives(_t: float, mass: list[float]) -> float:
        return _boils_c(100 * salt_kg / mass[0]) - to_c

    arrives.terminal = True  # type: ignore[attr-defined]
    path = solve_ivp(loses, (0, 20_000), [mass_kg], events=arrives, rtol=1e-8, max_step=60)
    return float(path.t_events[0][0]) / 60


@pytest.mark.parametrize(
    ("volume_l", "from_f", "to_f", "power_w"),
    [(6, 290, 295, 1000), (6, 285, 295, 500), (12, 287, 293, 2000)],
)
def test_the_boiling_point_rises_as_in_a_simulated_boil(
    volume_l: float, from_f: float, to_f: float, power_w: float
) -> None:
    """The earliest time agrees with a step-by-step boil on the correlation itself."""
    from_c, to_c = ((f - 32) / 1.8 for f in (from_f, to_f))
    found = caustic.climb(volume_l, from_c, to_c, power_w)
    want_min = _climbs_min(volume_l, from_f, to_f, power_w, 1.0)
    assert found.earliest_s / 60 == pytest.approx(want_min, rel=0.03)


def test_six_liters_at_one_kilowatt_leave_the_window_in_about_eleven_minutes() -> None:
    """6 L at 1 kW, 290 to 295 F: 10 min by plain water's heat, 12 with the solution's; plain
    water's heat plus warming the bath gives 11 min, in between.

    Warming 8.4 kg by 2.8 C at 3.2 kJ/(kg K), a value from memory, adds 1.2 min.
    """
    found = caustic.climb(6, 143.333, 146.111, 1000)
    warming_min = 8.4 * 3.2 * 2.78 / 60
    assert found.earliest_s / 60 == pytest.approx(10.0, abs=0.2)
    assert found.earliest_s / 60 + warming_min == pytest.approx(11, abs=0.4)
    assert found.earliest_s < 11 * 60 < found.likely_s < 13 * 60


@pytest.mark.parametrize("water_c", [100, 107, 125, 143.3, 155, 160])
def test_heat_of_evaporation_agrees_with_iapws(water_c: float) -> None:
    """The table of plain water's heat of evaporation agrees with IAPWS-IF97 within 0.1 %."""
    from benchtimer.trade.figure import between

    at, heat = (list(column) for column in zip(*caustic.EVAPORATION_KJ_KG, strict=True))
    kelvin = water_c + 273.15
    want = IAPWS97(T=kelvin, x=1).h - IAPWS97(T=kelvin, x=0).h
    assert between(at, heat, water_c) == pytest.approx(want, rel=1e-3)


@given(st.floats(0.5, 50), st.floats(100, 5000), st.floats(140, 150), st.floats(0.5, 5))
def test_half_the_heat_takes_twice_the_time(
    volume_l: float, power_w: float, from_c: float, rise_c: float
) -> None:
    """Time grows with volume and falls with heat; the likely time is never the shorter one."""
    whole = caustic.climb(volume_l, from_c, from_c + rise_c, power_w)
    half = caustic.climb(volume_l, from_c, from_c + rise_c, power_w / 2)
    twice = caustic.climb(2 * volume_l, from_c, from_c + rise_c, power_w)
    assert half.earliest_s == pytest.approx(2 * whole.earliest_s)
    assert twice.earliest_s == pytest.approx(2 * whole.earliest_s)
    assert whole.likely_s >= whole.earliest_s > 0
