"""Last time: how the last accepted try differed from the recipe."""

from __future__ import annotations

from benchtimer.recipe.adjust import adjusted, parse_adjustment
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.last_time import last_time
from benchtimer.store.log import EventLog
from tests.records.conftest import Knife

RECIPE = RecipeFiles().find("etch-darken")


def test_the_last_accepted_try_is_shown(knife: Knife) -> None:
    """Last time shows settings, answers and note, and each change can go into the recipe."""
    log = EventLog(knife.folder, read_only=True)
    found = last_time(log, RECIPE)
    log.close()
    assert found is not None
    assert found.words == "accepted, rating 4 of 5"
    assert "hang.target=6 h 40 min" in found.changes
    mine = adjusted(RECIPE, [parse_adjustment(change) for change in found.changes])
    assert mine != RECIPE
    assert "hang.target 6 h 40 min" in found.line
    assert any("solvent, then alkaline" in line for line in found.answers)
    assert found.notes == ("photo: photos/petty-knife-left.jpg",)
    assert "DIFFERENT FROM THE RECIPE" in found.page


def test_a_value_the_recipe_already_has_is_not_a_change(knife: Knife) -> None:
    """Once kept, there is nothing left to change."""
    log = EventLog(knife.folder, read_only=True)
    first = last_time(log, RECIPE)
    assert first is not None
    mine = adjusted(RECIPE, [parse_adjustment(change) for change in first.changes])
    second = last_time(log, mine)
    log.close()
    assert second is not None
    assert second.changes == ()
    assert second.line.endswith("as the recipe says")


def test_without_an_accepted_try_there_is_no_last_time(knife: Knife) -> None:
    """A recipe without an accepted try has no last time, whatever other recipes have."""
    log = EventLog(knife.folder, read_only=True)
    assert last_time(log, RecipeFiles().find("hot-black")) is None
    log.close()
