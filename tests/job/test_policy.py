"""The policy of the jobs respects windows, hours, places and needs, and plans for pulls."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import pairwise
from math import sqrt

import pytest

from benchtimer.job.better import best_plan, better, worth
from benchtimer.job.chain import NEVER, Soak, chain_of
from benchtimer.job.evening import evening_of
from benchtimer.job.luck import Assumed, Luck, draw_group
from benchtimer.job.outlook import second_blank
from benchtimer.job.policy import Draws, play
from benchtimer.job.promise import Trials
from benchtimer.job.sessions import plan_jobs
from benchtimer.job.shop_work import Act, Played, ShopWork
from benchtimer.job.starts import allowing_for_failures
from benchtimer.job.workload import Workload
from benchtimer.view.jobs import session_lines
from tests.job.orders import petty_knife
from tests.job.shops import hands_only, knives, order_of, shelf, shop_of


def _played(load: Workload, seed: int | None = None) -> Played:
    if seed is None:
        return play(load.shop, Draws(), acts=True)
    group = draw_group(load.shop, Assumed(seed=seed), 0)
    return play(load.shop, Luck(load.shop, group, 0.25, seed * 7919), acts=True)


def _stays(shop: ShopWork, acts: list[Act]) -> list[tuple[str, float, float, float, float]]:
    """Place, time in, time out, min and max of every dwell with a max."""
    found = []
    inside: dict[int, tuple[Soak, float]] = {}
    for act in acts:
        links = shop.chains[shop.pieces[act.piece].chain].links
        if act.piece in inside:
            soak, since = inside.pop(act.piece)
            if act.pulled:
                row = (soak.place, since, act.start_s, since + soak.min_s, since + soak.max_s)
                found.append(row)
        entered = links[act.last].soak
        if act.next_s != NEVER and entered is not None:
            inside[act.piece] = (entered, act.end_s)
    return found


@pytest.mark.parametrize("seed", [None, 1, 2, 3, 4])
@pytest.mark.parametrize("count", [1, 3])
def test_every_pull_is_in_its_window(count: int, seed: int | None) -> None:
    """No part leaves a bath before its min, and fewer than one in 50 leaves after its max."""
    load = knives(count)
    stays = _stays(load.shop, _played(load, seed).acts)
    assert len(stays) > 20 * count
    assert all(out >= least - 1e-6 for _, _, out, least, _ in stays)
    late = [row for row in stays if row[2] > row[4] + 1]
    assert len(late) <= len(stays) / 50


@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_one_pair_of_hands_works_within_the_hours(seed: int | None) -> None:
    """No moves overlap, and none begin outside the hours except after a short dwell."""
    load = knives(3)
    acts = _played(load, seed).acts
    assert all(a.end_s <= b.start_s + 1e-6 for a, b in pairwise(acts))
    outside = [act for act in acts if not load.shop.hours.is_open(act.start_s)]
    assert all(act.pulled for act in outside)
    assert len(outside) <= len(acts) / 50


@pytest.mark.parametrize("seed", [None, 1, 2])
def test_the_assembly_waits_for_its_parts(seed: int | None) -> None:
    """A join begins only when everything it needs is done."""
    load = knives(3)
    played = _played(load, seed)
    for k, piece in enumerate(load.shop.pieces):
        begun = [act.start_s for act in played.acts if act.piece == k]
        for need in piece.needs:
            assert min(begun, default=NEVER) >= max(played.ends[n] for n in need) - 1e-6


def test_a_part_marked_done_is_not_worked_again() -> None:
    """In the plan each part ends once, and no bath is begun more than once for nothing."""
    played = _played(knives(1))
    assert all(end != NEVER for end in played.ends)
    assert played.given_up <= 1
    assert played.missed == 0


def test_no_soak_starts_if_its_pull_would_fall_at_night() -> None:
    """A six-hour etch begins only on a weekend morning, when the pull falls within the hours."""
    load = knives(1)
    plan = plan_jobs(load)
    works = [w for s in plan.sessions for w in s.works if w.steps[-1] == "hang"]
    assert works
    for work in works:
        assert load.at(work.start_s).weekday() >= 5
        assert load.at(work.start_s).hour < 12
        assert load.shop.hours.is_open(work.pull_s)


def test_a_plan_gets_better_and_is_the_same_each_time() -> None:
    """Each plan found is at least as good as the one before, and a repeat finds the same plans."""
    load = knives(3)
    found = [worth(load, plan.played.ends) for plan in better(load, tries=20)]
    assert found == sorted(found, reverse=True)
    assert found[-1] < found[0]
    again = [worth(load, plan.played.ends) for plan in better(load, tries=20)]
    assert again == found


def test_almost_no_start_is_given_up() -> None:
    """At most one start in ten jobs is abandoned because work was slow, not for a failed check.

    The count over 200 jobs may exceed that by 2.6 standard errors.
    """
    trials = Trials(knives(1).shop, Assumed(sure=True))
    trials.more(200)
    most = 0.1 * trials.count
    assert sum(play.given_up for play in trials.plays) <= most + 2.6 * sqrt(most)


def test_the_nearer_due_date_goes_first() -> None:
    """Of two equal jobs, the one due first is ready first."""
    late, soon = petty_knife(date(2026, 12, 20)), petty_knife(date(2026, 12, 6))
    plan = plan_jobs(shop_of({"late": late, "soon": soon}))
    assert plan.finish_s("soon") < plan.finish_s("late")


def test_each_pull_to_wait_for_is_named() -> None:
    """The plan lists the pull of every part that stays in a place for an hour or more."""
    load = knives(1)
    sessions = plan_jobs(load).sessions
    works = [work for session in sessions for work in session.works]
    pulls = [w for w in works if w.pull_s != NEVER and w.pull_s - w.end_s >= 3600]
    lines = list(session_lines(sessions, load))
    assert sum(", pull " in line for line in lines) == len(pulls) > 5
    assert [line for line in lines if "hold-1, pull at" in line]


def test_tonight_shows_the_start_of_the_plan() -> None:
    """``tonight`` shows the plan until closing and names work not to start."""
    load = knives(1)
    evening = evening_of(load)
    plan = best_plan(load)
    until = [w for s in plan.sessions for w in s.works if w.start_s < evening.closes_s]
    assert evening.session_works == until
    assert evening.begins()["fittings-polish"][0] == "knife 1/bolster"


def test_a_blade_that_must_not_start_tonight_says_why() -> None:
    """A blade ready for the etch on Friday evening waits for Saturday morning, with the reason."""
    order = order_of(date(2026, 12, 11), [("blade", "etch-darken", ())])
    evening = evening_of(shop_of({"knife": order}))
    (result,) = evening.not_now
    assert result.why == "its pull would fall outside your hours"
    assert f"{evening.load.at(result.from_s):%a %H}" == "Sat 09"


def test_hours_too_short_for_a_step_are_reported() -> None:
    """With one hour a day the darkening can't be pulled, and the message names step and window."""
    load = shop_of({"knife": petty_knife()}, hours="Mon-Sun 20:00-21:00")
    result = " ".join(str(blocked) for blocked in load.blocked)
    assert "knife/blade: etch-darken" in result
    assert "hang lasts 6 h to 7 h" in result
    found = [blocked for blocked in load.blocked if blocked.part == "knife/ferrule"]
    assert [blocked.step for blocked in found] == ["prepare"]
    assert "fit in your hours in less than half of the trials" in found[0].why


def test_a_missing_recipe_blocks_only_its_part() -> None:
    """A missing recipe blocks only its own part, and the message names both."""
    kept = {name: recipe for name, recipe in shelf().items() if name != "hot-black"}
    load = shop_of({"knife": petty_knife()}, recipes=kept)
    assert {blocked.recipe for blocked in load.blocked} == {"hot-black"}
    assert "Put its file back" in str(load.blocked[0])
    assert [piece.name for piece in load.shop.pieces] == ["knife/blade", "knife/knife"]


def test_the_same_seed_gives_the_same_trials() -> None:
    """Trials with the same seed are identical."""
    load = knives(1)
    one, other = (Trials(load.shop, Assumed(seed=5)) for _ in range(2))
    one.more(40)
    other.more(20)
    other.more(20)
    assert one.finishes == other.finishes


def test_a_check_that_never_fails_delays_nothing() -> None:
    """With the same luck, making one check never fail helps its job and keeps many trials as is."""
    load = knives(1)
    plain = Trials(load.shop, Assumed(sure=True))
    never = Assumed(sure=True, never=frozenset({"etch-darken/judge/blacks"}))
    without = Trials(load.shop, never)
    plain.more(100)
    without.more(100)
    due = load.due_s["knife 1"]
    kept = [sum(f <= due for f in trials.finishes["knife 1"]) for trials in (plain, without)]
    assert kept[1] > kept[0]
    same = [
        a == b for a, b in zip(plain.finishes["knife 1"], without.finishes["knife 1"], strict=True)
    ]
    assert sum(same) > 30


def test_a_second_blank_makes_a_job_surer() -> None:
    """With two blades begun, the first good one goes into the knife and the other stops."""
    load = knives(1)
    twice = second_blank(load, "knife 1/blade")
    assert [piece.name for piece in twice.shop.pieces][-1] == "knife 1/blade (second)"
    shares = []
    for shop in (load.shop, twice.shop):
        trials = Trials(shop, Assumed(sure=True))
        trials.more(200)
        finishes = trials.finishes["knife 1"]
        assert all(finish != NEVER for finish in finishes)
        shares.append(sum(finish <= load.due_s["knife 1"] for finish in finishes) / 200)
    assert shares[1] > shares[0]


def test_the_chain_knows_where_a_part_can_rest() -> None:
    """A part can rest before a recipe, after a cure, and 8 h on the rack after sanding."""
    chain = chain_of(["etch-darken"], shelf())
    waits = {link.step: link.waits_s for link in chain.links if link.begins_at_rest}
    assert waits == {"sand": NEVER, "ready": 8 * 3600, "degrease": 3600, "rub-out": NEVER}


def test_latest_starts_allow_for_failed_checks() -> None:
    """The latest start moves up by the expected cost of each long send-back."""
    chain = chain_of(["etch-darken"], shelf())
    latest = {step: 86_400.0 * n for n, step in enumerate(chain.rests)}
    found = allowing_for_failures(chain, latest)
    last, judge = chain.rests[-1], next(x for x in chain.links if x.step == "judge")
    far = [answer for look in judge.looks for answer in look.answers if answer.far]
    back = {answer.key: latest[chain.section[answer.to]] for answer in far}
    cost_s = sum(answer.expect * (latest[last] - back[answer.key]) for answer in far)
    assert cost_s > 0
    assert found[last] == pytest.approx(latest[last] - cost_s)
    assert all(found[step] <= latest[step] - cost_s for step in chain.rests)
    plain = chain_of(["a"], {"a": hands_only("a")})
    assert allowing_for_failures(plain, {0: 5.0}) == {0: 5.0}
    assert allowing_for_failures(chain, dict.fromkeys(chain.rests, -NEVER)) == dict.fromkeys(
        chain.rests, -NEVER
    )


def test_hands_alone_follow_each_other() -> None:
    """Without dwells, a job takes the sum of its hands-on times."""
    recipes = {"a": hands_only("a", "10 min"), "b": hands_only("b", "20 min")}
    order = order_of(date(2026, 12, 1), [("x", "a", ()), ("y", "b", ("x",))])
    load = shop_of({"job": order}, recipes=recipes)
    assert play(load.shop, Draws()).ends == [600, 1800]
    assert replace(load.shop, pieces=()).pieces == ()
