"""The week: the deeds of the story, in order, in one shop."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from random import Random

from tests.week.acts import Memory
from tests.week.maker import Maker
from tests.week.shop import CommandResult, Shop
from tests.week.story import Deed, Story, read_story


@dataclass(frozen=True, slots=True)
class Done:
    """A finished deed.

    Attributes:
        began_ms: Unix time when it began; ``ended_ms`` is when it ended.
        said: the output of the program outside the screen.
        keys: keys pressed, without the digits of figures; ``presses`` are those that changed a
            run, and ``ended`` is ``keys`` at the end of the run.
        bells: how often the bell rang.
    """

    deed: Deed
    began_ms: int
    ended_ms: int
    said: CommandResult
    keys: int = 0
    presses: int = 0
    bells: int = 0
    ended: int = 0


@dataclass
class Week:
    """A week in a shop.

    Args:
        folder: the shop's folder.
        story: what happens.
        seed: seeds the times and readings.
    """

    folder: Path
    story: Story = field(default_factory=read_story)
    seed: int = 1
    shop: Shop = field(init=False)
    memory: Memory = field(default_factory=Memory)
    done: list[Done] = field(default_factory=list)

    def __post_init__(self) -> None:
        begins_ms = self.story.moment_ms(self.story.deeds[0].at)
        self.shop = Shop(self.folder, begins_ms, 3600 * self.story.offset_h)

    def work(self, deeds: Sequence[Deed] | None = None) -> Week:
        """Work all deeds, or some of them."""
        for deed in self.story.deeds if deeds is None else deeds:
            self.shop.until(self.story.moment_ms(deed.at))
            self.done.append(self._do(deed))
        return self

    def _do(self, deed: Deed) -> Done:
        began_ms, bells = self.shop.clock.wall_ms, len(self.shop.bells)
        self.memory = self.memory.for_deed()
        if deed.command is not None:
            run = self.shop.process if deed.process else self.shop.command
            said = run(*(word.replace("{shop}", str(self.folder)) for word in deed.command))
        elif deed.killed_when:
            said = self._until_it_fails(deed)
        else:
            said = self.shop.screen(self._maker(deed), *(deed.screen or ()))
        self._check(deed, said)
        rung = len(self.shop.bells) - bells
        keys, presses = self.memory.keys, self.memory.presses
        ended = self.memory.ended
        return Done(deed, began_ms, self.shop.clock.wall_ms, said, keys, presses, rung, ended)

    def _maker(self, deed: Deed, again: str = "") -> Maker:
        return Maker(self.story, deed, Random(f"{self.seed} {deed.at}{again}"), self.memory)

    def _check(self, deed: Deed, said: CommandResult) -> None:
        assert said.code == deed.code, f"{deed.why}\n{said.text}"
        for words in deed.says:
            assert words in said.text, f"{deed.why}: no {words!r} in\n{said.text}"
        for words in deed.not_says:
            assert words not in said.text, f"{deed.why}: {words!r} in\n{said.text}"

    def _until_it_fails(self, deed: Deed) -> CommandResult:
        """Run the screen in a process that is killed, then open the bench again."""
        job = {"deed": deed.at, "seed": self.seed, "memory": asdict(self.memory)}
        killed = self.shop.process(json.dumps(job), module="tests.week.victim")
        assert killed.code == -9, killed.text
        left = json.loads(killed.out.splitlines()[-1])
        self.memory = Memory(**left["memory"])
        self.shop.clock.advance(left["clock"]["count_ms"] - self.shop.clock.count_ms)
        self.shop.clock.advance(1000 * deed.away_s)
        on = deed.model_copy(update={"killed_when": ""})
        return self.shop.screen(self._maker(on, " again"))
