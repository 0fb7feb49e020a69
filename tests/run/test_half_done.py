"""Parts that enter a recipe half done, and steps skipped by hand."""

from __future__ import annotations

import pytest

from benchtimer.bench.advice import problem_now
from benchtimer.bench.newrun import NewRun
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.records.card import sections
from benchtimer.records.export import as_text
from benchtimer.rehearsal import rehearse
from benchtimer.run import commands as c
from benchtimer.run import refusals as r
from benchtimer.run.codec import body_of, event_from, kind_of
from benchtimer.run.decide import Now, create
from benchtimer.run.evolve import fold
from benchtimer.run.layout import EntersAt
from benchtimer.run.run_state import PartPhase
from benchtimer.run.setup import setup_items, setup_pages
from benchtimer.shop.shop_state import alone
from tests.support import MINUTE, SMALL, Hands, kinds, small_recipe, table

ETCH = RecipeFiles().find("etch-darken")
FROM_HANG = {"bolster": EntersAt("hang", "blacked at the old bench")}


def _hands(enters: dict[str, EntersAt]) -> Hands:
    """A running bench with a part that enters the small recipe at a step."""
    hands = Hands(started=False)
    created = create(
        Now(hands.now_ms), uid="", title="t", recipes={"small": table(small_recipe())},
        parts=[("bolster", "small"), ("ferrule", "small")], enters=enters,
    )  # fmt: skip
    kept = [event_from(kind_of(x), body_of(x), press=0, t_ms=x.t_ms, by=x.by) for x in created]
    hands.state = fold(kept)
    hands(c.Acknowledge("Hot tank"))
    hands(c.Start())
    return hands


def test_a_half_done_part_begins_at_its_step_without_a_false_press() -> None:
    """The first press begins the entry step, and no earlier step has entries."""
    hands = _hands(FROM_HANG)
    part = hands.part()
    assert (part.phase, part.began_ms, part.passes) == (PartPhase.WAITING, None, {})
    assert (part.step, part.before) == (3, "blacked at the old bench")
    (began,) = hands(c.Begin("bolster"))
    assert body_of(began)["step"] == "hang"
    assert hands.part("ferrule").step == 0


def test_the_planner_plans_what_is_left_of_it() -> None:
    """A part that enters at hanging has one dwell ahead; the other one has all three."""
    hands = _hands(FROM_HANG)
    bolster, ferrule = problem_now(alone(hands.state.bench), hands.now_ms).parts
    assert [len(part.route.dwells) for part in (bolster, ferrule)] == [1, 3]


def test_the_record_says_what_was_done_before_in_the_makers_words() -> None:
    """Text and card name the step and the words, and list no earlier step."""
    new = NewRun("t", {"small": table(small_recipe())}, [("bolster", "small")], enters=FROM_HANG)
    record = rehearse(new, 1)
    (part,) = record.parts
    assert (part.entered_at, part.before) == ("hang", "blacked at the old bench")
    assert "hang" in {visit.step for visit in part.visits}
    assert part.visits[0].step == "hang"
    assert "enters at hang; done before: blacked at the old bench" in as_text(record)
    rows = next(s.rows for s in sections(record) if s.title == "Half done before the run")
    assert rows == (("bolster", "hang", "blacked at the old bench"),)


@pytest.mark.parametrize(("step", "asked"), [("keep", 0), ("judge", 3)])
def test_only_what_it_still_needs_is_mixed(step: str, asked: int) -> None:
    """A blade that only needs oil needs no bath; one that can go back to the soak needs all."""
    created = create(Now(0), uid="", title="t", recipes={"etch": recipe_table(ETCH)},
                     parts=[("blade", "etch")], enters={"blade": EntersAt(step)})  # fmt: skip
    bench = fold(created).bench
    mixes = [item for item in setup_items(bench) if item.mix is not None]
    assert len(mixes) == asked
    assert bool([page for page in setup_pages(bench) if "Etchant" in page.title]) == bool(asked)


@pytest.mark.parametrize(
    ("enters", "words"),
    [
        ({"bolster": EntersAt("hung")}, 'No step "hung": small has none'),
        ({"blade": EntersAt("hang")}, 'No part "blade"'),
        ({"bolster": EntersAt("hang", "\x1b[2J")}, "character"),
    ],
)
def test_a_wrong_entry_is_refused(enters: dict[str, EntersAt], words: str) -> None:
    """An unknown step, an unknown part and unsafe words each get a message."""
    with pytest.raises(r.Refused, match=words):
        _hands(enters)


def test_a_part_that_joins_can_be_half_done() -> None:
    """A part that joins accepts the step and the words too."""
    hands = Hands()
    hands(c.AddPart("cap", "small", step="hang", before="dipped twice"))
    assert (hands.part("cap").step, hands.part("cap").before) == (3, "dipped twice")
    with pytest.raises(r.Refused, match="small has none with that name"):
        hands(c.AddPart("ring", "small", step="hung"))


def test_steps_are_skipped_forward_with_a_reason() -> None:
    """The skipped steps are named, the dwell is judged as usual, and undo restores them."""
    hands = Hands()
    hands.to_tank()
    before = hands.state.bench
    events = hands(c.Skip("bolster", "hang", "it is black enough"), 5 * MINUTE)
    assert kinds(events) == ["TakenOut", "Skipped", "Deviated"]
    assert body_of(events[1])["left_out"] == ["look"]
    assert (hands.part().step, hands.part().phase) == (3, PartPhase.WAITING)
    assert body_of(events[2])["limit"] == "Look"
    hands(c.Undo())
    assert hands.state.bench == before


def test_skipping_to_the_end_ends_a_part() -> None:
    """A part skipped to its end is done."""
    hands = Hands()
    hands.to_tank()
    events = hands(c.Skip("bolster", None, "shown as it is"), 5 * MINUTE)
    assert kinds(events)[-1] == "PartDone"
    assert hands.part().phase is PartPhase.DONE


@pytest.mark.parametrize(
    ("step", "words"),
    [("prepare", "No step to skip forward to"), ("look", "No step to skip forward to")],
)
def test_skipping_never_goes_back_or_nowhere(step: str, words: str) -> None:
    """A skip can't go back, and the next step begins instead."""
    hands = Hands()
    hands.to_tank()
    with pytest.raises(r.Refused, match=words):
        hands(c.Skip("bolster", step, "x"))


def test_a_held_part_is_resumed_before_it_skips() -> None:
    """A part that its recipe stopped can't skip before it is resumed."""
    hands = Hands()
    hands.to_tank()
    hands(c.Hold("bolster", "a crack"))
    with pytest.raises(r.OnHold):
        hands(c.Skip("bolster", None, "x"))


WET = SMALL.replace('title = "Tank"\n', 'title = "Tank"\nchemistry = ["acid"]\n').replace(
    'title = "Look"\n', 'title = "Look"\nrinse = true\n'
)
"""The small recipe, with acid in its tank and a rinse at its check."""


def test_a_rinse_is_never_left_out() -> None:
    """A part wet with acid can't skip its rinse; once rinsed, it can skip the rest."""
    hands = Hands(recipe=small_recipe(WET))
    hands.to_tank()
    with pytest.raises(
        r.Refused, match=r"it carries Tank, and you would skip Look\. Do Look first"
    ):
        hands(c.Skip("bolster", "hang", "no time"), 5 * MINUTE)
    assert hands.part().station == "tank"
    hands(c.Begin("bolster"))
    hands(c.Answer("bolster", "even", True))
    assert kinds(hands(c.Skip("bolster", "judge", "no time")))[-1] == "Deviated"


def test_acid_is_never_skipped_into_caustic() -> None:
    """A skip can't bring a wet part into a bath that must not meet its drops."""
    caustic = WET.replace(
        'title = "Rack"\n', 'title = "Rack"\nchemistry = ["alkali"]\n'
    ).replace("rinse = true\n", "").replace('before = "tank"', 'before = ["tank", "rack"]').replace(
        '[[step]]\nid = "hang"', '[[step]]\nid = "wipe"\ntitle = "Wipe"\nhands = "9 s"\n\n'
        '[[step]]\nid = "hang"',
    )  # fmt: skip
    hands = Hands(recipe=small_recipe(caustic))
    for page in hands.state.bench.carried["small"]:
        hands(c.Acknowledge(page.title))
    hands.to_tank()
    with pytest.raises(r.Refused, match="Tank would go into Hang up"):
        hands(c.Skip("bolster", "hang", "no time"), 5 * MINUTE)
