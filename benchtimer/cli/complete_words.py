"""Completions at the cursor: the answer to a shell's completion script.

A script calls ``benchtimer --complete SHELL ...`` and gets one line for each possible word: the
word, and for zsh and fish a tab and a few words about it. A line ``:file`` or ``:folder`` asks the
shell to complete file names itself.

    --complete bash LINE BREAKS     the line up to the cursor; bash's word breaks
    --complete zsh WORD...          the words up to the cursor, without quotation marks
    --complete fish WORD... PIECE   the same, the last one as typed
    --complete powershell WORD...   as for zsh; an empty last word may come as ""

Anything unreadable is skipped, so that no error interrupts your typing.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from contextlib import suppress

from benchtimer.cli.common import YES
from benchtimer.cli.offers import FILE, FOLDER, CompletionWord, CursorContext, offers_for
from benchtimer.cli.parser import Parser, whole_line
from benchtimer.cli.typed import Typed, as_typed, words_of


def answer(words: list[str]) -> int:
    """Print the completions at the cursor."""
    lines: list[str] = []
    with suppress(Exception):
        lines = _lines(words[0], words[1:])
    print("".join(f"{line}\n" for line in lines), end="")
    return YES


def _lines(shell: str, given: list[str]) -> list[str]:
    if shell == "bash":
        typed = words_of(given[0], given[1])
    else:
        last = words_of(given[-1])[-1].text if shell in QUOTED else given[-1]
        typed = [*map(Typed, given[:-1]), Typed(last)]
    before, word = [piece.text for piece in typed[1:-1]], typed[-1]
    found = offers_at(before, word.text)
    if shell == "bash":
        fitting = [offer.text for offer in found if offer.text.startswith(word.text)]
        files = [offer.text for offer in found if offer.text in (FILE, FOLDER)]
        return [as_typed(text, word) for text in fitting if text not in files] + files
    if shell == "fish":  # which has to know what is typed so far, without its quotes
        found = [o._replace(about=word.text) if o.text in (FILE, FOLDER) else o for o in found]
    return [f"{offer.text}\t{_line(offer.about)}" if offer.about else offer.text for offer in found]


QUOTED = ("fish", "powershell")
"""Shells that pass the word at the cursor with its quotation marks."""


def _line(words: str) -> str:
    return "".join(c if c.isprintable() else " " for c in words)


class Reader:
    """Reads the words before the cursor the way the parser does, and knows what comes next.

    Attributes:
        parser: the parser of the command or verb so far.
        given: values so far, by the name of the argument.
    """

    def __init__(self, parser: Parser) -> None:
        self.parser = parser
        self.given: dict[str, list[str]] = {}
        self._open: argparse.Action | None = None
        self._done = 0
        self._plain = False

    def take(self, word: str) -> None:
        """One more finished word."""
        if word == "--" and not self._plain:
            self._plain, self._open = True, None
        elif self.may_be_option and word[:1] == "-" and word[1:]:
            self._take_option(word)
        else:
            self._take_value(word)

    @property
    def may_be_option(self) -> bool:
        """Whether an option can come here, rather than the value of one."""
        return not self._plain and (self._open is None or self._open.nargs is not None)

    @property
    def wanted(self) -> argparse.Action | None:
        """The argument whose value comes next, if any."""
        if self._open is not None:
            return self._open
        places = [action for action in self.parser.actions if not action.option_strings]
        return places[self._done] if self._done < len(places) else None

    def _take_option(self, word: str) -> None:
        name, equals, value = word.partition("=")
        action = self.parser.options.get(name)
        self._open = action if action is not None and action.nargs != 0 and not equals else None
        if action is not None:
            self.given.setdefault(action.dest, []).extend([value] if equals else [])

    def _take_value(self, word: str) -> None:
        action = self.wanted
        if action is None:
            return
        if action is self.parser.chooser:
            self.parser, self._done = self.parser.verbs.get(word, self.parser), 0
            return
        self.given.setdefault(action.dest, []).append(word)
        if action is self._open:
            self._open = action if action.nargs is not None else None
        elif action.nargs not in ("+", "*"):
            self._done += 1


def offers_at(before: Iterable[str], text: str) -> list[CompletionWord]:
    """The completions of ``text`` after the words before it."""
    reader = Reader(whole_line())
    for word in before:
        reader.take(word)
    parser = reader.parser
    if reader.may_be_option and text.startswith("-"):
        name, equals, value = text.partition("=")
        action = parser.options.get(name)
        if not equals:
            return [
                CompletionWord(o, a.help or "")
                for o, a in parser.options.items()
                if _is_shown(o, a)
            ]
        if action is None:
            return []
        found = offers_for(action, CursorContext(parser.page, reader.given, value))
        return [CompletionWord(f"{name}={offer.text}", offer.about) for offer in found]
    action = reader.wanted
    if action is None:
        return []
    if action is parser.chooser:
        return [CompletionWord(name, _summary(name, verb)) for name, verb in parser.verbs.items()]
    return offers_for(action, CursorContext(parser.page, reader.given, text))


def _is_shown(option: str, action: argparse.Action) -> bool:
    return option.startswith("--") and action.help is not argparse.SUPPRESS


def _summary(name: str, parser: Parser) -> str:
    from benchtimer.cli.table import COMMANDS

    return parser.description or COMMANDS[name].summary
