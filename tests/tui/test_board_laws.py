"""Laws of the board at any size and after any history."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.records.inert import visible
from benchtimer.run import commands as c
from benchtimer.run.actions import Action
from benchtimer.run.agenda import agenda
from benchtimer.run.run_state import OVER, window_of
from benchtimer.tui.plain import ascii_text
from benchtimer.view.board_text import Board, BoardView, frame_rows, undo_line
from benchtimer.view.header import band
from benchtimer.view.letters import ROWS, can_draw, half, large
from benchtimer.view.picture.scene import Level
from benchtimer.view.picture.sheet import draw
from benchtimer.view.space import Size
from benchtimer.view.text import clip
from benchtimer.view.words import LATE_WORD, large_line, time_word, verb
from tests.support import MINUTE, Hands, moment_at
from tests.tui.benches import FEW, NAMES, SIZES, benches, board_of, dwelling, stamp_at

EVERY_SIZE = st.builds(Size, st.integers(60, 220), st.integers(20, 70))
LOOKS = st.builds(
    BoardView,
    st.just("2026-02-02-1"),
    entry=st.sampled_from(["", "65", "123456789012"]),
    marks=st.sampled_from([(), ("PRACTICE x10",)]),
    reading=st.booleans(),
    message=st.sampled_from(["", "short", "words " * 60, "one\ntwo\nthree\nfour", "刃" * 300]),
    glance=st.booleans(),
    read_only=st.booleans(),
)


def _rows(board: Board) -> Iterator[str]:
    yield from (board.header, *board.next_lines, board.then_line, *board.hazard)
    yield from (row.text for row in draw(board.scene, cell_len(board.header), 14).rows)
    yield from board.message


def _draws(lines: tuple[str, ...], text: str) -> bool:
    """Whether a text appears in large letters of any scale, or in half-size ones."""
    if not (can_draw(text) and text):
        return False
    for drawn in (*(large(text, scale) for scale in range(12, 0, -1)), half(text)):
        letters = [row.rstrip() for row in drawn]
        for at in range(len(lines) - len(letters) + 1):
            if any(
                all(
                    line[col:].startswith(row)
                    for line, row in zip(lines[at:], letters, strict=False)
                )
                for col in range(len(lines[at]))
                if lines[at].startswith(letters[0], col)
            ):
                return True
    return False


def _tells(board: Board, text: str) -> bool:
    """Whether a text is in the next action, in large or plain letters."""
    return _draws(board.next_lines, text) or text in "\n".join(board.next_lines)


def _first(hands: Hands) -> Action | None:
    return next(iter(agenda(hands.state.bench, hands.now_ms)), None)


@given(benches(), EVERY_SIZE, LOOKS)
@FEW
def test_no_line_of_the_board_is_wider_than_the_screen(
    hands: Hands, size: Size, look: BoardView
) -> None:
    """No row is wider than the screen, for any text and any name."""
    board = board_of(hands, size, look)
    assert max(cell_len(row) for row in _rows(board)) <= size.width
    assert "\n" not in "".join(_rows(board))


@given(benches(), EVERY_SIZE, LOOKS)
@FEW
def test_there_is_room_for_the_picture(hands: Hands, size: Size, look: BoardView) -> None:
    """Large keys appear only where the picture keeps a row for each part, hands and places."""
    board = board_of(hands, size, look)
    fixed = 3 + len(board.next_lines) + frame_rows(size) + len(board.message)
    free = size.height - fixed - board.rooms.answers - board.rooms.keys
    needed = len(board.hazard) + 1 if board.hazard else len(hands.state.bench.parts) + 6
    assert free >= needed or board.rooms.keys == 1


@given(benches(), EVERY_SIZE, st.booleans())
@FEW
def test_the_next_action_its_part_and_its_time_always_show(
    hands: Hands, size: Size, glance: bool
) -> None:
    """In every size and both views you can read the verb, the number or name, and the time."""
    action = _first(hands)
    board = board_of(hands, size, BoardView("r", glance=glance))
    if action is None:
        over = hands.state.bench.phase in OVER
        assert board.next_lines[0].startswith("The run is over" if over else "Nothing to do now")
        return
    stamp = stamp_at(hands.now_ms)
    words, at = large_line(hands.state.bench, action, stamp)
    assert _tells(board, words) or _tells(board, verb(action))
    word, bare = time_word(at)
    assert _tells(board, bare)
    assert word != LATE_WORD or _tells(board, word.strip()) or _tells(board, "late")
    if action.part is not None:
        begins = clip(action.part, 30).removesuffix("…").rstrip()
        plain = clip(" ".join(board.next_lines), 10**6)
        assert begins in plain or _draws(board.next_lines, action.part)


@given(benches(), st.sampled_from(SIZES))
@FEW
def test_a_late_part_is_never_hidden(hands: Hands, size: Size) -> None:
    """A part past its max says so in its lane, with a mark before it."""
    bench = hands.state.bench
    board = board_of(hands, size)
    rows = draw(board.scene, size.width, 14).rows
    for lane in board.scene.lanes:
        part = next(p for p in bench.parts.values() if p.number == lane.number)
        window = window_of(bench, part)
        late = window is not None and window.max_ms is not None and hands.now_ms > window.max_ms
        assert ("past max" in lane.by) == late
        if late and part.held is None and lane.level is Level.LATE:
            assert any(row.part == lane.number and row.text[0] == "!" for row in rows)


@given(benches(), st.sampled_from(SIZES))
@FEW
def test_an_ascii_terminal_shows_the_same(hands: Hands, size: Size) -> None:
    """In ASCII every row keeps its width, words, figures and marks."""
    for row in _rows(board_of(hands, size)):
        plain = ascii_text(row)
        assert plain.isascii()
        assert len(plain) == cell_len(row)
        assert [char for char in row if char.isascii() and char.isalnum()] == [
            char for char, was in zip(plain, _columns(row), strict=True)
            if was.isascii() and was.isalnum()
        ]  # fmt: skip


def _columns(row: str) -> str:
    """A row with each wide character doubled, so each column has one character."""
    return "".join(char * cell_len(char) for char in row)


@pytest.mark.parametrize("count", [1, 2, 9, 10, 24])
def test_any_number_of_parts_can_be_shown(count: int) -> None:
    """From 1 to 24 parts not begun, each appears with its number, in order."""
    hands = Hands(names=tuple(f"part no {i}" for i in range(1, count + 1)))
    (group,) = board_of(hands, SIZES[1]).scene.groups
    named = [words.partition(" part no ")[::2] for words in group.not_begun.split(", ")]
    assert [number for number, _ in named] == [f"#{i}" for i in range(1, count + 1)]
    assert all(re.fullmatch(r"\d+ (START .+|waits|READ .+|GEAR UP .+)", rest) for _, rest in named)


@given(NAMES, st.integers(20, 120))
def test_the_alarm_band_is_as_wide_as_the_screen(name: str, width: int) -> None:
    """An alarm fills its row with exclamation marks, to the last column."""
    row = band(f"NOW: PULL #1 {name} from Tank", width)
    assert cell_len(row) == width
    assert row.startswith("!!! NOW: PULL")
    assert row.endswith("!")
    assert band("", width) == "!" * width


@pytest.mark.parametrize(("minute", "look"), [(1, "wait"), (5, "now"), (8, "now"), (9, "late")])
def test_urgency_of_the_lane_and_of_the_action_agree(minute: int, look: str) -> None:
    """The lane of the part shown has the same urgency as the large line."""
    hands = dwelling()
    hands.now_ms += minute * MINUTE
    board = board_of(hands, SIZES[1])
    level = board.scene.lanes[0].level.value
    assert (board.urgency, level) == (look, level)
    assert level == {"wait": "calm"}.get(look, look)


@given(benches())
@FEW
def test_a_watcher_sees_the_same_and_has_no_keys(hands: Hands) -> None:
    """A watcher sees the same lanes, stations and time, and no keys."""
    mine = board_of(hands, SIZES[1])
    theirs = board_of(hands, SIZES[1], BoardView("2026-02-02-1", read_only=True))
    assert theirs.scene == mine.scene
    assert theirs.answers == ()
    assert "SPACE" not in theirs.next_lines[-1]
    assert "undoes" not in theirs.undo_line


@given(benches())
@FEW
def test_undo_names_what_it_would_take_back(hands: Hands) -> None:
    """The undo line names what U takes back, and U takes back exactly that."""
    board = board_of(hands, SIZES[1])
    if board.undo_line == "nothing to undo":
        return
    before = hands.state.past[-1]
    hands(c.Undo(), after_ms=0)
    assert hands.state.bench == before.before
    assert visible(board.undo_line).startswith("U undoes: ")


def test_undo_names_the_run_unless_it_is_the_only_one_open() -> None:
    """The undo line names the run of the press unless it is the only open run."""
    hands = dwelling()
    moment = moment_at({"now": hands.state}, stamp_at(hands.now_ms))
    look = BoardView("now", undo=("now", hands.state.past[-1]), bench=hands.state.bench)
    assert undo_line(moment, look, 79) == "U undoes: #1 bolster into Tank"
    ended = replace(look, undo=("before", hands.state.past[-1]))
    assert undo_line(moment, ended, 79) == "U undoes: #1 bolster into Tank (run before)"


def test_a_part_in_hand_shows_for_how_long() -> None:
    """The time in hand counts up beside the recipe's time for it."""
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("bolster"))
    (lane,) = board_of(hands, SIZES[1]).scene.lanes
    assert lane.left.endswith(" of 1:20")
    assert lane.place == ""


def test_large_letters_read_back_from_the_screen() -> None:
    """The test's own reader of large letters can tell texts apart."""
    assert _draws(tuple(f"  {row}" for row in large("PICK UP #2")), "PICK UP #2")
    assert not _draws(tuple(large("PICK UP #2")), "PULL #2")
    assert len(large("A")) == ROWS
