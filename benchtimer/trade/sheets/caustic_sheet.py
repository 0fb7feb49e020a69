"""The hot caustic bath: what a reading means, and how strong the mix has to be."""

from __future__ import annotations

from typing import Final

from benchtimer.trade import caustic, dangers, result, sources
from benchtimer.trade.caustic import SaltsReading, WaterChange
from benchtimer.trade.figure import Figure, ResultLine
from benchtimer.trade.sheets import shop_air
from benchtimer.trade.topic import Parameter, Topic, Values
from benchtimer.trade.water import SEA_LEVEL_PA

_MODEL_LIMITS: Final = (
    "Boiling points are good to 2 C at best: the table reads 1.4 C above a producer's figure "
    "at 50 %.",
    "The table is sodium hydroxide in water only. A blackening bath also holds nitrate and "
    "nitrite, which raise the boiling point: read every strength as a sodium hydroxide "
    "equivalent. A real bath needs less hydroxide than that; mix by the supplier's data sheet.",
)
_SLOWER: Final = (
    "Only heat that goes into the bath counts: a plate's rating is more than that. Heat lost to "
    "the room or used to warm the bath slows the climb.",
    "Two or three readings tell you the climb of your own bath; trust those.",
)
_DROP: Final = (
    "The target temperature is the same at any altitude; the higher the shop, the stronger the mix "
    "that boils there."
)
_MEANING: Final = {
    SaltsReading.NOT_BOILING: ("keep heating, read again at a steady rolling boil",),
    SaltsReading.TOO_DILUTE: (
        "slow, weak or gray-brown color",
        f"let it boil down; or turn off the heat, let it cool {dangers.COOL_FOR_SALTS}, and add "
        "salts by the supplier's data sheet",
    ),
    SaltsReading.IN_WINDOW: ("work; read again as often as the recipe says",),
    SaltsReading.TOO_STRONG: (
        "red, brown or green film over the black; a heavy one is hard to remove",
        f"pull the parts, turn off the heat, let the bath cool {dangers.COOL_FOR_WATER}, then add "
        "water in small amounts",
    ),
}


def bath_reading(values: Values) -> Figure:
    """What a reading of the salts means, and about how much water that is."""
    reading_c = values.base("reading")
    boiling = values.text("boiling") == "yes"
    verdict = caustic.read_bath(reading_c, boiling=boiling)
    results = [
        result.temperature("reading", reading_c),
        result.words("verdict", str(verdict)),
    ]
    results += [result.words("so", text) for text in _MEANING[verdict]]
    low, high = caustic.WINDOW_C
    working = [f"window of the process: {low:.1f} to {high:.1f} C (285 to 295 F)"]
    if boiling:
        found, steps = _behind_the_reading(values)
        results += found
        working += steps
    return Figure(
        title="What the salts reading means",
        results=tuple(results),
        working=tuple(working),
        sources=(
            sources.BLACKENING_WINDOW,
            sources.SALTS_NOTE,
            sources.NAOH_BOILING,
            *shop_air.cites(values),
            sources.SMALL_ADDITIONS,
        ),
        limits=(
            "The window is for plain and low-alloy steel in a single bath; cast iron has its own. "
            "The verdict depends on the thermometer alone: check it in boiling water.",
            *_MODEL_LIMITS,
            "Water amounts are rough. Add or boil off half, mix, boil, read again.",
            *shop_air.limits(values),
        ),
        hazards=(
            dangers.HOT_CAUSTIC,
            dangers.ADDING_WATER,
            dangers.ADDING_SALTS,
            dangers.DEFER,
        ),
    )


def mix_strength(values: Values) -> Figure:
    """How strong a bath has to be to boil at a temperature in this shop."""
    pressure_pa = shop_air.pressure_pa(values)
    target_c = values.base("target")
    here = caustic.strength_pct(target_c, pressure_pa)
    at_sea = caustic.strength_pct(target_c)
    return Figure(
        title="Strength that boils at the target",
        results=(
            result.share("here", here, note="as sodium hydroxide, by mass"),
            result.share("at sea level", at_sea, note="for the same boiling point"),
            result.temperature("the sea-level mix boils here at", _boils(at_sea, pressure_pa)),
            result.temperature("this mix would boil at sea level at", _boils(here)),
            result.plain(
                "dry salt per liter of water, if it were all sodium hydroxide",
                10 * here / (1 - here / 100),
                "g",
                0,
            ),
        ),
        working=(
            shop_air.working(values),
            "boiling-point table read in reverse at that pressure",
            _DROP,
        ),
        sources=(sources.NAOH_BOILING, *shop_air.cites(values), sources.IF97),
        limits=(*_MODEL_LIMITS, *shop_air.limits(values)),
        hazards=(dangers.HOT_CAUSTIC, dangers.CAUSTIC_MIXING, dangers.DEFER),
    )


def climb(values: Values) -> Figure:
    """Time for the boiling bath to climb from one reading to another."""
    pressure_pa, power_w = shop_air.pressure_pa(values), values.base("heat")
    reading_c, limit_c = values.base("reading"), values.base("limit")
    found = caustic.climb(values.base("volume"), reading_c, limit_c, power_w, pressure_pa)
    return Figure(
        title="How fast the boiling bath climbs",
        results=(
            result.plain("no sooner than", found.earliest_s / 60, "min", 0),
            result.plain("more likely", found.likely_s / 60, "min", 0),
            result.volume("water that boils off on the way", _rough(found.water_kg)),
            result.words("so", "less heat slows the climb: half the heat, twice the time"),
        ),
        working=(
            shop_air.working(values),
            f"strength {found.from_pct:.1f} % at the reading, {found.to_pct:.1f} % at the limit; "
            "the salt stays",
            f"{values.quantity('volume')} of bath weighs about {found.bath_kg:.1f} kg: "
            f"{found.bath_kg:.1f} kg x (1 - {found.from_pct:.1f} / {found.to_pct:.1f}) = "
            f"{found.water_kg:.2f} kg of water boils off",
            f"no sooner than: {found.water_kg:.2f} kg x "
            f"{_kj_kg(found.earliest_s, found.water_kg, power_w):.0f} kJ/kg (plain water) / "
            f"{values.quantity('heat')}",
            f"more likely: {_kj_kg(found.likely_s, found.water_kg, power_w):.0f} kJ/kg, because "
            "the solution holds on to its water",
        ),
        sources=(
            sources.NAOH_BOILING,
            *shop_air.cites(values),
            sources.EVAPORATION,
            sources.CLAPEYRON,
        ),
        limits=(*_SLOWER, *_MODEL_LIMITS, *shop_air.limits(values)),
        hazards=(dangers.HOT_CAUSTIC, dangers.ADDING_WATER, dangers.DEFER),
    )


def _kj_kg(time_s: float, water_kg: float, power_w: float) -> float:
    return time_s * power_w / water_kg / 1000


def boiling_point(values: Values) -> Figure:
    """Boiling point of a mix of known strength in this shop."""
    pressure_pa = shop_air.pressure_pa(values)
    strength = values.base("strength")
    here_c, sea_c = _boils(strength, pressure_pa), _boils(strength)
    return Figure(
        title="Boiling point of a sodium hydroxide solution",
        results=(
            result.temperature("boils here at", here_c, note="give or take 2 C"),
            result.temperature("boils at sea level at", sea_c, note="give or take 2 C"),
            result.plain("density while boiling", caustic.density_kg_l(strength), "kg/L"),
        ),
        working=(shop_air.working(values), "straight lines between the rows of the table"),
        sources=(sources.NAOH_BOILING, *shop_air.cites(values), sources.IF97),
        limits=(*_MODEL_LIMITS, *shop_air.limits(values)),
        hazards=(dangers.HOT_CAUSTIC, dangers.CAUSTIC_MIXING, dangers.DEFER),
    )


def _boils(strength: float, pressure_pa: float = SEA_LEVEL_PA) -> float:
    return caustic.boiling_c(strength, pressure_pa)


def _behind_the_reading(values: Values) -> tuple[list[ResultLine], list[str]]:
    """Strength and water behind a boiling bath's reading, with the working.

    A reading the table does not cover still has its verdict, so it is shown, not raised.
    """
    pressure_pa, reading_c = shop_air.pressure_pa(values), values.base("reading")
    low, high = caustic.boiling_range_c(pressure_pa)
    if reading_c < low:
        return [
            result.words(
                "strength", "none: plain water boils hotter than that here; check the thermometer"
            )
        ], []
    if reading_c > high:
        return [result.words("strength", "beyond the table's 60 %: let it cool")], []
    strength = caustic.strength_pct(reading_c, pressure_pa)
    results = [result.share("strength", strength, 0, "as sodium hydroxide", bound="about")]
    working = [shop_air.working(values)]
    if values.has("volume"):
        change = _change(values, pressure_pa)
        results.append(_water_line(change))
        working += _water_working(values, change)
    return results, working


def _change(values: Values, pressure_pa: float) -> WaterChange:
    return caustic.water_change(
        values.base("volume"), values.base("reading"), values.base("target"), pressure_pa
    )


def _water_line(change: WaterChange) -> ResultLine:
    if change.water_kg >= 0:
        return result.volume("about this much water has gone", _rough(change.water_kg))
    return result.volume("about this much water must boil off", _rough(-change.water_kg))


def _rough(value: float) -> float:
    """Two digits, which is more than the model deserves."""
    return float(f"{value:.2g}")


def _water_working(values: Values, change: WaterChange) -> list[str]:
    return [
        f"strength at the reading {change.now_pct:.1f} %, at the target {change.target_pct:.1f} %",
        f"{values.quantity('volume')} of bath weighs about {change.bath_kg:.1f} kg",
        f"the salt stays: {change.bath_kg:.1f} kg x ({change.now_pct:.1f} / "
        f"{change.target_pct:.1f} - 1) = {change.water_kg:+.2f} kg of water",
    ]


_TARGET: Final = Parameter(
    "target", "temperature", "boiling point wanted", "290 F", default="290 F"
)

TOPICS: Final = (
    Topic(
        "salts-reading",
        "what a reading of the hot salts means, and about how much water has gone",
        (
            Parameter("reading", "temperature", "thermometer in the bath", "300 F", needed=True),
            Parameter("volume", "volume", "bath volume now, hot", "8 L"),
            _TARGET,
            Parameter(
                "boiling",
                "choice",
                "whether it is at a steady rolling boil",
                "yes",
                default="yes",
                choices=("yes", "no"),
            ),
            *shop_air.AIR,
        ),
        bath_reading,
        {"reading": "300 F", "volume": "8 L", "altitude": "1200 m"},
    ),
    Topic(
        "salts-climb",
        "how fast the boiling salts climb from a reading to a limit",
        (
            Parameter("volume", "volume", "bath volume now, hot", "6 L", needed=True),
            Parameter("heat", "power", "heat that goes into the bath", "1 kW", needed=True),
            Parameter("reading", "temperature", "thermometer now", "290 F", default="290 F"),
            Parameter("limit", "temperature", "the limit", "295 F", default="295 F"),
            *shop_air.AIR,
        ),
        climb,
        {"volume": "6 L", "heat": "1 kW", "reading": "290 F", "limit": "295 F"},
    ),
    Topic(
        "salts-mix",
        "strength of a caustic bath that boils at a temperature, at an altitude",
        (_TARGET, *shop_air.AIR),
        mix_strength,
        {"target": "290 F", "altitude": "1200 m"},
    ),
    Topic(
        "salts-boil",
        "boiling point of a sodium hydroxide solution, at an altitude",
        (
            Parameter("strength", "share", "sodium hydroxide by mass", "48 %", needed=True),
            *shop_air.AIR,
        ),
        boiling_point,
        {"strength": "48 %", "altitude": "1200 m"},
    ),
)
