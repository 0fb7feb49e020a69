"""Cold commands against the bare interpreter: ``python -m tests.benchmarks.commands``."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import partial

from benchtimer.recipe.recipe_files import RecipeFiles
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, alternate
from tests.benchmarks.program import whole_s

PYTHON = sys.executable
OTHERS = {
    "python -c pass": (PYTHON, "-c", "pass"),
    "importing Textual": (PYTHON, "-c", "import textual.app"),
    "importing pydantic": (PYTHON, "-c", "import pydantic.main"),
}


def measure(asked: Asked) -> Iterator[Figure]:
    """Whole processes of commands that need no bench."""
    recipe = str(RecipeFiles().paths()["hot-black"])
    for name, arguments, beside in (
        ("--help", ["--help"], ("python -c pass", "importing Textual")),
        (
            "validate",
            ["validate", recipe],
            ("python -c pass", "importing Textual", "importing pydantic"),
        ),
    ):
        ours = (PYTHON, "-m", "benchtimer", *arguments)
        for other in beside:
            pairs = alternate(
                asked.rounds(11), partial(_whole_ms, ours), partial(_whole_ms, OTHERS[other])
            )
            yield Figure(f"benchtimer {name}, a whole process", other, pairs, "ms")


def _whole_ms(command: tuple[str, ...]) -> float:
    return 1000 * whole_s(command)


if __name__ == "__main__":
    sys.exit(alone(__file__))
