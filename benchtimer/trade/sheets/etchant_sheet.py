"""Ferric chloride: hydrometer, strength and dilution."""

from __future__ import annotations

from typing import Final

from benchtimer.quantity import Quantity
from benchtimer.trade import dangers, etchant, result, sources
from benchtimer.trade.figure import Figure
from benchtimer.trade.topic import Parameter, Topic, TopicError, Values

CLEAN_ONLY: Final = (
    "Clean ferric chloride in water only: dissolved iron and free acid raise the density too, so a "
    "hydrometer can't measure the strength left in a used bath."
)
TABLE_LIMIT: Final = "Density table: 0 to 44 % and 0 to 50 C, good to about 0.003 kg/L."
_SOURCES: Final = (sources.BAUME_SCALE, sources.FECL3_DENSITY, sources.IAPWS95)
_HAZARDS: Final = (dangers.FERRIC, dangers.DEFER)


def strength_working(name: str, quantity: Quantity) -> str:
    """One line on a strength, converted if it was given in Baume."""
    if quantity.kind.name != "strength":
        return f"{name}: {quantity} by mass"
    gravity = etchant.specific_gravity(quantity.base)
    return (
        f"{name}: {quantity} is specific gravity 145 / (145 - {quantity.value:g}) = {gravity:.4f}, "
        f"which is {etchant.strength_given_pct(quantity):.1f} % by mass"
    )


def hydrometer(values: Values) -> Figure:
    """Baume, specific gravity, density and strength from any one of them."""
    name = values.exactly(1, "baume", "gravity", "strength")[0]
    solution_c = values.base("temperature")
    if name == "strength":
        pct = values.base("strength")
        gravity = etchant.density_kg_l(pct, solution_c) / etchant.WATER_60F_KG_L
    else:
        reading = values.base(name)
        gravity = etchant.specific_gravity(reading) if name == "baume" else reading
        pct = etchant.strength_pct(gravity * etchant.WATER_60F_KG_L, solution_c)
    degrees = etchant.baume(max(gravity, 1.0))
    return Figure(
        title="Strength of clean ferric chloride",
        results=(
            result.share("FeCl3 by mass", pct),
            result.plain("hydrometer", degrees, "Be", 1),
            result.plain("specific gravity", gravity, "", 3),
            result.plain("FeCl3 in one liter", etchant.fecl3_g(1, pct, solution_c), "g", 0),
        ),
        working=(
            "specific gravity = 145 / (145 - Be), against water at 60 F",
            f"density of the solution: {gravity * etchant.WATER_60F_KG_L:.3f} kg/L "
            f"at {values.quantity('temperature')}",
            "strength read off the density table at that temperature",
        ),
        sources=_SOURCES,
        limits=(CLEAN_ONLY, TABLE_LIMIT),
        hazards=_HAZARDS,
    )


def dilution(values: Values) -> Figure:
    """Stock and water for a weaker etchant, by volume wanted or by mass at hand."""
    how = values.exactly(1, "volume", "mass")[0]
    stock, wanted = values.quantity("stock"), values.quantity("wanted")
    from_pct, to_pct = etchant.strength_given_pct(stock), etchant.strength_given_pct(wanted)
    if how == "mass":
        stock_kg = values.base("mass") / 1000
        water_kg = etchant.water_to_add_kg(stock_kg, from_pct, to_pct)
        amounts = [result.mass("stock", 1000 * stock_kg)]
    else:
        mix = etchant.dilute_to_volume(values.base("volume"), from_pct, to_pct)
        stock_kg, water_kg = mix.stock_kg, mix.water_kg
        amounts = [
            result.mass("stock, weighed", 1000 * stock_kg),
            result.volume("stock, measured at 20 C", mix.stock_l),
        ]
    return Figure(
        title="Dilute ferric chloride",
        results=(
            *amounts,
            result.volume("water", water_kg),
            result.share("makes", to_pct),
        ),
        working=(
            strength_working("stock", stock),
            strength_working("wanted", wanted),
            f"the salt stays: {stock_kg:.3f} kg x ({from_pct:.1f} / {to_pct:.1f} - 1) = "
            f"{water_kg:.3f} kg of water",
        ),
        sources=(sources.PARTS, *_SOURCES),
        limits=(
            "By mass is exact; by volume the two shrink a little when mixed, which is included.",
            "A label may count the hexahydrate: 1 g of FeCl3.6H2O holds 0.600 g of FeCl3.",
            CLEAN_ONLY,
            TABLE_LIMIT,
        ),
        hazards=(*_HAZARDS, dangers.FERRIC_MIXING),
    )


def parts(values: Values) -> Figure:
    """Strength that this many parts of stock to this many of water make, by volume."""
    stock = values.quantity("stock")
    from_pct = etchant.strength_given_pct(stock)
    stock_parts, water_parts = _parts(values)
    made = etchant.dilute_by_parts(stock_parts, water_parts, from_pct)
    return Figure(
        title="Strength of a mix by parts",
        results=(
            result.share("makes", made, note="FeCl3 by mass"),
            result.plain("hydrometer would read", etchant.baume_from_strength(made), "Be", 1),
        ),
        working=(
            strength_working("stock", stock),
            f"{stock_parts:g} L of stock weighs {_kg(stock_parts, from_pct):.3f} kg, "
            f"{water_parts:g} L of water {_kg(water_parts, 0):.3f} kg",
            f"{made:.1f} % = {from_pct:.1f} % x share of the stock by mass",
        ),
        sources=(sources.PARTS, *_SOURCES),
        limits=("Parts by volume at 20 C, stock first.", CLEAN_ONLY, TABLE_LIMIT),
        hazards=(*_HAZARDS, dangers.FERRIC_MIXING),
    )


def _kg(volume_l: float, pct: float) -> float:
    return volume_l * etchant.density_kg_l(pct)


def _parts(values: Values) -> tuple[float, float]:
    text = values.text("parts")
    pieces = text.split(":")
    try:
        stock, water = (float(piece) for piece in pieces)
    except ValueError:
        raise TopicError(
            values.topic, [f'parts: "{text}" is not two numbers such as "1:3", stock first']
        ) from None
    return stock, water


STOCK: Final = Parameter(
    "stock", etchant.STRENGTH_KINDS, "strength of the stock solution", "42 Be", needed=True
)

TOPICS: Final = (
    Topic(
        "etchant-strength",
        "degrees Baume, specific gravity and percent of clean ferric chloride",
        (
            Parameter("baume", "strength", "hydrometer reading", "42 Be"),
            Parameter("gravity", "number", "specific gravity 60/60 F", "1.41"),
            Parameter("strength", "share", "FeCl3 by mass", "40 %"),
            Parameter(
                "temperature",
                "temperature",
                "solution temperature when it was read",
                "68 F",
                default="60 F",
            ),
        ),
        hydrometer,
        {"baume": "42 Be"},
    ),
    Topic(
        "etchant-dilute",
        "stock and water for a weaker ferric chloride, by volume wanted or mass at hand",
        (
            STOCK,
            Parameter("wanted", etchant.STRENGTH_KINDS, "strength wanted", "12 %", needed=True),
            Parameter("volume", "volume", "volume wanted", "2 L"),
            Parameter("mass", "mass", "stock at hand, all of it used", "1 kg"),
        ),
        dilution,
        {"stock": "42 Be", "wanted": "12 %", "volume": "2 L"},
    ),
    Topic(
        "etchant-parts",
        "strength that you get from parts of stock to parts of water",
        (
            STOCK,
            Parameter("parts", "parts", "stock to water, by volume", "1:3", needed=True),
        ),
        parts,
        {"stock": "42 Be", "parts": "1:3"},
    ),
)
