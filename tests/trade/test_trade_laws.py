"""Laws the figures keep for every input in range: round trips, order, conservation."""

from __future__ import annotations

from math import isclose

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchtimer.trade import (
    abrasive,
    caustic,
    etchant,
    etchant_wear,
    species,
    water,
    wheel,
)
from benchtimer.trade.sheets import edge_sheet as edge
from benchtimer.trade.sheets import rate_sheet as rate
from benchtimer.trade.sheets import temper_sheet as temper
from tests.trade.derived import CHARTS, NEUTRALIZING_FERROUS, boiling_at_altitude_c, imbalance

ALTITUDES = st.floats(-500, 11_000)
SHOP_PRESSURES = st.floats(60_000, 108_000)
NAOH = st.floats(0, 60)
FECL3 = st.floats(0.5, 44)
SOLUTION_C = st.floats(0, 50)
ALL_GRITS: list[abrasive.Grit] = [*abrasive.all_fepa(), *abrasive.all_cami()]
GRITS = [grit for grit in ALL_GRITS if not grit.from_memory]


@given(ALTITUDES)
def test_altitude_is_recovered_from_its_pressure(altitude_m: float) -> None:
    """Altitude to pressure and back is the same altitude."""
    assert water.altitude_m(water.pressure_pa(altitude_m)) == pytest.approx(altitude_m, abs=1e-6)


@given(ALTITUDES, ALTITUDES)
def test_water_boils_cooler_higher_up(a_m: float, b_m: float) -> None:
    """The higher the shop, the lower the boiling point."""
    assume(b_m - a_m > 0.01)
    assert boiling_at_altitude_c(b_m) < boiling_at_altitude_c(a_m)


@given(NAOH, SHOP_PRESSURES)
def test_salts_strength_is_recovered_from_its_boiling_point(pct: float, pressure_pa: float) -> None:
    """Strength to boiling point and back is the same strength at any pressure."""
    boils_c = caustic.boiling_c(pct, pressure_pa)
    assert caustic.strength_pct(boils_c, pressure_pa) == pytest.approx(pct, abs=1e-6)


@given(NAOH, NAOH, SHOP_PRESSURES)
def test_stronger_salts_boil_hotter(a_pct: float, b_pct: float, pressure_pa: float) -> None:
    """Boiling point rises with strength."""
    assume(b_pct - a_pct > 1e-6)
    assert caustic.boiling_c(a_pct, pressure_pa) < caustic.boiling_c(b_pct, pressure_pa)


@given(NAOH, SHOP_PRESSURES, SHOP_PRESSURES)
def test_salts_boil_cooler_under_less_pressure(pct: float, a_pa: float, b_pa: float) -> None:
    """Boiling point rises with pressure."""
    assume(b_pa - a_pa > 1)
    assert caustic.boiling_c(pct, a_pa) < caustic.boiling_c(pct, b_pa)


@given(st.floats(0.1, 100), st.floats(110, 160), st.floats(110, 160))
def test_water_change_keeps_the_salt(volume_l: float, reading_c: float, target_c: float) -> None:
    """Salt before equals salt after, and the sign says whether water is added or boiled off."""
    change = caustic.water_change(volume_l, reading_c, target_c)
    before = change.bath_kg * change.now_pct
    after = (change.bath_kg + change.water_kg) * change.target_pct
    assert isclose(before, after, rel_tol=1e-9)
    assert (change.water_kg > 0) == (change.now_pct > change.target_pct)


@given(st.floats(0, 200), st.booleans())
def test_a_bath_above_the_window_is_never_called_good(bath_c: float, boiling: bool) -> None:
    """Above 295 F the verdict is too strong, whether or not the bath boils."""
    verdict = caustic.read_bath(bath_c, boiling=boiling)
    too_hot = bath_c > caustic.WINDOW_C[1]
    assert (verdict is caustic.SaltsReading.TOO_STRONG) == too_hot


@given(st.floats(0, 60))
def test_baume_is_recovered_from_its_gravity(degrees: float) -> None:
    """Degrees Baume to specific gravity and back are the same degrees."""
    assert etchant.baume(etchant.specific_gravity(degrees)) == pytest.approx(degrees, abs=1e-9)


@given(st.floats(0, 44), SOLUTION_C)
def test_etchant_strength_is_recovered_from_its_density(pct: float, solution_c: float) -> None:
    """Strength to density and back is the same strength at any temperature of the table."""
    density = etchant.density_kg_l(pct, solution_c)
    assert etchant.strength_pct(density, solution_c) == pytest.approx(pct, abs=1e-6)


@given(FECL3, st.floats(0, 49), st.floats(0.5, 10))
def test_etchant_gets_lighter_as_it_warms(pct: float, cool_c: float, more_c: float) -> None:
    """Density falls with temperature."""
    warm_c = min(cool_c + more_c, 50)
    assert etchant.density_kg_l(pct, warm_c) < etchant.density_kg_l(pct, cool_c)


@given(st.floats(0.01, 100), FECL3, FECL3, SOLUTION_C)
def test_dilution_keeps_salt_and_mass(made_l: float, a: float, b: float, solution_c: float) -> None:
    """Salt and mass of the mixture are the sum of the inputs."""
    mix = etchant.dilute_to_volume(made_l, max(a, b), min(a, b), solution_c)
    assert mix.stock_kg + mix.water_kg == pytest.approx(mix.made_kg, rel=1e-9)
    assert mix.stock_kg * max(a, b) == pytest.approx(mix.made_kg * min(a, b), rel=1e-9)
    assert mix.stock_kg == pytest.approx(
        mix.stock_l * etchant.density_kg_l(max(a, b), solution_c), rel=1e-9
    )


@given(st.floats(0.1, 10), st.floats(0, 10), FECL3, st.floats(0.1, 10))
def test_only_the_ratio_of_parts_counts(stock: float, more: float, pct: float, by: float) -> None:
    """Doubling both parts keeps the strength."""
    once = etchant.dilute_by_parts(stock, more, pct)
    assert etchant.dilute_by_parts(stock * by, more * by, pct) == pytest.approx(once, rel=1e-9)
    assert once <= pct * (1 + 1e-12)


@given(st.floats(1, 1e5), st.floats(0, 1))
def test_exhaustion_is_the_share_of_the_capacity(fecl3_g: float, share: float) -> None:
    """Metal worth a share of the capacity exhausts that share."""
    removed = share * etchant_wear.iron_capacity_g(fecl3_g) * (1 - 1e-12)
    assert etchant_wear.exhaustion(removed, fecl3_g) == pytest.approx(share, abs=1e-9)


@given(st.floats(0, 1))
def test_a_spent_bath_needs_the_same_bicarbonate(spent: float) -> None:
    """Bicarbonate follows the chloride, so wear does not change the demand."""
    fresh = species.mass_ratio(species.NEUTRALIZING_FERRIC, "NaHCO3", "FeCl3")
    ferrous_g = spent * species.mass_ratio(species.ETCHING, "FeCl2", "FeCl3")
    for_ferrous = species.mass_ratio(NEUTRALIZING_FERROUS, "NaHCO3", "FeCl2")
    assert (1 - spent) * fresh + ferrous_g * for_ferrous == pytest.approx(fresh, rel=1e-9)


@pytest.mark.parametrize(
    "reaction",
    [
        species.ETCHING,
        species.NEUTRALIZING_FERRIC,
        NEUTRALIZING_FERROUS,
        species.NEUTRALIZING_ACID,
    ],
)
def test_equations_are_balanced(reaction: species.Reaction) -> None:
    """No atom appears or vanishes."""
    assert imbalance(reaction) == {}


def test_an_unbalanced_equation_is_noticed() -> None:
    """The check of balance sees a missing atom."""
    assert imbalance({"FeCl3": -1, "Fe": -1, "FeCl2": 2}) == {"Cl": 1}


@given(st.floats(0.01, 1), st.floats(10, 3_500))
def test_wheel_diameter_is_recovered_from_its_speed(diameter_m: float, rotation_rpm: float) -> None:
    """Diameter and rotation come back from the surface speed."""
    speed_m_s = wheel.surface_speed_m_s(diameter_m, rotation_rpm)
    assert wheel.rotation_rpm(speed_m_s, diameter_m) == pytest.approx(rotation_rpm, rel=1e-9)
    assert wheel.diameter_m(speed_m_s, rotation_rpm) == pytest.approx(diameter_m, rel=1e-9)


@given(st.sampled_from(GRITS), st.sampled_from(GRITS), st.floats(1.2, 4))
def test_missing_grits_shorten_the_step(
    coarse: abrasive.Grit, fine: abrasive.Grit, most: float
) -> None:
    """Grits are suggested only for steps that are too large, and make smaller steps, all finer."""
    (step,) = abrasive.ladder([coarse, fine], most)
    if step.verdict is not abrasive.StepVerdict.TOO_LONG or not step.missing:
        assert not step.missing
        return
    mended = abrasive.ladder([coarse, *step.missing, fine], most)
    assert all(1 < each.ratio < step.ratio for each in mended)
    assert {type(grit) for grit in step.missing} == {type(coarse)}


SOUND_FEPA = [grit for grit in abrasive.all_fepa() if not grit.from_memory]


@given(st.sampled_from(SOUND_FEPA), st.sampled_from(SOUND_FEPA))
def test_a_step_of_two_can_always_be_filled_with_p_grits(
    a: abrasive.Fepa, b: abrasive.Fepa
) -> None:
    """P grits are close enough that no mended step is more than double."""
    coarse, fine = sorted((a, b), key=lambda grit: -grit.mean_um)
    assume(coarse != fine)
    (step,) = abrasive.ladder([coarse, fine])
    for each in abrasive.ladder([coarse, *step.missing, fine]):
        assert each.verdict is abrasive.StepVerdict.FINE


@given(st.sampled_from(GRITS))
def test_a_grit_reads_back_as_written(grit: abrasive.Grit) -> None:
    """The text of a grit reads as that grit, system and all."""
    assert abrasive.parse_grit(str(grit)) == grit


@pytest.mark.parametrize("table", [abrasive.all_fepa(), abrasive.all_cami()])
def test_larger_numbers_are_finer_within_a_system(table: list[abrasive.Grit]) -> None:
    """Within one system the grain shrinks as the number grows."""
    assert [g.number for g in table] == sorted(g.number for g in table)
    assert [g.mean_um for g in table] == sorted((g.mean_um for g in table), reverse=True)


def test_the_two_systems_are_never_equal() -> None:
    """The same number in the two systems is two grits."""
    assert len({abrasive.Fepa(220), abrasive.Cami(220)}) == 2


@pytest.mark.parametrize("chart", CHARTS)
def test_charts_run_from_cool_to_hot(chart: temper.Chart) -> None:
    """Each chart's temperatures rise, and each color is found at its own temperature."""
    temperatures = [color.at_c for color in chart.colors]
    assert temperatures == sorted(temperatures)
    assert [temper.color_at(c.at_c, chart) for c in chart.colors] == list(chart.colors)


def test_a_longer_hold_shows_a_color_at_a_lower_temperature() -> None:
    """Each color appears at a lower temperature in an hour than in eight minutes."""
    assert all(row.one_hour_c < row.eight_minutes_c for row in temper.HELD_COLORS)


@given(st.floats(100, 700), st.floats(0.1, 100), st.floats(-60, 700))
def test_margin_says_stop_exactly_above_the_ceiling(
    temper_c: float, margin_c: float, reading_c: float
) -> None:
    """A reading is clear up to the ceiling and not above it."""
    judged = temper.margin(reading_c, temper_c, margin_c)
    clear = judged.verdict is temper.MarginVerdict.CLEAR
    assert clear == (reading_c <= judged.ceiling_c)


@given(st.floats(1e-4, 0.01), st.floats(2, 59), st.floats(0, 20))
def test_bevel_angle_is_recovered_from_its_width(
    flat_m: float, angle_deg: float, taper_deg: float
) -> None:
    """Angle to bevel width and back is the same angle."""
    assume(angle_deg - taper_deg > 0.5)
    width_m = edge.bevel(flat_m, angle_deg, taper_deg).width_m
    assume(1e-6 <= width_m <= 0.1)
    back = edge.angle_from_width_deg(flat_m, width_m, taper_deg)
    assert edge.bevel(flat_m, back, taper_deg).width_m == pytest.approx(width_m, rel=1e-9)


@given(st.floats(1e-4, 0.01), st.floats(1, 30), st.floats(0.5, 29))
def test_a_steeper_bevel_is_narrower(flat_m: float, angle_deg: float, more_deg: float) -> None:
    """On the same flat, the larger angle shows the narrower bevel."""
    assert edge.bevel(flat_m, angle_deg + more_deg).width_m < edge.bevel(flat_m, angle_deg).width_m


READINGS = st.tuples(
    st.floats(0, 60), st.floats(4, 30), st.floats(60, 3600), st.floats(1.01, 20)
).map(
    lambda t: rate.from_readings(
        rate.DwellReading(t[0], t[2] * t[3]), rate.DwellReading(t[0] + t[1] + 1e-6, t[2])
    )
)


@given(READINGS)
def test_the_line_passes_through_both_readings(line: rate.RateLine) -> None:
    """At the readings' own temperatures the line gives the readings' dwells."""
    assert line.dwell_s(line.cool.bath_c) == pytest.approx(line.cool.dwell_s, rel=1e-9)
    assert line.dwell_s(line.warm.bath_c) == pytest.approx(line.warm.dwell_s, rel=1e-9)


@given(READINGS, st.floats(0, 1), st.floats(0, 1))
def test_a_warmer_bath_is_faster(line: rate.RateLine, a: float, b: float) -> None:
    """Inside the range, the dwell falls as the bath warms."""
    low, high = line.range_c
    cool_c, warm_c = sorted(min(low + share * (high - low), high) for share in (a, b))
    assume(warm_c - cool_c > 1e-3)
    assert line.dwell_s(warm_c) < line.dwell_s(cool_c)
