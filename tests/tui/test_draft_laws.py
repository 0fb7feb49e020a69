"""Every change of a draft can be taken back by its own key or the opposite one."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchtimer.bench.wallclock import of_day_s
from benchtimer.recipe.model import Recipe
from benchtimer.run.refusals import Refused
from benchtimer.store.log import Stamp
from benchtimer.view.draft import (
    MOST_HANDS,
    Draft,
    held_back,
    names_in,
    order_of,
    problem_of_draft,
    time_of_day,
    zero_of,
)
from tests.support import SMALL, small_recipe
from tests.tui.benches import NOON_MS

RECIPE = small_recipe()
NAMES = ("bolster", "ferrule", "butt cap", "guard", "pin")
DAY_MIN = 1440


def _draft(count: int = 3) -> Draft:
    return Draft().add(RECIPE, ", ".join(NAMES[:count]))


def _order(draft: Draft) -> list[str]:
    return [part.name for part in draft.parts]


def _stamp(minute: int = 0, wall_ms: int = NOON_MS, offset_s: int = 0) -> Stamp:
    return Stamp(7_000_000, "b", 0, wall_ms + minute * 60_000, offset_s)


COUNTS = st.integers(1, 5)


@given(COUNTS, st.integers(0, 4))
def test_moving_a_part_and_back_changes_nothing(count: int, at: int) -> None:
    """Moved forward once for each part, a part is back in its place, and so are the others."""
    draft = _draft(count)
    name = NAMES[at % count]
    places = [_order(draft).index(name)]
    for _ in range(count):
        draft = draft.forward(name)
        places.append(_order(draft).index(name))
    assert places[0] == places[-1]
    assert sorted(_order(draft)) == sorted(NAMES[:count])
    steps = {(before - after) % count for before, after in pairwise(places)}
    assert steps == {1 % count}
    others = [n for n in NAMES[:count] if n != name]
    assert [n for n in _order(draft) if n != name] == others


@given(COUNTS, st.integers(0, 4), st.integers(0, 7200))
def test_a_held_back_part_can_be_released(count: int, at: int, by_s: int) -> None:
    """Later and sooner cancel out, and sooner never goes before the beginning."""
    draft, name = _draft(count), NAMES[at % count]
    assert draft.later(name, by_s).later(name, -by_s) == draft
    assert draft.later(name, by_s).later(name, -by_s - 300) == draft
    assert draft.later(name, -300) == draft
    assert draft.later(name, by_s).not_before(name, "0", _stamp()) == draft


@given(COUNTS)
def test_the_number_of_hands_cycles(count: int) -> None:
    """One more pair of hands after four is one again, and nothing else changes."""
    draft = _draft(count)
    seen = [draft.hands]
    for _ in range(MOST_HANDS):
        draft = draft.more_hands()
        seen.append(draft.hands)
    assert seen == [1, 2, 3, 4, 1]
    assert draft == _draft(count)


@given(st.integers(0, DAY_MIN - 1), st.integers(0, DAY_MIN - 1))
def test_away_hours_and_start_can_be_cleared(begin: int, end: int) -> None:
    """``none`` clears hours away, and ``now`` clears the start time."""
    assume(begin != end)
    hours = f"{begin // 60:02}:{begin % 60:02}-{end // 60:02}:{end % 60:02}"
    draft = _draft()
    assert draft.with_away(hours).away == (hours,)
    assert draft.with_away(hours).with_away("none") == draft
    assert draft.with_away(hours).with_away("") == draft
    assert draft.with_start(hours[:5], _stamp()).with_start(" Now ", _stamp()) == draft


@given(st.integers(0, DAY_MIN - 1), st.integers(0, DAY_MIN - 1), st.integers(0, 59_999))
def test_a_start_is_the_next_such_time_of_day(now: int, wanted: int, ms: int) -> None:
    """The plan begins within a day from now, at the exact time of day asked for."""
    stamp = _stamp(now, wall_ms=NOON_MS + ms)
    zero = zero_of(_draft().with_start(f"{wanted // 60:02}:{wanted % 60:02}", stamp), stamp)
    ahead_ms = zero.wall_ms - stamp.wall_ms
    assert 0 < ahead_ms <= DAY_MIN * 60_000
    assert zero.noted_ms - stamp.noted_ms == ahead_ms
    assert of_day_s(zero) == wanted * 60
    assert zero.wall_ms % 1000 == 0 or ahead_ms == 0


@given(st.integers(0, DAY_MIN - 1))
def test_a_time_of_day_reads_back(minute: int) -> None:
    """Every minute of the day can be written and read back, midnight and the last one too."""
    assert time_of_day(f" {minute // 60:02}:{minute % 60:02} ") == minute


@pytest.mark.parametrize("text", ["", "24:00", "8", "08:60", "08:30-09:00", "noon", "-1:00"])
def test_a_bad_time_of_day_is_refused_and_quoted(text: str) -> None:
    """The refusal quotes what was typed and shows the right form."""
    with pytest.raises(ValueError, match="is not a time of day; write it like 08:30") as error:
        time_of_day(text)
    assert f'"{text}"' in str(error.value)


@pytest.mark.parametrize(
    ("text", "later_s"),
    [("12:00", 0), ("12:01", 60), ("11:59", 86_340), ("45 min", 2700), ("90 s", 90), (" 0 ", 0)],
)
def test_a_part_is_held_back_until_a_time_or_for_a_while(text: str, later_s: int) -> None:
    """A time of day is the next one after the plan's beginning; a span counts from it."""
    (part, *_) = _draft().not_before("bolster", text, _stamp()).parts
    assert part.later_s == later_s


def test_held_back_parts_are_given_in_bench_time() -> None:
    """A plan that begins later holds every part back; one that begins now only some."""
    draft = _draft().later("ferrule", 60)
    now = _stamp()
    assert held_back(draft, now, now) == {"ferrule": now.noted_ms + 60_000}
    later = zero_of(draft.with_start("12:10", now), now)
    assert held_back(draft, later, now) == {
        "bolster": now.noted_ms + 600_000,
        "ferrule": now.noted_ms + 660_000,
        "butt cap": now.noted_ms + 600_000,
    }


@pytest.mark.parametrize(
    ("text", "names"),
    [("a", ["a"]), (" a ,b,, c ", ["a", "b", "c"]), ("", []), (" , ", []),
     ("butt cap", ["butt cap"]), ("e\N{COMBINING ACUTE ACCENT}", ["é"])],
)  # fmt: skip
def test_names_are_separated_by_commas(text: str, names: list[str]) -> None:
    """Extra spaces and commas around names are ignored."""
    assert names_in(text) == names


def test_a_recipe_leaves_with_its_last_part() -> None:
    """Dropping the last part of a recipe drops the recipe and its changes, not the other one."""
    other = replace_id(SMALL)
    draft = Draft().add(RECIPE, "bolster").add(other, "blade").change("small", "dip.target=6 min")
    left = draft.drop("bolster")
    assert list(left.recipes) == ["other"]
    assert left.changes == ()
    assert draft.drop("blade").changes == ("small: dip.target = 6 min",)
    assert left.drop("nobody") == left


def replace_id(text: str) -> Recipe:
    """The same recipe under another id and title."""
    return small_recipe(text.replace("Dip and look", "Other")).model_copy(update={"id": "other"})


def test_a_property_goes_to_its_part_only() -> None:
    """Each part gets its own known figures, even where a name has a dot in it."""
    known = {"a.temper": "200 C", "a.b.temper": "210 C", "b.temper": "220 C"}
    parts = Draft().add(RECIPE, "a, a.b", known).parts
    assert [dict(part.properties) for part in parts] == [{"temper": "200 C"}, {"temper": "210 C"}]


def test_the_order_has_everything_you_entered() -> None:
    """Title, recipes, parts, hands and hours away go into the run as the draft has them."""
    other = replace_id(SMALL)
    draft = Draft().add(RECIPE, "bolster").add(other, "blade").more_hands().with_away("22:00-07:00")
    new = order_of(draft)
    assert new.title == "Dip and look + Other"
    assert list(new.parts) == [("bolster", "small"), ("blade", "other")]
    assert (new.hands, new.away, new.adjustments) == (2, ("22:00-07:00",), ())
    assert new.properties == {}


def test_the_planner_is_asked_about_the_whole_draft() -> None:
    """Hands, parts and held-back parts go into the question as the draft has them."""
    draft = _draft().later("ferrule", 900).more_hands()
    problem = problem_of_draft(draft, _stamp())
    assert problem.hands == 2
    assert {part.name for part in problem.parts} == set(NAMES[:3])
    assert {part.name: part.release_s for part in problem.parts}["ferrule"] == 900


def test_a_very_long_title_is_cut() -> None:
    """Many recipes with long titles make a title short enough for a run."""
    long = [small_recipe(SMALL.replace("Dip and look", f"{'x' * 90} {i}")) for i in range(3)]
    recipes = {f"r{i}": recipe for i, recipe in enumerate(long)}
    assert len(order_of(replace(_draft(), recipes=recipes, parts=())).title) == 200


@pytest.mark.parametrize("text", ["bolster", "pin, pin", "x" * 300])
def test_an_impossible_name_leaves_the_draft_unchanged(text: str) -> None:
    """A refused name leaves the draft as it was."""
    draft = _draft(1)
    with pytest.raises(Refused):
        draft.add(RECIPE, text)
    assert draft == _draft(1)
