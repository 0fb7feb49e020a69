"""Reading the terminal: pastes are text, and no byte stops the reader."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual import events
from textual.message import Message

from benchtimer.tui.keyboard import PASTE_LIMIT, PASTE_PAUSE_S, SafeParser, plain_paste

BEGIN, END = "\x1b[200~", "\x1b[201~"


def read(pieces: Sequence[str]) -> list[Message]:
    """What a terminal's characters mean, fed piece by piece without a pause."""
    parser = SafeParser()
    return [message for piece in pieces for message in parser.feed(piece)]


def keys(messages: Sequence[Message]) -> list[str]:
    """Only the keys."""
    return [message.key for message in messages if isinstance(message, events.Key)]


def pasted(messages: Sequence[Message]) -> list[str]:
    """Only the pastes."""
    return [message.text for message in messages if isinstance(message, events.Paste)]


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("290 F", "290 F"),
        ("\x1b[31mred\x1b[0m", "red"),
        ("a\x00b\x11c\x7f", "abc"),
        ("one\r\ntwo\rthree", "one\ntwo\nthree"),
        ("\x1b]0;title\x07rest", "rest"),
        ("\x1b", ""),
        ("tab\there", "tab here"),
        ("x" * 2 * PASTE_LIMIT, "x" * PASTE_LIMIT),
    ],
)
def test_a_paste_is_plain_text(text: str, plain: str) -> None:
    """Codes and control characters are dropped from a paste; lines stay."""
    assert plain_paste(text) == plain
    assert pasted(read([f"{BEGIN}{text}{END}"])) == ([plain] if plain else [""])


@given(st.text(st.sampled_from("\x00\x1b[]?;0123456789~mtAqR \r\x11é"), max_size=300), st.data())
def test_no_pasted_character_acts_as_a_key(text: str, data: st.DataObject) -> None:
    """Any paste, in any pieces, is one paste; keys around it are keys."""
    if END in text:
        return
    whole = f"a{BEGIN}{text}{END}b"
    cuts = sorted(data.draw(st.lists(st.integers(0, len(whole)), max_size=6)))
    ends = [*cuts, len(whole)]
    read_back = read([whole[a:b] for a, b in zip([0, *cuts], ends, strict=True) if a < b])
    assert keys(read_back) == ["a", "b"]
    assert pasted(read_back) == [plain_paste(text)]


def test_a_paste_that_is_cut_off_ends_after_a_pause() -> None:
    """A paste without its end mark ends after a pause, and the keys work again."""
    now = [100.0]
    parser = SafeParser(monotonic=lambda: now[0])
    assert list(parser.feed(f"{BEGIN}half")) == []
    now[0] += PASTE_PAUSE_S / 2
    assert list(parser.tick()) == []
    now[0] += PASTE_PAUSE_S
    assert pasted(list(parser.tick())) == ["half"]
    assert keys(list(parser.feed("q"))) == ["q"]


def test_keys_and_codes_keep_their_meaning() -> None:
    """Arrows, function keys, a touch, letters and a second paste keep their meaning."""
    read_back = read(["\x1b[A", "\x1bOP", "x", f"{BEGIN}1{END}", f"{BEGIN}2{END}", "\x1b[<0;3;4M"])
    assert keys(read_back) == ["up", "f1", "x"]
    assert pasted(read_back) == ["1", "2"]
    touch = read_back[-1]
    assert isinstance(touch, events.MouseDown)
    assert (touch.x, touch.y) == (2, 3)
