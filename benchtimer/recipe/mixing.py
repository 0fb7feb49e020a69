"""How much of what goes into a vessel: a mix scaled to a volume."""

from __future__ import annotations

from benchtimer.quantity import Quantity
from benchtimer.recipe.model import Ingredient, Mix


def scaled(mix: Mix, volume: Quantity) -> list[tuple[str, Quantity]]:
    """What to put into a vessel of ``volume``, in the recipe's order.

    Amounts per volume and shares (by volume) are multiplied by the volume; parts share
    the volume between them; a plain mass or volume is meant for ``mix.volume`` and scales
    with it.
    """
    total_parts = sum(item.parts or 0 for item in mix.of)
    return [(item.what, _amount(item, mix, volume, total_parts)) for item in mix.of]


def _amount(item: Ingredient, mix: Mix, volume: Quantity, total_parts: float) -> Quantity:
    litres = volume.base
    if item.amount is None:
        return Quantity(litres * (item.parts or 0) / total_parts, "L").to(volume.unit)
    kind = item.amount.kind.name
    if kind == "concentration":
        grams = Quantity(item.amount.base * litres, "g")
        return grams.to("kg") if grams.value >= 1000 else grams
    if kind == "dose":
        return Quantity(item.amount.value * litres, "mL")
    if kind == "share":
        return Quantity(litres * item.amount.value / 100, "L").to(volume.unit)
    factor = litres / mix.volume.base if mix.volume is not None else 1.0
    return Quantity(item.amount.value * factor, item.amount.unit)
