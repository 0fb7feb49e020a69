"""What the maker can do at the screen, and what they remember."""

from __future__ import annotations

from dataclasses import dataclass, field

AN_HOUR_S = 3600
"""No one waits longer without another look."""


LEAVE = ("q",)
"""The key that leaves the bench."""


@dataclass(frozen=True, slots=True)
class Wait:
    """Let time pass."""

    ms: int


@dataclass(frozen=True, slots=True)
class Keys:
    """Press keys, after having thought or worked for a while.

    Attributes:
        keys: in order, by their names; a letter is its own.
        after_ms: what passes before the first.
        each_ms: what passes before each.
        presses: how many presses of the run they are.
        is_reading: they are the digits of a figure, and the key behind them if there is one.
        is_end: they end the run.
    """

    keys: tuple[str, ...]
    after_ms: int = 500
    each_ms: int = 500
    presses: int = 0
    is_reading: bool = False
    is_end: bool = False


@dataclass(frozen=True, slots=True)
class Die:
    """The machine fails at this very moment."""


Act = Wait | Keys | Die


@dataclass
class Memory:
    """What the maker knows from one moment to the next, also over a night.

    Attributes:
        asked: how often each question of a part has been answered.
        worked: steps whose work is done, while they are in hand.
        presses: presses that change a run, as they were meant.
        keys: all keys pressed, without ``digits``, the digits of figures, and those to leave.
        ended: ``keys`` when the run was ended.
        done: things that are done once in a deed.
        choose: what is chosen from the lists to come.
        write: what is written on the line to come.
        answering: that is the answer to a question of the run.
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
        """Count what is pressed."""
        digits = sum(key in "0123456789.-" for key in act.keys) if act.is_reading else 0
        self.digits += digits
        self.keys += len(act.keys) - digits if act.keys != LEAVE else 0
        self.ended = self.keys if act.is_end else self.ended
        self.presses += act.presses

    def for_deed(self) -> Memory:
        """What is left of it when the maker sits down to something else."""
        return Memory(asked=self.asked, worked=self.worked)
