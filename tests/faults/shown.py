"""Checks that an accepted recipe can be shown and worked without harm to the screen."""

from __future__ import annotations

from collections.abc import Iterable
from random import Random

from rich.cells import cell_len

from benchtimer.bench.advice import advise
from benchtimer.bench.moment import moment_of
from benchtimer.bench.newrun import NewRun
from benchtimer.check_list import make_page, render_page
from benchtimer.recipe.describe import describe
from benchtimer.recipe.fields import unsafe_character
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.recipe.writer import recipe_table
from benchtimer.rehearsal import Rehearsal, RehearsalError
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import OVER
from benchtimer.settings import Settings
from benchtimer.shop.shop_state import alone, last_press, shop_of
from benchtimer.view.board_text import BoardView, make_board
from benchtimer.view.picture.sheet import draw
from benchtimer.view.space import Size

SIZES = (Size(60, 20), Size(80, 24), Size(200, 60))

KNOWN = {"temperature": "200 C", "time": "5 min", "length": "10 cm", "volume": "1 L"}
"""The answer about a part where a recipe asks."""


def trouble(text: str) -> str:
    """The characters of a text that could disturb a screen; empty if none."""
    found = unsafe_character(text, lines=True)
    return f"{found} on the screen" if found is not None else ""


def too_wide(lines: Iterable[str], size: Size) -> str:
    """The first line wider than the screen."""
    found = next((line for line in lines if cell_len(line) > size.width), None)
    return f"a line too wide for {size.width}: {found!r}" if found is not None else ""


def looked_at(recipe: Recipe) -> str:
    """Show a recipe and its page before the run; return any fault."""
    page = make_page(put({recipe.id: recipe}).recipes, Settings())
    return trouble(describe(recipe)) or trouble(render_page(page))


def worked_with(recipe: Recipe, draw: Random, presses: int) -> str:
    """Set up a run, draw boards of several sizes, work a little, and ask the planner."""
    new = NewRun(recipe.title, {recipe.id: recipe_table(recipe)}, _parts(recipe), _known(recipe))
    hands = Rehearsal(new, draw.getrandbits(32))
    try:
        hands._set_up()
        for press in range(presses):
            wrong = _boards(hands)
            if wrong or hands.state.bench.phase in OVER:
                return wrong
            if press == 1:
                advise(alone(hands.state.bench), hands.now_ms, nodes=30)
            hands._do_next()
    except (Refused, RehearsalError) as error:
        return trouble(str(error))
    return _boards(hands)


def _parts(recipe: Recipe) -> list[tuple[str, str]]:
    return [("bolster", recipe.id), ("[bold]ferrule[/]", recipe.id)]


def _known(recipe: Recipe) -> dict[str, dict[str, str]]:
    result = {prop.id: KNOWN.get(prop.kind, "200 C") for prop in recipe.property}
    return {name: result for name, _ in _parts(recipe)} if result else {}


def _boards(hands: Rehearsal) -> str:
    stamp = hands.timeline.stamp()
    run = "2026-11-25-1"
    moment = moment_of(stamp, shop_of({run: hands.state}))
    undo = last_press({run: hands.state})
    for size in SIZES:
        title = hands.state.bench.title
        look = BoardView(run, reading=True, message=title, undo=undo, bench=hands.state.bench)
        board = make_board(moment, moment.first, size, look)
        fitted = [board.header, *board.next_lines, *board.hazard, board.then_line]
        fitted += [row.text for row in draw(board.scene, size.width, size.height // 2).rows]
        fitted += board.message
        said = "\n".join([*fitted, board.undo_line, *(f"{k} {w}" for k, w in board.answers)])
        wrong = trouble(said) or too_wide(fitted, size)
        if wrong:
            return wrong
    return ""
