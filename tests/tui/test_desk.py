"""What a press means, without a screen."""

from __future__ import annotations

import re
from contextlib import closing
from dataclasses import replace

import pytest

from benchtimer.bench.open_bench import look_on
from benchtimer.records.photos import photos_in
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.events import Noted
from benchtimer.run.run_state import PartPhase, RunPhase
from benchtimer.store.log import EventLog
from benchtimer.view.alarm import alarms_at
from benchtimer.view.desk import JUST_CHANGED, Desk
from benchtimer.view.keyguard import LineRead
from benchtimer.view.keys import KEYS
from benchtimer.view.words import confirm_words, verb, work
from tests.support import MINUTE, SMALL, small_recipe
from tests.tui.conftest import Shop


def test_one_key_drives_a_whole_run(shop: Shop) -> None:
    """SPACE alone starts the run, reads the hazard, picks the part up and loads it."""
    desk = shop.set_up("bolster", started=False).desk()
    for _ in range(3):  # start; read the hazard; the reading needs a figure
        desk.confirm()
    assert desk.message == "Type the figure first."
    for char in "65":
        desk.digit(char)
    for _ in range(4):
        desk.confirm()
        shop.clock.advance(1000)
    assert desk.state.bench.parts["bolster"].phase is PartPhase.DWELLING


def test_a_second_press_within_a_moment_does_nothing(shop: Shop) -> None:
    """A second press within a moment does nothing."""
    shop.set_up("bolster")
    now = [10.0]
    desk = Desk(shop.driver, shop.name, monotonic=lambda: now[0], guard_s=0.4)
    shop.press(c.Read("tank", "65"))
    steps = []
    for wait_s in (0, 0.2, 0.5):
        now[0] += wait_s
        desk.confirm()
        steps.append(desk.state.bench.step_of(desk.state.bench.parts["bolster"]).id)
    assert steps == ["prepare", "prepare", "dip"]


def test_acting_early_takes_another_key(shop: Shop) -> None:
    """Before min, SPACE refuses and names the key that pulls anyway."""
    shop.set_up("bolster").to_tank("bolster")
    desk = shop.desk()
    desk.confirm()
    assert "Too early" in desk.message
    assert desk.state.bench.parts["bolster"].station == "tank"
    desk.early()
    assert desk.state.bench.parts["bolster"].station is None


@pytest.mark.parametrize("key", ["confirm", "early"])
def test_a_picked_run_starts_before_another_runs_pull(shop: Shop, key: str) -> None:
    """The agenda puts a start after a pull that is due soon; SPACE or E starts the run anyway."""
    shop.set_up("bolster").to_tank("bolster")
    shop.set_up("ferrule", started=False)
    shop.press(c.Acknowledge("Hot tank"))
    desk = shop.desk()
    desk.pick_run(shop.name)
    start = desk.shown(shop.driver.moment())
    assert start is not None
    assert (start.kind, start.is_due(shop.driver.stamp().noted_ms)) == (ActionKind.START, False)
    desk.confirm() if key == "confirm" else desk.early()
    assert desk.state.bench.phase is RunPhase.RUNNING


def test_digits_pick_answer_and_enter_numbers(shop: Shop) -> None:
    """A digit is part of a figure, an answer or a part number, as the board shows."""
    shop.set_up("bolster", "ferrule")
    desk = shop.desk()
    desk.digit("7")
    assert desk.entry == "7"
    desk.rub_out()
    desk.let_go()
    shop.press(c.Read("tank", "65"))
    desk.digit("2")
    assert desk.picked == (shop.name, "ferrule")
    desk.digit("9")
    assert desk.message == "There is no part 9."


def test_a_reading_in_range_is_saved_at_its_last_digit(shop: Shop) -> None:
    """65 C is saved at its last digit; an extra SPACE or a bounced digit does nothing."""
    shop.set_up("bolster")
    seconds = [0.0]
    desk = Desk(shop.driver, shop.name, monotonic=lambda: seconds[0], guard_s=0.25)
    desk.digit("6")
    assert shop.driver.state(shop.name).bench.places["tank"].reading is None
    desk.digit("5")
    reading = shop.driver.state(shop.name).bench.places["tank"].reading
    assert reading is not None
    assert str(reading.quantity) == "65 C"
    assert desk.message == "Saved: 65 C. U takes it back."
    seconds[0] += 0.5
    desk.digit("5")
    desk.confirm()
    assert (desk.entry, desk.state.bench.parts["bolster"].began_ms) == ("", None)
    seconds[0] += 0.5
    desk.confirm()
    assert desk.state.bench.parts["bolster"].began_ms is not None


@pytest.mark.parametrize("typed", ["59", "6", "71", "6.", "-6"])
def test_any_other_reading_waits_for_its_key(shop: Shop, typed: str) -> None:
    """A figure that is out of range or incomplete waits for SPACE, so that you look at it."""
    desk = shop.set_up("bolster").desk()
    for char in typed:
        desk.digit(char)
    assert desk.entry == typed
    assert desk.state.bench.places["tank"].reading is None


WARMTH = """
schema = 1
title = "Oil"
[[station]]
id = "rack"
title = "Rack"
[[step]]
id = "warm"
title = "Read it"
at = "rack"
hands = "5 s"
[[step.check]]
id = "warmth"
kind = "reading"
ask = "Part temperature?"
max = "104 F"
"""


@pytest.mark.parametrize(
    ("typed", "answer"),
    [("95", "95 F"), ("53", "53 F"), ("104", "104 F"), ("52", ""), ("21", ""), ("10", ""),
     ("105", ""), ("9", ""), ("9.5", "")],
)  # fmt: skip
def test_a_part_reading_under_its_limit_is_saved_at_its_last_digit(
    shop: Shop, typed: str, answer: str
) -> None:
    """A reading of a part saves itself once no more digit can follow; else SPACE saves it."""
    shop.set_up("bolster", recipe=small_recipe(WARMTH), started=False)
    shop.press(c.Start())
    shop.press(c.Begin("bolster"))
    desk = shop.desk()
    for char in typed:
        desk.digit(char)
    part = desk.state.bench.parts["bolster"]
    given = part.answers.get("warmth")
    assert (str(given.answer) if given is not None else "") == answer
    assert desk.entry == ("" if answer else typed)


def test_a_choice_is_answered_by_its_digit(shop: Shop) -> None:
    """An open choice takes its digit, and a digit without an answer does nothing."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    desk = shop.desk()
    desk.say(True)
    for char in "25":
        desk.digit(char)
    desk.confirm()
    desk.confirm()
    shop.press(c.Begin("bolster"), 120 * MINUTE)
    desk.digit("7")
    desk.digit("1")
    answers = desk.state.bench.parts["bolster"].answers
    assert answers["colour"].answer == "black"
    assert desk.confirm() == "write"
    desk.write("even all over")
    assert desk.state.bench.parts["bolster"].is_out


def test_a_photo_is_a_path_or_skipped(shop: Shop) -> None:
    """SPACE asks for the photo's file and E skips it; the record has either answer."""
    photo = SMALL.replace('id = "even"\nkind = "yes-no"', 'id = "even"\nkind = "photo"')
    recipe = small_recipe(re.sub("send = { no .*", "", photo))
    shop.set_up("bolster", "ferrule", recipe=recipe)
    desk = shop.desk()
    shop.to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    action = desk.shown(shop.driver.moment())
    assert action is not None
    assert verb(action) == "PHOTO"
    keys = confirm_words(desk.state.bench, action)
    assert keys == "SPACE opens a line for its file   E: no photo"
    assert desk.confirm() == "write"
    desk.write("photos/bolster.jpg")
    shop.press(c.Scrap("bolster"))
    shop.to_tank("ferrule")
    shop.press(c.Begin("ferrule"), 5 * MINUTE)
    desk.early()
    record = shop.driver.record(shop.name)
    assert [answer.answer for answer in record.answers] == ["photos/bolster.jpg", "no photo"]
    assert list(photos_in(record)) == [("bolster", "photos/bolster.jpg")]


def test_plus_and_minus_move_the_target_of_the_part_shown(shop: Shop) -> None:
    """Plus and minus move the target of the part shown, and the record names the move."""
    shop.set_up("bolster", "ferrule").to_tank("bolster")
    desk = shop.desk()
    desk.pick_number(1)
    desk.move_target(1)
    desk.move_target(1)
    assert desk.message == "bolster: target 7 min, was 6 min: Dip"
    assert desk.picked_in(shop.name) == "bolster"
    desk.move_target(-1)
    record = shop.driver.record(shop.name)
    (visit,) = [v for part in record.parts for v in part.visits if v.step == "dip"]
    assert (visit.min_s, visit.target_s, visit.max_s) == (240, 360, 480)
    desk.pick_number(2)
    desk.move_target(1)
    assert desk.message.startswith("Can't move target")


def test_yes_needs_a_question(shop: Shop) -> None:
    """Y with no open question changes nothing and says so."""
    desk = shop.set_up("bolster").desk()
    before = desk.state
    desk.say(True)
    assert desk.message == "No yes-no question is open."
    assert desk.state == before


def test_space_does_not_dismiss_a_question(shop: Shop) -> None:
    """SPACE does not answer a question."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    desk = shop.desk()
    desk.confirm()
    assert desk.message == "Answer the question first."


@pytest.mark.parametrize(
    ("send", "sent"),
    [('no = { stop = "Cracked: set it aside." }', 0), ('no = { to = "look", limit = 1 }', 1)],
)
def test_space_does_not_release_a_part_its_recipe_stopped(shop: Shop, send: str, sent: int) -> None:
    """SPACE does not resume a part that its recipe stopped; resume in the menu does."""
    found = SMALL.replace('no = { to = "prepare", limit = 2, expect = 0.5 }', send)
    shop.set_up("bolster", recipe=small_recipe(found)).to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    for _ in range(sent):
        shop.press(c.Answer("bolster", "even", answer=False))
        shop.press(c.Begin("bolster"))
    shop.press(c.Answer("bolster", "even", answer=False))
    desk, before = shop.desk(), shop.driver.state(shop.name)
    (action,) = desk.bench.moment().actions
    assert verb(action) == "DECIDE"
    assert "SPACE" not in confirm_words(desk.state.bench, action)
    assert ".." not in work(desk.state.bench, action)
    desk.confirm()
    assert "Press M: send back" in desk.message
    assert desk.state == before
    shop.press(c.Resume("bolster"))
    assert shop.desk().state.bench.parts["bolster"].held is None


def test_space_resumes_a_part_you_put_on_hold(shop: Shop) -> None:
    """A part that you held with a key resumes with SPACE."""
    shop.set_up("bolster")
    shop.press(c.Hold("bolster", "the telephone"))
    shop.desk().confirm()
    assert shop.desk().state.bench.parts["bolster"].held is None


def test_undo_redo_and_back_dating(shop: Shop) -> None:
    """Undo, redo and backdating work, and a refusal shows its own words."""
    shop.set_up("bolster").to_tank("bolster")
    desk = shop.desk()
    desk.undo()
    assert desk.state.bench.parts["bolster"].phase is PartPhase.IN_HAND
    desk.redo()
    desk.back_date(10)
    assert desk.message == "Backdated by 10 s."
    desk.back_date(3600)
    assert "The limit is" in desk.message


def test_arrow_keys_cycle_through_the_parts(shop: Shop) -> None:
    """Down picks the next part and up the previous one, and both wrap around."""
    desk = shop.set_up("a", "b", "c").desk()
    picked = []
    for step in (1, 1, 1, 1, -1, -1):
        desk.pick_next(step)
        picked.append(desk.picked_in(shop.name))
    assert picked == ["a", "b", "c", "a", "c", "b"]
    desk.let_go()
    desk.pick_next(-1)
    assert desk.picked_in(shop.name) == "c"


def test_alarms_come_from_every_open_run(shop: Shop) -> None:
    """A cure that falls due in another run appears among this run's alarms."""
    shop.set_up("blade").to_tank("blade")
    first = shop.name
    shop.set_up("bolster", started=False)
    shop.clock.advance(6 * MINUTE)
    desk = shop.desk()
    due = alarms_at(desk.bench.moment())
    assert [(alarm.run, alarm.about) for alarm in due] == [(first, ("begin", "blade"))]


def test_a_watcher_cannot_change_anything(shop: Shop) -> None:
    """A read-only desk refuses every press with a reason."""
    shop.set_up("bolster").to_tank("bolster")
    watcher = look_on(shop.folder, shop.clock)
    desk = Desk(watcher, shop.name, guard_s=0)
    desk.undo()
    desk.press(c.Hold(None))
    assert desk.message == "Watching only: nothing can be changed here."
    assert desk.state.bench.phase is RunPhase.RUNNING
    assert shop.driver.state(shop.name).bench == desk.state.bench
    watcher.close()


def said(desk: Desk) -> str:
    """The text of the message row."""
    return desk.said_at(desk.bench.moment())


def test_unsaved_work_stays_in_sight(shop: Shop) -> None:
    """When the disk refuses a write, the run goes on and the board keeps saying so."""
    desk = shop.set_up("bolster").desk()
    shop.press(c.Read("tank", "65 C"))
    shop.driver._log._db.execute("PRAGMA query_only = ON")
    assert desk.press(c.Begin("bolster"))
    desk.undo()
    assert said(desk).startswith("NOT SAVED: 2 presses since ")
    assert desk.state.bench.parts["bolster"].phase is PartPhase.WAITING
    desk.press(c.Finish("bolster"))
    assert desk.message
    assert said(desk).startswith("NOT SAVED: 2 presses since ")
    assert said(desk).endswith(desk.message)
    assert not desk.may_leave()
    assert desk.may_leave()
    shop.driver._log._db.execute("PRAGMA query_only = OFF")
    assert desk.press(c.Begin("bolster"))
    assert said(desk) == ""
    assert desk.may_leave()


def test_a_press_overtaken_by_another_program_is_dropped(shop: Shop) -> None:
    """A press that another program's entry has overtaken is refused, and the board says so."""
    desk = shop.set_up("bolster").desk()
    with closing(EventLog(shop.folder)) as other:
        stamp = shop.driver.stamp()
        other.append(shop.name, [Noted(press=9, t_ms=0, by="x", part=None, text="x")], stamp)
    before = desk.state
    assert not desk.press(c.Note("words"))
    assert desk.message.startswith("NOT SAVED, NOT DONE")
    assert desk.state == before


@pytest.mark.parametrize("count", [1, 3])
def test_a_picked_part_can_go_ahead_of_its_turn(shop: Shop, count: int) -> None:
    """A part that you picked begins whatever the agenda says."""
    names = [f"part {i}" for i in range(count + 1)]
    desk = shop.set_up(*names).desk()
    shop.press(c.Read("tank", "65 C"))
    first = desk.shown(shop.driver.moment())
    assert first is not None
    assert first.part == names[0]
    desk.pick_next(-1)
    desk.confirm()
    assert desk.state.bench.parts[names[-1]].phase is PartPhase.IN_HAND
    assert desk.state.bench.parts[names[0]].phase is PartPhase.WAITING


def test_a_picked_part_goes_on_without_a_reading_for_a_reason(shop: Shop) -> None:
    """The bath of a picked part is asked for first; E and a reason begin it anyway."""
    desk = shop.set_up("bolster", "ferrule").desk()
    desk.pick_next(-1)
    shown = desk.shown(shop.driver.moment())
    assert shown is not None
    assert (shown.kind, shown.part, shown.to_station) == (ActionKind.READING, "ferrule", "tank")
    desk.confirm()
    assert desk.state.bench.parts["ferrule"].began_ms is None
    desk.early()
    desk.digit("1")
    assert desk.picked == (shop.name, "ferrule")
    desk.confirm()
    assert desk.state.bench.parts["ferrule"].phase is PartPhase.IN_HAND
    skipped = desk.state.bench.places["tank"].skipped
    assert skipped is not None
    assert c.NO_READING[0] in [line.text for line in shop.driver.record(shop.name).lines][-2]


def test_a_silence_is_logged(shop: Shop) -> None:
    """Silencing an alarm says what is still due and goes into the record of its run."""
    desk = shop.set_up("bolster").desk()
    shop.to_tank("bolster")
    assert not desk.silence()
    assert desk.message == "No alarm is ringing."
    shop.clock.advance(6 * MINUTE)
    before = desk.state.bench
    assert desk.silence()
    assert "PULL #1 bolster from Tank" in desk.message
    assert desk.state.bench == before
    said = shop.driver.record(shop.name).lines[-1].text
    assert said == "alarm silenced for 1 min: NOW: PULL #1 bolster from Tank"
    desk.undo()
    assert desk.state.bench.parts["bolster"].phase is PartPhase.IN_HAND


def test_a_watchers_silence_is_its_own(shop: Shop) -> None:
    """A watcher's silence is not recorded."""
    shop.set_up("bolster").to_tank("bolster")
    shop.clock.advance(6 * MINUTE)
    watcher = look_on(shop.folder, shop.clock)
    lines = len(shop.driver.record(shop.name).lines)
    assert Desk(watcher, shop.name).silence()
    assert len(shop.driver.record(shop.name).lines) == lines
    watcher.close()


def test_the_large_view_changes_nothing(shop: Shop) -> None:
    """The large view shows the same action and the planner's times."""
    desk = shop.set_up("bolster").desk()
    moment = shop.driver.moment()
    desk.glance = True
    look = desk.look(desk.shown(moment), moment, ("PRACTICE",))
    assert look.glance
    assert look.marks == ("PRACTICE",)


def test_a_press_counts_for_what_was_drawn(shop: Shop) -> None:
    """A press does nothing on a line that changed just now or since it was drawn."""
    shop.set_up("bolster")
    shop.press(c.Read("tank", "65"))
    now = [100.0]
    desk = Desk(shop.driver, shop.name, monotonic=lambda: now[0], guard_s=0.4)

    def phase() -> PartPhase:
        return desk.state.bench.parts["bolster"].phase

    take = desk.shown(shop.driver.moment())
    moment = shop.driver.moment()
    desk.saw(moment, None, by_itself=False)
    desk.confirm()
    assert phase() is PartPhase.WAITING
    now[0] += 1
    desk.saw(moment, take, by_itself=True)
    now[0] += 0.2
    desk.confirm()
    assert phase() is PartPhase.WAITING
    now[0] += 1
    desk.confirm()
    assert phase() is PartPhase.IN_HAND


def _two_ahead(shop: Shop) -> tuple[Desk, list[float]]:
    """The ferrule can begin; 2 s later the bolster's pull is due and replaces it on screen."""
    now = [100.0]
    shop.set_up("bolster", "ferrule").to_tank("bolster")
    desk = Desk(shop.driver, shop.name, monotonic=lambda: now[0], guard_s=0.25)
    desk.pick_number(2)
    before = shop.driver.moment()
    desk.saw(before, desk.shown(before), by_itself=False)
    assert desk.shown(before) != before.first
    shop.clock.advance(8 * MINUTE)
    after = shop.driver.moment()
    assert desk.shown(after) == after.first  # it is past its window by now
    desk.saw(after, after.first, by_itself=True)
    return desk, now


@pytest.mark.parametrize("press", ["space", "1", "e"])
@pytest.mark.parametrize(("later_s", "counts"), [(0.3, False), (0.5, True)])
def test_a_press_as_the_line_changes_counts_for_the_previous_line(
    shop: Shop, press: str, later_s: float, counts: bool
) -> None:
    """A press within 0.4 s of a new line is for the line before; a later one is for the new."""
    desk, now = _two_ahead(shop)
    now[0] += later_s
    if press == "space":
        desk.confirm()
    elif press == "e":
        desk.early()
    else:
        desk.digit(press)
    phase = desk.state.bench.parts["bolster"].phase
    pulls = counts and press != "1"
    assert phase is (PartPhase.IN_HAND if pulls else PartPhase.DWELLING)
    if press == "1":
        assert desk.picked == (shop.name, "bolster")
    elif not counts:
        assert desk.message == JUST_CHANGED


def _lines(now: list[float], *changes: tuple[Action | None, bool]) -> LineRead:
    line = LineRead(lambda: now[0], guarded=True)
    for action, by_itself in changes:
        line.saw(action, by_itself=by_itself)
    return line


def test_the_previous_line_takes_the_press_while_possible(shop: Shop) -> None:
    """The line before keeps a press, unless the new one is the same part's or follows a press."""
    shop.set_up("bolster")
    moment, now = shop.driver.moment(), [100.0]
    loads = Action(ActionKind.FINISH, 0, "ferrule")
    reads = Action(ActionKind.READING, 0, "bolster", to_station="tank")
    pulls = Action(ActionKind.BEGIN, 0, "bolster", from_station="tank")
    moment = replace(moment, actions=(pulls, loads))
    assert _lines(now, (loads, False), (pulls, True)).meant(pulls, moment) is loads
    assert _lines(now, (reads, False), (pulls, True)).meant(pulls, moment) is pulls
    assert _lines(now, (loads, False), (pulls, False)).meant(pulls, moment) is pulls
    gone = replace(moment, actions=(pulls,))
    assert _lines(now, (loads, False), (pulls, True)).meant(pulls, gone) is None
    twice = _lines(now, (loads, False), (reads, True), (pulls, True))
    assert twice.meant(pulls, moment) is loads
    assert _lines(now, (loads, False), (pulls, True), (pulls, False)).meant(pulls, gone) is None


def test_a_critical_action_overrides_an_earlier_pick(shop: Shop) -> None:
    """A newly critical action replaces a picked part; one critical at the pick does not."""
    shop.set_up("bolster", "ferrule").to_tank("bolster")
    desk = shop.desk()
    desk.pick_number(2)

    def part_shown() -> str | None:
        action = desk.shown(shop.driver.moment())
        return action.part if action is not None else None

    assert part_shown() == "ferrule"
    shop.clock.advance(7 * MINUTE + 10_000)
    assert part_shown() == "bolster"
    desk.pick_number(2)
    assert part_shown() == "ferrule"


def test_a_message_does_not_hide_a_warning(shop: Shop) -> None:
    """A bath out of range stays in sight beside any other message."""
    desk = shop.set_up("bolster").desk()
    shop.press(c.Read("tank", "55"))
    desk.message = "There is no part 9."
    look = desk.look(None, shop.driver.moment())
    assert "There is no part 9." in look.message
    assert any("too cool" in text for _, text in look.trouble)


def test_leaving_names_a_part_in_hand(shop: Shop) -> None:
    """Q asks before leaving a part in hand, and names it."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.TakeOut("bolster"))
    desk = shop.desk()
    assert not desk.may_leave()
    assert "In hand with no place yet: #1 bolster." in desk.message


def test_leaving_parts_at_work_takes_a_second_press(shop: Shop) -> None:
    """With a part in a station Q asks once more, so a slip does not end every alarm."""
    shop.set_up("bolster")
    now = [100.0]
    desk = Desk(shop.driver, shop.name, monotonic=lambda: now[0])
    assert desk.may_leave()
    shop.to_tank("bolster")
    assert not desk.may_leave()
    assert desk.message.startswith("1 part is in process. No alarms")
    now[0] += 3600
    assert not desk.may_leave()
    assert desk.may_leave()


def test_an_old_message_disappears(shop: Shop) -> None:
    """A message disappears after a minute."""
    shop.set_up("bolster")
    now = [100.0]
    desk = Desk(shop.driver, shop.name, monotonic=lambda: now[0])
    desk.pick_number(9)
    for later_s, said in ((60.0, "There is no part 9."), (0.1, "")):
        now[0] += later_s
        assert desk.said_at(shop.driver.moment()) == said


def test_keys_name_methods_of_the_desk() -> None:
    """Each key of the board calls a method that the desk has."""
    named = [re.match(r"desk\('(\w+)'", key.action) for key in KEYS]
    methods = {match[1] for match in named if match is not None}
    assert methods >= {"say", "undo", "early"}
    assert all(callable(getattr(Desk, method, None)) for method in methods)


def test_a_place_out_of_service_cannot_be_overridden(shop: Shop) -> None:
    """SPACE says how the place comes back into service, and E leaves the part on its rack."""
    desk = shop.set_up("bolster").desk()
    desk.press(c.Read("tank", "65 C"))
    desk.press(c.CloseStation("tank", "copper in it"))
    for key in ("space", "e"):
        desk.confirm() if key == "space" else desk.early()
        assert "Put it back into service (M 6)" in desk.message
        assert desk.state.bench.parts["bolster"].phase is PartPhase.WAITING
        shop.clock.advance(1000)


def test_a_full_place_cannot_be_overridden(shop: Shop) -> None:
    """With the part in hand, SPACE names the part to pull first instead of offering E."""
    shop.set_up("bolster", "ferrule").to_tank("bolster")
    desk = shop.desk()
    shop.press(c.Begin("ferrule", anyway=True))
    shop.press(c.Finish("ferrule"))
    desk.pick_number(2)
    desk.confirm()
    assert desk.message.endswith("Pull bolster first.")
