"""The page behind M: what is done seldom, as a list made for the part and the run as they are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from benchtimer.bath import commands as b
from benchtimer.run import commands as c
from benchtimer.run.state import Bench, Part, PartPhase, RunPhase

RATINGS = ("poor", "fair", "good", "very good", "as good as it gets", "no rating")
"""Ratings 1 to 5 in words; the number of the line is the rating."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One line of the menu.

    Attributes:
        text: what it does.
        command: what it asks for, if nothing more is needed.
        choices: a second list.
        ask: the words to ask for; ``with_words`` makes the command from the answer.
        bath: the bath that ``in_book`` writes about, from the answer, into the bath book.
    """

    text: str
    command: c.Command | None = None
    choices: tuple[Offer, ...] = ()
    ask: str = ""
    with_words: Callable[[str], c.Command] | None = None
    bath: str = ""
    in_book: Callable[[str], b.BathCommand] | None = None


def offers(bench: Bench, part: Part | None) -> list[Offer]:
    """What the menu offers, for the run and for the part shown."""
    told = [] if part is None else [_judge(part)] if part.is_out else _for_part(bench, part)
    return [*told, *_for_run(bench)][:9]


def _for_part(bench: Bench, part: Part) -> list[Offer]:
    name = part.name
    steps = bench.recipe_of(part).step[: part.step + 1]
    backs = tuple(Offer(step.title, c.SendBack(name, step.id)) for step in reversed(steps))
    told = []
    if part.held is None:
        told.append(
            Offer(f"Hold {name}", ask=f"Why is {name} held?", with_words=lambda w: c.Hold(name, w))
        )
    else:
        told.append(Offer(f"Resume {name}", c.Resume(name)))
    if part.phase is PartPhase.DWELLING:
        told.append(Offer(f"Take {name} out without beginning anything", c.TakeOut(name)))
    if part.lifted_from is not None and part.phase is PartPhase.WAITING:
        told.append(Offer(f"Put {name} back into its station", c.PutBack(name)))
    told.append(Offer(f"Send {name} back to an earlier step", choices=backs[:9]))
    told.append(
        Offer(
            f"Scrap {name}", ask=f"Why is {name} scrapped?", with_words=lambda w: c.Scrap(name, w)
        )
    )
    return told


def _judge(part: Part) -> Offer:
    """How a part that is done or scrapped came out."""
    verdicts = tuple(
        Offer(
            f"{part.name}: {verdict}",
            choices=tuple(
                Offer(words, c.Judge(part.name, verdict, number if number < 6 else None))
                for number, words in enumerate(RATINGS, start=1)
            ),
        )
        for verdict in c.VERDICTS
    )
    return Offer(f"Judge {part.name}", choices=verdicts)


def _for_run(bench: Bench) -> list[Offer]:
    told = []
    if bench.phase is RunPhase.RUNNING:
        told.append(Offer("Hold the whole run", ask="Why?", with_words=lambda w: c.Hold(None, w)))
    if bench.places:
        told.append(Offer("Read the temperature of a station", choices=_readings(bench)))
        told.append(Offer("A station: out of service, or back in", choices=_stations(bench)))
    if bench.baths:
        told.append(Offer("The bath book: top up, read, weigh", choices=_baths(bench)))
    told.append(Offer("Abort the run", ask="Why is the run aborted?", with_words=c.Abort))
    return told


def _baths(bench: Bench) -> tuple[Offer, ...]:
    """What can be written about the baths of the run while it goes on."""
    names = list(dict.fromkeys(bench.baths.values()))
    if len(names) == 1:
        return _about_bath(names[0])
    return tuple(Offer(name, choices=_about_bath(name)) for name in names)[:9]


def _about_bath(name: str) -> tuple[Offer, ...]:
    return (
        Offer(f"Top up {name}", ask=f"What goes into {name}?", bath=name, in_book=b.TopUp),
        Offer(
            f"Read {name}: pH, Be, temperature or share",
            ask=f"{name}: what does it read, with its unit?",
            bath=name,
            in_book=b.ReadBath,
        ),
        Offer(
            f"Metal that {name} has taken off, by weighing",
            ask=f"{name}: how much metal, like 4.2 g?",
            bath=name,
            in_book=b.Wear,
        ),
    )


def _readings(bench: Bench) -> tuple[Offer, ...]:
    return tuple(
        Offer(
            place.station.title,
            ask=f"{place.station.title}: what does it read?",
            with_words=partial(c.Read, name),
        )
        for name, place in bench.places.items()
    )[:9]


def _stations(bench: Bench) -> tuple[Offer, ...]:
    told = []
    for name, place in bench.places.items():
        title = place.station.title
        if place.closed is None:
            told.append(Offer(f"{title}: take out of service", c.CloseStation(name)))
        else:
            told.append(Offer(f"{title}: back into service", c.OpenStation(name)))
    return tuple(told[:9])
