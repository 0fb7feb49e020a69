"""The next action on the board: its size, its words, and the lines around it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.run import commands as c
from benchtimer.run.agenda import agenda
from benchtimer.view.board_text import (
    Board,
    BoardView,
    answer_keys,
    make_board,
    then_line,
)
from benchtimer.view.hazard_page import hazard_lines
from benchtimer.view.letters import HALF_ROWS, ROWS, half, large
from benchtimer.view.space import MESSAGE_ROWS, Size
from tests.support import MINUTE, SMALL, Hands, moment_at, small_recipe
from tests.tui.benches import GUARDED_STEP, HOUR, beside_name, board_of, dwelling, hung_up, stamp_at

LOOK = "Lift it out, hold it to the light and look along it."
THREE = ("bolster", "ferrule", "pin")


def _inked(board: Board) -> int:
    return sum("█" in line for line in board.next_lines)


def _later(hands: Hands, ms: int) -> Hands:
    hands.now_ms += ms
    return hands


@pytest.mark.parametrize(
    ("size", "rows"),
    [
        (Size(60, 20), ROWS),
        (Size(80, 33), ROWS),
        (Size(80, 34), 2 * ROWS),
        (Size(200, 49), 2 * ROWS),
        (Size(200, 50), 3 * ROWS),
        (Size(60, 50), 2 * ROWS),
    ],
    ids=str,
)
def test_a_larger_screen_has_larger_letters(size: Size, rows: int) -> None:
    """From 34 rows the name is large too; from 50 verb and time are twice as large."""
    assert _inked(board_of(dwelling(THREE), size)) == rows


@pytest.mark.parametrize(
    ("minutes", "late", "word"),
    [
        (9, large("1:00"), large("LATE")),
        (48, large("40:00"), half("LATE")),
        (110, large("1:42:00"), half("LATE")),
    ],
)
def test_how_late_a_part_is_is_drawn_large(minutes: int, late: list[str], word: list[str]) -> None:
    """At 80 columns the time past max is large, right after the word LATE."""
    lines = board_of(_later(dwelling(THREE), minutes * MINUTE), Size(80, 24)).next_lines[:ROWS]
    assert all(line.endswith(row) for line, row in zip(lines, late, strict=True))
    before = [line.removesuffix(row).rstrip() for line, row in zip(lines, late, strict=True)]
    rows = before[-len(word) :]
    assert all(line.endswith(row.rstrip()) for line, row in zip(rows, word, strict=True))


@pytest.mark.parametrize(("plain", "drawn"), [(False, True), (True, False)])
def test_the_name_is_half_size_beside_the_words(plain: bool, drawn: bool) -> None:
    """At 80x24 the part's name is below its number in half-size letters, in ASCII in plain ones."""
    lines = board_of(dwelling(THREE), Size(80, 24), BoardView("r", plain=plain)).next_lines
    below = lines[ROWS : ROWS + HALF_ROWS]
    rows = zip(below, half("bolster"), strict=True)
    found = all(line.startswith(row.rstrip()) for line, row in rows)
    assert found is drawn
    assert ("bolster" in below[0]) is not drawn
    assert below[-1].endswith("pull it anyway")


def test_a_name_without_large_letters_stays_plain() -> None:
    """On a tall screen a very long name or one with other signs is in plain letters below."""
    for name in ("刃", "x" * 60):
        lines = board_of(dwelling((name,)), Size(120, 40)).next_lines
        assert sum("█" in line for line in lines) == ROWS
        assert any(name in line for line in lines)


@pytest.mark.parametrize("height", [20, 40])
def test_a_line_too_long_for_large_letters_keeps_verb_and_part(height: int) -> None:
    """Where verb and time don't fit on one line, the time is below, large if rows allow."""
    late = _later(dwelling(), 80 * MINUTE)
    lines = [line.rstrip() for line in board_of(late, Size(60, height)).next_lines]
    assert lines[:ROWS] == [row.rstrip() for row in large("PULL #1")]
    if height == 20:
        assert beside_name(lines[ROWS]) == "LATE 1:12:00   TANK → Rack"
    else:
        assert lines[ROWS + 1 : 2 * ROWS + 1] == [row.rstrip() for row in large("LATE 1:12:00")]


@pytest.mark.parametrize("height", [20, 24, 33, 34])
@pytest.mark.parametrize(
    ("hands", "words"),
    [
        (Hands(started=False), "GEAR UP: TANK  NOW"),
        (Hands(recipe=small_recipe(GUARDED_STEP), geared=False), "GEAR UP: TANK  NOW"),
    ],
    ids=["before the start", "for a part"],
)
def test_an_open_hazard_page_takes_the_rows(hands: Hands, words: str, height: int) -> None:
    """With few rows a hazard replaces the large letters and shows its whole text."""
    board = board_of(hands, Size(80, height), BoardView("r", reading=True))
    assert _inked(board) % ROWS == 0
    assert bool(_inked(board)) == (height >= 34)
    assert board.next_lines[0] == (words if height < 34 else board.next_lines[0])
    assert board.hazard[3:6] == tuple(half("WEAR: gloves"))
    assert "It is hot." in board.hazard


def test_a_hazard_in_full_has_gear_and_first_aid_first() -> None:
    """Level, gear, first aid, text, nevers and the source that comes first, in this order."""
    (hazard,) = small_recipe(
        SMALL.replace(
            'wear = ["gloves"]',
            'wear = ["gloves", "goggles"]\nfirst_aid = "Cold water."\nnever = ["reach in"]',
        )
    ).hazard
    assert hazard_lines(hazard, 80) == (
        "DANGER: this will cause death or serious injury if not avoided.",
        "WEAR: gloves, goggles",
        "FIRST AID: Cold water.",
        "It is hot.",
        "NEVER: reach in",
        "Follow the supplier's data sheet and local rules first.",
    )


@pytest.mark.parametrize(("height", "lines"), [(28, 0), (29, 1), (30, 2), (33, 2)])
def test_the_recipes_text_shows_if_there_is_room(height: int, lines: int) -> None:
    """The recipe's words for the work follow it, as many lines as the lanes leave."""
    text = SMALL.replace('title = "Look"', f'title = "Look"\ntext = "{LOOK} {LOOK}"')
    hands = Hands(("bolster",), small_recipe(text))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    found = [
        line for line in board_of(hands, Size(80, height)).next_lines if line in f"{LOOK} {LOOK}"
    ]
    assert len(found) == lines


def test_without_recipe_text_no_row_is_spent() -> None:
    """A step without words leaves no empty line."""
    lines = board_of(dwelling(THREE), Size(80, 33)).next_lines
    assert beside_name(lines[-2]) == "Look"
    assert "" not in lines


@pytest.mark.parametrize(("height", "rows"), [(33, MESSAGE_ROWS), (34, 2 * MESSAGE_ROWS)])
def test_a_long_message_is_cut_and_says_so(height: int, rows: int) -> None:
    """A message shows three rows, six on a tall screen, and ends with an ellipsis if cut."""
    board = board_of(dwelling(), Size(60, height), BoardView("r", message="words " * 90))
    assert len(board.message) == rows
    assert board.message[-1].endswith("…")
    assert not any(line.endswith("…") for line in board.message[:-1])


def test_a_short_message_is_shown_line_by_line() -> None:
    """Each line of a message is a row; empty ones are left out."""
    board = board_of(dwelling(), Size(60, 20), BoardView("r", message="one\n\ntwo"))
    assert board.message == ("one", "two")


def test_the_header_has_marks_run_and_time() -> None:
    """Marks come first, then name, title and phase of the run, with the time at the right."""
    board = board_of(dwelling(), Size(80, 24), BoardView("2026-02-02-1", marks=("PRACTICE x10",)))
    assert board.header.startswith(" PRACTICE x10 2026-02-02-1 Test (running)  ")
    assert board.header.endswith("  12:00:00 ")
    assert len(board.header) == 80


def test_a_long_title_costs_neither_marks_nor_state() -> None:
    """Where the header is too long, the end of the title goes; marks, a held run's state stay."""
    hands = dwelling()
    titled = replace(hands.state.bench, title="Black oxide " * 6)
    hands.state = replace(hands.state, bench=titled)
    look = BoardView("2026-02-02-1", marks=("PRACTICE x10", "WATCHING"))
    for width in (60, 80):
        board = board_of(hands, Size(width, 24), look)
        assert board.header.startswith(" PRACTICE x10 WATCHING Black oxide")
        assert len(board.header) == width
    hands(c.Hold(None, "lunch"))
    assert "… (held) " in board_of(hands, Size(80, 24), look).header


@pytest.mark.parametrize(
    ("size", "plain", "drawn"),
    [
        (Size(80, 24), False, large("IN 4:00")[4]),
        (Size(60, 20), False, f"{half('IN ')[2]} {large('4:00')[4]}"),
        (Size(60, 20), True, f"in {large('4:00')[4]}"),
    ],
)
def test_a_large_countdown_has_its_word(size: Size, plain: bool, drawn: str) -> None:
    """IN is before the countdown at every size, so that time left can't be read as time late."""
    hands = dwelling()
    hands.now_ms = hands.part().since_ms + MINUTE
    lines = board_of(hands, size, BoardView("r", plain=plain)).next_lines
    assert lines[4].endswith(drawn)


@pytest.mark.parametrize(("sent_back", "expected"), [(0, "to Tank"), (1, "(try 2)   to Tank")])
def test_the_try_shows_from_the_second_one_on(sent_back: int, expected: str) -> None:
    """The number of the try shows from the second try on."""
    hands = Hands(("bolster",))
    hands(c.Read("tank", "65 C"))
    for _ in range(sent_back):
        hands(c.Begin("bolster"))
        hands(c.SendBack("bolster", "prepare"))
    assert beside_name(board_of(hands, Size(80, 24)).next_lines[ROWS]) == expected


def test_what_comes_next_shows_with_its_times() -> None:
    """The next actions follow, countdown first, waits in brackets, then the end of all."""
    hands = dwelling(THREE)
    end_ms = hands.now_ms + HOUR
    moment = moment_at(hands.state, stamp_at(hands.now_ms), end_ms=end_ms)
    board = make_board(moment, moment.first, Size(80, 24), BoardView("r"))
    assert board.then_line.startswith("then  in 8 min READ TANK   in 5 min START #2")
    assert board.then_line.endswith("  all done at 13:00")
    assert board.then_line.count("bolster") == 0
    none = moment_at(hands.state, stamp_at(0))
    assert then_line(none, [], Size(80, 24)) == ""
    ends = moment_at(hands.state, stamp_at(0), end_ms=HOUR)
    assert then_line(ends, [], Size(80, 24)).strip() == "all done at 13:00"


def test_an_action_hours_ahead_has_its_time_of_day() -> None:
    """From an hour ahead the time of day replaces the countdown."""
    hands = hung_up(("bolster", "ferrule"))
    assert board_of(hands, Size(80, 24)).then_line == "then  at 14:00 PICK UP #1"
    hands(c.Hold("ferrule", "a stain"))
    lifted = board_of(hands, Size(80, 24)).next_lines
    assert [line.split() for line in lifted[:1]] == [large("WAIT  1:59:59")[0].split()]
    assert beside_name(lifted[ROWS]).startswith("Then PICK UP #1 at 14:00   from Rack")
    later = board_of(_later(hands, HOUR + MINUTE), Size(80, 24)).next_lines
    assert beside_name(later[ROWS]).startswith("from Rack")


def _asked(hands: Hands, *, reading: bool = False) -> tuple[tuple[str, str], ...]:
    (action, *_) = agenda(hands.state.bench, hands.now_ms)
    return answer_keys(action, stamp_at(hands.now_ms), BoardView("r", reading=reading))


def test_each_kind_of_question_has_its_keys() -> None:
    """Each kind of question shows its keys: yes and no, options, or the signs of a figure."""
    figures = tuple("0123456789.-")
    hands = Hands(("bolster",))
    assert tuple(key for key, _ in _asked(hands)) == (*figures, "backspace")
    assert _asked(hands)[-1] == ("backspace", "DEL")
    hands(c.Read("tank", "65 C"))
    assert _asked(hands) == ()
    hands.to_tank()
    assert _asked(hands) == ()
    hands(c.Begin("bolster"), 5 * MINUTE)
    assert _asked(hands) == (("y", "1  YES"), ("n", "2  NO"))
    hands(c.Answer("bolster", "even", True))
    assert len(_asked(hands)) == len(figures) + 1
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    hands(c.Begin("bolster"), 2 * HOUR)
    assert _asked(hands) == (("1", "1 black"), ("2", "2 grey"))
    hands(c.Answer("bolster", "colour", "black"))
    assert _asked(hands) == ()


def test_a_reading_taken_early_has_keys_once_requested() -> None:
    """A reading that is not due takes figures only after you call it up."""
    hands = dwelling()
    actions = agenda(hands.state.bench, hands.now_ms)
    reading = next(action for action in actions if action.to_station == "tank")
    stamp = stamp_at(hands.now_ms)
    assert answer_keys(reading, stamp, BoardView("r")) == ()
    assert answer_keys(reading, stamp, BoardView("r", reading=True))
    assert answer_keys(None, stamp, BoardView("r", reading=True)) == ()


def test_an_obstacle_shows_in_place_of_the_key() -> None:
    """A blocked action says WAIT and why; an early one names the key that does it anyway."""
    hands = dwelling(("bolster", "ferrule"))
    hands(c.Begin("ferrule"))
    hands(c.Finish("ferrule"), MINUTE)
    moment = moment_at(hands.state, stamp_at(hands.now_ms))
    shown = next(action for action in moment.actions if action.part == "ferrule")
    board = make_board(moment, shown, Size(80, 24), BoardView("r"))
    assert beside_name(board.next_lines[-1]) == "WAIT: Tank is full: bolster"
    early = beside_name(board_of(hands, Size(80, 24)).next_lines[-1])
    assert early == "2:59 short of minimum. E: pull it anyway"
    assert board.answers == ()


def test_a_watcher_sees_the_last_press() -> None:
    """For a watcher the undo line shows the last press and offers nothing."""
    hands = dwelling()
    look = BoardView("r", read_only=True)
    assert board_of(hands, Size(80, 24), look).undo_line == "last done: #1 bolster into Tank"
    idle = Hands(started=False)
    assert board_of(idle, Size(80, 24), look).undo_line == "nothing done yet"
    assert board_of(idle, Size(80, 24), look).next_lines[-1].startswith("Watching only")
