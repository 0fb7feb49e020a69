"""When a search stops: by a clock, by a stop function, or by work done."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from benchtimer.values import dataclass, field


@dataclass(slots=True)
class SearchLimits:
    """When to stop: by a monotonic clock, by a stop function, or by nodes.

    A node is a conflict, a search by decisions or a part placed.
    """

    seconds: float = inf
    clock: Callable[[], float] = lambda: 0.0
    stop: Callable[[], bool] = lambda: False
    nodes: float = inf
    spent_nodes: int = 0
    outer: SearchLimits | None = None
    started: float = field(init=False)

    def __post_init__(self) -> None:
        self.started = self.clock()

    @property
    def elapsed_s(self) -> float:
        """Seconds since these limits were made."""
        return self.clock() - self.started

    @property
    def left_s(self) -> float:
        """Seconds left."""
        return max(0.0, self.seconds - self.elapsed_s)

    def spend(self) -> None:
        """Count one node."""
        self.spent_nodes += 1
        if self.outer is not None:
            self.outer.spend()

    def over(self) -> bool:
        """Whether to stop now."""
        if self.spent_nodes >= self.nodes or self.elapsed_s >= self.seconds or self.stop():
            return True
        return self.outer is not None and self.outer.over()

    def within(self, share: float = 1.0, nodes: float = inf, seconds: float = inf) -> SearchLimits:
        """Limits for a share of what is left; what they use counts here, too.

        Args:
            share: of the seconds and nodes left.
            nodes: the most nodes.
            seconds: the most seconds.
        """
        left = (self.nodes - self.spent_nodes) * share
        return SearchLimits(
            min(seconds, self.left_s * share), self.clock, self.stop, min(nodes, left), 0, self
        )
