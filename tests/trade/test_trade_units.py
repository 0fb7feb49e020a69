"""The same question in other units has the same answer, and every formula fits its dimensions."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import log, pi
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.quantity import KINDS, Quantity, parse
from benchtimer.trade import caustic, etchant, etchant_wear, species, wheel
from benchtimer.trade.figure import Figure
from benchtimer.trade.sheets import edge_sheet, rate_sheet
from benchtimer.trade.topic import DIFFERENCE, Parameter, Topic
from benchtimer.trade.topics import TOPICS
from tests.trade.derived import boiling_at_altitude_c
from tests.units import UNITS


def _of(value: float, unit: str) -> Any:
    return UNITS.Quantity(value, unit)


def _kinds(parameter: Parameter) -> list[str]:
    kind = "temperature" if parameter.kind == DIFFERENCE else parameter.kind
    return [name for name in kind.split(" or ") if name in KINDS]


def _retold(parameter: Parameter, text: str) -> list[str]:
    """The same amount in every other unit of its kind that needs no rounding."""
    quantity = parse(text)
    if parameter.kind == DIFFERENCE:
        return [f"{quantity.base_span * 1.8:.9f} F", f"{quantity.base_span:.9f} C"]
    units = [unit for unit in quantity.kind.units if unit != quantity.unit]
    if quantity.kind.name == "time":  # whole seconds only
        units = [u for u in units if (quantity.base / quantity.kind.units[u].factor * 1e6) % 1 == 0]
    return [f"{quantity.to(unit).value:.9f} {unit}" for unit in units]


QUESTIONS = [
    pytest.param(topic, parameter, text, id=f"{topic.name}-{parameter.name}-{text}")
    for topic in TOPICS.values()
    for parameter in topic.parameters
    if parameter.name in topic.example and _kinds(parameter)
    for text in _retold(parameter, topic.example[parameter.name])
]


def _answers(figure: Figure) -> list[float | str]:
    lines: Any = figure.as_dict()["results"]
    return [line["value"] for line in lines] + [
        each["value"] for line in lines for each in line["also"]
    ]


@pytest.mark.parametrize(("topic", "parameter", "text"), QUESTIONS)
def test_the_units_of_the_input_do_not_matter(
    topic: Topic, parameter: Parameter, text: str
) -> None:
    """An amount in any other unit of its kind gives the same answer."""
    result = _answers(topic.figure(topic.example))
    retold = _answers(topic.figure({**topic.example, parameter.name: text}))
    assert len(result) == len(retold)
    for ours, theirs in zip(result, retold, strict=True):
        if isinstance(ours, str):
            assert ours == theirs
        else:
            assert theirs == pytest.approx(ours, rel=1e-5, abs=1e-6)


@given(st.floats(0.01, 1), st.floats(10, 3000))
def test_surface_speed_is_a_length_per_time(diameter_m: float, rotation_rpm: float) -> None:
    """Circumference times revolutions, computed with units, is the wheel speed in m/s."""
    speed = pi * _of(diameter_m, "m") * _of(rotation_rpm, "1/minute")
    want = float(speed.to("m/s").magnitude)
    assert wheel.surface_speed_m_s(diameter_m, rotation_rpm) == pytest.approx(want)


@given(st.floats(1, 1000), st.floats(0, 60), st.floats(60_000, 105_000))
def test_gas_from_neutralizing_is_an_ideal_gas(
    fecl3_g: float, gas_c: float, pressure_pa: float
) -> None:
    """Three moles of gas for each of ferric chloride, with its volume by the gas law in units."""
    salt = _of(fecl3_g, "g") / _of(species.molar_mass_g("FeCl3"), "g/mol")
    gas = 3 * salt * _of(1, "molar_gas_constant") * _of(gas_c + 273.15, "kelvin")
    want_l = float((gas / _of(pressure_pa, "pascal")).to("liter").magnitude)
    found = etchant_wear.neutralize(fecl3_g, gas_c=gas_c, pressure_pa=pressure_pa)
    assert found.co2_l == pytest.approx(want_l, rel=1e-6)


@given(st.floats(0, 1000), st.floats(0, 500), st.floats(1, 20))
def test_metal_etched_off_is_a_volume_of_metal(
    area_cm2: float, depth_um: float, metal_kg_l: float
) -> None:
    """Area times depth times density, computed with units, is the mass removed."""
    mass = _of(area_cm2, "cm**2") * _of(depth_um, "um") * _of(metal_kg_l, "kg/liter")
    want_g = float(mass.to("g").magnitude)
    assert etchant_wear.metal_removed_g(area_cm2, depth_um, metal_kg_l) == pytest.approx(want_g)


@given(st.floats(0.1, 100), st.floats(1, 44), st.floats(0, 50))
def test_salt_in_a_volume_is_density_times_share(
    volume_l: float, pct: float, bath_c: float
) -> None:
    """Liters times kilograms a liter times percent, computed with units, are grams of salt."""
    density = _of(etchant.density_kg_l(pct, bath_c), "kg/liter")
    want_g = float((_of(volume_l, "liter") * density * _of(pct, "percent")).to("g").magnitude)
    assert etchant.fecl3_g(volume_l, pct, bath_c) == pytest.approx(want_g)


@given(st.floats(0.1, 100), st.floats(120, 150), st.floats(120, 150))
def test_water_lost_from_the_salts_is_a_mass(
    volume_l: float, reading_c: float, target_c: float
) -> None:
    """The water between two strengths, computed with units from the constant salt."""
    now, target = caustic.strength_pct(reading_c), caustic.strength_pct(target_c)
    bath = _of(volume_l, "liter") * _of(caustic.density_kg_l(now), "kg/liter")
    salt = bath * _of(now, "percent")
    want_kg = float((salt / _of(target, "percent") - bath).to("kg").magnitude)
    found = caustic.water_change(volume_l, reading_c, target_c)
    assert found.water_kg == pytest.approx(want_kg, abs=1e-9 * volume_l)


@given(st.floats(10, 30), st.floats(5, 20), st.floats(60, 600), st.floats(1.1, 5))
def test_the_slope_of_two_dwells_is_an_energy(
    cool_c: float, more_c: float, dwell_s: float, times: float
) -> None:
    """R ln(ratio) over the step in 1/T, computed with units, is the activation energy."""
    cool, warm = (
        rate_sheet.DwellReading(cool_c, dwell_s * times),
        rate_sheet.DwellReading(cool_c + more_c, dwell_s),
    )
    step = 1 / _of(cool.kelvin, "kelvin") - 1 / _of(warm.kelvin, "kelvin")
    energy = _of(1, "molar_gas_constant") * log(cool.dwell_s / warm.dwell_s) / step
    want = float(energy.to("joule/mol").magnitude)
    assert rate_sheet.from_readings(warm, cool).activation_j_mol == pytest.approx(want, rel=1e-7)


SCALED: dict[str, Callable[[float], tuple[float, float]]] = {
    "a bevel is as wide as its flat is thick": lambda k: (
        edge_sheet.bevel(0.0002 * k, 15, 2).width_m,
        k * edge_sheet.bevel(0.0002, 15, 2).width_m,
    ),
    "a lift grows with the blade": lambda k: (
        edge_sheet.spine_lift_m(0.03 * k, 15, 0.002 * k),
        k * edge_sheet.spine_lift_m(0.03, 15, 0.002),
    ),
    "twice the bath holds twice the iron": lambda k: (
        etchant_wear.iron_capacity_g(100 * k),
        k * etchant_wear.iron_capacity_g(100),
    ),
    "twice the salt wants twice the bicarbonate": lambda k: (
        etchant_wear.neutralize(100 * k, 5 * k).bicarbonate_g,
        k * etchant_wear.neutralize(100, 5).bicarbonate_g,
    ),
    "twice the salts bath wants twice the water": lambda k: (
        caustic.water_change(8 * k, 148, 143).water_kg,
        k * caustic.water_change(8, 148, 143).water_kg,
    ),
    "twice the etchant wants twice the stock": lambda k: (
        etchant.dilute_to_volume(2 * k, 40, 12).stock_l,
        k * etchant.dilute_to_volume(2, 40, 12).stock_l,
    ),
}


@pytest.mark.parametrize("law", SCALED)
@pytest.mark.parametrize("by", [0.5, 2, 7])
def test_more_of_everything_is_more_of_the_same(law: str, by: float) -> None:
    """Figures without a scale of their own grow in proportion."""
    found, want = SCALED[law](by)
    assert found == pytest.approx(want, rel=1e-9)


@pytest.mark.parametrize("places", [(0, 500), (500, 1500), (1500, 3000)])
def test_boiling_falls_a_third_of_a_degree_per_hundred_meters(places: tuple[int, int]) -> None:
    """The boiling point falls about 0.33 C per 100 m, computed by standard atmosphere and IF97."""
    low, high = places
    fall = boiling_at_altitude_c(low) - boiling_at_altitude_c(high)
    assert 100 * fall / (high - low) == pytest.approx(1 / 3, abs=0.003)


def test_the_columns_of_a_row_are_the_same_amount() -> None:
    """Every answer in two units is one amount: the second reads back to the first."""
    for topic in TOPICS.values():
        results: Any = topic.figure(topic.example).as_dict()["results"]
        for line in results:
            result = [(each["value"], each["unit"]) for each in (line, *line["also"])]
            for (a, unit), (b, other) in pairwise(result):
                if "below sea level" not in line["label"] and "left to" not in line["label"]:
                    assert Quantity(b, other).to(unit).value == pytest.approx(a, rel=1e-9)
