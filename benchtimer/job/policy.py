"""What to work on next: earliest latest start, looking ahead at pulls. Plan and trials follow it.

With free hands: first a part that is due to be pulled, earliest deadline first. Otherwise, of all
parts at rest that are ready, have what they need, would start safely, leave the hands free before
any pull is late, and have a free slot in every place that can be full: the one with the earliest
latest start. Cold places are turned on and waited for. Otherwise wait for the next pull or safe
start.

Not modeled: walking, and a full place after a send-back.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from math import inf

from benchtimer.job.chain import LONG_S, NEVER, STOP, Chain, SendingCheck, Soak
from benchtimer.job.places import Places
from benchtimer.job.shop_work import OUT, REST, SOAK, WAITS, Act, Heating, Played, ShopWork
from benchtimer.job.starts import plain_send
from benchtimer.job.worktime import EARLY_S, OVER_S, SLOT_S, WorkTime

LATE_S = 600
"""How late other work can make a pull, if its max allows."""

MISSED_S = 1200
"""A part this long past its max goes through the section again."""

PUT_DOWN_S = 300
"""Time to dry and oil a part that can't be hung tonight."""

MOST_TURNS = 100_000
"""A simulation with more turns than this is stuck in a loop."""


class Draws:
    """The random outcomes.

    This class has none: it uses the recipe's times and the sends it expects.
    """

    def __init__(self) -> None:
        self._made: dict[int, dict[str, int]] = {}

    def hands(self, piece: int, index: int, visit: int) -> float:
        """The factor on the hands-on time of a step.

        Args:
            piece: the number of the piece.
            index: the step, counted from 0.
            visit: how many times it has been here.
        """
        del piece, index, visit
        return 1.0

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The check and the answer that send a part, by number; None if it continues.

        Args:
            piece: the number of the piece.
            chain: its chain of recipes.
            index: the step, counted from 0.
            visit: how many times it has been here.
        """
        del visit
        made = self._made.setdefault(piece, {})
        before = dict(made)
        to = plain_send(chain, index, made)
        if to is None:
            return None
        for c, look in enumerate(chain.links[index].looks):
            for a, answer in enumerate(look.answers):
                if made.get(answer.key, 0) > before.get(answer.key, 0):
                    return c, a
        return None


def play(
    shop: ShopWork,
    draws: Draws,
    *,
    worked: WorkTime | None = None,
    from_s: float = 0,
    until_s: float = inf,
    acts: bool = False,
) -> Played:
    """Work by the policy until everything is done.

    Args:
        shop: the work to do.
        draws: the random outcomes.
        worked: the hours actually worked, if they differ from the planned ones.
        from_s: nothing begins before this.
        until_s: stop here.
        acts: record the work done.
    """
    return Play(shop, draws, worked or shop.hours, acts=acts).run(from_s, until_s)


class Play:
    """One simulation; its lists are indexed by piece number."""

    new_blanks = True
    """Whether a new blank starts the chain over after a recipe stops a part."""

    def __init__(self, shop: ShopWork, draws: Draws, worked: WorkTime, *, acts: bool) -> None:
        self.shop, self.draws, self.worked, self.keeps = shop, draws, worked, acts
        pieces = shop.pieces
        count = len(pieces)
        self.slots = shop.hours.slots
        self.chains = [shop.chains[piece.chain] for piece in pieces]
        self.sections = [shop.sections[piece.chain] for piece in pieces]
        self.turns = shop.turns
        self.needs = [piece.needs for piece in pieces]
        self.where = [piece.standing.where for piece in pieces]
        self.step = [piece.standing.step for piece in pieces]
        self.ready = [piece.standing.since_s for piece in pieces]
        self.pull = [NEVER] * count
        self.limit = [NEVER] * count
        self.failed = [False] * count
        self.until: list[tuple[float, float] | None] = [None] * count
        self.visits: list[dict[int, int]] = [{} for _ in pieces]
        self.sent: list[dict[str, int]] = [{} for _ in pieces]
        self.clocks: list[dict[str, float]] = [{} for _ in pieces]
        self.places = Places(shop)
        self.heated = [shop.heated[piece.chain] for piece in pieces]
        self.filled = [shop.filled[piece.chain] for piece in pieces]
        self.wait = NEVER
        self.acted = False
        """Whether the last turn changed anything."""
        self.todo: list[int] = []
        """The pieces that are not done; ``lacks`` says whether each waits for others."""
        self.played = Played([NEVER] * count)
        self.in_hand = [k for k in range(count) if pieces[k].standing.in_hand]
        for k, piece in enumerate(pieces):
            if piece.standing.where == OUT:
                self.played.ends[k] = piece.standing.since_s
            elif (soak := self._soak(k)) is not None:
                self._find_in_soak(k, soak, piece.standing.since_s)
            elif not piece.standing.in_hand:
                self.limit[k] = self._rest_ends(k)
        self.todo = [k for k in range(count) if self.where[k] != OUT]
        self.lacks = [not self._has_needs(k) for k in range(count)]

    def _rest_ends(self, k: int) -> float:
        """How long a part at rest can rest; ``NEVER`` for as long as you like."""
        waits_s = self.chains[k].links[self.step[k]].waits_s
        return self.ready[k] + waits_s if 0 < waits_s < NEVER else NEVER

    def _soak(self, k: int) -> Soak | None:
        """The dwell with a max that a part is in."""
        return self.chains[k].links[self.step[k]].soak if self.where[k] == SOAK else None

    def _find_in_soak(self, k: int, soak: Soak, since_s: float) -> None:
        """A part that is in a dwell with a max at the start."""
        pull_s = self.shop.hours.pull_or_stay_s(since_s, soak)
        self.pull[k] = max(0, pull_s) if pull_s != NEVER else max(0.0, since_s + soak.target_s)
        self.limit[k] = max(since_s + soak.max_s, 0)
        self.places.take(k, soak.place)

    def run(self, from_s: float, until_s: float) -> Played:
        """Work until everything is done, or until ``until_s``; nothing begins before ``from_s``."""
        opens, closes = self.worked.opens, self.worked.closes
        span, count = max(0, self.worked.span(from_s)), len(opens)
        free = [from_s] * self.shop.hands  # the next moment of each part
        idle: set[int] = set()
        for _ in range(MOST_TURNS):
            time = min(free)
            one = free.index(time)
            if span < count and time >= closes[span]:
                k = self._kept_for(time, opens[span + 1] if span + 1 < count else NEVER)
                if k >= 0:  # a short dwell that can't wait: the maker stays
                    free[one] = self._lift(k, max(time, self.pull[k]))
                    continue
                while span < count and time >= closes[span]:
                    span += 1
                self.places.hot.clear()
            if span == count or time >= until_s:
                break
            time = max(time, opens[span])
            self.acted = False
            after = self._turn(time)
            if after == NEVER:
                if not self.todo:
                    break
                after = closes[span]
            free[one] = after
            if not self.acted:
                idle.add(one)
            elif idle:  # waiting parts check again
                for other in idle - {one}:
                    free[other] = time
                idle.clear()
        return self.played

    def _kept_for(self, time: float, opens_s: float) -> int:
        """The part that the maker stays for after closing; -1 if there is none."""
        found, first = -1, NEVER
        for k in self.todo:
            if self.where[k] != SOAK:
                continue
            if self.limit[k] < opens_s and self.pull[k] <= time + LONG_S:
                soak = self.chains[k].links[self.step[k]].soak
                soon = self.pull[k] <= time + OVER_S or (soak is not None and soak.max_s <= LONG_S)
                if soak is not None and soon and self.pull[k] < first:
                    found, first = k, self.pull[k]
        return found

    def _turn(self, time: float) -> float:
        """Do the next thing.

        Returns when these hands are free again, or when there is something to do.
        """
        if self.in_hand:
            k = self.in_hand.pop()
            return self._move(k, self.step[k], time, pulled=False)
        due: list[int] = []
        at_rest: list[tuple[int, float, int]] = []
        room, wait = NEVER, NEVER
        where, pulls, limits = self.where, self.pull, self.limit
        steps, turns = self.step, self.turns
        for k in self.todo:
            if where[k] == SOAK:
                pull = pulls[k]
                if pull <= time:
                    due.append(k)
                    continue
                if pull < wait:
                    wait = pull
                if pull < room:  # the pull can be late, but the room never ends before it
                    room = min(room, max(pull, min(limits[k], pull + LATE_S)))
            elif limits[k] == NEVER:
                if not (self.lacks[k] and steps[k] == 0):
                    at_rest.append(turns[k][steps[k]])
            else:
                known = self.until[k]
                if known is None:
                    known = self.until[k] = self._last_starts(k)
                last_s, sure_s = known
                if last_s < time:  # it can't continue in time: back to its rest
                    return self._give_up(k, self.step[k], time)
                at_rest.append((WAITS, sure_s, k))
        if due and (k := self._first_due(due, wait, time)) >= 0:
            return self._lift(k, time)
        at_rest.sort()
        soft = [(sure_s, k) for kind, sure_s, k in at_rest if kind == WAITS]
        self.wait = wait
        for kind, _, k in at_rest:
            if self.ready[k] > time:
                self.wait = min(self.wait, self.ready[k])
            elif self._can_start(k, time, room) and (
                kind == WAITS or self._leaves_time(k, soft, time)
            ):
                return self._start(k, time)
        wait = min(self.wait, soft[0][0] + SLOT_S) if soft else self.wait
        return max(wait, time + 1) if wait != NEVER else NEVER

    def _first_due(self, due: Sequence[int], wait: float, time: float) -> int:
        """The part to pull now, of those that are due; -1 to wait for the next pull."""
        del wait, time
        return min(due, key=lambda k: self.limit[k])

    def _can_start(self, k: int, time: float, room: float) -> bool:
        """Whether a part at rest can continue now; notes when it could, if it only needs time."""
        index = self.step[k]
        if time + self.chains[k].slow_s[index] > room:
            return False
        heated = self.heated[k].get(index)
        cold_s = self.places.heat_wait_s(heated, time) if heated else 0.0
        safe_s = self._safe_from(k, index, time + cold_s)
        if safe_s > time + cold_s:
            self.wait = min(self.wait, safe_s - cold_s)
            return False
        filled = self.filled[k].get(index)
        return not filled or self.places.have_room(k, filled)

    def _safe_from(self, k: int, index: int, time: float) -> float:
        """The first moment from ``time`` on at which a section starts safely."""
        section = self.sections[k].get(index)
        if section is None:
            return time
        slots = self.slots
        slot = max(0, bisect_right(slots, time) - 1)
        safe = section.next_safe[slot]
        if safe == slot:
            return time
        return slots[safe] if safe < len(slots) else NEVER

    def _leaves_time(self, k: int, soft: list[tuple[float, int]], time: float) -> bool:
        """Whether parts that can rest only for a while can continue in time after one that begins.

        That part delays them by all the work it needs before it can rest as long as you like, and
        its own start must be safe after the work that parts in short dwells and short rests need.
        """
        at = time + self.chains[k].left_s[self.step[k]]
        ahead_s = 0.0
        for last_s, other in soft:
            if at + ahead_s > last_s:
                return False
            ahead_s += self.chains[other].left_s[self.step[other]]
        for other in self.todo:
            if self.where[other] == SOAK and self.pull[other] < time + LONG_S:
                chain = self.chains[other]
                ahead_s += chain.left_s[min(self.step[other] + 1, len(chain.links) - 1)]
        return self._safe_from(k, self.step[k], time + ahead_s) == time + ahead_s

    def _last_starts(self, k: int) -> tuple[float, float]:
        """The last safe start of a part that can rest only for a while, and the last sure one."""
        section = self.sections[k].get(self.step[k])
        if section is None:
            return NEVER, NEVER
        slots, limit = self.slots, self.limit[k]
        slot = section.last_safe[max(0, bisect_right(slots, limit) - 1)]
        if slot < 0:
            return -NEVER, -NEVER
        last_s = float(slots[slot] + SLOT_S)
        sure = section.last_sure[max(0, bisect_right(slots, min(last_s, limit)) - 1)]
        return last_s, min(last_s, slots[sure] + SLOT_S) if sure >= 0 else last_s

    def _start(self, k: int, time: float) -> float:
        index = self.step[k]
        if heated := self.heated[k].get(index):
            cold_s = self.places.heat_wait_s(heated, time)
            was_hot = list(self.places.hot) if self.keeps else ()
            switched = self.places.switch_on(heated, time)
            if self.keeps:
                heats = [Heating(time, place, place in was_hot) for place in switched]
                self.played.heats += heats
            if cold_s > 1:
                self.acted = True
                self.ready[k] = time + cold_s
                return time
        for place in self.filled[k].get(index, ()):
            self.places.take(k, place)
        if self.limit[k] == NEVER:
            self.failed[k] = False
        return self._move(k, index, time, pulled=False)

    def _lift(self, k: int, time: float) -> float:
        index, chain = self.step[k], self.chains[k]
        soak = chain.links[index].soak
        if soak is not None:
            self.places.leave(k, soak.place)
        if time > self.limit[k] + MISSED_S:
            self.played.missed += 1
            return self._put_back(k, index, time)
        return self._move(k, index + 1, time, pulled=True)

    def _give_up(self, k: int, index: int, time: float) -> float:
        """Set aside a part that can't continue within any hours."""
        if self.failed[k]:
            self.played.failed_late += 1
        else:
            self.played.given_up += 1
        return self._put_back(k, index, time)

    def _put_back(self, k: int, index: int, time: float) -> float:
        """Dry and oil a part that can't continue: it starts over where it can rest as long as you
        like.
        """
        self.acted = True
        self._put_down(k, self.chains[k].home[index], time + PUT_DOWN_S)
        return time + PUT_DOWN_S

    def _put_down(self, k: int, index: int, ready_s: float) -> None:
        self.where[k], self.step[k], self.ready[k], self.until[k] = REST, index, ready_s, None
        self.limit[k] = self._rest_ends(k)
        if self.limit[k] == NEVER:
            self.places.leave(k)

    def _end(self, k: int, time: float) -> None:
        """A part is done. A second blank gets no more work once the first one is done."""
        self.played.ends[k] = time
        rivals = {n for needs in self.needs for some in needs if k in some for n in some}
        for other in {k, *rivals} & {*self.todo}:
            self.where[other] = OUT
            self.todo.remove(other)
            self.places.leave(other)
        self.lacks = [not self._has_needs(n) for n in range(len(self.needs))]

    def _has_needs(self, k: int) -> bool:
        ends = self.played.ends
        return all(any(ends[n] != NEVER for n in some) for some in self.needs[k])

    def _move(self, k: int, first: int, start: float, *, pulled: bool) -> float:
        """Work from a step to the next dwell, rest or end. Returns when the hands are free."""
        self.acted = True
        chain, visits, time, index = self.chains[k], self.visits[k], start, first
        hands = self.draws.hands
        while True:
            link = chain.links[index]
            visit = visits[index] = visits.get(index, 0) + 1
            time += link.hands_s * hands(k, index, visit)
            to = None
            if link.looks:
                sent = self.draws.sent(k, chain, index, visit)
                if sent is not None or self.clocks[k]:
                    to = self._looked(k, index, sent, time)
            if to is not None:
                if to == STOP:
                    self.played.blanks += 1
                    if not self.new_blanks:
                        self._end(k, time)
                        break
                    to = chain.starts[0]
                if chain.links[to].begins_at_rest:
                    self._put_down(k, to, time)
                    break
                index = to
                continue
            if link.soak is not None:
                pull = self._pull_s(k, link.soak, time)
                if pull == NEVER:
                    time = self._give_up(k, index, time)
                    break
                self.where[k], self.step[k] = SOAK, index
                self.pull[k], self.limit[k] = pull, time + link.soak.max_s
                self.places.take(k, link.soak.place)
                break
            if index + 1 == len(chain.links):
                self._end(k, time + (link.rest_s or 0))
                break
            if link.rest_s is not None or link.ends_recipe:
                self._put_down(k, index + 1, time + (link.rest_s or 0))
                break
            index += 1
        self.played.hands_s += time - start
        if self.keeps:
            next_s = self.pull[k] if self.where[k] == SOAK else NEVER
            self.played.acts.append(Act(start, time, k, first, index, pulled, next_s))
        return time

    def _pull_s(self, k: int, soak: Soak, time: float) -> float:
        """When a part that goes into a dwell now is pulled; ``NEVER`` if no hours allow it.

        It leaves a long soak before its target if the work that follows, together with other parts
        pulled by then, would not fit before closing.
        """
        hours = self.shop.hours
        pull_s = hours.pull_or_stay_s(time, soak)
        if soak.target_s <= LONG_S or pull_s == NEVER:
            return pull_s
        close_s = hours.closes[hours.span(pull_s)]
        beside_s = 0
        for other in self.todo:
            if self.where[other] == SOAK and other != k and self.pull[other] <= close_s:
                theirs = self.chains[other].links[self.step[other]].soak
                if theirs is not None and self.pull[other] + theirs.need_s > pull_s:
                    beside_s += theirs.need_s
        early_s = close_s - soak.need_s - beside_s - EARLY_S
        return max(min(pull_s, early_s), min(pull_s, time + soak.min_s)) if beside_s else pull_s

    def _looked(self, k: int, index: int, sent: tuple[int, int] | None, time: float) -> int | None:
        """Where a part goes if the answers to its checks send it."""
        looks = self.chains[k].links[index].looks
        to = None
        if sent is not None:
            look = looks[sent[0]]
            answer = look.answers[sent[1]]
            count = self.sent[k].get(answer.key, 0)
            if count < answer.limit:
                self.sent[k][answer.key] = count + 1
                self.failed[k] = True
                if answer.far:
                    self.clocks[k].setdefault(look.key, time)
                to, looks = answer.to, looks[: sent[0]]
        self._stop_clocks(k, looks, time)
        return to

    def _stop_clocks(self, k: int, passed: Sequence[SendingCheck], time: float) -> None:
        clocks = self.clocks[k]
        for look in passed:
            since = clocks.pop(look.key, None)
            if since is not None:
                losses = self.played.losses
                losses[k, look.key] = losses.get((k, look.key), 0.0) + time - since
