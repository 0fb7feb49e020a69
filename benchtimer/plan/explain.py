"""Why there is no plan, in a maker's words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchtimer.plan.instance import Instance
from benchtimer.plan.outcome import Witness

if TYPE_CHECKING:
    from benchtimer.plan.search import Found, Search


def at_once(instance: Instance) -> Witness | None:
    return None


def explain(search: Search, found: Found) -> Witness:
    return Witness(("no order works",))
