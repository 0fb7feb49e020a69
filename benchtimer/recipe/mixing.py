"""How much of what goes into a vessel: a mix scaled to a volume, and a dose in words."""

from __future__ import annotations

from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.model import Ingredient, Mix


def scaled(mix: Mix, volume: Quantity) -> list[tuple[Ingredient, Quantity]]:
    """What to put into a vessel of ``volume``, in the recipe's order, and how much of it.

    Amounts per volume and shares (by volume) are multiplied by the volume; parts divide the volume;
    a plain mass or volume is for ``mix.volume`` and scales with it.
    """
    total_parts = sum(item.parts or 0 for item in mix.of)
    return [(item, _amount(item, mix, volume, total_parts)) for item in mix.of]


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


def rate(item: Ingredient, mix: Mix) -> str:
    """A dose as written: ``750 g/L``, ``3 parts``; empty if it fills the vessel alone."""
    if item.amount is None:
        parts = item.parts or 0
        return "" if len(mix.of) == 1 else f"{show_number(parts)} part{'' if parts == 1 else 's'}"
    kind = item.amount.kind.name
    if kind == "share":
        return f"{item.amount} by volume"
    return f"{item.amount} for {mix.volume}" if kind in ("mass", "volume") else str(item.amount)


def dose(amount: str, item: Ingredient, mix: Mix, source: str = "") -> str:
    """A dose on one line: ``4.5 kg blacking salts (750 g/L, from memory; data sheet first)``.

    Args:
        amount: how much goes in, as the shop measures it.
        item: what goes in.
        mix: the mix it belongs to.
        source: the source of its figure, in a word or two.
    """
    given = rate(item, mix)
    figure = ", ".join(text for text in (given, given and source) if text)
    more = "; ".join(text for text in (figure, item.note) if text)
    return f"{amount} {item.what} ({more})" if more else f"{amount} {item.what}"
