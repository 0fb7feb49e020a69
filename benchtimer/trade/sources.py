"""The sources that the figures cite, each named once."""

from __future__ import annotations

from typing import Final

from benchtimer.trade.figure import FigureSource, SourceStatus

_S = SourceStatus

ATMOSPHERE: Final = FigureSource(
    "ISO 2533:1975 / US Standard Atmosphere 1976, lowest layer", _S.STANDARD
)
IF97: Final = FigureSource("IAPWS R7-97(2012), IF97 region 4, equations 30 and 31", _S.STANDARD)
IAPWS95: Final = FigureSource("density of water: IAPWS-95 via iapws 1.5.5", _S.LIBRARY)

NAOH_BOILING: Final = FigureSource(
    "Olsson, Jernqvist and Aly, Int. J. Thermophysics 18(3), 1997: vapor pressure and density "
    "of NaOH solutions, tabulated with propertiesNaOH 0.1.13",
    _S.PUBLISHED,
)
BLACKENING_WINDOW: Final = FigureSource(
    '2011-2012 Surface Finishing Guidebook, "Blackening of Ferrous Metals"', _S.PUBLISHED
)
SALTS_NOTE: Final = FigureSource(
    "operating note of a maker of blackening salts, 2012", _S.PUBLISHED
)
SMALL_ADDITIONS: Final = FigureSource(
    "adding water in small amounts with the bath cooled", _S.PRACTICE
)

BAUME_SCALE: Final = FigureSource(
    "Baume scale 145, 60/60 F: Marks' Standard Handbook for Mechanical Engineers", _S.HANDBOOK
)
FECL3_DENSITY: Final = FigureSource(
    "density of FeCl3 solutions: a producer's table, 0 to 100 C, reported to agree with "
    "Perry's Chemical Engineers' Handbook, 7th edition",
    _S.HANDBOOK,
)
ATOMIC_WEIGHTS: Final = FigureSource("CIAAW/IUPAC abridged atomic weights, 2021", _S.STANDARD)
ETCH_EQUATION: Final = FigureSource(
    "etching equation of iron in ferric chloride: D. M. Allen, PCMI Journal no. 137, 2021",
    _S.PUBLISHED,
)
BICARBONATE_SOLUBILITY: Final = FigureSource(
    "solubility of sodium bicarbonate, 9.6 g in 100 g of water at 20 C: Seidell, as quoted in a "
    "properties database",
    _S.HANDBOOK,
)
IDEAL_GAS: Final = FigureSource("volume of the gas: ideal gas, CODATA 2018 constant", _S.STANDARD)
STEEL_DENSITY: Final = FigureSource("7.85 kg/L for carbon steel", _S.PRACTICE)
SLUDGE_LIMIT: Final = FigureSource(
    "no sludge seen below 16 % exhaustion in steel foil etching: abstract of a Korean thesis "
    "(riss.kr)",
    _S.PUBLISHED,
)

GRIT_SIZES: Final = FigureSource(
    "average grain sizes, ISO/FEPA and CAMI: table on a woodworking site, 2008; a finish "
    "supplier's chart agrees after rounding",
    _S.PUBLISHED,
)
GRIT_MEMORY: Final = FigureSource("P3000, P5000, CAMI 1200, 1500 and 2000", _S.MEMORY)
LADDER_STEP: Final = FigureSource("largest step of a grit ladder", _S.PRACTICE)

CIRCLE: Final = FigureSource("speed = pi x diameter x rotation", _S.ARITHMETIC)
GEOMETRY: Final = FigureSource("plane trigonometry", _S.ARITHMETIC)
PARTS: Final = FigureSource("salt and mass are kept in mixing", _S.ARITHMETIC)

COLORS_AVERAGED: Final = FigureSource(
    '"Tempering Colors on Carbon Steels", five sources averaged, a steelmaking site', _S.PUBLISHED
)
COLORS_SUPPLIER: Final = FigureSource(
    "temper colors, chart of a gauge-plate supplier", _S.PUBLISHED
)
COLORS_HELD: Final = FigureSource(
    'same color after 1 h and after 8 min: "The Working of Steel", table 23', _S.HANDBOOK
)
TEMPER_MARGIN: Final = FigureSource("margin kept below the temper", _S.PRACTICE)

ARRHENIUS: Final = FigureSource("Arrhenius line through the shop's own two readings", _S.ARITHMETIC)
TRANSPORT: Final = FigureSource(
    "etch rate of steel in FeCl3 goes with the square root of rotation: J-STAGE, Corrosion "
    "Engineering 54(11), p. 526",
    _S.PUBLISHED,
)
ENERGY_BANDS: Final = FigureSource(
    "15 to 25 kJ/mol where transport governs, 40 to 60 where the surface does", _S.MEMORY
)
RATE_REACH: Final = FigureSource("how far two readings reach", _S.PRACTICE)

WATER_BREAK: Final = FigureSource(
    "ASTM F22, water-break test (edition seen: 02(2007))", _S.STANDARD
)

STILL_AIR: Final = FigureSource(
    "free convection in air, h = 1.42 (dT/L)^0.25, and emissivities of steel: "
    "thermofluidcalc.com, engineersedge.com",
    _S.PUBLISHED,
)
CONVECTION_RANGES: Final = FigureSource(
    "ranges of heat transfer coefficients: Cengel, notes at mhhe.com", _S.PUBLISHED
)
LUMPED: Final = FigureSource(
    "cooling of a body of one temperature throughout (Biot number below 0.1): standard text on "
    "heat transfer",
    _S.HANDBOOK,
)
DIP_TANK: Final = FigureSource(
    "29 CFR 1910.126(a)(2): oil within 50 F of its flash point sounds an alarm; 50 F is 27.8 C",
    _S.STANDARD,
)
HAND_WARM: Final = FigureSource("parts go into oil no warmer than 40 C", _S.PRACTICE)
EVAPORATION: Final = FigureSource(
    "heat of evaporation of water, 100 to 160 C: IAPWS-IF97 via iapws 1.5.5", _S.LIBRARY
)
CLAPEYRON: Final = FigureSource(
    "heat that the water takes out of the solution: the Clapeyron equation on the same "
    "boiling points",
    _S.ARITHMETIC,
)
