"""Pictures of the screens, as SVG, at four sizes, as someone last checked them.

    python -m tests.tui.pictures [NAME...]

draws them again into ``tests/tui/pictures``. Look at each one before you commit it. The README
shows one of them. They match the version of Textual that the test extra pins: another version
may draw the same screen with different SVG.
"""

from __future__ import annotations

import asyncio
import io
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from functools import partial
from math import inf
from pathlib import Path

import pytest
from rich.console import Console
from textual.pilot import Pilot
from textual.strip import Strip

from benchtimer.bench.advice import advise
from benchtimer.bench.plans import FILE_NAME
from benchtimer.plan.outcome import Outcome
from benchtimer.plan.plan_words import Say
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.run.commands import Judge
from benchtimer.run.run_state import Bench, PartPhase
from benchtimer.tui.app import BenchApp
from benchtimer.tui.drawing import Drawing
from benchtimer.view.draft import Draft
from tests.tui.scenes import FITTINGS, Scene, in_station

FOLDER = Path(__file__).with_suffix("")
Space = tuple[int, int]
SIZES: tuple[Space, ...] = ((60, 20), (80, 24), (120, 40), (200, 60))
MINUTE = 60_000
STILL, STILL_S = 3, 0.02

COLUMN_PX, ROW_PX, TOP_PX = 12.2, 24.4, 1.5
"""The size of a letter in Rich's SVG export, and the top of its first row."""

SVG = """\
<svg viewBox="0 {top:g} {wide:g} {high:g}" xmlns="http://www.w3.org/2000/svg">
<style>
.{{unique_id}}-matrix {{{{ font-family: monospace; font-size: {{char_height}}px; }}}}
{{styles}}
</style>
<defs>
{{lines}}
</defs>
<rect x="0" y="0" width="100%" height="110%" fill="{ground}"/>
{{backgrounds}}
<g class="{{unique_id}}-matrix" xml:space="preserve">
{{matrix}}
</g>
</svg>
"""
"""The screen alone: no window, no title, no font from the network."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A screen to draw.

    Attributes:
        scene: the bench, in an empty folder.
        keys: the keys pressed first.
        ticks: how many clock ticks pass before the drawing.
        screen: the application in front of the bench.
    """

    scene: Callable[[Path], Scene]
    keys: tuple[str, ...] = ()
    ticks: int = 1
    screen: Callable[[Scene], BenchApp] = Scene.app


def _asked(bench: Bench) -> bool:
    in_hand = [p for p in bench.parts.values() if p.phase is PartPhase.IN_HAND]
    return any(bench.open_checks(part) for part in in_hand)


def _black(parts: int, until: Callable[[Bench], bool], later_min: int, folder: Path) -> Scene:
    """Fittings in hot salts, some minutes after the bench reached a given state."""
    scene = Scene(folder).work("hot-black", FITTINGS[:parts], until)
    scene.clock.advance(later_min * MINUTE)
    return scene


_salts = partial(_black, 4, in_station("salts"), 0)
_eight = partial(_black, 8, in_station("salts"), 0)
_late = partial(_black, 4, in_station("boil"), 40)


def _long_soak(bench: Bench) -> bool:
    """A part in a soak of several hours."""
    steps = [bench.step_of(p) for p in bench.parts.values() if p.phase is PartPhase.DWELLING]
    return any(step.dwell is not None and step.dwell.target_s >= 6 * 3600 for step in steps)


def _shop(folder: Path) -> Scene:
    """One finished run, a blade in a long soak, and fittings at work."""
    scene = Scene(folder).work("hot-black", FITTINGS[:2], lambda _: False, seed=4)
    scene.driver.press(scene.name, Judge("bolster", "accepted", 4))
    scene.clock.advance(15 * 3_600_000)
    scene.work("etch-darken", ["petty knife"], _long_soak)
    return scene.work("hot-black", FITTINGS[2:5], in_station("salts"), seed=2)


def _over(folder: Path) -> Scene:
    """Three finished fittings, with the trouble they had."""
    return Scene(folder).work("hot-black", FITTINGS[:3], lambda _: False, seed=4)


def _planned(scene: Scene, away: str = "") -> BenchApp:
    """A plan of three fittings and a blade, not set up yet."""
    app = scene.app()
    draft = Draft().add(app.recipe_files.find("hot-black"), ", ".join(FITTINGS[:3]))
    draft = draft.add(app.recipe_files.find("etch-darken"), "petty knife")
    app.kept_draft = draft.with_away(away) if away else draft
    return app


PICTURES = {
    "home": Picture(_shop, ("h",)),
    "home-empty": Picture(Scene),
    "home-late": Picture(_late, ("h",)),
    "plan": Picture(Scene, ("p",), screen=partial(_planned, away="22:00-07:00")),
    "check-list": Picture(_salts, ("k",)),
    "record": Picture(_over, ("h", "l")),
    "trouble": Picture(_over, ("h", "l", "full_stop")),
    "runs": Picture(_shop, ("h", "slash")),
    "board": Picture(_salts),
    "eight-parts": Picture(_eight),
    "shop": Picture(_shop),
    "glance": Picture(_salts, ("g",)),
    "question": Picture(partial(_black, 4, _asked, 0)),
    "hazard": Picture(partial(_black, 4, lambda _: True, 0)),
    "late": Picture(_late),
    "late-beat": Picture(_late, ticks=2),
    "help": Picture(_salts, ("question_mark",)),
    "manual": Picture(_salts, ("question_mark", "m")),
    "more": Picture(_salts, ("m",)),
    "stations": Picture(_salts, ("i",)),
    "looking-on": Picture(_salts, screen=Scene.watching),
    "bright": Picture(_salts, screen=partial(Scene.app, theme="bright")),
    "contrast": Picture(_salts, screen=partial(Scene.app, theme="contrast")),
    "ascii": Picture(_salts, screen=partial(Scene.app, ascii_only=True)),
}


def _solve_by_states(problem: Problem, *, say: Say, **_: object) -> Outcome:
    """The planner's answer, limited by states alone, so it is the same each time."""
    return solve(problem, nodes=3_000, say=say)


@contextmanager
def still_screens() -> Iterator[None]:
    """Turn off the tick, and limit the planner by states alone.

    A busy machine would run out of time sooner and return another plan.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("benchtimer.tui.board_screen.TICK_S", 10**6)
        patch.setattr("benchtimer.tui.planning.HELP_S", 0.0)
        patch.setattr("benchtimer.tui.planning.THINK_S", 1e9)
        patch.setattr("benchtimer.tui.planning.solve", _solve_by_states)
        patch.setattr("benchtimer.bench.advice.advise", partial(advise, nodes=150, seconds=inf))
        yield


@dataclass
class Scenes:
    """The benches behind the pictures, each made once: no picture's key writes anything."""

    folder: Path
    made: dict[Callable[[Path], Scene], Scene] = field(default_factory=dict)

    def of(self, picture: Picture) -> Scene:
        """The bench of a picture."""
        if picture.scene not in self.made:
            self.made[picture.scene] = picture.scene(self.folder / str(len(self.made)))
        scene = self.made[picture.scene]
        (scene.folder / FILE_NAME).unlink(missing_ok=True)
        scene.driver.plans.refresh()  # forget the planner's last answer
        return scene

    def close(self) -> None:
        """Close every bench."""
        for scene in self.made.values():
            scene.close()


async def drawn(name: str, scenes: Scenes, sizes: Sequence[Space] = SIZES) -> dict[Space, str]:
    """The pictures of a screen, each size after the one before it."""
    picture, svgs = PICTURES[name], {}
    with still_screens():
        scene = scenes.of(picture)
        app = picture.screen(scene)
        async with app.run_test(size=sizes[0]) as pilot:
            await pilot.pause()
            for _ in range(picture.ticks):
                if hasattr(app.screen, "tick"):
                    app.screen.tick()
                await app.workers.wait_for_complete()
                await pilot.pause()
            await pilot.press(*picture.keys)
            for size in sizes:
                await pilot.resize_terminal(*size)
                await app.workers.wait_for_complete()
                await pilot.pause()
                await _come_to_rest(app, pilot)
                svgs[size] = _screen_svg(app)
        scene.stop_watching()
    return svgs


async def _come_to_rest(app: BenchApp, pilot: Pilot[None]) -> None:
    """Wait until several looks in a row match: every row has its place."""
    for drawing in app.screen.query(Drawing):  # the picture leaves out how long a start takes
        drawing._held_s = 0
        drawing.on_resize()
    seen: list[list[Strip]] = []
    while len(seen) < STILL or any(look != seen[-1] for look in seen[-STILL:]):
        await pilot.pause(STILL_S)
        app.screen._refresh_layout()  # else Textual may draw a row over newly mounted keys
        seen.append(app.screen._compositor.render_strips())


def _screen_svg(app: BenchApp) -> str:
    """The screen in front as SVG, edge to edge."""
    columns, rows = app.size
    page = SVG.format(
        top=TOP_PX,
        wide=columns * COLUMN_PX,
        high=rows * ROW_PX,
        ground=app.theme_variables["background"],
    )
    console = Console(
        width=columns, height=rows, file=io.StringIO(), force_terminal=True,
        color_system="truecolor", record=True, legacy_windows=False,
    )  # fmt: skip
    console.print(
        app.screen._compositor.render_update(full=True, screen_stack=app._background_screens)
    )
    console.print()  # Rich clips the text of every row but the one after the last
    return console.export_svg(title="", code_format=page)


def path_of(name: str, size: Space) -> Path:
    """The file that keeps a picture."""
    return FOLDER / f"{name}-{size[0]}x{size[1]}.svg"


async def _draw(names: list[str]) -> None:
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, closing(Scenes(Path(folder))) as scenes:
        for name in names:
            for size, svg in (await drawn(name, scenes)).items():
                path_of(name, size).write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    asyncio.run(_draw(sys.argv[1:] or list(PICTURES)))
