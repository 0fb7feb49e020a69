"""The trials of a run's plan: hands-on times and checks are drawn, and the policy continues.

A check sends with the chance expect / (1 + the sum of its expects) each time you check, up to the
answer's limit. ``Following`` does the work.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite
from statistics import fmean

from benchtimer.job.chain import chain_of
from benchtimer.job.follow import Following, PartPlan, way_of
from benchtimer.job.known import KnownChances
from benchtimer.job.luck import Assumed, Luck, draw_group, trial_key
from benchtimer.job.promise import GROUP, common_causes, quantile
from benchtimer.job.shop_work import REST, Piece, ShopWork, Standing
from benchtimer.job.starts import latest_starts, sections_in
from benchtimer.job.workload import fills_of, heats_of
from benchtimer.job.worktime import WorkTime
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.plan.instance import Instance
from benchtimer.plan.outcome import Plan
from benchtimer.plan.problem import ENDLESS_S, Problem
from benchtimer.plan.risk import (
    Earlier,
    Overrun,
    PastHours,
    Risk,
    assess,
    chance_and_mean,
    what_earlier,
    worst_first,
)
from benchtimer.plan.spread import SPREAD
from benchtimer.plan.trials import Replay
from benchtimer.progress import counted
from benchtimer.recipe.places import Placed
from benchtimer.values import dataclass, replace

AHEAD_S = 28 * 86_400
"""How long past the plan's end the trials know the hours."""

LATER_S = 600
"""A run that ends more than this after its plan is late."""

ADVICE_TRIALS = 200
"""Trials for each start that is moved earlier."""


@dataclass(frozen=True, slots=True)
class RunShop:
    """A run of new parts with one plan.

    Attributes:
        ways: what each piece does in the plan.
    """

    shop: ShopWork
    ways: tuple[PartPlan, ...]
    problem: Problem
    plan: Plan


def run_shop(
    problem: Problem,
    plan: Plan,
    placed: Placed,
    assigned: Sequence[tuple[str, str]],
    enters: Mapping[str, int] | None = None,
) -> RunShop | None:
    """The shop of a plan, or None if the policy can't follow it, as with parts already on the
    bench.

    Args:
        problem: what was planned.
        plan: its plan.
        placed: the recipes at their places, with what was learned.
        assigned: each part with the key of its recipe.
        enters: index of the step at which a half-done part enters, by its name.
    """
    if {part.name for part in problem.parts} != {n for n, _ in assigned}:
        return None
    end_s = plan.end_s or 0
    spans = [
        (begin, round(end) if isfinite(end) else max(begin, end_s) + AHEAD_S)
        for begin, end in Instance(problem).gaps
        if begin <= end_s + AHEAD_S
    ]
    hours = WorkTime([(begin, end) for begin, end in spans if begin < end])
    keys = list(dict.fromkeys(key for _, key in assigned))
    chains = [chain_of([key], placed.recipes) for key in keys]
    sections = [sections_in(chain, hours) for chain in chains]
    due_s = end_s + AHEAD_S
    latest = [
        latest_starts(chain, known, hours, due_s)
        for chain, known in zip(chains, sections, strict=True)
    ]
    pieces = [
        Piece(
            name,
            "",
            keys.index(key),
            Standing(REST, (enters or {}).get(name, 0)),
            latest=latest[keys.index(key)],
        )
        for name, key in assigned
    ]
    fills, heats = fills_of(pieces, chains, placed), heats_of(placed)
    shop = ShopWork(hours, chains, sections, pieces, fills, heats, hands=problem.hands)
    ways = tuple(way_of(plan, piece.name, chains[piece.chain]) for piece in pieces)
    return RunShop(shop, ways, problem, plan)


def assess_run(
    run: RunShop,
    *,
    seed: int = 0,
    trials: int = 1000,
    spread: float = SPREAD,
    learned: Learned = NOTHING,
    advise: bool = True,
) -> Risk:
    """Try a plan many times, failed checks and repeats included, and count what goes wrong.

    Args:
        run: the run and its plan.
        seed: same seed, same trials.
        trials: how many.
        spread: of the hands-on times, as ``plan.spread`` defines it.
        learned: your own times and rates; a rate from few checks is drawn with its full
            uncertainty. Without any, the recipe's chances are used.
        advise: whether to look for moves to begin earlier.
    """
    assumed = Assumed(KnownChances(learned), sure=not learned, seed=seed)
    plays = _plays(run, run.ways, assumed, spread, trials)
    overruns = _overruns(run, plays)
    closings = sorted({close for play in plays for close in play.past_s})
    whole = [play for play in plays if not play.played.blanks] or plays
    ends = [max(play.played.ends) for play in whole]
    planned_s = run.plan.end_s or 0
    late = [p.played for p, end in zip(whole, ends, strict=True) if end > planned_s + LATER_S]
    overrun, past = _chances(plays)
    tip = _advice(run, assumed, spread, plays, overruns[0]) if advise and overruns else None
    tenth, half, most = (quantile(ends, share) for share in (0.1, 0.5, 0.9))
    return Risk(
        trials,
        spread,
        overrun,
        tuple(overruns),
        (_second(tenth), _second(half), _second(most)),
        tip,
        past if run.problem.away else None,
        tuple(
            PastHours(round(close), *chance_and_mean([p.past_s.get(close, 0.0) for p in plays]))
            for close in closings
        ),
        planned_s,
        fmean(bool(play.played.given_up or play.played.missed) for play in plays),
        fmean(bool(play.played.blanks) for play in plays),
        len(late) / len(ends),
        tuple(common_causes(run.shop, late, range(len(run.ways)))),
    )


def assess_plan(
    problem: Problem,
    plan: Plan,
    placed: Placed,
    assigned: Sequence[tuple[str, str]],
    enters: Mapping[str, int] | None = None,
    *,
    seed: int = 0,
    trials: int = 1000,
    spread: float = SPREAD,
    learned: Learned = NOTHING,
    advise: bool = True,
) -> Risk:
    """The chances of a plan: with failed checks if the policy can follow it, otherwise without.

    Args:
        problem: the planned problem.
        plan: its plan.
        placed: the recipes with their places.
        assigned: name and recipe key of each part.
        enters: the step at which each half-done part enters, by name.
        seed: same seed, same trials.
        trials: how many.
        spread: of the hands-on times: the standard deviation of their logarithm.
        learned: your own times and rates.
        advise: also find what would help.
    """
    run = run_shop(problem, plan, placed, assigned, enters)
    if run is None:
        return assess(problem, plan, seed=seed, trials=trials, spread=spread, advise=advise)
    return assess_run(run, seed=seed, trials=trials, spread=spread, learned=learned, advise=advise)


def _plays(
    run: RunShop, ways: Sequence[PartPlan], assumed: Assumed, spread: float, trials: int
) -> list[Following]:
    plays = []
    for number in counted(range(trials), "trials", trials):
        if number % GROUP == 0:
            group = draw_group(run.shop, assumed, number // GROUP)
        key = trial_key(assumed.seed, number)
        play = Following(run.shop, Luck(run.shop, group, spread, key), ways)
        play.run(0, float("inf"))
        plays.append(play)
    return plays


def _second(time: float) -> int:
    return round(time) if isfinite(time) else ENDLESS_S


def _chances(plays: Sequence[Following]) -> tuple[float, float]:
    """The share of plays with any overrun, and of those with any work past the hours."""
    return fmean(bool(p.overruns) for p in plays), fmean(bool(p.past_s) for p in plays)


def _overruns(run: RunShop, plays: Sequence[Following]) -> list[Overrun]:
    found = []
    for k, index in {key for play in plays for key in play.overruns}:
        piece = run.shop.pieces[k]
        link = run.shop.chains[piece.chain].links[index]
        share = chance_and_mean([play.overruns.get((k, index), 0.0) for play in plays])
        found.append(Overrun(piece.name, index, link.step, link.place or "", *share))
    return worst_first(found)


def _advice(
    run: RunShop, assumed: Assumed, spread: float, plays: Sequence[Following], worst: Overrun
) -> Earlier | None:
    """The move, among those before the worst overrun, that helps most if it begins earlier."""
    plan = run.plan
    late = {
        (d.part, d.dwell + 1) for d in plan.dwells if (d.part, d.step) == (worst.part, worst.step)
    }
    index = next((n for n, m in enumerate(plan.moves) if (m.part, m.move) in late), None)
    if index is None:
        return None
    some = plays[:ADVICE_TRIALS]

    def again(number: int, by_s: int) -> tuple[float, float]:
        ways = _begun_earlier(run, number, by_s)
        return _chances(_plays(run, ways, assumed, spread, len(some)))

    return what_earlier(Replay(run.problem, plan, 1), index, _chances(some), again)


def _begun_earlier(run: RunShop, number: int, by_s: int) -> list[PartPlan]:
    """The planned paths with one move begun earlier."""
    move = run.plan.moves[number]
    at = sum(other.part == move.part for other in run.plan.moves[:number])
    return [
        replace(way, starts=(*way.starts[:at], way.starts[at] - by_s, *way.starts[at + 1 :]))
        if piece.name == move.part
        else way
        for piece, way in zip(run.shop.pieces, run.ways, strict=True)
    ]
