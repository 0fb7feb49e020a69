"""Benches in states that any day may leave: random presses, waits and names.

The presses are those the screen offers: what the agenda asks for, and the page behind M.
A press that the engine refuses does nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.vendor.pretty import RepresentationPrinter

from benchtimer.recipe.answers import AskFigure, AskLine, AskOption, AskYesNo
from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Recipe
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import RunState
from benchtimer.shop.shop_state import last_press
from benchtimer.store.log import Stamp
from benchtimer.view.board_text import Board, BoardView, make_board
from benchtimer.view.letters import QUADRANTS
from benchtimer.view.menu import MenuItem, offers
from benchtimer.view.space import Size
from tests.support import MINUTE, SMALL, Hands, kinds, moment_at, small_recipe

HOUR = 60 * MINUTE
NOON_MS = 1_770_033_600_000
"""2026-02-02 12:00 UTC, a Monday."""

SIZES = (Size(60, 20), Size(80, 24), Size(120, 40), Size(200, 60))
"""Common terminal sizes."""

TWO_BATHS = (
    SMALL.replace(
        '[[station]]\nid = "rack"',
        '[[station]]\nid = "oil"\ntitle = "Oil"\nholds = 2\n'
        'temperature = { min = "40 C", max = "70 C", every = "10 min" }\n\n'
        '[[station]]\nid = "rack"',
        1,
    )
    .replace('at = "rack"', 'at = "oil"')
    .replace('before = "tank"', 'before = ["tank", "oil"]')
)
"""The small recipe with a second bath, which is read before a part goes into it."""

STRAIGHT_OVER = re.sub(r'\[\[step\]\]\nid = "look".*?(?=\[\[step\]\])', "", TWO_BATHS, flags=re.S)
"""The same without the check between, so a part goes straight into the second bath."""

GUARDED_STEP = SMALL.replace('before = "tank"', 'before = "dip"')
"""The small recipe with a page that guards a step, so it is read for a part, not the start."""

NAMES = st.text("abZ 0-[]/刃🔪é", min_size=1, max_size=60).map(str.strip).filter(bool)
PART_NAMES = st.lists(NAMES, min_size=1, max_size=5, unique_by=str.casefold)

FEW = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
"""Few examples, because each bench is long, and no deadline on a busy machine."""

WAITS = st.sampled_from([0, 1, 999, 1000, 20_000, MINUTE, 4 * MINUTE, 5 * MINUTE, 8 * MINUTE, HOUR])
"""Milliseconds between two presses; several of them end dwells of the small recipe."""


@dataclass(frozen=True, slots=True)
class Choices:
    """The presses, as numbers taken modulo what is on offer, and the waits."""

    press: int
    said: int
    wait_ms: int


class Anybody(Hands):
    """Simulated hands that print as their presses when a test fails."""

    def __repr__(self) -> str:
        return f"{self.names} {kinds(self.events)} at {self.now_ms}"

    def _repr_pretty_(self, printer: RepresentationPrinter, cycle: bool) -> None:
        del cycle
        printer.text(repr(self))


CHOICES = st.builds(Choices, st.integers(0, 40), st.integers(0, 3), WAITS)


@st.composite
def benches(draw: st.DrawFn, presses: int = 25) -> Hands:
    """A desk at a run, after a number of presses."""
    recipe = small_recipe(draw(st.sampled_from([SMALL, TWO_BATHS, STRAIGHT_OVER])))
    started, geared = draw(st.booleans()), draw(st.booleans())
    hands = Anybody(tuple(draw(PART_NAMES)), recipe, started=started, geared=geared, reads=False)
    for chosen in draw(st.lists(CHOICES, max_size=presses)):
        hands.now_ms += chosen.wait_ms
        press(hands, chosen)
    hands.now_ms += draw(WAITS)
    return hands


def press(hands: Hands, chosen: Choices) -> None:
    """Press a key that does something; four times in five, what the agenda asks for."""
    asked = agenda(hands.state.bench, hands.now_ms)
    wishes = [wish for action in asked for wish in _wishes(action, chosen.said)]
    if chosen.press % 5 == 4 or not wishes:
        wishes = list(seldom(hands))
    if wishes:
        with suppress(Refused):
            hands(wishes[chosen.press // 5 % len(wishes)], after_ms=0)


def _wishes(action: Action, said: int) -> Iterator[c.Command]:
    if action.command is not None:
        yield action.command
    elif action.kind is ActionKind.READING and action.to_station is not None:
        if said == 1:
            yield c.SkipReading(action.to_station, c.NO_READING[0])
        yield c.Read(action.to_station, ("65 C", "65 C", "75 C", "55 C")[said])
    elif action.check is not None and action.part is not None:
        yield c.Answer(action.part, action.check.id, answer(action.check, said))


def answer(check: Check, said: int) -> str | bool:
    """One of the answers that a question accepts."""
    match check.form():
        case AskOption(options):
            return options[said % len(options)]
        case AskFigure():
            return ("25 C", "25 C", "35 C", "60 C")[said]
        case AskLine():
            return "words"
        case AskYesNo():
            return said != 3


def seldom(hands: Hands) -> Iterator[c.Command]:
    """Everything the page behind M leads to, for every part, and undo."""
    bench = hands.state.bench
    yield c.Undo()
    for part in bench.parts.values():
        for offer in offers(bench, part):
            yield from _leaves(offer)


def _leaves(offer: MenuItem) -> Iterator[c.Command]:
    if offer.command is not None:
        yield offer.command
    if offer.with_words is not None:
        yield offer.with_words("66 C" if "read" in offer.ask else "a stain")
    for below in offer.choices:
        yield from _leaves(below)


def stamp_at(t_ms: int, offset_s: int = 0) -> Stamp:
    """A moment at the bench; its day is a Monday."""
    return Stamp(t_ms, "b", t_ms, NOON_MS, offset_s)


def board_of(hands: Hands, size: Size, look: BoardView | None = None) -> Board:
    """What the board shows of a bench now."""
    return board_at(hands.state, stamp_at(hands.now_ms), size, look or BoardView("2026-02-02-1"))


def board_at(
    state: RunState, stamp: Stamp, size: Size, look: BoardView, shown: Action | None = None
) -> Board:
    """The board of one run at a moment.

    Args:
        state: the run.
        stamp: the time.
        size: the size of the terminal.
        look: the view; what undo takes back is filled in.
        shown: the action of the large line; None means the most pressing one.
    """
    moment = moment_at(state, stamp, run=look.name)
    look = replace(look, undo=last_press({look.name: state}), bench=state.bench)
    return make_board(moment, shown or moment.first, size, look)


def beside_name(line: str) -> str:
    """A line below the large letters, without the half-size name at its left."""
    return re.sub(rf"^ *[{QUADRANTS[1:]}][{QUADRANTS}]*  +", "", line)


def dwelling(names: tuple[str, ...] = ("bolster",), recipe: Recipe | None = None) -> Hands:
    """The first part has just gone into the tank, which reads 65 C."""
    hands = Hands(names=names, recipe=recipe or small_recipe())
    hands(c.Read("tank", "65 C"))
    hands.to_tank(names[0])
    return hands


def hung_up(names: tuple[str, ...] = ("bolster",)) -> Hands:
    """The first part has just been hung on the rack, where it can stay without limit."""
    hands = dwelling(names)
    hang_up(hands)
    return hands


def hang_up(hands: Hands) -> None:
    """Move the first part from the tank, at its target, to the rack."""
    name = hands.names[0]
    hands(c.Begin(name), 5 * MINUTE)
    hands(c.Answer(name, "even", True))
    hands(c.Answer(name, "heat", "25 C"))
    hands(c.Finish(name))
