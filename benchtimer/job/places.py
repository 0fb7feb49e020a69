"""The places during a simulation: which are taken, and which are hot."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.job.shop_work import HeatNeed, ShopWork


class Places:
    """Where each piece is, and since when each heated place is hot.

    Attributes:
        users: for each place that can be full, how many parts have it.
        held: for each piece the places that it has, of those that can be full.
        hot: since when each place is hot, or when it will be.
    """

    def __init__(self, shop: ShopWork) -> None:
        self.fills = shop.fills
        self.users = dict.fromkeys(shop.fills, 0)
        self.held: list[list[str]] = [[] for _ in shop.pieces]
        self.hot = dict(shop.hot)

    def take(self, k: int, place: str) -> None:
        """A piece takes a place, if that place can be full and the piece doesn't have it yet."""
        if place in self.users and place not in self.held[k]:
            self.held[k].append(place)
            self.users[place] += 1

    def leave(self, k: int, place: str | None = None) -> None:
        """A piece gives up a place, or all its places."""
        held = self.held[k]
        for name in [place] if place is not None else list(held):
            if name in held:
                held.remove(name)
                self.users[name] -= 1

    def have_room(self, k: int, places: Sequence[str]) -> bool:
        """Whether a piece has each of these places, or could."""
        held = self.held[k]
        return all(place in held or self.users[place] < self.fills[place] for place in places)

    def heat_wait_s(self, needs: Sequence[HeatNeed], time: float) -> float:
        """How long a section has to wait for its places to be hot when it reaches them."""
        wait_s = 0.0
        for use, heat in needs:
            since = self.hot.get(use.place)
            if since is None:
                ready = time + heat.heat_up_s
            elif time + use.from_s > since + heat.after_s:
                ready = time + heat.again_s
            else:
                ready = since
            if ready - time - use.from_s > wait_s:
                wait_s = ready - time - use.from_s
        return wait_s

    def switch_on(self, needs: Sequence[HeatNeed], time: float) -> list[str]:
        """Heat the places of a section that are cold or need a make-up. Returns those places."""
        switched = []
        for use, heat in needs:
            since = self.hot.get(use.place)
            if since is None or time + use.from_s > since + heat.after_s:
                self.hot[use.place] = time + (heat.heat_up_s if since is None else heat.again_s)
                switched.append(use.place)
        return switched
