"""What a screen may ask of the application, and the way from one screen to another.

Screens know this page only, never each other's classes or the application's: it is the
application (``app``) that knows which screen is at the end of each way.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from textual.app import App

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.shown import Shown
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.settings import Settings
from benchtimer.tui.front import FrontPage
from benchtimer.view.alarm import Bell, Call

if TYPE_CHECKING:
    from benchtimer.bench.joblook import JobLook
    from benchtimer.view.draft import Draft


class Passages(App[None]):
    """The application as its screens know it.

    Attributes:
        bench: the bench that is worked at, or looked at.
        recipe_files: where new runs find their recipes.
        settings: what is known of the shop.
        plain: whether lanes are drawn with ASCII only.
        caller: decides when the bench calls; one for all boards, so that a silence holds.
    """

    bench: Shown
    recipe_files: RecipeFiles
    settings: Settings
    plain: bool
    caller: Bell

    def push_screen(
        self, screen: Any, callback: Callable[[Any], Any] | None = None, *args: Any, **more: Any
    ) -> Any:
        """Show a page in front. Its answer is dropped if the page that asked has gone by then."""
        asked_by = self.screen_stack[-1:]

        def answered(result: Any) -> Any:
            there = all(page in self.screen_stack for page in asked_by)
            return callback(result) if callback is not None and there else None

        return super().push_screen(screen, callback and answered, *args, **more)

    @property
    @abstractmethod
    def marks(self) -> list[str]:
        """Words for the first line that must not be overlooked."""

    @abstractmethod
    def due_words(self) -> list[str]:
        """What is due on the bench now, for pages that don't show it: hands are wanted there."""

    @abstractmethod
    def calling_words(self) -> str:
        """What must stay in sight in front of every page: what isn't saved, and what calls."""

    @abstractmethod
    def ring(self, call: Call) -> None:
        """Sound an alarm in every way there is."""

    @abstractmethod
    def try_alarm(self) -> None:
        """Sound an alarm that calls for nothing, and ask whether you heard it."""

    @abstractmethod
    def open_runs(self) -> list[str]:
        """The runs on the bench that are not over, oldest first."""

    @abstractmethod
    def show_run(self, name: str) -> None:
        """Show the board, with the next action of one run on it."""

    @abstractmethod
    def show_home(self) -> None:
        """What runs, what waits, what was; a board stays below it, and its alarms ring on."""

    @abstractmethod
    def go_back(self) -> None:
        """Close the page in front, if there is one behind it."""

    @abstractmethod
    def show_record(self, name: str) -> None:
        """The record of a run, in front of the page that asked for it.

        Raises:
            StoreError: it can't be read.
        """

    @abstractmethod
    def show_end(self, run: str) -> None:
        """A run is over: its record, over the board, where the last press can be taken back."""

    @abstractmethod
    def show_runs(self) -> None:
        """Every run there was."""

    @abstractmethod
    def show_job(self, name: str) -> None:
        """One job: how far it is, and will it be ready."""

    @abstractmethod
    def job_look(self) -> JobLook:
        """A look at the jobs now."""

    @abstractmethod
    def show_preparation(self, name: str) -> None:
        """What to lay out, mix and heat for a run on the bench, to be ticked."""

    @abstractmethod
    def show_first_aid(self) -> None:
        """First aid for what is open now, in front of every page."""

    @abstractmethod
    def plan_run(self, recipe: str | None = None) -> None:
        """The plan of a new run; the one that was left is taken up again."""

    @abstractmethod
    def plan_again(self, new: NewRun) -> None:
        """The plan of an earlier run that is set up once more."""

    @abstractmethod
    def keep_draft(self, draft: Draft | None) -> None:
        """Keep a plan that is left, to be taken up again; None: it was set up."""

    @property
    @abstractmethod
    def kept_draft(self) -> Draft | None:
        """The plan that was left; None if there is none."""

    @abstractmethod
    def follow_watcher(self) -> None:
        """Looking on: when the run on the board ends or a new one begins, show what runs now."""

    @abstractmethod
    def leave(self) -> None:
        """Leave; with parts at work, or presses that are not saved, only if Q is pressed twice."""


class BenchScreen(FrontPage[None]):
    """A screen of this application."""

    @property
    def house(self) -> Passages:
        """The application."""
        return self.app  # type: ignore[return-value]

    def action_first_aid(self) -> None:
        """First aid, in front of this screen."""
        self.house.show_first_aid()
