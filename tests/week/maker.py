"""The maker does what the large line says, at their own pace, with the story's answers.

The maker knows the screen, the story and a watch; a seed draws how long each thing takes. They
decide from what they see, so a wrong screen leads the whole week astray.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from random import Random

from tests.week.acts import AN_HOUR_S, LEAVE, Act, Die, Keys, Memory, Wait
from tests.week.eyes import Sight, choices
from tests.week.pages import page_act
from tests.week.story import Deed, Scripted, Story

PACE = (0.75, 1.25, 1.0)
"""The range of a work's share of its usual time, and the most likely share."""

READ_MS_A_CHARACTER = 55
"""A careful reader takes in about 18 characters a second."""

SAVED = "saved at once in range"
"""What the screen says when a reading needs no key after its last digit."""

BY_EYE = "by eye"
"""The maker's reason for skipping a reading in the story."""

WALK_S = (12, 28)
"""Seconds from one place to the next."""

HANDS = ("LOAD", "DONE", "CHECK", "NOTE")


@dataclass
class Maker:
    """A person at the screen for one deed.

    Args:
        story: the answers, readings and verdicts.
        deed: what they sat down for.
        draws: the random times and readings.
        memory: what they know from earlier.
    """

    story: Story
    deed: Deed
    draws: Random
    memory: Memory = field(default_factory=Memory)
    sight: Sight = field(default_factory=lambda: Sight(()))
    wall_ms: int = 0

    def acts(self, sight: Sight, wall_ms: int) -> Act:
        """What to do next, from what is seen."""
        self.sight, self.wall_ms = sight, wall_ms
        act = self._board(sight) if sight.lines else page_act(self, sight)
        if isinstance(act, Keys):
            self.memory.take(act)
        return act

    # ------------------------------------------------------------------ the board

    def _board(self, sight: Sight) -> Act:
        if sight.work == self.deed.killed_when and self.deed.killed_when:
            return Die()
        if once := self._errand(sight):
            return once
        if not self.deed.start and "(idle" in sight.rows[0]:
            return Keys(LEAVE)
        if sight.verb == "START" and not sight.number:  # the run, not a part
            return self._start()
        if sight.key_line.startswith(("Nothing to do", "The run is over")):
            return Keys(LEAVE)
        if sight.wait_s and not self._in_hand:
            return self._rest(sight)
        return self._work(sight)

    @property
    def _in_hand(self) -> bool:
        return self.sight.verb in HANDS or (self.sight.verb == "READ" and self.sight.number != "")

    def _start(self) -> Act:
        if self.deed.tick and self.once("tick"):
            return Keys(("k",))
        return self.press("space")

    def _errand(self, sight: Sight) -> Act | None:
        for errand in self.deed.errands:
            calm = not errand.calm or sight.wait_s > AN_HOUR_S
            if (
                errand.when in sight.text
                and calm
                and self.once(f"errand {errand.keys} {errand.write}")
            ):
                self.memory.choose = list(errand.choose)
                self.memory.write = errand.write
                return Keys(errand.keys, 2000, presses=errand.presses)
        return None

    def _work(self, sight: Sight) -> Act:
        line = sight.key_line
        if line.startswith("WAIT") or "short of minimum" in line:
            return Wait(60_000)
        if line == "SPACE shows the hazard and its gear":
            return Keys(("space",), 1000)
        if line in ("MORE BELOW: SPACE shows it", "SPACE: I have read this and have the gear on"):
            return self._read_hazard(sight)
        if line.startswith(("SPACE: it is mixed", "SPACE: the heat is on")):
            return self.press("space", after_ms=self.between(60, 600))
        if "Why no reading?" in sight.text:
            return self.press(choices(line)[BY_EYE], after_ms=self.between(1, 3))
        if "SPACE saves it   E: not now" in line:
            return self._type(self.drawn(self.story.readings[sight.part or sight.work]))
        if ("SPACE saves it" in line or SAVED in line) and not sight.number:
            return self._measure(sight)
        if self._in_hand:
            return self._hands_on(sight)
        if line.startswith("SPACE once"):  # the work first: the press ends it
            return self._walk(sight)
        if line.startswith(("SPACE as you", "SPACE ends")):
            self.memory.worked.clear()
            ends = line.startswith("SPACE ends")
            return Keys(("space",), self.between(1, 4), presses=1, is_end=ends)
        raise AssertionError(f"what to do here?\n{sight.text}")

    def _walk(self, sight: Sight) -> Act:
        """A short walk between places, with the one press after it."""
        if sight.step not in self.memory.worked:
            self.memory.worked = [sight.step]
            return Wait(self.between(*WALK_S))
        self.memory.worked.clear()
        return self.press("space", after_ms=self.between(1, 3))

    def _hands_on(self, sight: Sight) -> Act:
        """The work itself, once; then its questions; then put it down."""
        if sight.step not in self.memory.worked:
            self.memory.worked = [sight.step]  # a later pass takes its time again
            low, high, mode = PACE
            return Wait(round(sight.hands_s * self.draws.triangular(low, high, mode)) * 1000)
        if sight.verb in ("LOAD", "DONE"):
            return self.press("space", after_ms=self.between(1, 3))
        return self._answer(sight)

    def _read_hazard(self, sight: Sight) -> Act:
        after_ms = READ_MS_A_CHARACTER * sum(len(row.strip()) for row in sight.rows[10:])
        more = "MORE BELOW" in sight.text
        return Keys(("space",), after_ms) if more else self.press("space", after_ms=after_ms)

    def _measure(self, sight: Sight) -> Act:
        """A station's temperature; its name comes after the words."""
        station = sight.work.removeprefix("Temperature of ").rpartition(", ")[0]
        if station == self.deed.unread and self.once("unread"):
            return Keys(("e",), self.between(4, 10))
        figure = self.drawn(self.story.readings[station])
        if SAVED in sight.key_line:
            return self._figure(figure)
        return self._type(figure)

    # ------------------------------------------------------------------ questions

    def _answer(self, sight: Sight) -> Act:
        if sight.key_line == "SPACE opens a line to write":
            self.memory.write = self._told(sight.part, sight.work)
            self.memory.answering = True
            return Keys(("space",), self.between(2, 5))
        if sight.work == self.deed.slip and self.once("slip"):
            return Keys(("n", "u"), 1500, presses=2)
        found = self._told(sight.part, sight.work)
        if sight.key_line.startswith("1 or Y"):
            return self.press(found[0], after_ms=self.between(2, 6))
        if "SPACE saves it" in sight.key_line:
            at_once = re.search(r"from (\d+) at once", sight.key_line)
            whole = at_once and found.isdecimal() and int(found) >= int(at_once[1])
            return self._figure(found) if whole else self._type(found)
        return self.press(choices(sight.key_line)[found], after_ms=self.between(2, 6))

    def _told(self, part: str, question: str) -> str:
        """The story's answer to a question, matched by the screen's words; yes by default."""
        key = f"{part}/{question}"
        asked = self.memory.asked.get(key, 0)
        self.memory.asked[key] = asked + 1
        for name in (part, "any part"):
            if question in self.story.answers.get(name, {}):
                return self.drawn(_in_turn(self.story.answers[name][question], asked))
        if self.sight.key_line.startswith("1 or Y"):
            return "yes"
        raise AssertionError(f"the story has no answer for {part}: {question}\n{self.sight.text}")

    def drawn(self, found: Scripted) -> str:
        """The words of an answer; a figure is drawn from its span."""
        if isinstance(found, str):
            return found
        return f"{self.draws.uniform(found.low, found.high):.{found.places}f}"

    # ------------------------------------------------------------------ waiting

    def _rest(self, sight: Sight) -> Act:
        """With nothing due, wait for the first thing to come, or leave."""
        home_ms = self.story.moment_ms(f"{self.deed.at.split()[0]} {self.deed.home}")
        if self.wall_ms + 1000 * sight.wait_s > home_ms:
            return Keys(LEAVE)
        return Wait(1000 * min(sight.wait_s, AN_HOUR_S))

    # ------------------------------------------------------------------ fingers

    def once(self, what: str) -> bool:
        """Whether this is the first time; later calls return False."""
        new = what not in self.memory.done
        if new:
            self.memory.done.append(what)
        return new

    def press(self, *keys: str, after_ms: int = 1000) -> Keys:
        """Keys that are one press of the run."""
        return Keys(keys, after_ms, presses=1)

    def _type(self, figure: str) -> Act:
        return self._figure([*figure, "space"])

    def _figure(self, keys: Sequence[str]) -> Act:
        return Keys(tuple(keys), self.between(4, 10), presses=1, is_reading=True)

    def between(self, low_s: float, high_s: float) -> int:
        """A random number of milliseconds."""
        return round(1000 * self.draws.uniform(low_s, high_s))


def _in_turn(found: Scripted | tuple[Scripted, ...], asked: int) -> Scripted:
    """The answer for this repeat of a question; the last one repeats."""
    return found[min(asked, len(found) - 1)] if isinstance(found, tuple) else found
