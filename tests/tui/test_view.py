"""What the board says, without a screen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.run import commands as c
from benchtimer.run.agenda import agenda
from benchtimer.store.log import Stamp
from benchtimer.view.board_text import Board, BoardView
from benchtimer.view.letters import ROWS, can_draw, half, large, width_of
from benchtimer.view.picture.sheet import draw
from benchtimer.view.space import Size
from benchtimer.view.text import clip, fill
from benchtimer.view.words import clock_time, countdown_to, way
from tests.support import MINUTE, SMALL, Hands, small_recipe
from tests.tui.benches import GUARDED_STEP, beside_name, board_at

SIZES = [Size(60, 20), Size(80, 24), Size(120, 40), Size(200, 60)]

COLOURS = """options = ["black", "grey"]
send = { grey = { to = "dip", limit = 1 } }"""
LONG_ANSWERS = [
    "dish soap",
    "alkaline cleaner",
    "solvent, then soap",
    "solvent, then alkaline",
    "another",
]
FIVE_ANSWERS = f"options = {LONG_ANSWERS}".replace("'", '"')


def _stamp(t_ms: int, offset_s: int = 0) -> Stamp:
    return Stamp(t_ms, "b", t_ms, 1_770_000_000_000 + t_ms, offset_s)


def _board(hands: Hands, after_ms: int = 0, size: Size = SIZES[1], entry: str = "") -> Board:
    stamp = _stamp(hands.now_ms + after_ms)
    return board_at(hands.state, stamp, size, BoardView("run-1", entry=entry))


def _dwelling() -> Hands:
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65"))
    hands.to_tank()
    return hands


def test_a_pull_counts_down_then_says_now_then_late() -> None:
    """One action reads as a countdown, then NOW, then LATE, and its urgency follows."""
    hands = _dwelling()
    found = [_board(hands, ms) for ms in (MINUTE, 5 * MINUTE, 9 * MINUTE)]
    assert [b.urgency for b in found] == ["wait", "now", "late"]
    lanes = [b.scene.lanes[0] for b in found]
    assert [(lane.level.value, lane.left, lane.by) for lane in lanes] == [
        ("calm", "in 4:00", "max 03:06, 7 min left"),
        ("now", "NOW", "max 03:06, 3 min left"),
        ("late", "LATE", "1:00 past max"),
    ]


def test_the_large_line_is_five_rows_high() -> None:
    """Verb, number and time are five rows high wherever they fit."""
    for size in SIZES[1:]:
        lines = _board(_dwelling(), MINUTE, size).next_lines
        assert sum("█" in line for line in lines) >= ROWS


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", ["bolster", "[b]x[/]", "刃物の鍔", "🔪 blade", "x" * 200])
def test_no_line_is_wider_than_the_screen(size: Size, name: str) -> None:
    """For any part name every line fits, with wide characters counted as two."""
    hands = Hands(names=(name, "ferrule"))
    hands.to_tank(name)
    board = _board(hands, MINUTE, size)
    lines = [board.header, *board.next_lines]
    lines += [row.text for row in draw(board.scene, size.width, 12).rows]
    assert max(cell_len(line) for line in lines) <= size.width


def test_the_confirm_key_says_what_it_will_do() -> None:
    """The board says what SPACE will do."""
    hands = Hands(names=("bolster",), started=False)
    assert beside_name(_board(hands).next_lines[-1]) == "SPACE shows the hazard and its gear"
    hands(c.Acknowledge("Hot tank"))
    assert beside_name(_board(hands).next_lines[-1]) == "SPACE starts the run"
    hands(c.Start())
    assert "saved at once in range" in _board(hands).next_lines[-1]
    hands(c.Read("tank", "65"))
    assert beside_name(_board(hands).next_lines[-1]) == "SPACE as you start #1 bolster"
    hands(c.Begin("bolster"))
    assert beside_name(_board(hands).next_lines[-1]) == "SPACE: #1 bolster is in Tank"
    hands(c.Finish("bolster"))
    assert beside_name(_board(hands).next_lines[-1]) == "SPACE: #1 bolster is in Tank"
    hands(c.Finish("bolster"))
    assert "short of minimum" in _board(hands).next_lines[-1]
    assert beside_name(_board(hands, 5 * MINUTE).next_lines[-1]) == "SPACE as you pull #1 bolster"
    hands(c.Begin("bolster"), 5 * MINUTE)
    assert beside_name(_board(hands).next_lines[-1]) == "1 or Y yes, done     2 or N no"


def test_a_reading_shows_the_typed_value_and_its_limits() -> None:
    """A typed figure replaces its limits on the board."""
    hands = Hands(names=("bolster",))
    assert "60 C to 70 C" in "\n".join(_board(hands).next_lines)
    assert _board(hands, entry="65").next_lines[-1].startswith("65_")


def test_a_choice_shows_its_numbers() -> None:
    """Each answer of a choice is beside its digit."""
    hands = _dwelling()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", True))
    assert "never above 50 C" in _board(hands).next_lines[-1]
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    hands(c.Begin("bolster"), 120 * MINUTE)
    assert beside_name(_board(hands).next_lines[-1]) == "1 black   2 grey"


@pytest.mark.parametrize("size", SIZES)
def test_answers_are_never_cut_short(size: Size) -> None:
    """Five long answers are whole even on the smallest screen."""
    assert COLOURS in SMALL
    hands = Hands(names=("blade",), recipe=small_recipe(SMALL.replace(COLOURS, FIVE_ANSWERS)))
    hands.to_tank("blade")
    hands(c.Begin("blade"), 5 * MINUTE)
    hands(c.Answer("blade", "even", True))
    hands(c.Answer("blade", "heat", "25 C"))
    hands(c.Finish("blade"))
    hands(c.Begin("blade"), 125 * MINUTE)
    lines = _board(hands, size=size).next_lines
    for number, answer in enumerate(LONG_ANSWERS, start=1):
        assert any(f"{number} {answer}" in line for line in lines)


def test_a_held_part_is_pulled_and_put_nowhere() -> None:
    """The way of a held part names its place and no next station."""
    hands = _dwelling()
    hands(c.Hold("bolster", "a stain"))
    bench = hands.state.bench
    action = next(a for a in agenda(bench, hands.now_ms) if isinstance(a.command, c.TakeOut))
    assert way(bench, action) == "from Tank"


@pytest.mark.parametrize("started", [False, True])
def test_a_hazard_is_shown_in_full_when_it_is_read(started: bool) -> None:
    """Before the start and on the way, a hazard shows text, gear and the data sheet."""
    recipe = small_recipe(GUARDED_STEP if started else SMALL)
    hands = Hands(names=("bolster",), recipe=recipe, started=started, geared=False)
    stamp = _stamp(hands.now_ms)
    look = BoardView("r", reading=True)
    board = board_at(hands.state, stamp, SIZES[1], look)
    text = "\n".join(board.hazard)
    assert "It is hot." in text
    assert "\n".join(half("WEAR: gloves")) in text
    assert "data sheet" in text


def test_undo_names_the_press_it_would_take_back() -> None:
    """The undo line names the last press."""
    assert _board(_dwelling()).undo_line == "U undoes: #1 bolster into Tank"
    assert _board(Hands(started=False)).undo_line == "nothing to undo"


@given(st.integers(1, 10**8))
def test_a_countdown_is_never_zero_early(ms: int) -> None:
    """It reads 0:00 only when the time has come."""
    assert countdown_to(ms, 0) != "0:00"


@pytest.mark.parametrize(
    ("ahead_min", "text"),
    [(0, "23:00"), (59, "23:59"), (61, "Tue 00:01"), (3 * 1440, "Thu 23:00")],
)
def test_clock_times_name_the_day(ahead_min: int, text: str) -> None:
    """A time on another day shows its day."""
    now = Stamp(0, "b", 0, 1_770_069_600_000, 0)  # Monday 2026-02-02 22:00 UTC
    found = clock_time(ahead_min * MINUTE, Stamp(0, "b", 0, now.wall_ms, 3600))
    assert found == text


@given(st.text(max_size=40), st.integers(0, 30))
def test_clipping_and_filling_keep_the_width(text: str, room: int) -> None:
    """A clipped text fits its room, and a filled one is exactly as wide."""
    assert cell_len(clip(text, room)) <= max(room, 1)
    assert cell_len(fill(text, room)) == room or room < 1 or cell_len(text) > room


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZabc0123456789 :.,-+/'!?()&%", min_size=1, max_size=12))
def test_large_letters_have_their_stated_width(text: str) -> None:
    """Large letters have five rows, each of the stated width."""
    assert can_draw(text)
    assert {len(row) for row in large(text)} == {width_of(text)}
    assert len(large(text)) == ROWS


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("after_min", [1, 5, 9])
def test_the_large_view_fills_the_screen_and_fits(size: Size, after_min: int) -> None:
    """The large view shows the same action larger than the board, and it fits the screen."""
    hands = _dwelling()
    stamp = _stamp(hands.now_ms + after_min * MINUTE)
    board = board_at(hands.state, stamp, size, BoardView("r", glance=True))
    inked = sum("█" in line for line in board.next_lines)
    assert inked >= 2 * ROWS
    assert inked >= ROWS
    assert len(board.next_lines) + 5 <= size.height
    assert max(cell_len(line) for line in board.next_lines) <= size.width - 4
    assert "bolster" in "\n".join(board.next_lines)


def test_answers_can_be_touched() -> None:
    """Each question has touch keys, but none for a watcher."""
    hands = _dwelling()
    hands(c.Begin("bolster"), 5 * MINUTE)
    assert [key for key, _ in _board(hands).answers] == ["y", "n"]
    hands(c.Answer("bolster", "even", True))
    assert ("backspace", "DEL") in _board(hands).answers
    stamp = _stamp(hands.now_ms)
    look = BoardView("r", read_only=True)
    assert board_at(hands.state, stamp, SIZES[1], look).answers == ()
