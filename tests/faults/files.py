"""Recipes, settings, exports and backups damaged by chance or on purpose.

Any file is accepted or refused with a message. An accepted file can be shown, checked and
worked with, and puts nothing harmful on a screen. Reading a recipe opens, runs and imports
nothing: the campaign watches the interpreter's audit events.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from random import Random
from typing import Any

from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import shipped_folder
from benchtimer.settings import SettingsError, parse_settings
from tests.faults import logs
from tests.faults.mutate import changed_toml
from tests.faults.row import Row
from tests.faults.shown import looked_at, trouble, worked_with
from tests.faults.tally import Tally, attempt, resident_mb

RECIPES = [path.read_text(encoding="utf-8") for path in sorted(shipped_folder().glob("*.toml"))]

SETTINGS = """
altitude = "1200 m"
units = "us"
hands = 2
away = ["22:00-07:00", "12:30-13:00"]
wheels = ["8 in", "150 mm"]
by = "anna"

[vessels]
black-salts = "2 gal"
etchant = "2 L"

[bath.etchant]
max_age = "90 d"
max_parts = 40
max_dwell = "20 h"
max_exhaustion = "60 %"

[alarm]
command = ["notify", "--urgent"]

[screen]
theme = "contrast"
text = "ascii"
"""

MOST_MB = 150
"""How much memory may grow over a whole campaign, for caches and the allocator."""

PRESSES = 6
"""Steps through each accepted recipe; every ``FAR``th goes further."""

FAR = 20

_watched: list[str] | None = None
"""Audit events while a recipe is read; None when not watching."""

_HARMFUL = ("open", "exec", "compile", "import", "os.", "subprocess.", "socket.", "shutil.",
            "pickle.", "ctypes.", "tempfile.", "glob.", "sqlite3.")  # fmt: skip


def _hear(event: str, _arguments: tuple[Any, ...]) -> None:
    if _watched is not None and event.startswith(_HARMFUL):
        _watched.append(event)


_is_listening = False


@contextmanager
def watched() -> Iterator[list[str]]:
    """The audit events during the block that reach outside the process."""
    global _is_listening, _watched
    if not _is_listening:
        sys.addaudithook(_hear)
        _is_listening = True
    events: list[str] = []
    _watched = events
    try:
        yield events
    finally:
        _watched = None


def read(raw: bytes) -> tuple[Recipe | None, str]:
    """The recipe in some bytes, if valid, and any fault in its error message."""
    with watched() as reached:
        try:
            recipe = parse_recipe(raw, name="trial.toml", default_id="trial")
        except RecipeError as error:
            words = str(error)
            found = bool(error.problems) and all(line.isprintable() for line in words.split("\n"))
            return None, "" if found and len(words) < 100_000 else f"told badly: {words[:200]!r}"
    return recipe, f"reading it reached for {reached[0]}" if reached else ""


def try_recipe(draw: Random, tally: Tally, raw: bytes) -> bool:
    """Read some bytes as a recipe; return whether they are one, after trying it out."""
    taken: list[Recipe] = []

    def case() -> str:
        recipe, wrong = read(raw)
        taken.extend([recipe] if recipe is not None and not wrong else [])
        return wrong

    attempt(tally, case, lambda: repr(raw[:200]))
    if taken:
        _use(draw, tally, taken[0])
    return bool(taken)


def _use(draw: Random, tally: Tally, recipe: Recipe) -> None:
    """Show an accepted recipe, and work with it."""
    presses = 60 if draw.randrange(FAR) == 0 else PRESSES
    shown = Tally()
    attempt(shown, lambda: looked_at(recipe), lambda: f"shown: {recipe!r:.300}")
    # Working at it counts as many cases: each press draws three boards.
    attempt(
        shown, lambda: worked_with(recipe, draw, presses), lambda: f"worked: {recipe!r:.300}",
        many=presses / 2,
    )  # fmt: skip
    if shown.lost:
        tally.wrong(shown.first)


def try_recipes(tries: int, seed: int) -> tuple[Tally, int, float]:
    """Read mutated recipes; return the tally, how many were accepted, and the MB memory grew."""
    draw, tally, taken = Random(seed), Tally(), 0
    try_recipe(draw, Tally(), RECIPES[0].encode())  # one-time loading is not growth
    start_mb = 0.0
    for number in range(tries):
        if number == tries // 20:
            start_mb = resident_mb()
        taken += try_recipe(draw, tally, changed_toml(draw, draw.choice(RECIPES)))
    grown_mb = resident_mb() - start_mb
    if grown_mb > MOST_MB:
        tally.wrong(f"memory grew by {grown_mb:.0f} MB")
    return tally, taken, grown_mb


def try_settings(tries: int, seed: int) -> Tally:
    """Read mutated settings files."""
    draw, tally = Random(seed), Tally()
    for _ in range(tries):
        text = changed_toml(draw, SETTINGS).decode("utf-8", "replace")
        attempt(tally, lambda text=text: _settings(text), lambda text=text: repr(text[:300]))  # type: ignore[misc]
    return tally


def _settings(text: str) -> str:
    try:
        shop = parse_settings(text, "settings.toml")
    except SettingsError as error:
        return "" if error.problems else "refused without a word"
    looked = looked_at_in(shop)
    return looked or trouble(f"{shop.by or ''}{shop.figures}{shop.limits}")


def looked_at_in(shop: Any) -> str:
    """The page before a run of a shipped recipe in this shop."""
    from benchtimer.check_list import make_page, render_page
    from benchtimer.recipe.places import put

    recipe = parse_recipe(RECIPES[-1].encode(), name="x", default_id="x")
    return trouble(render_page(make_page(put({"x": recipe}).recipes, shop)))


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` recipes, a twentieth of it settings and exports, a fortieth of it backups."""
    recipes, taken, grown_mb = try_recipes(tries, seed)
    found = "no crash, no hang beyond a second, every refusal in words"
    return [
        recipes.row(
            "recipes with bytes, lines, values or structure changed "
            f"({taken:,} were still recipes)",
            f"{found}, nothing opened or run; what was let in was shown, laid out and worked with, "
            f"and put nothing harmful on the screen; memory grew by {max(0.0, grown_mb):.0f} MB",
        ),
        try_settings(max(1, tries // 20), seed + 1).row("settings files changed likewise", found),
        logs.try_exports(max(1, tries // 20), seed + 2).row(
            "exported runs changed likewise, and imported",
            f"{found}; what was let in has a record in all forms, and the bench opens",
        ),
        logs.try_backups(max(1, tries // 40), seed + 3).row(
            "backups with bytes, pages, rows or layout changed, and restored",
            f"{found}; refused, the log is as it was; let in, the bench opens and can be worked at",
        ),
    ]
