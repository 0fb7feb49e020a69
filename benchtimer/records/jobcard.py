"""What a job took: hands-on hours by part and recipe, tries, dates, materials."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from html import escape

import tomli_w

from benchtimer.job.job_state import Job
from benchtimer.job.order import identity, split_identity
from benchtimer.quantity import how_many, parse, show_number
from benchtimer.recipe.mixing import scaled
from benchtimer.records.inert import visible
from benchtimer.records.record import Record
from benchtimer.records.record_lookup import records_of
from benchtimer.records.recorded import RecordedBath
from benchtimer.records.tries import tries_of
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog
from benchtimer.times import duration
from benchtimer.values import dataclass, field

MOST_RUNS = 1000


@dataclass(slots=True)
class RecipeTotals:
    """One recipe of one part.

    Attributes:
        hands_s: hands-on time in all of its runs.
        tries: how many tries it took, and ``sent`` how often it was sent back within them.
        first: the day of its first run, and ``last`` of its last.
    """

    part: str
    recipe: str
    hands_s: float = 0
    tries: int = 0
    sent: int = 0
    first: str = ""
    last: str = ""
    runs: list[str] = field(default_factory=list)
    outcome: str = ""


@dataclass(slots=True)
class JobCard:
    """What a job took.

    Attributes:
        took: by part and recipe, in the order of the work.
        by_hand: recipes that were done without the program, as ``PART: RECIPE``.
        closed: the day it was delivered or dropped.
        baths: its baths, and how much of each was made.
        mixed: what each whole bath was mixed from, if the book and the recipe say.
    """

    took: list[RecipeTotals] = field(default_factory=list)
    by_hand: list[str] = field(default_factory=list)
    closed: date | None = None
    baths: dict[str, str] = field(default_factory=dict)
    mixed: dict[str, list[str]] = field(default_factory=dict)

    @property
    def hands_s(self) -> float:
        """Total hands-on time."""
        return sum(one.hands_s for one in self.took)


def card_of(log: EventLog, job: Job, closed: date | None = None) -> JobCard:
    """What a job took so far, from its runs.

    Args:
        log: the log.
        job: the job.
        closed: the day it was delivered or dropped.
    """
    by_hand = [f"{turn.part}: {turn.recipe}" for turn in job.turns if turn.kind == "done"]
    card = JobCard(by_hand=list(dict.fromkeys(by_hand)), closed=closed)
    rows: dict[tuple[str, str], RecipeTotals] = {}
    for record in records_of(log, Query(job=job.name), MOST_RUNS):
        _add(card, rows, job, record)
    order = [part.name.casefold() for part in job.order.parts]
    card.took = sorted(
        rows.values(),
        key=lambda t: order.index(t.part.casefold()) if t.part.casefold() in order else len(order),
    )
    return card


def _add(
    card: JobCard, rows: dict[tuple[str, str], RecipeTotals], job: Job, record: Record
) -> None:
    ours = False
    for name, called in record.jobs.items():
        owner, short = split_identity(called)
        part = record.part(name)
        if owner.casefold() != job.name.casefold() or part is None:
            continue
        ours = True
        recipe = record.recipes[part.recipe].id
        row = rows.setdefault((short.casefold(), recipe), RecipeTotals(short, recipe))
        tries = tries_of(record, part)
        row.hands_s += part.hands_s
        row.tries += len(tries)
        row.sent += part.sent_back
        row.first = row.first or record.created[:10]
        row.last = (record.ended or record.created)[:10]
        row.outcome = tries[-1].words
        row.runs.append(record.run)
    for bath in record.baths if ours else ():
        card.baths[bath.bath] = bath.volume or ""
        card.mixed[bath.bath] = _mixed_from(record, bath) or card.mixed.get(bath.bath, [])


def _mixed_from(record: Record, bath: RecordedBath) -> list[str]:
    """What went into a bath, from its mix in a recipe of the run and the volume in the book."""
    mixes = (m for recipe in record.recipes.values() for m in recipe.mix if m.id == bath.mix)
    mix = next(mixes, None)
    if mix is None or bath.volume is None:
        return []
    amounts = scaled(mix, parse(bath.volume, "volume"))
    return [f"{show_number(a.value, 3)} {a.unit} {item.what}" for item, a in amounts]


def card_lines(card: JobCard) -> Iterator[str]:
    """What it took, as text."""
    if card.by_hand:
        yield visible(f"done without the program: {', '.join(card.by_hand)}")
    if not card.took:
        yield "No run has worked on it yet."
        return
    for one in card.took:
        tries = how_many(one.tries, "try", "tries")
        when = one.first if one.first == one.last else f"{one.first} to {one.last}"
        sent = f", sent back {one.sent} times" if one.sent else ""
        yield visible(
            f"{one.part}  {one.recipe}: {_time(one.hands_s)} hands-on, {tries}{sent}, {when}: "
            f"{one.outcome}"
        )
    yield f"hands-on in all: {_time(card.hands_s)}"
    if card.baths:
        baths = (f"{name} ({volume})" if volume else name for name, volume in card.baths.items())
        yield f"baths: {', '.join(baths)}"
        for name, amounts in card.mixed.items():
            if amounts:
                yield visible(f"{name}, the whole bath: {', '.join(amounts)}")


def closing(job: Job, closed: date | None) -> str:
    """The status of a job: when it was closed, and the words of the delivery."""
    when = f" {closed}" if closed is not None else ""
    words = f": {job.last_words}" if job.last_words else ""
    return f"{job.status.capitalize()}{when}{words}"


def _time(seconds: float) -> str:
    return duration(round(seconds))


def card_table(job: Job, card: JobCard) -> dict[str, object]:
    """What it took, for programs."""
    return {
        "closed": card.closed.isoformat() if card.closed else "",
        "words": job.last_words,
        "hands_s": round(card.hands_s, 3),
        "by_hand": card.by_hand,
        "parts": [
            {
                "part": one.part,
                "identity": identity(job.name, one.part),
                "recipe": one.recipe,
                "hands_s": round(one.hands_s, 3),
                "tries": one.tries,
                "sent_back": one.sent,
                "first": one.first,
                "last": one.last,
                "outcome": one.outcome,
                "runs": one.runs,
            }
            for one in card.took
        ],
        "baths": [
            {"bath": name, "volume": volume, "mixed_from": card.mixed.get(name, [])}
            for name, volume in card.baths.items()
        ],
    }


def card_toml(job: Job, card: JobCard) -> str:
    """The job card as TOML."""
    head = {"job": job.name, "due": job.order.due, "status": job.status}
    return tomli_w.dumps(head | ({"note": job.order.note} if job.order.note else {})
                         | card_table(job, card))  # fmt: skip


def card_html(job: Job, card: JobCard) -> str:
    """The job card as a page to print."""
    rows = "\n".join(_row([one.part, one.recipe, _time(one.hands_s), str(one.tries),
                           str(one.sent), one.first, one.last, one.outcome])
                     for one in card.took)  # fmt: skip
    heads = ("Part", "Recipe", "Hands-on", "Tries", "Sent back", "First", "Last", "Outcome")
    name = escape(visible(job.name))
    cells = (_row([bath, volume, ", ".join(card.mixed.get(bath, []))])
            for bath, volume in card.baths.items())  # fmt: skip
    baths = "\n".join(cells)
    if baths:
        baths = (
            "<h2>Baths</h2><table><tr><th>Bath</th><th>Volume</th><th>Mixed from, the whole bath"
            f"</th></tr>\n{baths}\n</table>"
        )
    note = f"<p>{escape(visible(job.order.note))}</p>" if job.order.note else ""
    status = escape(visible(closing(job, card.closed)))
    by_hand = escape(visible(", ".join(card.by_hand)))
    by_hand = f"<p>Done without the program: {by_hand}</p>" if by_hand else ""
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{name}</title>
<style>body {{ font: 12pt sans-serif; margin: 2em }} td, th {{ border: 1px solid #888;
padding: 4px 8px; text-align: left }} table {{ border-collapse: collapse }}</style></head>
<body><h1>{name}</h1><p>Due {job.order.due}. {status}. Hands-on in all: {_time(card.hands_s)}.</p>
{note}{by_hand}
<table><tr>{"".join(f"<th>{head}</th>" for head in heads)}</tr>
{rows}
</table>{baths}</body></html>
"""


def _row(cells: Sequence[str]) -> str:
    return f"<tr>{''.join(f'<td>{escape(visible(cell))}</td>' for cell in cells)}</tr>"
