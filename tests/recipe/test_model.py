"""What a recipe answers about itself, and which answers are bad."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given

from benchtimer.recipe.answers import AnswerError
from benchtimer.recipe.checks import ReadingCheck
from benchtimer.recipe.describe import WIDTH, describe
from benchtimer.recipe.fields import unsafe_character
from benchtimer.recipe.model import BUILT_IN_SOURCES, Recipe
from benchtimer.recipe.reader import build_recipe, read_recipe
from tests.recipe.drawn import SAMPLE, SMALLEST, Table, problems, read, recipes


@pytest.fixture(scope="module")
def hot_black() -> Recipe:
    """A recipe for hot-salt blacking."""
    return read_recipe(SAMPLE)


def with_check(text: str) -> str:
    """The smallest recipe with a check."""
    return f'{SMALLEST}[[step.check]]\nid = "c"\nask = "How?"\n{text}\n'


def test_steps_and_stations_are_found_by_id(hot_black: Recipe) -> None:
    """Each id finds its entry, and an unknown one raises a key error."""
    for index, step in enumerate(hot_black.step):
        assert hot_black.step_index(step.id) == index
    assert all(hot_black.station_named(s.id) is s for s in hot_black.station)
    with pytest.raises(KeyError, match="nowhere"):
        hot_black.step_index("nowhere")
    with pytest.raises(KeyError, match="nowhere"):
        hot_black.station_named("nowhere")


def test_hazards_apply_to_steps_and_stations(hot_black: Recipe) -> None:
    """A hazard before a station comes before every step that leads there, and no other."""
    guarded = {s.id: [c.before for c in hot_black.hazards_for(s)] for s in hot_black.step}
    assert guarded["black"] == [("salts",)]
    assert guarded["boil-out"] == [("boil",)]
    assert guarded["rinse"] == []


def test_one_name_before_is_a_list_of_one() -> None:
    """A hazard before one thing can name it without brackets."""
    hazard = '[[hazard]]\nbefore = "wipe"\ntitle = "T"\ntext = "X"\n'
    assert read(SMALLEST + hazard).hazard[0].before == ("wipe",)


def test_the_walk_back_is_as_long_unless_stated(hot_black: Recipe) -> None:
    """A walk counts in both directions, and staying in place takes no walk."""
    assert hot_black.walk_s("cleaner", "salts") == 5
    assert hot_black.walk_s("salts", "cleaner") == 5
    assert hot_black.walk_s("sink", "oil") == 0


def test_every_source_has_text(hot_black: Recipe) -> None:
    """Listed, built-in and missing sources all print."""
    assert "Surface Finishing Guidebook" in hot_black.citation("guidebook")
    assert hot_black.citation(None) == "no source given"
    assert [hot_black.citation(key) for key in BUILT_IN_SOURCES] == [*BUILT_IN_SOURCES.values()]


@pytest.mark.parametrize(
    ("answer", "key"),
    [("284 F", "below"), ("285 F", "in"), ("143 C", "in"), ("295 F", "in"), ("296 F", "above")],
)
def test_a_reading_is_below_in_or_above_its_window(answer: str, key: str) -> None:
    """A window includes its limits, in any unit."""
    check = read(with_check('kind = "reading"\nmin = "285 F"\nmax = "295 F"')).step[0].check[0]
    verdict = check.judge(answer, {})
    assert (verdict.key, verdict.bad) == (key, key != "in")


def test_each_kind_of_check_knows_its_bad_answers() -> None:
    """No and options that send or stop are bad; text never is."""
    yes_no = read(with_check('kind = "yes-no"')).step[0].check[0]
    assert (yes_no.judge(False, {}).bad, yes_no.judge(True, {}).bad) == (True, False)
    stops = 'kind = "choice"\noptions = ["a", "b"]\nsend.b = { stop = "It is spoiled." }'
    choice = read(with_check(stops)).step[0].check[0]
    assert (choice.judge("a", {}).bad, choice.judge("b", {}).bad) == (False, True)
    note = read(with_check('kind = "note"')).step[0].check[0]
    assert not note.judge("no", {}).bad


@pytest.mark.parametrize(
    ("kind", "answer"),
    [
        ("yes-no", "maybe"),
        ("note", True),
        ("reading", True),
        ("reading", "hot"),
        ("note", " "),
        ("photo", True),
        ("photo", " "),
        ("photo", "a.jpg\nb.jpg"),
    ],
)
def test_an_answer_of_the_wrong_form_is_refused(kind: str, answer: str | bool) -> None:
    """Each kind of check refuses an answer of the wrong form."""
    unit = 'unit = "C"' if kind == "reading" else ""
    check = read(with_check(f'kind = "{kind}"\n{unit}')).step[0].check[0]
    with pytest.raises(AnswerError):
        check.judge(answer, {})


@pytest.mark.parametrize(
    ("answer", "kept"),
    [("photos/a b.jpg", "photos/a b.jpg"), ("'/home/me/a b.jpg'", "/home/me/a b.jpg"),
     (False, "no photo")],
)  # fmt: skip
def test_a_photo_is_a_path_or_none(answer: str | bool, kept: str) -> None:
    """A path is kept without the terminal's quotes, and a photo can be left out."""
    photo = read(with_check('kind = "photo"')).step[0].check[0]
    verdict = photo.judge(answer, {})
    assert (verdict.answer, verdict.bad) == (kept, False)


@pytest.mark.parametrize("kind", ["note", "photo"])
def test_words_and_photos_send_no_part_back(kind: str) -> None:
    """A ``send`` that no answer can reach is an error in the recipe."""
    (problem,) = problems(with_check(f'kind = "{kind}"\nsend.no = {{ stop = "It is spoiled." }}'))
    assert "never gets the answer" in problem.found


def test_a_check_gives_an_answer_with_expect_over_one_plus_all_expects() -> None:
    """Three expected repeats mean that three checks in four say "not yet"."""
    sends = "send.a = { stop = 'x', expect = 2 }\nsend.b = { stop = 'y', expect = 1 }"
    text = f'kind = "choice"\noptions = ["a", "b", "c"]\n{sends}'
    check = read(with_check(text)).step[0].check[0]
    assert [check.chance(answer) for answer in ("a", "b", "c")] == [0.5, 0.25, 0.0]
    draws = Random(1)
    drawn = [check.simulate(draws, {}) for _ in range(4000)]
    for answer, chance in (("a", 0.5), ("b", 0.25), ("c", 0.25)):
        error = 4 * (chance * (1 - chance) / len(drawn)) ** 0.5
        assert abs(drawn.count(answer) / len(drawn) - chance) < error


@pytest.mark.parametrize(
    ("text", "unit"),
    [('unit = "pH"', "pH"), ('max = "5 mm"', "mm"), ('min = "1 h 30 min"', "s")],
)
def test_a_reading_is_asked_in_its_unit_or_that_of_its_limits(text: str, unit: str) -> None:
    """A question shows the unit of its reading or of its limits."""
    check = read(with_check(f'kind = "reading"\n{text}')).step[0].check[0]
    assert isinstance(check, ReadingCheck)
    assert check.unit_symbol == unit


@pytest.mark.parametrize("unit", [" F", "°F", "f", "kPa", "cm2", "", "hours"])
def test_a_unit_has_one_spelling(unit: str) -> None:
    """An unknown spelling of a unit is refused at once."""
    (problem,) = problems(with_check(f'kind = "reading"\nunit = "{unit}"'))
    assert problem.where == 'step "wipe", check "c", unit'
    assert "not a unit of a reading" in problem.found


@pytest.mark.parametrize("key", ["hands_s", "schema_", "min_s", "every_s"])
def test_only_the_published_names_are_keys(key: str) -> None:
    """The program's own names for fields are not part of the format."""
    (problem,) = problems(f'{SMALLEST}{key} = "5 s"\n')
    assert problem.found == f'unknown key "{key}"'


@pytest.mark.parametrize(
    ("text", "lines", "named"),
    [
        ("plain ünïcode 漢字", False, None),
        ("a\nb", True, None),
        ("a\nb", False, "U+000A (a line break)"),
        ("a\tb", True, "U+0009 (a tab)"),
        ("\x1b[31m", True, "U+001B"),
        ("a\u202eb", True, "U+202E"),
        ("a\u2066b", True, "U+2066"),
        ("a\u2028b", True, "U+2028"),
        ("a\x85b", True, "U+0085"),
        ("\ue000", True, "U+E000"),
        ("👩\u200d🔧", False, None),
    ],
)
def test_characters_that_disturb_a_screen_are_named(
    text: str, lines: bool, named: str | None
) -> None:
    """Control codes, bidirectional marks and private characters are found; letters are not."""
    assert unsafe_character(text, lines=lines) == named


@given(recipes())
def test_any_recipe_can_be_described(table: Table) -> None:
    """The readable form has each step and fits the width."""
    recipe = build_recipe(table | {"id": "drawn"}, name="drawn")
    lines = describe(recipe).split("\n")
    assert all(any(f"[{step.id}]" in line for line in lines) for step in recipe.step)
    assert max(map(len, lines)) <= WIDTH


def test_the_readable_form_shows_everything(hot_black: Recipe) -> None:
    """It has hazards with gear, windows, amounts, walks, bad answers and sources."""
    text = " ".join(describe(hot_black).split())
    for words in (
        "! DANGER: Boiling caustic salts: burn skin and eyes to the bone (before salts)",
        "wear: face shield over goggles; long rubber gauntlets",
        "never: water poured into the hot bath: it erupts",
        "285 F to 295 F, target 290 F, never above 310 F, read every 10 min",
        "4.5 kg blacking salts",
        "dwell 8 min at least, target 10 min, 20 min at most",
        "grey or patchy: to scrub, 3 times at most",
        "no: to scrub, 3 times at most",
        "cleaner to salts: 5 s",
        "source: common practice, no source",
        "guidebook: Surface Finishing Guidebook",
    ):
        assert words in text
