"""What to work on next: least latest start, looking ahead on pulls. Plan and trials follow it.

With free hands: first a part whose pull has come, least deadline first. Else, of all parts at
rest that are ready, have what they need, would start safely, leave the hands free before any
pull is late, and have a free slot in every place that can be full: the one whose latest start
is least. Cold places are switched on and waited for. Else wait for the next pull or safe start.

Not modeled: walking, and a full place after a send-back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf

from benchtimer.job.chain import LONG_S, NEVER, STOP, Chain, SendingCheck, Soak
from benchtimer.job.starts import SectionStarts, plain_send
from benchtimer.job.worktime import EARLY_S, OVER_S, SLOT_S, WorkTime

LATE_S = 600
"""A pull may come this late because of other work, if its max allows."""

MISSED_S = 1200
"""A part that is this long past its max goes through the section again."""

PUT_DOWN_S = 300
"""Time to dry and oil a part that can't be hung tonight."""

REST, SOAK, OUT = 0, 1, 2
"""Where a part is: at rest before a step, in a dwell with a max, done."""

MOST_TURNS = 100_000
"""A play with more turns than this goes in a circle."""


@dataclass(frozen=True, slots=True)
class HeatTimes:
    """What a heated place needs, in seconds.

    Attributes:
        after_s: time at heat after which it has to be made up, which takes ``again_s``.
    """

    heat_up_s: int
    after_s: float = inf
    again_s: int = 0


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a part is at the start.

    Attributes:
        where: ``REST``, ``SOAK`` or ``OUT``.
        step: the step it rests before, or the one whose dwell it is in.
        since_s: when it is ready at rest, or when it went into the dwell; before the start is
            below zero.
        in_hand: it is being worked on at that step now.
    """

    where: int = REST
    step: int = 0
    since_s: float = 0
    in_hand: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """One part of the shop, of a job or on the bench without one.

    Attributes:
        job: its job; empty without one.
        chain: number of its chain.
        needs: for each part it waits for, the numbers of the pieces of which one will do.
        latest: for each step that begins at rest the latest start that makes the due date.
    """

    name: str
    job: str
    chain: int
    standing: Standing = field(default_factory=Standing)
    needs: tuple[tuple[int, ...], ...] = ()
    latest: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ShopWork:
    """Everything there is to do, and the hours, seen from a moment that is second 0.

    Attributes:
        sections: what is known of the sections of each chain.
        fills: how many parts each place takes, of those that can be full.
        heats: the places that are heated.
        hot: places that are hot at the start, and since when.
        hands: how many people work.
    """

    hours: WorkTime
    chains: Sequence[Chain]
    sections: Sequence[Mapping[int, SectionStarts]]
    pieces: Sequence[Piece]
    fills: Mapping[str, int] = field(default_factory=dict)
    heats: Mapping[str, HeatTimes] = field(default_factory=dict)
    hot: Mapping[str, float] = field(default_factory=dict)
    hands: int = 1


class Draws:
    """What comes out by chance. This one knows none: the recipe's times, the sends it expects."""

    def __init__(self) -> None:
        self._made: dict[int, dict[str, int]] = {}

    def hands(self, piece: int, index: int, visit: int) -> float:
        """The factor on the hands-on time of a step."""
        del piece, index, visit
        return 1.0

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The check and the answer that send a part, by their numbers; None if it goes on."""
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


@dataclass(frozen=True, slots=True)
class Act:
    """One piece of work of a play.

    Attributes:
        first: the first step that is worked at, and ``last`` the last.
        pulled: the part came out of a dwell with a max.
        next_s: when it will be pulled, if it went into such a dwell.
    """

    start_s: float
    end_s: float
    piece: int
    first: int
    last: int
    pulled: bool
    next_s: float = NEVER


@dataclass(slots=True)
class Played:
    """What came of one play.

    Attributes:
        ends: when each piece was done; ``NEVER`` if it was not.
        hands_s: hands-on time in all.
        losses: time lost by far send-backs, by piece and check.
        acts: the work in its order, if asked for.
        heats: places switched on, and when, if asked for.
        missed: sections begun again because a pull was missed, and ``given_up`` starts that
            were put down because the pull would have fallen out of the hours.
        failed_late: parts put down because a check failed too late to go on in these hours.
        blanks: new blanks for parts that their recipe stopped.
    """

    ends: list[float]
    hands_s: float = 0
    losses: dict[tuple[int, str], float] = field(default_factory=dict)
    acts: list[Act] = field(default_factory=list)
    heats: list[tuple[float, str]] = field(default_factory=list)
    missed: int = 0
    given_up: int = 0
    failed_late: int = 0
    blanks: int = 0


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
        shop: what there is to do.
        draws: what comes out by chance.
        worked: the hours that are really worked, if they are others than those planned with.
        from_s: nothing is begun before.
        until_s: stop here.
        acts: keep what is done.
    """
    return Play(shop, draws, worked or shop.hours, acts=acts).run(from_s, until_s)


class Play:
    """One play under way; lists by the number of the piece."""

    new_blanks = True
    """Whether a new blank begins the chain of a part that its recipe stopped."""

    def __init__(self, shop: ShopWork, draws: Draws, worked: WorkTime, *, acts: bool) -> None:
        self.shop, self.draws, self.worked, self.keeps = shop, draws, worked, acts
        pieces = shop.pieces
        count = len(pieces)
        self.chains = [shop.chains[piece.chain] for piece in pieces]
        self.sections = [shop.sections[piece.chain] for piece in pieces]
        self.latest = [piece.latest for piece in pieces]
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
        self.held: list[list[str]] = [[] for _ in pieces]
        self.users = dict.fromkeys(shop.fills, 0)
        self.hot: dict[str, float] = dict(shop.hot)
        self.wait = NEVER
        self.acted = False
        """Whether the last turn changed anything."""
        self.played = Played([NEVER] * count)
        self.in_hand = [k for k in range(count) if pieces[k].standing.in_hand]
        for k, piece in enumerate(pieces):
            if piece.standing.where == OUT:
                self.played.ends[k] = piece.standing.since_s
            elif piece.standing.where == SOAK:
                self._find_in_soak(k, piece.standing.since_s)
            elif not piece.standing.in_hand:
                self.limit[k] = self._rest_ends(k)

    def _rest_ends(self, k: int) -> float:
        """Until when a part at rest can rest; ``NEVER`` for as long as you like."""
        waits_s = self.chains[k].links[self.step[k]].waits_s
        return self.ready[k] + waits_s if 0 < waits_s < NEVER else NEVER

    def _find_in_soak(self, k: int, since_s: float) -> None:
        """A part that is in a dwell with a max at the start."""
        soak = self.chains[k].links[self.step[k]].soak
        if soak is None:  # the last dwell of its recipe: it rests there
            self.where[k], self.step[k] = REST, self.step[k] + 1
            return
        pull_s = self.shop.hours.pull_or_stay_s(since_s, soak)
        self.pull[k] = max(0, pull_s) if pull_s != NEVER else max(0.0, since_s + soak.target_s)
        self.limit[k] = max(since_s + soak.max_s, 0)
        self._take(k, soak.place)

    def run(self, from_s: float, until_s: float) -> Played:
        """Work until everything is done, or until ``until_s``; nothing begins before ``from_s``."""
        opens, closes = self.worked.opens, self.worked.closes
        span, count = max(0, self.worked.span(from_s)), len(opens)
        free = [from_s] * self.shop.hands  # each one's next moment
        idle: set[int] = set()
        for _ in range(MOST_TURNS):
            time = min(free)
            one = free.index(time)
            if span < count and time >= closes[span]:
                k = self._kept_for(time, opens[span + 1] if span + 1 < count else NEVER)
                if k >= 0:  # a short dwell that can't wait: the maker stays on
                    free[one] = self._lift(k, max(time, self.pull[k]))
                    continue
                while span < count and time >= closes[span]:
                    span += 1
                self.hot.clear()
            if span == count or time >= until_s:
                break
            time = max(time, opens[span])
            self.acted = False
            after = self._turn(time)
            if after == NEVER:
                if all(where == OUT for where in self.where):
                    break
                after = closes[span]
            free[one] = after
            if self.acted:  # who waits looks again
                for other in idle - {one}:
                    free[other] = time
                idle.clear()
            else:
                idle.add(one)
        return self.played

    def _kept_for(self, time: float, opens_s: float) -> int:
        """The part that the maker stays on for after closing; -1 if there is none."""
        found, first = -1, NEVER
        for k, where in enumerate(self.where):
            if where == SOAK and self.limit[k] < opens_s and self.pull[k] <= time + LONG_S:
                soak = self.chains[k].links[self.step[k]].soak
                soon = self.pull[k] <= time + OVER_S or (soak is not None and soak.max_s <= LONG_S)
                if soak is not None and soon and self.pull[k] < first:
                    found, first = k, self.pull[k]
        return found

    def _turn(self, time: float) -> float:
        """Do the next thing; when these hands are free again, or when there is something to do."""
        if self.in_hand:
            k = self.in_hand.pop()
            return self._move(k, self.step[k], time, pulled=False)
        due: list[int] = []
        room, wait = NEVER, NEVER
        soft: list[tuple[float, int]] = []
        pulls, limits = self.pull, self.limit
        for k, where in enumerate(self.where):
            if where == REST and limits[k] != NEVER:
                last_s, sure_s = self._until(k)
                if last_s < time:  # it can't go on in time: from its rest again
                    return self._give_up(k, self.step[k], time)
                soft.append((sure_s, k))
            elif where == SOAK:
                pull, limit = pulls[k], limits[k]
                if pull <= time:
                    due.append(k)
                    continue
                if pull < wait:
                    wait = pull
                if limit > pull + LATE_S:
                    limit = pull + LATE_S
                elif limit < pull:
                    limit = pull
                if limit < room:
                    room = limit
        if due and (k := self._first_due(due, wait, time)) >= 0:
            return self._lift(k, time)
        self.wait = wait
        soft.sort()
        k = self._best_home(time, room, soft, scarce=True)
        if k < 0:
            k = next((k for _, k in soft if self._can_start(k, time, room)), -1)
        if k < 0:
            k = self._best_home(time, room, soft, scarce=False)
        if k >= 0:
            return self._start(k, time)
        wait = min(self.wait, soft[0][0] + SLOT_S) if soft else self.wait
        return max(wait, time + 1) if wait != NEVER else NEVER

    def _first_due(self, due: Sequence[int], wait: float, time: float) -> int:
        """Of the parts whose pull has come, the one to pull now; -1 to wait for the next pull."""
        del wait, time
        return min(due, key=lambda k: self.limit[k])

    def _best_home(
        self, time: float, room: float, soft: list[tuple[float, int]], *, scarce: bool
    ) -> int:
        """Of the parts that rest at will, the one to begin now; -1 if there is none.

        Args:
            time: now.
            room: when the hands must be free again.
            soft: parts that can only rest for a while, each behind its last start.
            scarce: look at sections that have few safe starts, or at the others.
        """
        best, least = -1, NEVER
        for k, where in enumerate(self.where):
            if where != REST or self.limit[k] != NEVER:
                continue
            section = self.sections[k].get(self.step[k])
            if (section is not None and section.scarce) != scarce:
                continue
            latest = self.latest[k].get(self.step[k], NEVER)
            if best >= 0 and latest >= least:
                continue
            if self._can_start(k, time, room) and self._leaves_time(k, soft, time):
                best, least = k, latest
        return best

    def _can_start(self, k: int, time: float, room: float) -> bool:
        """Whether a part at rest can go on now; notes when it could, if time is all it needs."""
        if not self._has_needs(k):
            return False
        ready = self.ready[k]
        if ready > time:
            self.wait = min(self.wait, ready)
            return False
        index, chain = self.step[k], self.chains[k]
        if time + chain.slow_s[index] > room:
            return False
        cold_s = self._heat_wait_s(chain, index, time) if chain.uses.get(index) else 0.0
        safe_s = self._safe_from(k, index, time + cold_s)
        if safe_s > time + cold_s:
            self.wait = min(self.wait, safe_s - cold_s)
            return False
        return not self.users or self._has_room(k, index)

    def _has_needs(self, k: int) -> bool:
        if self.step[k] or not self.needs[k]:
            return True
        ends = self.played.ends
        return all(any(ends[n] != NEVER for n in some) for some in self.needs[k])

    def _safe_from(self, k: int, index: int, time: float) -> float:
        """The first moment from ``time`` on at which a section starts safely."""
        section = self.sections[k].get(index)
        if section is None:
            return time
        slots = self.shop.hours.slots
        slot = max(0, self.shop.hours.slot(time))
        safe = section.next_safe[slot]
        if safe == slot:
            return time
        return slots[safe] if safe < len(slots) else NEVER

    def _has_room(self, k: int, index: int) -> bool:
        fills, users, held = self.shop.fills, self.users, self.held[k]
        return all(
            use.place in held or users[use.place] < fills[use.place]
            for use in self.chains[k].uses.get(index, ())
            if use.place in fills
        )

    def _leaves_time(self, k: int, soft: list[tuple[float, int]], time: float) -> bool:
        """Whether parts that can only rest for a while can go on in time behind one that begins.

        It delays them by all the work it needs before it can rest at will itself, and its own
        start must be safe behind the work that parts in short dwells and at such rests need.
        """
        at = time + self.chains[k].left_s[self.step[k]]
        ahead_s = 0.0
        for last_s, other in soft:
            if at + ahead_s > last_s:
                return False
            ahead_s += self.chains[other].left_s[self.step[other]]
        for other, where in enumerate(self.where):
            if where == SOAK and self.pull[other] < time + LONG_S:
                chain = self.chains[other]
                ahead_s += chain.left_s[min(self.step[other] + 1, len(chain.links) - 1)]
        return self._safe_from(k, self.step[k], time + ahead_s) == time + ahead_s

    def _until(self, k: int) -> tuple[float, float]:
        """The last safe start of a part that can only rest for a while, and the last sure one."""
        found = self.until[k]
        if found is None:
            found = self.until[k] = self._last_starts(k)
        return found

    def _last_starts(self, k: int) -> tuple[float, float]:
        section = self.sections[k].get(self.step[k])
        if section is None:
            return NEVER, NEVER
        hours, limit = self.shop.hours, self.limit[k]
        slot = section.last_safe[max(0, hours.slot(limit))]
        if slot < 0:
            return -NEVER, -NEVER
        last_s = float(hours.slots[slot] + SLOT_S)
        sure = section.last_sure[max(0, hours.slot(min(last_s, limit)))]
        return last_s, min(last_s, hours.slots[sure] + SLOT_S) if sure >= 0 else last_s

    def _heat_wait_s(self, chain: Chain, index: int, time: float) -> float:
        """How long the start has to wait until the places of its section are hot in time."""
        wait_s = 0.0
        for use in chain.uses.get(index, ()):
            heat = self.shop.heats.get(use.place)
            if heat is None:
                continue
            since = self.hot.get(use.place)
            if since is None:
                ready = time + heat.heat_up_s
            elif time + use.from_s > since + heat.after_s:
                ready = time + heat.again_s
            else:
                ready = since
            wait_s = max(wait_s, ready - time - use.from_s)
        return wait_s

    def _start(self, k: int, time: float) -> float:
        chain, index = self.chains[k], self.step[k]
        heat_s = self._heat_wait_s(chain, index, time) if chain.uses.get(index) else 0.0
        for use in chain.uses.get(index, ()):
            heat = self.shop.heats.get(use.place)
            if heat is not None:
                since = self.hot.get(use.place)
                if since is None or time + use.from_s > since + heat.after_s:
                    needs_s = heat.heat_up_s if since is None else heat.again_s
                    self.hot[use.place] = time + needs_s
                    if self.keeps:
                        self.played.heats.append((time, use.place))
        if heat_s > 1:
            self.acted = True
            self.ready[k] = time + heat_s
            return time
        for use in chain.uses.get(index, ()):
            self._take(k, use.place)
        if self.limit[k] == NEVER:
            self.failed[k] = False
        return self._move(k, index, time, pulled=False)

    def _take(self, k: int, place: str) -> None:
        if place in self.users and place not in self.held[k]:
            self.held[k].append(place)
            self.users[place] += 1

    def _leave(self, k: int, place: str | None = None) -> None:
        """Let go of a place, or of all that the section had."""
        for name in [place] if place is not None else list(self.held[k]):
            if name in self.held[k]:
                self.held[k].remove(name)
                self.users[name] -= 1

    def _lift(self, k: int, time: float) -> float:
        index, chain = self.step[k], self.chains[k]
        soak = chain.links[index].soak
        if soak is not None:
            self._leave(k, soak.place)
        if time > self.limit[k] + MISSED_S:
            self.played.missed += 1
            return self._put_back(k, index, time)
        return self._move(k, index + 1, time, pulled=True)

    def _give_up(self, k: int, index: int, time: float) -> float:
        """Put a part down that no hours let go on."""
        if self.failed[k]:
            self.played.failed_late += 1
        else:
            self.played.given_up += 1
        return self._put_back(k, index, time)

    def _put_back(self, k: int, index: int, time: float) -> float:
        """Dry and oil a part that can't go on: it begins again where it can rest at will."""
        self.acted = True
        self._put_down(k, self.chains[k].home[index], time + PUT_DOWN_S)
        return time + PUT_DOWN_S

    def _put_down(self, k: int, index: int, ready_s: float) -> None:
        self.where[k], self.step[k], self.ready[k], self.until[k] = REST, index, ready_s, None
        self.limit[k] = self._rest_ends(k)
        if self.limit[k] == NEVER:
            self._leave(k)

    def _drop_rivals(self, k: int) -> None:
        """A second blank is not worked at any more once the first of the two is done."""
        for needs in self.needs:
            for some in needs:
                for other in some if k in some else ():
                    if other != k and self.where[other] != OUT:
                        self.where[other] = OUT
                        self._leave(other)

    def _move(self, k: int, first: int, start: float, *, pulled: bool) -> float:
        """Work from a step to the next dwell, rest or end; when the hands are free."""
        self.acted = True
        chain, visits, time, index = self.chains[k], self.visits[k], start, first
        while True:
            link = chain.links[index]
            visit = visits[index] = visits.get(index, 0) + 1
            time += link.hands_s * self.draws.hands(k, index, visit)
            to = self._looks(k, index, visit, time) if link.looks else None
            if to is not None:
                if to == STOP:
                    self.played.blanks += 1
                    if not self.new_blanks:
                        self.where[k], self.played.ends[k] = OUT, time
                        self._leave(k)
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
                self._take(k, link.soak.place)
                break
            if index + 1 == len(chain.links):
                self.where[k], self.played.ends[k] = OUT, time + (link.rest_s or 0)
                self._leave(k)
                self._drop_rivals(k)
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

        Out of a long soak earlier than its target, if the work that follows would not fit before
        closing beside that of other parts pulled by then.
        """
        hours = self.shop.hours
        pull_s = hours.pull_or_stay_s(time, soak)
        if soak.target_s <= LONG_S or pull_s == NEVER:
            return pull_s
        close_s = hours.closes[hours.span(pull_s)]
        beside_s = 0
        for other, where in enumerate(self.where):
            if where == SOAK and other != k and self.pull[other] <= close_s:
                theirs = self.chains[other].links[self.step[other]].soak
                if theirs is not None and self.pull[other] + theirs.need_s > pull_s:
                    beside_s += theirs.need_s
        early_s = close_s - soak.need_s - beside_s - EARLY_S
        return max(min(pull_s, early_s), min(pull_s, time + soak.min_s)) if beside_s else pull_s

    def _looks(self, k: int, index: int, visit: int, time: float) -> int | None:
        """Answer the checks of a step; where the part is sent, if it is."""
        chain, clocks = self.chains[k], self.clocks[k]
        looks = chain.links[index].looks
        found = self.draws.sent(k, chain, index, visit)
        until = found[0] if found is not None else len(looks)
        if found is not None:
            answer = looks[found[0]].answers[found[1]]
            count = self.sent[k].get(answer.key, 0)
            if count < answer.limit:
                self.sent[k][answer.key] = count + 1
                if answer.far:
                    self.failed[k] = True
                if answer.far:
                    clocks.setdefault(looks[found[0]].key, time)
                self._stop_clocks(k, looks[:until], time)
                return answer.to
            until = len(looks)
        if clocks:
            self._stop_clocks(k, looks[:until], time)
        return None

    def _stop_clocks(self, k: int, passed: Sequence[SendingCheck], time: float) -> None:
        clocks = self.clocks[k]
        for look in passed:
            since = clocks.pop(look.key, None)
            if since is not None:
                losses = self.played.losses
                losses[k, look.key] = losses.get((k, look.key), 0.0) + time - since
