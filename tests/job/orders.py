"""An order for a petty knife, for tests of jobs."""

from __future__ import annotations

from datetime import date

from benchtimer.job.job_decide import Around
from benchtimer.job.order import Order, OrderPart
from benchtimer.recipe.recipe_files import RecipeFiles

RECIPES = tuple(RecipeFiles().paths())
TODAY = date(2026, 11, 27)
AROUND = Around(TODAY, RECIPES)

FITTINGS = ("bolster", "ferrule", "butt cap")


def petty_knife(due: date = date(2026, 12, 11)) -> Order:
    """A blade, three fittings, and the assembly that needs all of them."""
    return Order(
        due,
        (
            OrderPart("blade", ("temper-cycles", "etch-darken", "hot-wax")),
            *(OrderPart(name, ("fittings-polish", "hot-black")) for name in FITTINGS),
            OrderPart("knife", ("edge-and-assembly",), ("blade", *FITTINGS)),
        ),
    )
