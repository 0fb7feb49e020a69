"""Ferric chloride: how worn a bath is, and how to neutralize it."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import dangers, etchant, etchant_wear, result, sources
from benchtimer.trade.etchant_wear import BICARBONATE_G_PER_100_G_WATER
from benchtimer.trade.figure import Figure
from benchtimer.trade.sheets import shop_air
from benchtimer.trade.sheets.etchant_sheet import strength_working
from benchtimer.trade.topic import Parameter, Topic, TopicError, Values


def wear(values: Values) -> Figure:
    """Iron a bath can take, and the share used up by the metal etched in it."""
    salt_g = _salt_g(values)
    capacity_g = etchant_wear.iron_capacity_g(salt_g)
    results = [result.mass("iron it could dissolve in total", capacity_g)]
    working = [
        strength_working("strength when fresh", values.quantity("strength")),
        f"FeCl3 in {values.quantity('volume')}: {salt_g:.0f} g",
        "2 FeCl3 + Fe -> 3 FeCl2: 0.1722 g of iron per g of FeCl3",
    ]
    removed_g = _removed_g(values)
    if removed_g is not None:
        share = etchant_wear.exhaustion(removed_g, salt_g)
        results += [
            result.mass("metal removed", removed_g),
            result.share("estimated exhaustion", 100 * share),
        ]
        working.append(f"{removed_g:.3g} g / {capacity_g:.4g} g = {100 * share:.2g} %")
    return Figure(
        title="Wear of a ferric chloride bath",
        results=tuple(results),
        working=tuple(working),
        sources=(
            sources.ATOMIC_WEIGHTS,
            sources.ETCH_EQUATION,
            sources.FECL3_DENSITY,
            sources.STEEL_DENSITY,
            sources.SLUDGE_LIMIT,
        ),
        limits=(
            "An estimate from the metal removed: air renews the bath a little, alloy metals use it "
            "up as iron does (nickel within 6 % gram for gram), and drag-out carries it off.",
            "A bath etches slower long before it is used up. Use your own records to decide when a "
            "bath is too spent: no published limit for blades was found.",
            "In one study of steel foil no sludge was seen below 16 % exhaustion.",
        ),
        hazards=(dangers.FERRIC, dangers.DISPOSAL, dangers.DEFER),
    )


def neutralize(values: Values) -> Figure:
    """Bicarbonate for an etchant, the gas it sets free, and the water to dissolve it in."""
    salt_g = _salt_g(values)
    pressure_pa = shop_air.pressure_pa(values)
    need = etchant_wear.neutralize(salt_g, gas_c=20.0, pressure_pa=pressure_pa)
    dissolving_kg = need.bicarbonate_g / BICARBONATE_G_PER_100_G_WATER / 10
    return Figure(
        title="Neutralize ferric chloride with sodium bicarbonate",
        results=(
            result.mass(
                "sodium bicarbonate", need.bicarbonate_g, "then check the pH", bound="at least"
            ),
            result.plain(
                "carbon dioxide released, at 20 C", need.co2_l, "L", places=0, bound="up to"
            ),
            result.mass("iron hydroxide sludge, dry", need.hydroxide_g, bound="up to"),
            result.volume(
                "water to dissolve the bicarbonate, 20 C", dissolving_kg, bound="at least"
            ),
        ),
        working=(
            strength_working("strength when fresh", values.quantity("strength")),
            f"FeCl3 in {values.quantity('volume')}: {salt_g:.0f} g",
            "FeCl3 + 3 NaHCO3 -> Fe(OH)3 + 3 NaCl + 3 CO2",
            "per g of FeCl3: 1.554 g of bicarbonate, 0.814 g of carbon dioxide",
            "a spent bath holds the same chloride, so it needs the same bicarbonate",
        ),
        sources=(
            sources.ATOMIC_WEIGHTS,
            sources.FECL3_DENSITY,
            sources.IDEAL_GAS,
            sources.BICARBONATE_SOLUBILITY,
            *shop_air.cites(values),
        ),
        limits=(
            "Free acid in the etchant needs more: 2.30 g of bicarbonate per g of HCl.",
            "A spent bath releases less gas at once; the iron that is left comes out as it ages.",
            "pH 7 to 9 is a sensible band to check for (no source); pH does not show that the "
            "metals are out.",
        ),
        hazards=(
            dangers.OPEN_VESSEL,
            dangers.FERRIC,
            dangers.DISPOSAL,
            dangers.DEFER,
        ),
    )


def _salt_g(values: Values) -> float:
    pct = etchant.strength_given_pct(values.quantity("strength"))
    return etchant.fecl3_g(values.base("volume"), pct)


def _removed_g(values: Values) -> float | None:
    area, depth = values.maybe("area"), values.maybe("depth")
    if values.has("removed"):
        if area is not None or depth is not None:
            raise TopicError(values.topic, ["give removed, or area with depth, not both"])
        return values.base("removed")
    if area is None and depth is None:
        return None
    if area is None or depth is None:
        raise TopicError(values.topic, ["area and depth go together"])
    return etchant_wear.metal_removed_g(area, 1000 * depth)


_BATH: Final = (
    Parameter("volume", "volume", "bath volume", "2 L", needed=True),
    Parameter(
        "strength", etchant.STRENGTH_KINDS, "strength when it was fresh", "12 %", needed=True
    ),
)

TOPICS: Final = (
    Topic(
        "etchant-wear",
        "iron a ferric chloride bath can take, and how far it is used up",
        (
            *_BATH,
            Parameter("removed", "mass", "metal etched off so far, by weighing", "4.2 g"),
            Parameter("area", "area", "etched area, both sides, instead of a mass", "120 cm2"),
            Parameter("depth", "length", "mean etch depth over that area", "40 um"),
        ),
        wear,
        {"volume": "2 L", "strength": "12 %", "removed": "4.2 g"},
    ),
    Topic(
        "neutralize",
        "bicarbonate for a ferric chloride bath, and the gas it releases",
        (*_BATH, *shop_air.AIR),
        neutralize,
        {"volume": "2 L", "strength": "12 %"},
    ),
)
