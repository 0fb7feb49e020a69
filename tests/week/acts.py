"""What the maker can do at the screen, and what they remember."""

from __future__ import annotations

from dataclasses import dataclass, field

AN_HOUR_S = 3600
"""The longest wait without another look."""


LEAVE = ("q",)
"""The key that leaves the bench."""


@dataclass(frozen=True, slots=True)
class Wait:
    """Let time pass."""

    ms: int


@dataclass(frozen=True, slots=True)
class Keys:
    """Press keys, after some time to think or work.

    Attributes:
        keys: key names in order; a letter is its own name.
        after_ms: the time before the first key.
        each_ms: the time before each key.
        presses: how many presses of the run the keys make.
        is_reading: whether they are the digits of a figure, with the key that ends it if any.
        is_end: whether they end the run.
    """

    keys: tuple[str, ...]
    after_ms: int = 500
    each_ms: int = 500
    presses: int = 0
    is_reading: bool = False
    is_end: bool = False


@dataclass(frozen=True, slots=True)
class Die:
    """The machine fails at this moment."""


Act = Wait | Keys | Die


@dataclass
class Memory:
    """What the maker knows from one moment to the next, also overnight.

    Attributes:
        asked: how often each question of a part has been answered.
        worked: steps in hand whose work is done.
        presses: presses that the maker meant to change a run.
        keys: all keys pressed, except ``digits``, the digits of figures, and keys to leave.
        ended: the value of ``keys`` at the end of the run.
        done: things done once in a deed.
        choose: what to choose from the next lists.
        write: what to write on the next line.
        answering: whether that answers a question of the run.
    """

    asked: dict[str, int] = field(default_factory=dict)
    worked: list[str] = field(default_factory=list)
    presses: int = 0
    keys: int = 0
    digits: int = 0
    ended: int = 0
    done: list[str] = field(default_factory=list)
    choose: list[str] = field(default_factory=list)
    write: str = ""
    answering: bool = False

    def take(self, act: Keys) -> None:
        """Count the keys."""
        digits = sum(key in "0123456789.-" for key in act.keys) if act.is_reading else 0
        self.digits += digits
        self.keys += len(act.keys) - digits if act.keys != LEAVE else 0
        self.ended = self.keys if act.is_end else self.ended
        self.presses += act.presses

    def for_deed(self) -> Memory:
        """The memory that stays when the maker starts another deed."""
        return Memory(asked=self.asked, worked=self.worked)
