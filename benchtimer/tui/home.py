"""The page before any run: what is on the bench, what was, and what recipes there are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from benchtimer.bench import Driver
from benchtimer.orders import new_run
from benchtimer.recipe.problems import RecipeError, printable
from benchtimer.records.inert import visible
from benchtimer.records.record import local_time
from benchtimer.run.refusals import Refused
from benchtimer.store.log import StoreError
from benchtimer.tui.dialogs import ChoicePage, LinePage, ask_in_turn

if TYPE_CHECKING:
    from benchtimer.tui.app import BenchApp


class HomeScreen(Screen[None]):
    """Shown when no run is on the bench."""

    BINDINGS = [
        Binding("space,enter,a", "new", show=False),
        Binding("q,escape", "leave", show=False),
    ]

    @property
    def _bench_app(self) -> BenchApp:
        return self.app  # type: ignore[return-value]

    def compose(self) -> ComposeResult:
        """The bench, empty."""
        yield Static(" ".join(["benchtimer", *self._bench_app.marks]), markup=False, id="header")
        yield Static(self._first_line(), markup=False, id="next")
        yield VerticalScroll(
            Static("\n".join(self._lines()), markup=False), id="lanes", can_focus=False
        )
        yield Static("", markup=False, id="message")
        yield Static("SPACE new run   Q leave", markup=False, id="keys")

    def _first_line(self) -> str:
        if self._bench_app.bench.read_only:
            return "Nothing runs on this bench."
        return "The bench is empty. SPACE lays out a run."

    def _lines(self) -> list[str]:
        lines = ["Recipes on the shelf", ""]
        lines += [f"  {printable(name)}" for name in self._bench_app.shelf.paths()]
        runs = self._bench_app.bench.recent()
        lines += ["", "Runs", ""] if runs else []
        for run in runs:
            day = local_time(run.created_ms, run.offset_s)[:16].replace("T", " ")
            told = f"  {run.name}  {day}  {run.phase}  {', '.join(run.parts)}"
            lines.append(visible(told, keep=""))
        return lines

    def action_new(self) -> None:
        """Choose a recipe, then name the parts."""
        if self._bench_app.bench.read_only:
            return
        names = list(self._bench_app.shelf.paths())
        self.app.push_screen(
            ChoicePage("Which recipe?", [printable(name) for name in names]),
            lambda i: self._name_parts(names[i]) if i is not None else None,
        )

    def _name_parts(self, recipe: str) -> None:
        self.app.push_screen(
            LinePage("Which parts? Names with commas between them"),
            lambda text: self._lay_out(recipe, text) if text else None,
        )

    def _lay_out(self, recipe: str, text: str) -> None:
        """Ask what the recipe must know of each part, then lay the run out."""
        parts = [part.strip() for part in text.split(",") if part.strip()]
        try:
            asks = [ask for part in parts for ask in self._asks(recipe, part)]
        except RecipeError as error:
            self._complain(error)
            return
        ask_in_turn(self.app, asks, lambda told: self._lay_out_with(recipe, parts, told))

    def _asks(self, recipe: str, text: str) -> list[tuple[str, str]]:
        """What the recipe of a part, its own or the run's, must know of it."""
        name, _, own = text.partition("=")
        known = self._bench_app.shelf.find(own or recipe).property
        return [(f"{name}.{p.id}", f"{name}: {p.ask}") for p in known]

    def _lay_out_with(self, recipe: str, parts: list[str], told: dict[str, str]) -> None:
        bench = self._bench_app.bench
        about = [f"{key}={value}" for key, value in told.items()]
        try:
            new = new_run(
                self._bench_app.shelf, recipe, parts, hands=self._bench_app.hands, about=about
            )
            if isinstance(bench, Driver):
                self._bench_app.show_run(bench.lay_out(new))
        except (RecipeError, Refused, StoreError) as error:
            self._complain(error)

    def _complain(self, error: Exception) -> None:
        self.query_one("#message", Static).update(str(error))

    def action_leave(self) -> None:
        """Leave."""
        self.app.exit()
