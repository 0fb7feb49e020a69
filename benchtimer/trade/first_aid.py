"""First aid by cause of injury: what to do, how long to rinse, which signs to watch for. If sources
differ, the stricter one counts: the longest rinse, and no induced vomiting. Everything here is for
the minutes before help comes. The data sheet of the product, the poison center and the ambulance
crew come first.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal

from benchtimer.trade.compatibility import Chemistry
from benchtimer.trade.figure import FigureSource, SourceStatus
from benchtimer.values import dataclass

Hurt = Chemistry | Literal["heat", "cut"]
"""What can hurt: a chemistry, heat, or an edge."""


@dataclass(frozen=True, slots=True)
class FirstAid:
    """What to do about one kind of injury.

    Attributes:
        name: a word for it.
        title: what happened, in everyday words.
        hurts: its causes.
        rinse_min: minutes under running water; 0 for no water.
        do: short orders, most urgent first.
        signs: what to watch for.
        never: what makes it worse.
        sources: where it comes from.
    """

    name: str
    title: str
    hurts: tuple[Hurt, ...]
    rinse_min: int
    do: tuple[str, ...]
    sources: tuple[FigureSource, ...]
    signs: tuple[str, ...] = ()
    never: tuple[str, ...] = ()


def _published(cite: str) -> FigureSource:
    return FigureSource(cite, SourceStatus.PUBLISHED)


_OSH_CENTER: Final = _published(
    "first-aid guidance of a national occupational safety center, copy at cemle.com: rinse "
    "strong alkali 60 minutes, most corrosives 30, moderate to severe irritants 15 to 20, mild "
    "ones 5; keep rinsing on the way to help"
)
_NJ_CAUSTIC: Final = _published(
    "New Jersey fact sheet on sodium hydroxide, 2015: 30 minutes, the shorter of the two"
)
_POISON_BOOK: Final = _published(
    "poisoning handbook, accessmedicine 3212/269158346: alkali in the eye, lids and lenses"
)
_CARDS: Final = _published(
    "International Chemical Safety Cards 0360 (sodium hydroxide), 0185 and 1120 (sodium nitrate "
    "and nitrite), 1499 (ferric chloride), ilo.org"
)
_FERRIC_SHEET: Final = _published(
    "data sheet of a ferric chloride solution, 2011: eyes 20 minutes, skin 15, no vomiting"
)
_NITRITE_SIGNS: Final = _published(
    "ICSC 1120 for the signs; symptoma.com: they begin after 20 to 180 minutes; "
    "seriesscience.com: a pulse oximeter sticks near 85 %"
)
_NITRITE_VOMIT: Final = _published(
    "ICSC 1120 (2000) has a conscious person vomit, data sheets forbid it: no vomiting"
)
_DISTILLATE: Final = _published(
    "ICSC 1431 (oil thinned with distillate): never vomit; lung trouble after hours or days"
)
_EYEWASH: Final = FigureSource(
    "Washington WAC 296-800-15030: eyewash for 15 minutes", SourceStatus.STANDARD
)
_EPOXY: Final = _published(
    "manual of a resin maker: soap and cool water, no solvent, eyes 15 minutes; data sheet of an "
    "amine hardener, 2016: burns skin and eyes, so the 30 minutes of a corrosive count"
)
_LUNGS: Final = _published(
    "Medscape 302133 and Taylor & Francis 9781843144120: after nitrogen dioxide the lungs can "
    "fill 2 to 30 hours later, after few signs at first"
)
_BURNS: Final = _published(
    "medintelli.netlify.app and other first-aid pages: cool running water for at least 20 "
    "minutes; shorter advice exists"
)
_WAX: Final = _published("healthfully.com 6170188: hot wax, cool water for at least 20 minutes")
_ACID_BASE: Final = _published(
    "40 CFR 264 and 265, Appendix V, group 1-A with 1-B: acid and alkali make heat"
)
_BRUSH: Final = _published("burnscentre.org: powder is brushed off the skin before the rinse")
_TEPID: Final = FigureSource(
    "ANSI/ISEA Z358.1-2014, as quoted at ilpi.com/dchas: wash water of 60 to 100 F, since cold "
    "water makes people stop too soon",
    SourceStatus.STANDARD,
)
_SHOCK: Final = _published("marshall-il.com and other pages: power off, ambulance, CPR")
_BLEEDING: Final = _published(
    "IFRC first aid guidelines, 2020: press, then a tourniquet; European Resuscitation Council, "
    "2015: raising the wound is no longer advised; lafd.org: 2 to 3 inches above, note the time; "
    "lifesavingfirstaid.com.au: it stays on"
)
_PRACTICE: Final = FigureSource("first aid for cuts", SourceStatus.PRACTICE)

_EYES: Final = (
    "Eyes: hold the lids apart. Contact lenses: take them out if that is easy, but never stop "
    "rinsing."
)
_SWALLOWED: Final = (
    "Swallowed: do not induce vomiting. Awake: rinse the mouth. Not awake: nothing by mouth, "
    "lay them on their side, call an ambulance. Call the poison center at once."
)
_VOMITING: Final = "inducing vomiting"
_CLOTHES: Final = "Take clothes, gloves and shoes off under the water."

FIRST_AID: Final = (
    FirstAid(
        "caustic",
        "Caustic (salts, cleaner) on skin or in eyes",
        ("alkali",),
        60,
        (
            "Rinse at once with plenty of water. Keep rinsing for 60 minutes, lukewarm if you "
            "can, even on the way to get help.",
            "Dry salts or powder on skin: brush them off first, then rinse.",
            _CLOTHES,
            _EYES,
            "Call for medical help while you rinse. Hot salts: the same rinse cools the burn.",
            _SWALLOWED,
        ),
        (_OSH_CENTER, _NJ_CAUSTIC, _POISON_BOOK, _CARDS, _ACID_BASE, _BRUSH, _TEPID),
        never=("vinegar or any acid on it: it makes heat", _VOMITING),
    ),
    FirstAid(
        "acid",
        "Acid, etchant or rusting solution on skin or in eyes",
        ("acid",),
        30,
        (
            "Rinse at once with plenty of water. Keep rinsing for 30 minutes, even on the way to "
            "get help.",
            _CLOTHES,
            _EYES,
            "Get medical help for eyes and burns.",
            _SWALLOWED,
        ),
        (_OSH_CENTER, _FERRIC_SHEET, _CARDS, _ACID_BASE),
        never=("bicarbonate or caustic on skin or in eyes: heat and gas", _VOMITING),
    ),
    FirstAid(
        "burn",
        "Burn from heat: boiling water, hot steel, hot wax",
        ("heat", "reactive-metal"),
        20,
        (
            "Hot salts, or water with caustic in it: rinse for 60 minutes (see Caustic). Water "
            "with acid in it: 30.",
            "Cool any other burn at once under cool running water for 20 minutes.",
            "Take off rings, watch and clothes around it, but leave what sticks, such as wax.",
            "Cover it loosely with clean film or cloth. Get medical help for blisters, face, "
            "hands, joints, or a burn larger than a palm.",
            "Clothes on fire: stop, drop, roll, then water.",
            "Electric shock: power off before you touch them. Call an ambulance. Not breathing: "
            "CPR.",
        ),
        (_BURNS, _WAX, _SHOCK),
        never=("ice, butter or ointment on a burn", "opening blisters"),
    ),
    FirstAid(
        "nitrite",
        "Nitrite or nitrate (salts): poison",
        ("nitrite", "nitrate"),
        60,
        (
            "Blacking salts hold caustic: rinse skin and eyes at once for 60 minutes.",
            "Swallowed, or any sign below: call an ambulance and say nitrite.",
            _SWALLOWED,
            "Fresh air. Short of breath: sit up. Dizzy: lie down.",
            "Any sign counts, even hours later.",
        ),
        (_OSH_CENTER, _CARDS, _NITRITE_SIGNS, _NITRITE_VOMIT),
        signs=(
            "Blue lips, nails or skin. Headache, dizziness, nausea, confusion.",
            "Fast pulse, convulsions.",
            "They can begin 20 minutes to 3 hours later.",
        ),
        never=(_VOMITING, "trusting a finger clip: it sticks near 85 %"),
    ),
    FirstAid(
        "gas",
        "Gas breathed in: brown fumes, chlorine, ammonia",
        ("acid", "nitrite", "nitrate", "chlorine-releaser", "ammonium"),
        0,
        (
            "Get out into fresh air. Sit up, rest, keep warm.",
            "Call for medical help even if you feel well.",
            "Nobody goes back in before the room is aired.",
        ),
        (_LUNGS,),
        signs=("The lungs can fill 2 to 30 hours later: cough, short breath, blue lips.",),
        never=("running or hard work afterward",),
    ),
    FirstAid(
        "bleach",
        "Bleach or ammonia on skin or in eyes",
        ("chlorine-releaser", "ammonium"),
        60,
        (
            "Rinse at once with plenty of water. Keep rinsing for 60 minutes, even on the way to "
            "get help.",
            _CLOTHES,
            _EYES,
            _SWALLOWED,
            "Get medical help for eyes and burns.",
        ),
        (_OSH_CENTER,),
        never=("any other cleaner on it", _VOMITING),
    ),
    FirstAid(
        "resin",
        "Resin or hardener on skin or in eyes",
        ("epoxy",),
        30,
        (
            "Eyes: rinse at once for 30 minutes. Get medical help.",
            "Skin: wash with soap and cool water. Hardener: rinse for 30 minutes.",
            _SWALLOWED,
            _EYES,
            "A rash, even days later: see a doctor, and stop working with it.",
        ),
        (_OSH_CENTER, _EPOXY),
        never=("solvent on the skin: it carries the resin in",),
    ),
    FirstAid(
        "solvent",
        "Solvent or thin oil: swallowed, in eyes, on fire",
        ("flammable",),
        20,
        (
            f"{_SWALLOWED} Go to a hospital.",
            "Eyes: rinse for 20 minutes.",
            "Soaked clothes: off, away from any flame. Wash the skin with soap.",
            "Fumes: get out into fresh air.",
            "Clothes on fire: stop, drop, roll, then cool the burn for 20 minutes.",
        ),
        (_OSH_CENTER, _DISTILLATE, _BURNS),
        signs=("Cough or short breath can come hours or days after it was swallowed.",),
        never=(f"{_VOMITING}: it gets into the lungs", "water on burning oil: put the lid on"),
    ),
    FirstAid(
        "oil",
        "Oil or wax in eyes or on skin",
        ("oil-wax",),
        20,
        (
            "Eyes: rinse for 20 minutes; hot wax, too.",
            "Skin: take soaked clothes off, wash with soap.",
            "Hot wax: cool it for 20 minutes under running water; leave what sticks.",
            _SWALLOWED,
        ),
        (_EYEWASH, _DISTILLATE, _WAX),
        never=(f"{_VOMITING}: it gets into the lungs", "water on burning oil: put the lid on"),
    ),
    FirstAid(
        "soda",
        "Bicarbonate or its foam in eyes",
        ("carbonate",),
        15,
        (
            "Eyes: rinse for 15 minutes.",
            "With etchant in it: 30 minutes, and get medical help.",
            "Short of breath over the foam: get out into fresh air.",
        ),
        (_EYEWASH, _OSH_CENTER),
    ),
    FirstAid(
        "cut",
        "Cut",
        ("cut",),
        0,
        (
            "Press hard with a clean cloth, beside anything stuck in it. Keep pressing.",
            "Leave what is stuck in it. A splinter in the eye: cover it, do not rub.",
            "Spurting, gaping or numb: keep pressing and call for help.",
            "Limb still spurting: tourniquet 2 to 3 inches (5 to 8 cm) above the wound, not on a "
            "joint. Write down the time.",
        ),
        (_BLEEDING, _PRACTICE),
        never=("loosening a tourniquet: leave that to the ambulance",),
    ),
)  # fmt: skip
"""First aid, worst first."""


def first_aid_for(hurts: Iterable[Hurt]) -> tuple[FirstAid, ...]:
    """First aid for what is open now, plus cuts, which can always happen; all of it if nothing is
    open.

    Args:
        hurts: chemistry and heat of what is open.
    """
    asked = set(hurts)
    if not asked:
        return FIRST_AID
    return tuple(aid for aid in FIRST_AID if asked & set(aid.hurts) or "cut" in aid.hurts)


def rinse_min(hurts: Iterable[Hurt]) -> int:
    """The longest rinse for any of these, minutes; 0 if none needs one."""
    asked = set(hurts)
    return max((aid.rinse_min for aid in FIRST_AID if asked & set(aid.hurts)), default=0)
