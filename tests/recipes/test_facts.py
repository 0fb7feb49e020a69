"""Facts that a shipped recipe must get right: heat and oil, cracks, first aid, water.

Figures are compared with the trade package; where the text is the safeguard, its words are
checked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from benchtimer.quantity import parse
from benchtimer.recipe.answers import AnswerError
from benchtimer.recipe.checks import Check, Choice, ReadingCheck, Send, YesNo
from benchtimer.recipe.model import Hazard, Recipe, Station, Step
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import write_recipe
from benchtimer.run.commands import Acknowledge, Heat, Prepare
from benchtimer.run.hazards import FIRST_AID as HAZARD_FIRST_AID
from benchtimer.run.hazards import clash_line
from benchtimer.run.refusals import BadValue, HazardFirst
from benchtimer.run.setup import items_of, setup_items, setup_pages
from benchtimer.trade import caustic, dangers, water
from benchtimer.trade.compatibility import BURNS_C
from benchtimer.trade.first_aid import Hurt, rinse_min
from benchtimer.trade.sheets import cooling_sheet, temper_sheet
from benchtimer.trade.sheets.cooling_sheet import Block
from tests.support import Hands
from tests.trade.derived import figure_for

RECIPES = {name: RecipeFiles().find(name) for name in RecipeFiles().paths()}
ANY = pytest.mark.parametrize("recipe", RECIPES.values(), ids=RECIPES)
OILED = pytest.mark.parametrize("name", ["hot-black", "slow-rust-blue"])
COOL_FOR_WATER = "below 190 F (88 C)"
COOL_FOR_SALTS = "to 104 F (40 C)"


def _step(name: str, step: str) -> Step:
    recipe = RECIPES[name]
    return recipe.step[recipe.step_index(step)]


def _check(name: str, step: str, check: str) -> Check:
    return next(c for c in _step(name, step).check if c.id == check)


def _checks(recipe: Recipe) -> Iterator[tuple[Step, Check]]:
    for step in recipe.step:
        for check in step.check:
            yield step, check


def _flat(text: str | None) -> str:
    return " ".join((text or "").split())


# ---------------------------------------------------------------- heat and oil


@OILED
def test_no_part_goes_from_the_boil_into_the_oil(name: str) -> None:
    """Between the boil and the oil every part dwells where it cools."""
    steps = [step for step in RECIPES[name].step if step.dwell is not None]
    entered = [step.at for step in steps]
    before_oil = entered[entered.index("oil") - 1]
    assert before_oil != "boil"
    assert before_oil in ("dip", "hooks")


def test_the_cold_dip_is_long_enough() -> None:
    """In cold water a small part is hand-warm within the dip's min, a thick one by its target."""
    dwell = _step("hot-black", "cool").dwell
    assert dwell is not None
    small, thick = Block(25, 12, 5), Block(30, 30, 12)
    for block, time_s in ((small, dwell.min_s), (thick, dwell.target_s)):
        cool_s = cooling_sheet.cooling_s(block, 97, 40, 15, cooling_sheet.SWIRLED_W_M2_K)
        assert cool_s <= time_s


def test_cooling_in_still_air_gets_enough_time() -> None:
    """A black 30 x 30 x 8 mm part in a warm shop is below 40 C after its dwell's min."""
    dwell = _step("slow-rust-blue", "cool").dwell
    assert dwell is not None
    assert dwell.min_s >= cooling_sheet.still_air_s(Block(30, 30, 8), 100, 40, air_c=25)
    assert dwell.source == "cooling"


def test_a_part_is_cool_enough_to_card() -> None:
    """The dwell before carding lets a small black part cool below 40 C."""
    dwell = _step("slow-rust-blue", "dry").dwell
    assert dwell is not None
    assert dwell.min_s >= cooling_sheet.still_air_s(Block(25, 12, 5), 100, 40)


def test_the_cited_cooling_times_are_the_calculated_ones() -> None:
    """The cooling times that the recipes cite match the shop calculation."""
    small = cooling_sheet.still_air_s(Block(25, 12, 5), 100, 40, 20) / 60
    thick = cooling_sheet.still_air_s(Block(30, 30, 8), 100, 40, 25) / 60
    dip = cooling_sheet.cooling_s(Block(30, 30, 8), 97, 40, 15, cooling_sheet.SWIRLED_W_M2_K) / 60
    assert [round(small), round(thick), round(dip)] == [9, 19, 1]
    cited = _flat(RECIPES["slow-rust-blue"].citation("cooling"))
    assert "takes 9 min" in cited
    assert "19 min" in cited
    assert "about 1 min" in _flat(RECIPES["hot-black"].citation("cooling"))


@OILED
@pytest.mark.parametrize(
    ("flash", "part", "goes_in"),
    [
        ("105 C", "40 C", True),
        ("105 C", "41 C", False),
        ("60 C", "32 C", True),
        ("60 C", "33 C", False),
    ],
)
def test_a_part_goes_into_the_oil_only_cool(
    name: str, flash: str, part: str, goes_in: bool
) -> None:
    """A part goes in at 40 C at most, and never above the flash point less 28 C."""
    check = _into_oil(name)
    verdict = check.judge(part, {"flash-point": parse(flash)})
    assert (not verdict.bad and verdict.key not in check.send) is goes_in
    assert verdict.above_ceiling or goes_in or check.send[verdict.key].to == "cool"


def _into_oil(name: str) -> ReadingCheck:
    (step,) = (step for step in RECIPES[name].step if step.at == "oil" and step.dwell is not None)
    (check,) = (c for c in step.check if isinstance(c, ReadingCheck))
    return check


@OILED
@pytest.mark.parametrize("part", ["5 C", "25 C", "40 C"])
def test_no_part_goes_into_an_oil_of_unknown_flash_point(name: str, part: str) -> None:
    """Even for a cold part, the check refuses a reading until the flash point is entered."""
    with pytest.raises(AnswerError) as found:
        _into_oil(name).judge(part, {})
    assert found.value.reason == "the flash point is not known"
    assert "key K" in found.value.allowed


@OILED
def test_the_flash_point_is_asked_with_the_mix(name: str) -> None:
    """The set-up asks for the oil's flash point once, right after its mix."""
    recipe = RECIPES[name]
    keys = [item.key for item in items_of({name: recipe})]
    asks = [item for item in items_of({name: recipe}) if item.asks is not None]
    assert [item.asks.of for item in asks if item.asks] == ["oil"]
    assert keys.index(asks[0].key) == keys.index("mix oil") + 1


# ---------------------------------------------------------------- cracks and pits


@ANY
def test_a_crack_stops_the_part(recipe: Recipe) -> None:
    """An answer that reports a crack stops the part."""
    for _, check in _checks(recipe):
        if re.search(r"\bcrack", check.ask.lower()):
            assert isinstance(check, YesNo)
            assert check.send["no"].stop, check.ask


@ANY
def test_crack_and_bend_are_two_questions(recipe: Recipe) -> None:
    """No question asks about a crack and a bend at once, since only the crack must stop it."""
    for _, check in _checks(recipe):
        ask = check.ask.lower()
        assert not ("crack" in ask and re.search(r"straight|bend|bent", ask)), check.ask


def test_a_crack_is_looked_for_before_anything_bends_the_blade() -> None:
    """The loupe comes before the brass rod and before the oven."""
    for step in ("ready", "prove"):
        ids = [check.id for check in _step("temper-cycles", step).check]
        assert "cracks" in ids
    ids = [check.id for check in _step("temper-cycles", "prove").check]
    assert ids.index("cracks") < min(ids.index("tough"), ids.index("hard"))


def test_a_bend_waits_for_the_second_hold() -> None:
    """A slight bend waits for the second hold, since an untempered blade snaps in a clamp."""
    bend = _check("temper-cycles", "ready", "bend")
    assert isinstance(bend, Choice)
    assert any("second hold" in option for option in bend.options)
    assert "waits for the second hold" in _flat(_step("temper-cycles", "hold-1").text)
    assert "clamp the cold blade straight" in _flat(_step("temper-cycles", "hold-2").text)


def test_a_bend_goes_back_to_the_oven() -> None:
    """A bend, unlike a crack, is clamped straight in the next hold."""
    bend = _check("temper-cycles", "prove", "straight")
    assert bend.send["no"].to == "hold-2"


@pytest.mark.parametrize(
    ("name", "step"),
    [("hot-black", "inspect"), ("slow-rust-blue", "card"), ("strip-black", "protect")],
)
def test_pits_stop_the_part_and_say_where_it_goes(name: str, step: str) -> None:
    """No bath fills a pit, so the part stops, and the advice names the polishing recipe."""
    stop = _check(name, step, "pits").send["no"].stop
    assert stop is not None
    assert "fittings-polish" in stop


# ---------------------------------------------------------------- first aid


def _guarded(recipe: Recipe, hazard: Hazard) -> set[Hurt]:
    """Chemistry and heat behind a hazard."""
    steps = {step.id: step for step in recipe.step}
    names = set(hazard.before)
    stations = [s for s in recipe.station if s.id in names]
    stations += [
        recipe.station_named(steps[name].at or "")
        for name in names
        if name in steps and steps[name].at
    ]
    hurts: set[Hurt] = {c for station in stations for c in station.chemistry}
    hurts |= {c for mix in recipe.mix if mix.id in names for c in mix.chemistry}
    return hurts | {"heat" for station in stations if _burns(station)}


def _burns(station: Station) -> bool:
    window = station.temperature
    return station.heat_up_s is not None or (window is not None and window.max.base >= BURNS_C)


HAZARDS = [
    pytest.param(recipe, hazard, id=f"{name}-{hazard.title}")
    for name, recipe in RECIPES.items()
    for hazard in recipe.hazard
]


@pytest.mark.parametrize(("recipe", "hazard"), HAZARDS)
def test_first_aid_rinses_as_long_as_its_strictest_source(recipe: Recipe, hazard: Hazard) -> None:
    """First aid gives the longest rinse of all chemistry behind the page, in minutes."""
    minutes = rinse_min(_guarded(recipe, hazard))
    if minutes:
        assert f"{minutes} minutes" in _flat(hazard.first_aid) or f"for {minutes}" in _flat(
            hazard.first_aid
        )


@pytest.mark.parametrize(("recipe", "hazard"), HAZARDS)
def test_first_aid_says_what_it_must(recipe: Recipe, hazard: Hazard) -> None:
    """Each chemistry has its orders: get help, no vomiting, the signs of nitrite."""
    hurts, result = _guarded(recipe, hazard), _flat(hazard.first_aid).lower()
    if "alkali" in hurts:
        assert "at once" in result
        assert "on the way to help" in result
    if "flammable" in hurts:
        assert "do not induce vomiting" in result
    if "nitrite" in hurts and "salts" in hazard.before and "sort" not in hazard.before:
        assert "blue lips" in result or "restart" in hazard.title.lower()
    assert "a doctor" not in result
    assert "15 to 30" not in result


@pytest.mark.parametrize(("recipe", "hazard"), HAZARDS)
def test_first_aid_agrees_with_the_source_beside_it(recipe: Recipe, hazard: Hazard) -> None:
    """Each number of minutes in first aid is in its own source."""
    cited = _flat(recipe.citation(hazard.source))
    result = set(re.findall(r"\b(?:15|20|30|60)\b", _flat(hazard.first_aid)))
    assert result <= set(re.findall(r"\b\d+\b", cited))


def test_forbidden_vessels_and_flames_are_named() -> None:
    """Rusting solution with mercury is ruled out, and flames stay away from acid on steel."""
    (coat,) = (h for h in RECIPES["slow-rust-blue"].hazard if "coat" in h.before)
    assert any("mercury" in words for words in coat.never)
    (acid,) = (h for h in RECIPES["strip-black"].hazard if "strip" in h.before)
    assert any("flame" in words and "hydrogen" in words for words in acid.never)


@pytest.mark.parametrize("before", ["sort", "black-salts", "salts"])
def test_no_powder_extinguisher_on_the_salts(before: str) -> None:
    """ABC powder is ammonium salts: with nitrite it explodes, with caustic it gives ammonia."""
    pages = [h for h in RECIPES["hot-black"].hazard if before in h.before]
    assert any("ABC" in f"{page.text} {page.never}" for page in pages)


@ANY
def test_corrosives_are_never_vomited(recipe: Recipe) -> None:
    """Every caustic or acid page says what to do if someone swallows some."""
    for station in recipe.station:
        if station.bath is not None and {"acid", "alkali"} & set(station.chemistry):
            result = [_flat(h.first_aid) for h in recipe.hazard if station.id in h.before]
            assert any("Swallowed" in text and "not induce vomiting" in text for text in result), (
                station.id
            )


def test_a_pitted_part_is_not_left_with_acid_on_it() -> None:
    """A part stopped between coats still rusts, so it is neutralized and rinsed first."""
    stop = _check("slow-rust-blue", "card", "pits").send["no"].stop or ""
    assert stop.index("Neutralize") < stop.index("fittings-polish")


def test_a_plan_says_which_recipes_must_not_share_a_room() -> None:
    """Etch and salts are a danger in one plan; places that no part goes to don't count."""
    both = {name: RECIPES[name] for name in ("etch-darken", "hot-black")}
    danger = "DANGER: acid with alkali, nitrite, nitrate. Use another room or day"
    assert clash_line(both) == danger
    assert clash_line(both, {"etch", "salts"}) == danger
    assert clash_line(both, {"etch", "oil"}) == ""
    assert clash_line({"hot-black": RECIPES["hot-black"]}) == ""


def test_generated_pages_rinse_as_long() -> None:
    """The page about incompatible baths gives the hour of strong alkali."""
    assert "60 minutes" in HAZARD_FIRST_AID
    assert "60 minutes" in dangers.HOT_CAUSTIC


# ---------------------------------------------------------------- salts, heat and water


@ANY
def test_every_window_has_its_remedies(recipe: Recipe) -> None:
    """A station with a temperature says what to do when it is too hot and too cold."""
    for station in recipe.station:
        if station.temperature is not None:
            assert station.too_hot, station.id
            assert station.too_cold, station.id


FIRST_WORDS = {
    "Pull", "Turn", "Put", "Let", "Then", "Heat", "Read", "Keep", "Open", "Take", "Leave", "Stand",
    "Move", "Write", "Look", "Lid", "Brush", "Give", "Replace", "Less", "Is", "If", "Parts",
    "To", "Break", "Full", "Add", "All", "The", "A", "Cold", "Warm", "No", "Stir",
}  # fmt: skip


@ANY
def test_remedies_are_short_orders(recipe: Recipe) -> None:
    """Each remedy begins with an order, and no sentence has more than 20 words."""
    for station in recipe.station:
        for text in (station.too_hot, station.too_cold):
            sentences = re.split(r"(?<=[.?!])\s+", _flat(text)) if text else []
            assert not text or sentences[0].split()[0] in FIRST_WORDS - {"The", "A", "Is", "If"}
            assert [s for s in sentences if len(s.split()) > 20] == []
            assert {s.split()[0] for s in sentences} <= FIRST_WORDS


def test_too_hot_salts_name_the_first_thing_to_do() -> None:
    """Parts out and heat off come first, water last."""
    result = RECIPES["hot-black"].station_named("salts").too_hot or ""
    assert result.startswith("Pull the parts. Turn off the heat.")
    assert result.index(COOL_FOR_WATER) < result.index("add a little water")


@pytest.mark.parametrize(
    "text",
    [
        RECIPES["hot-black"].station_named("salts").too_hot,
        getattr(RECIPES["hot-black"].station_named("salts").make_up, "text", None),
        RECIPES["hot-black"].station_named("cleaner").too_hot,
        dangers.ADDING_WATER,
    ],
    ids=["too-hot", "make-up", "cleaner", "water"],
)
def test_there_is_one_rule_for_water(text: str | None) -> None:
    """Water goes into a hot bath only below the boil of plain water in any shop."""
    assert COOL_FOR_WATER in _flat(text)


def test_water_does_not_boil_where_it_goes_in() -> None:
    """The rule for water keeps below the boil at 3000 m, as the recipe cites it."""
    boils_c = water.boiling_c(water.pressure_pa(3000))
    assert parse("190 F").base < parse("88 C").base < boils_c
    assert f"boils at {boils_c:.0f} C at 3000 m" in _flat(
        RECIPES["hot-black"].citation("caustic-card")
    )


@pytest.mark.parametrize(
    "text", [RECIPES["hot-black"].station_named("salts").too_cold, dangers.ADDING_SALTS]
)
def test_salts_go_into_a_hand_warm_bath(text: str | None) -> None:
    """Salts heat a bath by themselves, so they go in when it is hand-warm."""
    assert COOL_FOR_SALTS in _flat(text)


def test_every_rod_in_the_salts_is_dry() -> None:
    """A wet bar spits, so every steel bar in the text is dry."""
    text = write_recipe(RECIPES["hot-black"])
    bars = re.findall(r"(\S+ \S+) steel bar\b", text)
    assert len(bars) >= 3
    assert all("dry" in before for before in bars)


@ANY
def test_acid_pages_say_what_to_do_about_gas(recipe: Recipe) -> None:
    """A danger page of acid covers gas, and none tells anyone to bring on vomiting."""
    for hazard in recipe.hazard:
        result = _flat(hazard.first_aid)
        if "acid" in _guarded(recipe, hazard) and hazard.level == "danger":
            assert "Gas breathed in: fresh air" in result, hazard.title
        assert "do not induce vomiting unless" not in result


@pytest.mark.parametrize(
    "text",
    [
        getattr(RECIPES["hot-black"].station_named("salts").make_up, "text", ""),
        dangers.ADDING_WATER,
    ],
)
def test_less_heat_comes_before_water(text: str) -> None:
    """Turning the heat down slows the climb, and comes first."""
    assert _flat(text).startswith("Less heat slows the climb")


@pytest.mark.parametrize(
    ("name", "station"),
    [
        ("hot-black", "cleaner"),
        ("hot-black", "salts"),
        ("hot-black", "boil"),
        ("slow-rust-blue", "boil"),
        ("temper-cycles", "oven"),
        ("hot-wax", "pot"),
    ],
)
def test_a_heated_station_has_its_heat_up(name: str, station: str) -> None:
    """A heated station gives its heat-up time."""
    assert RECIPES[name].station_named(station).heat_up_s


@ANY
def test_every_hot_station_has_a_heat_up(recipe: Recipe) -> None:
    """Every station with a scalding window has a heat-up time."""
    for station in recipe.station:
        window = station.temperature
        if window is not None and window.max.base >= BURNS_C:
            assert station.heat_up_s, station.id


def test_the_salts_are_topped_up_before_they_leave_their_window() -> None:
    """The make-up comes before a slow boil climbs from the window's min to its max."""
    salts = RECIPES["hot-black"].station_named("salts")
    window, needs = salts.temperature, salts.make_up
    assert window is not None
    assert needs is not None
    found = caustic.climb(6, window.min.base, window.max.base, 500)
    assert needs.after_s <= found.earliest_s
    assert needs.source == "climb"
    assert "40 min at the earliest" in _flat(RECIPES["hot-black"].citation("climb"))
    assert found.earliest_s / 60 == pytest.approx(40, abs=0.5)


@ANY
def test_every_station_and_mix_says_what_it_holds(recipe: Recipe) -> None:
    """A station and its mix have the same chemistry; only coffee has none."""
    mixes = {mix.id: mix for mix in recipe.mix}
    for station in recipe.station:
        if station.bath is not None and station.bath != "darkener":
            assert station.chemistry
            assert set(station.chemistry) == set(mixes[station.bath].chemistry), station.id


@ANY
def test_every_water_station_is_a_rinse(recipe: Recipe) -> None:
    """Sinks, boils and dips accept a wet part unread, and a bicarbonate bath neutralizes."""
    for station in recipe.station:
        if re.search(r"\b(sink|boiling|water)\b", station.title.lower()):
            expected = None if {"flammable", "oil-wax"} & set(station.chemistry) else "rinse"
            assert station.purpose == expected, station.id
        if "carbonate" in station.chemistry:
            assert station.purpose == "neutralizer"


@ANY
def test_every_station_has_a_short_name(recipe: Recipe) -> None:
    """Each short name is unique, in capitals, with eight letters at most for the large line."""
    shorts = [station.short for station in recipe.station]
    assert all(short and short == short.upper() for short in shorts)
    assert len(set(shorts)) == len(shorts)


def test_mixing_and_restarting_salts_have_pages_before_the_work() -> None:
    """Both pages come before the first item of the set-up, which is refused without them."""
    hands = Hands(recipe=RECIPES["hot-black"], started=False)
    titles = [page.title for page in setup_pages(hands.state.bench)]
    (mixing,) = (title for title in titles if title.startswith("Mixing the salts"))
    (restart,) = (title for title in titles if title.startswith("Restarting a cold bath"))
    assert titles[0].startswith("Before any heat")
    for title in titles:
        if title not in (mixing, restart):
            hands(Acknowledge(title))
    for wish in (Prepare("mix salts"), Heat("salts")):
        with pytest.raises(HazardFirst):
            hands(wish)
    hands(Acknowledge(mixing))
    hands(Acknowledge(restart))
    hands(Prepare("mix salts"))
    assert "mix salts" not in [item.key for item in setup_items(hands.state.bench)]


NEW_TRIES = {
    ("etch-darken", "judge", "blacks", "flat or gone: etch again"),
    ("etch-darken", "judge", "blacks", "pale: soak again"),
    ("etch-darken", "judge", "even", "no"),
    ("hot-black", "inspect", "finish", "no"),
    ("hot-black", "look", "color", "gray or patchy"),
    ("hot-black", "look", "color", "colored film, wipes off"),
    ("hot-black", "look", "smut", "no"),
    ("slow-rust-blue", "inspect", "even", "no"),
}


def test_which_answers_end_a_try() -> None:
    """A finish made again is another try; a scrub, a cycle or a coat is not."""
    sends: list[tuple[str, str, str, str, Send]] = [
        (name, step.id, check.id, answer, send)
        for name, recipe in RECIPES.items()
        for step, check in _checks(recipe)
        for answer, send in check.send.items()
    ]
    assert {tuple(where) for *where, send in sends if send.new_try} == NEW_TRIES


def test_the_second_coat_of_wax_is_not_a_failed_try() -> None:
    """The second coat is planned and expected, so it starts no new try."""
    send = _check("hot-wax", "wipe", "coats").send["one"]
    assert send.to == "warm"
    assert not send.new_try
    assert send.expect == 1


# ---------------------------------------------------------------- other facts


def test_a_hard_pot_proves_nothing_about_the_joint() -> None:
    """Time and a thin smear judge the joint, and a soft smear cures on."""
    recipe, smear = RECIPES["edge-and-assembly"], _step("edge-and-assembly", "smear")
    assert "A hard pot proves nothing" in _flat(smear.text)
    assert smear.at == "clamp"
    assert recipe.step_index("smear") < recipe.step_index("final")
    hard = _check("edge-and-assembly", "smear", "hard")
    cure = _step("edge-and-assembly", hard.send["no"].to or "")
    assert cure.dwell is not None
    assert cure.dwell.min_s >= 12 * 3600


def test_copper_takes_the_bath_out_of_service() -> None:
    """A copper-colored part stops and closes its bath."""
    send = _check("hot-black", "look", "color").send["copper-colored"]
    assert send.stop is not None
    assert "replace" in send.stop
    assert "aside" in send.stop
    assert send.out_of_service == "salts"


def test_stripping_is_a_separate_recipe_with_no_salts_open() -> None:
    """The acid recipe has no caustic, and stops while salts are open."""
    recipe = RECIPES["strip-black"]
    held = {c for station in recipe.station for c in station.chemistry}
    assert "acid" in held
    assert not held & {"alkali", "nitrite", "nitrate"}
    first = recipe.step[0].check[0]
    assert "Salts" in first.ask
    assert first.send["no"].stop
    assert "strip-black" in _flat(RECIPES["hot-black"].about)
    assert "acid" not in {c for s in RECIPES["hot-black"].station for c in s.chemistry}


def test_bad_blacks_can_be_soaked_again_or_etched_again() -> None:
    """A pale black goes back to the soak without an etch, a flat one to the etch."""
    recipe = RECIPES["etch-darken"]
    blacks = _check("etch-darken", "judge", "blacks")
    assert isinstance(blacks, Choice)
    soak, etch = (blacks.send[option] for option in blacks.options[1:])
    after_etch = recipe.step_index("look")
    assert after_etch < recipe.step_index(soak.to or "") < recipe.step_index("hang")
    assert recipe.step_index(etch.to or "") < recipe.step_index("etch")


def test_an_oiled_blade_is_washed_before_it_is_waxed() -> None:
    """The wash comes before the warmth, with a check of the water."""
    recipe = RECIPES["hot-wax"]
    assert recipe.step_index("wash") < recipe.step_index("warm")
    assert _check("hot-wax", "wash", "film").send["no"].to == "wash"
    assert "No solvent" in _flat(_step("hot-wax", "wash").text)


BARE = [
    ("hot-black", ["sort"]),
    ("etch-darken", ["sand", "ready"]),
    ("slow-rust-blue", ["dry", "cool"]),
    ("strip-black", ["ready"]),
    (
        "fittings-polish",
        ["prepare", "p180", "p320", "p600", "p1000", "p1500", "set-up"],
    ),
]
"""Dwells of a bare steel part."""


@pytest.mark.parametrize(("name", "step"), [(n, s) for n, steps in BARE for s in steps])
def test_bare_steel_is_not_left_overnight(name: str, step: str) -> None:
    """A bare part rests for a working day at most, so no plan leaves it overnight."""
    dwell = _step(name, step).dwell
    assert dwell is not None
    assert dwell.max_s is not None
    assert dwell.max_s <= 8 * 3600


def test_there_is_one_margin_below_the_temper() -> None:
    """The recipe and the shop calculation keep the same margin, with its reason."""
    steel = _check("hot-wax", "warm", "steel")
    assert isinstance(steel, ReadingCheck)
    assert steel.ceiling_from is not None
    assert steel.ceiling_from.margin.base_span == temper_sheet.USUAL_MARGIN_C
    result = _flat(RECIPES["hot-wax"].citation(steel.ceiling_from.source))
    sheet = " ".join(figure_for("temper-ceiling", {"temper": "200 C"}).limits)
    for text in (result, sheet):
        assert f"{temper_sheet.USUAL_MARGIN_C:g} C" in text
        assert "oven reading" in text
        assert "long soak" in text


@OILED
def test_an_oil_too_close_to_the_part_temperature_is_refused(name: str) -> None:
    """The minimum flash point leaves room for a part as warm as the shop, with its source."""
    (flash,) = (prop for prop in RECIPES[name].property if prop.of == "oil")
    assert flash.min is not None
    assert cooling_sheet.oil_limit_c(flash.min.base) >= cooling_sheet.ROOM_C
    assert f"{flash.min.base:g} C" in _flat(RECIPES[name].citation(flash.source))
    hands = Hands(recipe=RECIPES[name], started=False)
    for page in hands.recipe.hazard:
        hands(Acknowledge(page.title))
    (item,) = (i for i in items_of({name: RECIPES[name]}) if i.asks is not None)
    with pytest.raises(BadValue, match="below"):
        hands(Prepare(item.key, said="54 C"))
    hands(Prepare(item.key, said="55 C"))


@OILED
def test_no_hot_bath_is_left_unattended(name: str) -> None:
    """Before a soak of hours the recipe asks about the heat under the baths."""
    (step,) = (step for step in RECIPES[name].step if step.at == "oil" and step.dwell is not None)
    assert [check.id for check in step.check] == ["warmth", "heat-off"]


@ANY
def test_a_part_that_stops_leaves_no_heat_on(recipe: Recipe) -> None:
    """A stop before the last hot place says what to turn off, since no part may follow."""
    hot = {station.id for station in recipe.station if station.heat_up_s is not None}
    last = max((i for i, step in enumerate(recipe.step) if step.at in hot), default=-1)
    for step in recipe.step[: last + 1]:
        for check in step.check:
            for send in check.send.values():
                if send.stop is not None:
                    assert re.search(r"\b(heat|oven) off\b|turn off the heat", send.stop), step.id


@pytest.mark.parametrize("name", ["hot-black", "slow-rust-blue", "hot-wax"])
def test_every_heater_near_water_has_a_gfci(name: str) -> None:
    """Where water is heated, a page names the GFCI outlet and the code that requires it."""
    pages = [page for page in RECIPES[name].hazard if "GFCI" in page.text]
    assert pages
    assert all("NFPA 70" in _flat(RECIPES[name].citation(page.source)) for page in pages)


@pytest.mark.parametrize("station", ["sink", "boil"])
def test_no_caustic_vessel_is_aluminum_or_galvanized(station: str) -> None:
    """Sink and boil are steel, because caustic on zinc or aluminum gives off hydrogen."""
    text = _flat(RECIPES["hot-black"].station_named(station).text)
    assert "steel" in text
    assert "nothing galvanized or aluminum" in text


def test_salts_in_a_seam_never_meet_the_acid() -> None:
    """A part with a trace of salts stops before the acid and is boiled out."""
    soft = _check("strip-black", "ready", "soft")
    assert "free of salts" in soft.ask
    assert "Boil salts out (hot-black)" in (soft.send["no"].stop or "")


def test_a_lasting_film_is_stripped_and_not_blacked_again() -> None:
    """A colored film is blacked again if the cloth takes it off, and else stops the part."""
    send = _check("hot-black", "look", "color").send
    assert send["colored film, wipes off"].to == "scrub"
    assert "strip-black" in (send["colored film, stays"].stop or "")


@OILED
def test_a_hot_part_is_sent_to_cool_until_it_is_cool(name: str) -> None:
    """However often a part reads hot, it does not go on to the oil."""
    (step,) = (step for step in RECIPES[name].step if step.at == "oil" and step.dwell is not None)
    (check,) = (c for c in step.check if c.id == "warmth")
    assert (check.send["above"].limit or 0) >= 20
    assert check.send["above"].to == "cool"


def test_a_blade_still_warm_from_the_quench_waits() -> None:
    """A blade above the limit goes back to the rack, not into the oven."""
    send = _check("temper-cycles", "ready", "warmth").send["above"]
    assert send.to == "ready"


def test_a_temper_no_blade_would_have_is_a_deviation() -> None:
    """The temper that limits the wax is checked, so 40 for 400 is a bad reading."""
    check = _check("temper-cycles", "prove", "temper")
    assert isinstance(check, ReadingCheck)
    assert check.judge("40", {}).bad
    assert not check.judge("400", {}).bad
    oven = RECIPES["temper-cycles"].station_named("oven").temperature
    assert oven is not None
    assert oven.ceiling is not None
    assert not check.judge(str(oven.ceiling), {}).bad


def test_a_wheel_over_its_marked_speed_stops_the_part() -> None:
    """A wheel that can burst stops the part, and its page comes before set-up."""
    assert _check("fittings-polish", "set-up", "marked").send["no"].stop
    pages = list(RECIPES["fittings-polish"].hazards_for(_step("fittings-polish", "set-up")))
    assert any("Never over the speed" in page.text for page in pages)


@pytest.mark.parametrize(
    ("name", "step", "word"),
    [
        ("temper-cycles", "prove", "brittle"),
        ("edge-and-assembly", "final", "Sharp blade"),
        ("fittings-polish", "set-up", "Buffing wheel"),
    ],
)
def test_a_later_step_that_can_hurt_has_its_page_too(name: str, step: str, word: str) -> None:
    """A later step that bends, cuts or spins has its own page."""
    assert any(word in page.title for page in RECIPES[name].hazards_for(_step(name, step)))
