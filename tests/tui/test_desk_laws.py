"""What keys do after any presses: nothing breaks, and nothing is done twice."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.asking import ADVICE_S
from benchtimer.bench.open_bench import look_on
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.run_state import RunPhase
from benchtimer.view.alarm import alarms_at
from benchtimer.view.desk import INSIST_S, Desk
from benchtimer.view.focus import MAX_ENTRY
from benchtimer.view.keyguard import GUARD_S
from tests.store.histories import DISK
from tests.support import MINUTE
from tests.tui.conftest import Shop

KEYS: dict[str, Callable[[Desk], object]] = {
    "space": Desk.confirm,
    "yes": lambda desk: desk.say(True),
    "no": lambda desk: desk.say(False),
    "early": Desk.early,
    "undo": Desk.undo,
    "redo": Desk.redo,
    "earlier": lambda desk: desk.back_date(10),
    "rub out": Desk.rub_out,
    "let go": Desk.let_go,
    "down": lambda desk: desk.pick_next(1),
    "up": lambda desk: desk.pick_next(-1),
    "quiet": Desk.silence,
    "words": lambda desk: desk.write("words"),
    **{char: partial(Desk.digit, char=char) for char in "0125.-"},
}
PRESSES = st.lists(
    st.tuples(st.sampled_from([*KEYS, "space", "space"]), st.sampled_from([1, 20, 300])),
    max_size=30,
)


@contextmanager
def _shop() -> Iterator[Shop]:
    with TemporaryDirectory() as place:
        shop = Shop(Path(place) / "bench")
        shop.set_up("bolster", "ferrule", started=False)
        try:
            yield shop
        finally:
            shop.driver.close()


@given(PRESSES)
@DISK
def test_a_key_is_one_press_or_none_and_never_fails(presses: list[tuple[str, int]]) -> None:
    """Each key changes the run by at most one press, or says why not."""
    with _shop() as shop:
        desk = shop.desk()
        for key, seconds in presses:
            shop.clock.advance(seconds * 1000)
            before, desk.message = desk.state.presses, ""
            KEYS[key](desk)
            assert desk.state.presses - before in (0, 1)
            if key in ("undo", "redo", "earlier") and desk.state.presses == before:
                assert desk.message
            assert len(desk.entry) <= MAX_ENTRY
            moment = shop.driver.moment()
            shown = desk.shown(moment)
            picked = (shown.run, shown.part) == desk.picked if shown is not None else False
            assert shown is None or shown in moment.actions or picked


@given(PRESSES)
@DISK
def test_no_key_of_a_watcher_changes_anything(presses: list[tuple[str, int]]) -> None:
    """No key at a watcher's desk writes an entry."""
    with _shop() as shop:
        shop.press(c.Acknowledge("Hot tank"))
        shop.press(c.Start())
        watcher = look_on(shop.folder, shop.clock)
        desk = Desk(watcher, shop.name, guard_s=0)
        entries = shop.driver._log.last_seq()
        for key, _ in presses:
            KEYS[key](desk)
        assert shop.driver._log.last_seq() == entries
        assert desk.state == shop.driver.state(shop.name)
        watcher.close()


@given(PRESSES)
@DISK
def test_the_large_key_does_what_it_says(presses: list[tuple[str, int]]) -> None:
    """SPACE does the action shown, or does nothing and says why."""
    with _shop() as shop:
        desk = shop.desk()
        for key, seconds in presses:
            shop.clock.advance(seconds * 1000)
            KEYS[key](desk)
        shown, before = desk.shown(shop.driver.moment()), desk.state
        if shown is None or desk.entry:
            return
        desk.message = ""
        wants_words = desk.confirm()
        if shown.kind in (ActionKind.ANSWER, ActionKind.READING):
            assert desk.state == before
            assert desk.message or wants_words == "write" or desk.reading
        elif desk.state != before:
            assert shown.blocked is None
            assert (
                shop.driver.stamp().noted_ms >= shown.earliest_ms
                or shown.kind is not ActionKind.BEGIN
            )


class _Finger:
    """A simulated person with a clock at a desk."""

    def __init__(self, shop: Shop) -> None:
        self.now = 100.0
        self.desk = Desk(shop.driver, shop.name, monotonic=lambda: self.now)

    def wait(self, seconds: float) -> Desk:
        """Let time pass."""
        self.now += seconds
        return self.desk


@pytest.mark.parametrize(("gap_s", "answered"), [(GUARD_S / 2, False), (GUARD_S + 0.01, True)])
def test_a_second_answer_needs_its_own_moment(shop: Shop, gap_s: float, answered: bool) -> None:
    """Y pressed twice at once answers once; a later press answers the next question."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    finger = _Finger(shop)
    assert finger.desk.too_soon() is False
    before = finger.desk.state.presses
    finger.wait(gap_s).say(True)
    assert (finger.desk.state.presses > before) == answered


@pytest.mark.parametrize(("gap_s", "goes"), [(INSIST_S - 1, True), (INSIST_S + 1, False)])
def test_going_ahead_anyway_needs_a_second_press_in_time(
    shop: Shop, gap_s: float, goes: bool
) -> None:
    """A second Q within ten seconds leaves parts in process; later it asks again."""
    shop.set_up("bolster", "ferrule").to_tank("bolster")
    shop.press(c.Begin("ferrule"))
    finger = _Finger(shop)
    assert not finger.desk.may_leave()
    assert finger.desk.message.startswith("2 parts are in process")
    assert finger.wait(gap_s).may_leave() == goes


def test_the_planner_is_asked_after_a_press_and_now_and_then(shop: Shop) -> None:
    """The planner is asked at first, after each press, and when its answer is ten seconds old."""
    shop.set_up("bolster", started=False)
    shop.press(c.Acknowledge("Hot tank"))
    finger = _Finger(shop)
    asked = []
    for wait_s, press in ((0, None), (1, None), (0, c.Start()), (0, None), (ADVICE_S + 1, None)):
        if press is not None:
            shop.press(press)
        asking = finger.wait(wait_s).asking
        asked.append(asking.is_due(shop.driver.moment()))
        if asked[-1]:
            asking.question(shop.driver.moment())
    assert asked == [True, False, True, False, True]


@pytest.mark.parametrize("phase", [RunPhase.HELD, RunPhase.ABORTED])
def test_no_plan_is_asked_for_when_nothing_is_running(shop: Shop, phase: RunPhase) -> None:
    """A run that is held or over asks for no plan."""
    shop.set_up("bolster")
    shop.press(c.Hold(None, "x") if phase is RunPhase.HELD else c.Abort("x"))
    assert shop.driver.state(shop.name).bench.phase is phase
    assert not _Finger(shop).desk.asking.is_due(shop.driver.moment())


def test_typed_digits_stay_with_their_question_or_are_dropped(shop: Shop) -> None:
    """When the question changes under a figure, the desk drops the figure and says so."""
    shop.set_up("bolster")
    desk = shop.desk()
    for char in "75":
        desk.digit(char)
    assert desk.entry == "75"
    shop.press(c.Read("tank", "66"))
    desk.shown(shop.driver.moment())
    assert desk.entry == ""
    assert desk.message == "The figure you typed was for something else, so it was dropped."


def test_a_typed_number_has_twelve_characters_at_most(shop: Shop) -> None:
    """A figure takes digits, point and minus up to twelve places; rubbing out empties it."""
    shop.set_up("bolster")
    desk = shop.desk()
    for char in "-12.5" + "0" * 20:
        desk.digit(char)
    assert desk.entry == "-12.50000000"
    for _ in range(30):
        desk.rub_out()
    assert desk.entry == ""


def test_warnings_about_spoiling_come_first(shop: Shop) -> None:
    """Among the alarms of all runs, late parts come first, then overdue work, then the rest."""
    shop.set_up("blade").to_tank("blade")
    shop.set_up("bolster")
    shop.clock.advance(9 * MINUTE)
    found = alarms_at(shop.driver.moment())
    assert [(alarm.words, alarm.level, alarm.spoils) for alarm in found] == [
        ("PULL #1 blade from Tank", "overdue", True),
        ("READ Tank", "due", False),
    ]


def test_the_result_of_a_press_shows_at_once(shop: Shop) -> None:
    """An answer that sends a part back says so, and the next press clears the message."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    desk = shop.desk()
    desk.say(False)
    assert desk.message.startswith("bolster back to: Prepare")
    desk.press(c.Note("nothing new"))
    assert desk.message == ""
