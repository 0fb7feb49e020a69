"""Sets up a run for parts of jobs from a page, with a question for what a recipe must know."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.orders import new_run, short_names
from benchtimer.run.refusals import PropertyMissing
from benchtimer.tui.row_page import RowPage


def set_up_parts(
    page: RowPage, recipe: str, identities: Sequence[str], about: Sequence[str] = ()
) -> None:
    """Set up a run with parts of jobs and show it; first ask what the recipe must know.

    Args:
        page: the page that asks.
        recipe: the recipe for all of them.
        identities: the parts, as ``JOB/PART``.
        about: what is already known about them, as ``PART.PROPERTY=VALUE``.
    """
    settings = page.bench_app.settings

    def set_up() -> str:
        new = new_run(
            page.bench_app.recipe_files,
            recipe,
            list(identities),
            hands=settings.hands,
            about=about,
            away=[str(hours) for hours in settings.away],
        )
        return page.bench.set_up(new)

    try:
        name = page.attempt_but(set_up, PropertyMissing)
    except PropertyMissing as missing:
        longer = {short: long for long, short in short_names(list(identities)).items()}
        prop = f"{longer.get(missing.part, missing.part)}.{missing.name}"

        def answered(text: str) -> None:
            set_up_parts(page, recipe, identities, [*about, f"{prop}={text}"])

        page.ask(f"{missing.part}: {missing.ask}", answered)
        return
    if name is not None:
        page.bench_app.show_run(name)
