"""Makes the terminal's input safe before it is interpreted.

Textual's parser acts on escape codes inside a pasted text as if they were keys, and crashes at the
first byte that is not UTF-8 or the first code with an impossible number. A paste can contain
anything, so it is read here up to its end mark and passed on as plain text.
"""

from __future__ import annotations

import os
import re
import selectors
import sys
import time
from codecs import getincrementaldecoder
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from typing import Any

from textual import constants, events
from textual._xterm_parser import BRACKETED_PASTE_END, BRACKETED_PASTE_START, XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.geometry import Size
from textual.message import Message

assert sys.platform != "win32"  # noqa: S101 - Windows has a driver of its own; see app

import termios  # noqa: E402

PASTE_LIMIT = 10_000
"""Characters of a paste that are kept."""

PASTE_PAUSE_S = 1.0
"""A paste without an end mark ends after this pause, so that keys work again."""

LARGEST = Size(2000, 1000)
"""A terminal that reports more columns or rows than this is not trusted."""

READ_BYTES = 4096
POLL_S = 0.1
"""How often to check whether an incomplete code or paste has stopped."""

KITTY_ON = "" if constants.DISABLE_KITTY_KEY else "\x1b[=25;1u"
"""Sets the flags that Textual has pushed, without pushing again."""

_ESCAPE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]?|[\]PX^_][^\x07\x1b]*(?:\x07|\x1b\\)?|.?)", re.S)


def plain_paste(text: str) -> str:
    """A pasted text without escape codes and control characters, no longer than the limit."""
    lines = _ESCAPE.sub("", text).replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    return "".join(c for c in lines if c == "\n" or c.isprintable())[:PASTE_LIMIT]


class SafeParser(XTermParser):
    """The parser, which reads pastes separately from keys.

    Args:
        debug: as in Textual.
        monotonic: seconds that never go back.
    """

    def __init__(self, debug: bool = False, monotonic: Callable[[], float] = time.monotonic):
        super().__init__(debug)
        self._monotonic = monotonic
        self._recent = ""
        self._pasting = False
        self._paste: list[str] = []
        self._fed_at = 0.0

    def feed(self, data: str) -> Iterator[Message]:
        """The keys, mouse events and pastes in some characters."""
        self._fed_at = self._monotonic()
        if not data:
            yield from super().feed(data)
        for character in data:
            yield from self._pasted(character) if self._pasting else self._key(character)

    def _key(self, character: str) -> Iterator[Message]:
        yield from super().feed(character)
        self._recent = (self._recent + character)[-len(BRACKETED_PASTE_START) :]
        if self._recent == BRACKETED_PASTE_START:
            self._pasting, self._recent = True, ""

    def _pasted(self, character: str) -> Iterator[Message]:
        if len(self._paste) < 10 * PASTE_LIMIT:
            self._paste.append(character)
        self._recent = (self._recent + character)[-len(BRACKETED_PASTE_END) :]
        if self._recent == BRACKETED_PASTE_END:
            yield from self._end_paste()

    def _end_paste(self) -> Iterator[Message]:
        """Pass the text to the parser between the two marks; it has read the first one."""
        text = "".join(self._paste).removesuffix(BRACKETED_PASTE_END)
        self._pasting, self._paste, self._recent = False, [], ""
        yield from super().feed(plain_paste(text) + BRACKETED_PASTE_END)

    @property
    def is_waiting(self) -> bool:
        """Whether a pause matters now: a code or a paste has begun."""
        return self._pasting or self._timeout_time is not None

    def tick(self) -> Iterable[Message]:
        """The meaning of a pause: the ESC key, or the end of an incomplete paste."""
        if self._pasting:
            if self._monotonic() - self._fed_at > PASTE_PAUSE_S:
                yield from self._end_paste()
            return
        for message in super().tick():
            self._recent = ""  # the parser has given up on an incomplete code
            yield message


class Keyboard(LinuxDriver):
    """The terminal on Linux and macOS, whose input can't crash the program. Textual resets the
    terminal inside the signal handler, and starts a second key-reading thread if the process was
    stopped by ``SIGSTOP``. Here a signal only queues work for the event loop, where no lock is
    held.
    """

    _taken: list[Any] | None = None
    _pipe: tuple[int, int] | None = None

    def start_application_mode(self) -> None:
        """Take over the terminal."""
        self._pipe = os.pipe()
        super().start_application_mode()  # type: ignore[no-untyped-call]
        with suppress(termios.error):
            self._taken = termios.tcgetattr(self.fileno)

    def _sigtstp_application(self, *_: object) -> None:
        self._soon(super()._sigtstp_application)

    def _sigcont_application(self, *_: object) -> None:
        if self._must_signal_resume:  # it was suspended normally, and its threads have ended
            super()._sigcont_application()
        else:
            self._soon(self._take_back)

    def _soon(self, do: Callable[[], None]) -> None:
        with suppress(RuntimeError):  # the screen has closed
            self._loop.call_soon_threadsafe(do)

    def _take_back(self) -> None:
        """Set the terminal's modes again, which a shell may have changed, and draw."""
        with suppress(termios.error, OSError):
            if self._taken is None or os.tcgetpgrp(self.fileno) != os.getpgrp():
                return
            termios.tcsetattr(self.fileno, termios.TCSANOW, self._taken)
        self.write(f"\x1b[?1049h\x1b[?25l\x1b[?1004h{KITTY_ON}")
        self._enable_mouse_support()
        self._enable_bracketed_paste()
        self._disable_line_wrap()
        self.flush()
        size = Size(*self._get_terminal_size())
        self.send_message(events.Resize(size, size))
        self._app.refresh()

    def disable_input(self) -> None:
        """End the reading thread, which sleeps until there is input."""
        if self._pipe is not None:
            os.write(self._pipe[1], b"x")
        super().disable_input()
        for end in self._pipe or ():
            os.close(end)
        self._pipe = None

    def run_input_thread(self) -> None:
        """Read the terminal until the screen closes."""
        assert self._pipe is not None  # noqa: S101 - made just before the thread began
        woken = self._pipe[0]
        decode = getincrementaldecoder("utf-8")(errors="replace").decode
        parser = SafeParser(self._debug)
        with selectors.DefaultSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            selector.register(woken, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                ready = selector.select(POLL_S if parser.is_waiting else None)
                if any(key.fd == woken for key, _ in ready):
                    return
                data = os.read(self.fileno, READ_BYTES) if ready else b""
                if ready and not data:
                    time.sleep(POLL_S)  # the terminal has closed
                try:
                    for message in self._messages(parser, decode(data)):
                        self.process_message(message)
                except (ValueError, ArithmeticError, StopIteration, RuntimeError):
                    parser = SafeParser(self._debug)  # an impossible code; the rest still counts

    @staticmethod
    def _messages(parser: SafeParser, text: str) -> Iterator[Message]:
        if text:
            yield from parser.feed(text)
        yield from parser.tick()

    def process_message(self, message: Message) -> None:
        """Pass on a message, unless it has an impossible size."""
        if isinstance(message, events.Resize) and not _is_likely(message.size):
            return
        super().process_message(message)


def _is_likely(size: Size) -> bool:
    return 0 < size.width <= LARGEST.width and 0 < size.height <= LARGEST.height
