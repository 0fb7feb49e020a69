"""Which tries count in a search for causes, and which of their facts."""

from __future__ import annotations

from benchtimer.learn.causes import find_causes
from benchtimer.records.counted import tries_that_count
from benchtimer.run import commands as c
from tests.records.conftest import PART, Knife
from tests.records.test_ranking import BAD, GOOD, _run


def test_tries_that_were_judged_count(knife: Knife) -> None:
    """Two tries sent back and one accepted count."""
    tries = tries_that_count([knife.record], "etch-darken")
    assert [each.failed for each in tries] == [True, True, False]
    assert tries == tries_that_count([knife.record], "etch-darken", PART.upper())
    assert tries_that_count([knife.record], "etch-darken", "another") == []
    assert tries_that_count([knife.record], "hot-black") == []


def test_a_try_without_a_verdict_does_not_count() -> None:
    """A part done but not judged does not count."""
    assert tries_that_count([_run(None)], "kept") == tries_that_count([], "kept") == []
    result = tries_that_count([_run(BAD), _run(GOOD), _run("rework")], _id())
    assert [each.failed for each in result] == [True, False, True]


def _id() -> str:
    return next(iter(_run(BAD).recipes))


def test_practice_counts_by_choice() -> None:
    """Practice counts only on request."""
    run = _run(BAD)
    run.speed = 30
    assert tries_that_count([run], _id()) == []
    assert len(tries_that_count([run], _id(), practice=True)) == 1


def test_the_outcome_is_not_a_cause(knife: Knife) -> None:
    """The facts of a try leave out what was seen at or after the step that sent it back."""
    tries = tries_that_count([knife.record], "etch-darken")
    keys = [set(each.facts) for each in tries]
    assert ("answer", "degrease/cleaner") in keys[0] & keys[2]
    assert not any(key.startswith("judge/") for kind, key in keys[0] if kind in ("answer", "words"))
    assert ("answer", "judge/blacks") not in keys[2]


def test_the_cause_of_the_scenario_is_found_and_doubted(knife: Knife) -> None:
    """Cleaning goes with the failures, and the text says that three tries prove nothing."""
    found = find_causes(tries_that_count([knife.record], "etch-darken"))
    assert not found.within_reach
    cause = next(
        x for x in found.causes if "Cleaned with what? (degrease)" in (x.label, *x.same_as)
    )
    assert [(s.failed, s.tries) for s in cause.shares] == [(2, 2), (0, 1)]


def test_commands_give_verdicts() -> None:
    """The verdicts used above are those of the engine."""
    assert {BAD, GOOD, "rework"} == set(c.VERDICTS)
