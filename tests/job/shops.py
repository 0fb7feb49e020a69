"""Shops for tests of the jobs' policy: small recipes, hours, and jobs not yet begun."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from functools import cache

from benchtimer.job.job_progress import progress_of
from benchtimer.job.job_state import Job
from benchtimer.job.order import Order, OrderPart
from benchtimer.job.workload import PlanMoment, UnfinishedJob, Workload
from benchtimer.job.workload_builder import workload_of
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.shop.hours import parse_week
from tests.job.orders import petty_knife

EVENINGS = "Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00"
FRIDAY = datetime(2026, 11, 27, 18, 30, tzinfo=UTC)


@cache
def shelf() -> dict[str, Recipe]:
    """The recipes that come with the program."""
    found = RecipeFiles()
    return {name: found.find(name) for name in found.paths()}


def shop_of(
    jobs: Mapping[str, Order],
    *,
    hours: str = EVENINGS,
    recipes: Mapping[str, Recipe] | None = None,
    start: datetime = FRIDAY,
    learned: Learned = NOTHING,
) -> Workload:
    """A shop with these jobs, none of them begun.

    Args:
        jobs: the orders by name.
        hours: when you work.
        recipes: the recipes in use.
        start: now.
        learned: your own times and rates.
    """
    opened = [Job(name, 0, order) for name, order in jobs.items()]
    result = [UnfinishedJob(job, progress_of(job, [])) for job in opened]
    moment = PlanMoment(round(start.timestamp()), 0, UTC)
    known = shelf() if recipes is None else recipes
    return workload_of(result, [], known, parse_week(hours), moment, learned=learned)


@cache
def knives(count: int, due: date = date(2026, 12, 11)) -> Workload:
    """A shop with several petty knives to make."""
    return shop_of({f"knife {n + 1}": petty_knife(due) for n in range(count)})


def hands_only(name: str, hands: str = "60 s") -> Recipe:
    """A recipe of one step without a dwell."""
    text = (
        f'schema = 1\ntitle = "{name}"\n[[step]]\nid = "work"\ntitle = "Work"\nhands = "{hands}"\n'
    )
    return parse_recipe(text.encode(), name=f"{name}.toml", default_id=name)


def order_of(due: date, parts: Sequence[tuple[str, str, tuple[str, ...]]]) -> Order:
    """An order of parts with one recipe each: name, recipe, needs."""
    return Order(due, tuple(OrderPart(name, (recipe,), needs) for name, recipe, needs in parts))
