"""The page behind M: rare actions for the part and the run as they are now."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from benchtimer.bath import bath_decide as b
from benchtimer.run import commands as c
from benchtimer.run.run_state import Bench, Part, PartPhase, Place, RunPhase
from benchtimer.run.setup import mixed_for
from benchtimer.times import TimeError, parse_span
from benchtimer.values import dataclass
from benchtimer.view.words import with_unit


@dataclass(frozen=True, slots=True)
class MenuItem:
    """One line of the menu.

    Attributes:
        text: what it does.
        command: the command, if nothing more is needed.
        choices: a second list.
        ask: the question; ``with_words`` makes the command from the answer.
        bath: the bath for which ``in_book`` makes an entry in the bath book from the answer.
        leaves: whether it only goes back.
        mixes: the place for which a bath is mixed; ``ask`` asks for its name.
    """

    text: str
    command: c.Command | None = None
    choices: tuple[MenuItem, ...] = ()
    ask: str = ""
    with_words: Callable[[str], c.Command] | None = None
    bath: str = ""
    in_book: Callable[[str], b.BathCommand] | None = None
    leaves: bool = False
    mixes: str = ""

    @property
    def can(self) -> bool:
        """Whether choosing it now does anything."""
        return bool(
            self.command
            or self.choices
            or self.with_words
            or self.in_book
            or self.leaves
            or self.mixes
        )


def offers(
    bench: Bench,
    part: Part | None,
    suiting: Mapping[str, tuple[str, ...]] | None = None,
    now_ms: int = 0,
) -> list[MenuItem]:
    """What the menu offers. A digit always means the same; actions that are not possible say so.

    Scrap and abort are one page further, under the last digit, and ask why.

    Args:
        bench: the run's bench.
        part: the part it is about, if one is picked or comes next.
        suiting: open baths in the bath book that fit each place, by place id.
        now_ms: bench time.
    """
    live = part if part is not None and not part.is_out else None
    return [
        _hold_part(live),
        _take_out(live),
        _change(bench, live, now_ms),
        _send_back(bench, live),
        MenuItem("Read the temperature of a station", choices=_readings(bench)),
        MenuItem("Take a station out of service, or put it back", choices=_stations(bench)),
        _hold_run(bench),
        MenuItem("The bath book: mix, put in, top up, read", choices=_book(bench, suiting or {})),
        MenuItem("Give up a part, or the run", choices=_give_up(live)),
    ]


def _named(part: Part | None) -> str:
    return part.name if part is not None else "the part (pick one first)"


def _hold_part(part: Part | None) -> MenuItem:
    if part is not None and part.held is not None:
        return MenuItem(f"Resume {part.name}", c.Resume(part.name))
    if part is None:
        return MenuItem(f"Hold {_named(part)}")
    hold = partial(c.Hold, part.name)
    return MenuItem(f"Hold {part.name}", choices=_reasons(f"Why is {part.name} held?", hold))


HOLD_REASONS = (
    "called away",
    "something looks wrong",
    "waiting for a tool or supplies",
    "end of the day",
)
"""Why work is held, by one digit; your own words are the last choice."""


def _reasons(ask: str, hold: Callable[[str], c.Command]) -> tuple[MenuItem, ...]:
    """A reason by one digit, so that wet gloves need no typing."""
    ready = (MenuItem(reason.capitalize(), hold(reason)) for reason in HOLD_REASONS)
    return (*ready, MenuItem("Another reason: type it", ask=ask, with_words=hold))


def _take_out(part: Part | None) -> MenuItem:
    """Pull a part out of its station or, once it is out, put it back."""
    if part is not None and part.lifted_from is not None and part.phase is PartPhase.WAITING:
        return MenuItem(f"Put {part.name} back into its station", c.PutBack(part.name))
    can = part is not None and part.phase is PartPhase.DWELLING
    command = c.TakeOut(part.name) if can and part is not None else None
    return MenuItem(f"Take {_named(part)} out and start nothing", command)


MOST_HANDS = 4
"""The most people that the menu offers."""

BACK_MIN = (15, 30, 60, 120)
"""How long a part can be held back so that others go first."""


def _change(bench: Bench, part: Part | None, now_ms: int) -> MenuItem:
    """What the plan depends on: hours, hands, and which part goes first."""
    hands = tuple(
        MenuItem(f"{number} {'person' if number == 1 else 'people'}", c.ChangeHands(number))
        for number in range(1, MOST_HANDS + 1)
        if number != bench.hands
    )
    hours = MenuItem(
        "Hours away every day",
        ask="Hours away every day, like 22:00-07:00; none for no hours",
        with_words=_hours,
    )
    return MenuItem(
        "Change hours, hands or order",
        choices=(hours, MenuItem("How many people work", choices=hands), _later(part, now_ms)),
    )


def _hours(text: str) -> c.Command:
    """Hours as typed: ``none``, or spans of the day separated by commas."""
    if text.strip().lower() == "none":
        return c.ChangeHours(())
    return c.ChangeHours(tuple(_span(span.strip()) for span in text.split(",") if span.strip()))


def _span(text: str) -> str:
    """``10 pm to 7 am`` in the stored form; other text stays as it is and is refused."""
    try:
        begin, end = (divmod(minutes, 60) for minutes in parse_span(text))
    except TimeError:
        return text
    return f"{begin[0]:02}:{begin[1]:02}-{end[0]:02}:{end[1]:02}"


def _later(part: Part | None, now_ms: int) -> MenuItem:
    if part is None or part.began_ms is not None:
        return MenuItem("Hold back: pick a part that has not begun")
    later = (
        MenuItem(f"{minutes} min from now", c.Postpone(part.name, now_ms + minutes * 60_000))
        for minutes in BACK_MIN
    )
    again = MenuItem("When the plan says", c.Postpone(part.name, None))
    return MenuItem(f"Hold {part.name} back, so that others go first", choices=(*later, again))


def _send_back(bench: Bench, part: Part | None) -> MenuItem:
    if part is None:
        return MenuItem(f"Send {_named(part)} back, or skip forward")
    steps = bench.recipe_of(part).step[: part.step + 1]
    backs = tuple(MenuItem(step.title, c.SendBack(part.name, step.id)) for step in reversed(steps))
    return MenuItem(
        f"Send {part.name} back, or skip forward",
        choices=(
            MenuItem(f"Send {part.name} back to an earlier step", choices=backs),
            MenuItem(f"Skip forward to a later step of {part.name}", choices=_skips(bench, part)),
        ),
    )


def _skips(bench: Bench, part: Part) -> tuple[MenuItem, ...]:
    """The later steps a part can skip to, and its end; each asks why."""
    first, steps = bench.next_index(part), bench.recipe_of(part).step
    if first is None:
        return ()
    to: list[tuple[str, str | None]] = [(step.title, step.id) for step in steps[first + 1 :]]
    return tuple(
        MenuItem(
            f"Skip to {title}",
            ask=f"Why does {part.name} skip forward to {title}?",
            with_words=partial(c.Skip, part.name, step),
        )
        for title, step in [*to, ("the end: it is done", None)]
    )


def _hold_run(bench: Bench) -> MenuItem:
    if bench.phase is RunPhase.HELD:
        return MenuItem("Resume the whole run", c.Resume(None))
    if bench.phase is not RunPhase.RUNNING:
        return MenuItem("Hold the whole run")
    reasons = _reasons("Why is the run held?", partial(c.Hold, None))
    return MenuItem("Hold the whole run", choices=reasons)


def _scrap_some(part: Part, number: int) -> MenuItem:
    pieces = "1 piece" if number == 1 else f"{number} pieces"
    ask = f"SCRAP {pieces} of {part.called}: why?"
    return MenuItem(pieces, ask=ask, with_words=partial(c.ScrapSome, part.name, number))


def _give_up(part: Part | None) -> tuple[MenuItem, ...]:
    items = [MenuItem("Go back", leaves=True)]
    if part is not None:
        ask = f"SCRAP {part.name}: why?"
        items.append(
            MenuItem(f"Scrap {part.name}", ask=ask, with_words=partial(c.Scrap, part.name))
        )
    else:
        items.append(MenuItem("Scrap the part (pick one first)"))
    if part is not None and part.count > 1:
        some = tuple(_scrap_some(part, number) for number in range(1, part.count))
        items.append(MenuItem(f"Scrap some pieces of {part.called}", choices=some))
    items.append(
        MenuItem("Abort the whole run", ask="ABORT the whole run: why?", with_words=c.Abort)
    )
    return tuple(items)


def _book(bench: Bench, suiting: Mapping[str, tuple[str, ...]]) -> tuple[MenuItem, ...]:
    """The entries of the bath book: mix a bath, put one in, write one up."""
    wants = {name: place for name, place in bench.places.items() if place.station.bath is not None}
    mixed = tuple(
        MenuItem(
            place.station.title, mixes=name, ask=f"{place.station.title}: name of the new bath?"
        )
        for name, place in wants.items()
        if name in bath_of(bench)
    )
    put_in = tuple(
        MenuItem(f"{bath} into {wants[name].station.title}", c.TieBath(name, bath))
        for name, baths in suiting.items()
        for bath in baths
        if name in wants and bench.baths.get(name) != bath
    )
    if not (wants or bench.baths):
        return ()
    return (
        MenuItem("About a bath of this run", choices=_baths(bench) if bench.baths else ()),
        MenuItem("A bath was mixed", choices=mixed),
        MenuItem("Put a bath from the book in its place", choices=put_in),
    )


def bath_of(bench: Bench) -> dict[str, b.MixBath]:
    """The mix for each place of a run, by place id, in the bath book's words."""
    found: dict[str, b.MixBath] = {}
    for recipe in bench.recipes.values():
        for mix, place in mixed_for(recipe):
            window = bench.places[place].station.temperature
            limits = (str(window.min), str(window.max)) if window is not None else None
            volume = str(mix.volume) if mix.volume is not None else None
            made = b.MixBath(mix.title, mix=mix.id, recipe=recipe.id, volume=volume, window=limits)
            found.setdefault(place, made)
    return found


def _baths(bench: Bench) -> tuple[MenuItem, ...]:
    """The entries you can make about the run's baths while it runs."""
    names = list(dict.fromkeys(bench.baths.values()))
    if len(names) == 1:
        return _about_bath(names[0])
    return tuple(MenuItem(name, choices=_about_bath(name)) for name in names)


def _about_bath(name: str) -> tuple[MenuItem, ...]:
    return (
        MenuItem(f"Top up {name}", ask=f"What did you add to {name}?", bath=name, in_book=b.TopUp),
        MenuItem(
            f"Read {name}: temperature, pH, Be or percent",
            ask=f"{name}: what does it read, with its unit?",
            bath=name,
            in_book=b.ReadBath,
        ),
        MenuItem(
            f"Metal that {name} dissolved, by weighing",
            ask=f"{name}: how much metal, like 4.2 g?",
            bath=name,
            in_book=b.Wear,
        ),
        MenuItem(
            f"Coupon of {name}: what a strip lost in 5 minutes",
            ask=f"{name}: weight lost or depth, like 0.12 g or 8 um?",
            bath=name,
            in_book=b.Coupon,
        ),
    )


def _readings(bench: Bench) -> tuple[MenuItem, ...]:
    return tuple(
        _reading(name, place)
        for name, place in bench.places.items()
        if place.station.temperature is not None or place.station.bath is not None
    )


def _reading(name: str, place: Place) -> MenuItem:
    """The reading of a station; a bare figure is in the unit shown."""
    title, window = place.station.title, place.station.temperature
    if window is None:
        return MenuItem(title, ask=f"{title}: what does it read?", with_words=partial(c.Read, name))
    unit = window.min.unit
    return MenuItem(
        title,
        ask=f"{title}: what does it read, in {unit}?",
        with_words=lambda text: c.Read(name, with_unit(text, unit)),
    )


def _stations(bench: Bench) -> tuple[MenuItem, ...]:
    items = []
    for name, place in bench.places.items():
        title = place.station.title
        if place.closed is None:
            items.append(MenuItem(f"{title}: take out of service", c.CloseStation(name)))
        else:
            items.append(MenuItem(f"{title}: back into service", c.OpenStation(name)))
    return tuple(items)
