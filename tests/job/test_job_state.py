"""A job's events: opened, changed, delivered, dropped, with undo of every entry."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.job import job_decide as d
from benchtimer.job.job_state import JobHistory, evolve_job, fold_job
from benchtimer.run.event_builder import Now
from benchtimer.run.refusals import Refused
from benchtimer.store.entries import body_of, event_from, kind_of
from tests.job.orders import AROUND, petty_knife


def _after(*commands: d.JobCommand, around: d.Around = AROUND) -> JobHistory:
    history = JobHistory("petty knife")
    for n, command in enumerate(commands, start=1):
        history = evolve_job(
            history, d.decide_job(history, command, Now(1000 * n, "maker"), around)
        )
    return history


OPEN = d.OpenJob(petty_knife())
LATER = d.ChangeJob(petty_knife(date(2026, 12, 20)))
COMMANDS = (
    LATER,
    d.ReplacePart("ferrule", "dropped into the salts"),
    d.SendPartBack("bolster", "fittings-polish", "pitted"),
    d.MarkRecipeDone("blade", "temper-cycles"),
    d.DeliverJob("by hand"),
    d.DropJob("the owner moved away"),
)


def test_a_job_is_what_its_entries_say() -> None:
    """The state shows a job opened, changed, a part replaced, one sent back, and delivered."""
    job = _after(OPEN, *COMMANDS[:5]).job
    assert job is not None
    assert job.order == petty_knife(date(2026, 12, 20))
    assert [(t.kind, t.part, t.recipe) for t in job.turns] == [
        ("replaced", "ferrule", ""),
        ("sent back", "bolster", "fittings-polish"),
        ("done", "blade", "temper-cycles"),
    ]
    assert (job.status, job.last_words) == ("delivered", "by hand")


@given(st.lists(st.sampled_from(COMMANDS[:4]), max_size=6), st.sampled_from(COMMANDS))
def test_undo_brings_the_job_back_as_it_was(before: list[d.JobCommand], last: d.JobCommand) -> None:
    """Undo returns the job to its earlier state and erases no entry."""
    history = JobHistory("petty knife")
    entries = []
    for n, command in enumerate([OPEN, *before, last], start=1):
        was = history.job
        try:
            event = d.decide_job(history, command, Now(n, "maker"), AROUND)
        except Refused:
            continue
        entries.append(event)
        history = evolve_job(history, event)
    undo = d.decide_job(history, d.TakeJobEntryBack(), Now(99, "maker"), AROUND)
    if history.counts[-1] is entries[-1] and len(entries) > 1:
        before_last = fold_job("petty knife", entries[:-1]).job
        assert evolve_job(history, undo).job == before_last
    assert history.job is not None or was is None


def test_every_event_of_a_job_reads_back_from_its_body() -> None:
    """Every event of a job reads back from the log unchanged."""
    history = JobHistory("petty knife")
    for n, command in enumerate((OPEN, *COMMANDS[:5], d.TakeJobEntryBack()), start=1):
        event = d.decide_job(history, command, Now(n, "maker"), AROUND)
        body = body_of(event)
        again = event_from(kind_of(event), body, press=event.press, t_ms=event.t_ms, by=event.by)
        assert again == event
        history = evolve_job(history, event)


def test_a_job_can_be_opened_once_only() -> None:
    """A job name already in use is refused, in any capitals."""
    with pytest.raises(Refused, match="there is already a job with that name"):
        _after(OPEN, OPEN)
    with pytest.raises(Refused, match="there is already a job with that name"):
        _after(OPEN, around=replace(AROUND, jobs=("Petty Knife",)))


def test_a_delivery_waits_for_the_parts() -> None:
    """A job with a part under way can't be delivered, and the message names the part."""
    with pytest.raises(Refused, match="not done yet: ferrule"):
        _after(OPEN, d.DeliverJob(), around=replace(AROUND, unfinished=("ferrule",)))


def test_a_closed_job_takes_no_change() -> None:
    """A dropped job takes no change until you undo the drop."""
    with pytest.raises(Refused, match=r"it is dropped\. benchtimer job change --undo"):
        _after(OPEN, d.DropJob("no more"), LATER)
    assert _after(OPEN, d.DropJob("no more"), d.TakeJobEntryBack(), LATER).job is not None


def test_a_bad_order_is_refused_with_every_problem() -> None:
    """An order due in the past with an unknown recipe gets one message about both."""
    order = replace(petty_knife(date(2026, 11, 1)))
    parts = (replace(order.parts[0], recipes=("etch-dark",)), *order.parts[1:])
    with pytest.raises(d.BadOrder) as caught:
        _after(d.OpenJob(replace(order, parts=parts)))
    assert "is past" in str(caught.value)
    assert 'there is no recipe "etch-dark"' in str(caught.value)


def test_an_unknown_name_lists_the_known_ones() -> None:
    """A part or recipe outside the job is refused with a list of the job's own."""
    with pytest.raises(Refused, match="Known: blade, bolster"):
        _after(OPEN, d.ReplacePart("handle"))
    with pytest.raises(Refused, match="Known: fittings-polish, hot-black"):
        _after(OPEN, d.SendPartBack("bolster", "hot-wax"))
