"""What must happen before a part's work, and what is never refused."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.decide import Now, create
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import SESSION_GAP_MS, PartPhase
from tests.support import MINUTE, SMALL, Hands, kinds, small_recipe, table
from tests.tui.benches import STRAIGHT_OVER

LINE = """
schema = 1
title = "Salts, boil, rack"

[[station]]
id = "rack"
title = "Rack"
holds = 6

[[station]]
id = "salts"
title = "Salts"
holds = 2
chemistry = ["alkali", "nitrite"]
temperature = { min = "285 F", max = "295 F", ceiling = "310 F", every = "10 min" }

[[station]]
id = "boil"
title = "Boil"
holds = 2
purpose = "rinse"
temperature = { min = "95 C", max = "105 C", every = "10 min" }

[[hazard]]
before = "salts"
title = "Salts burn"
text = "Gear."

[[hazard]]
before = "boil"
title = "Boil scalds"
text = "Gear."

[[step]]
id = "hang"
title = "Hang up"
at = "rack"
hands = "10 s"
dwell = { min = "0 s", target = "0 s" }

[[step]]
id = "black"
title = "Into the salts"
at = "salts"
hands = "20 s"
dwell = { min = "5 min", target = "10 min", max = "20 min" }

[[step]]
id = "boil-out"
title = "Into the boil"
at = "boil"
hands = "30 s"
dwell = { min = "5 min", target = "10 min", max = "30 min" }

[[step]]
id = "rest"
title = "Back to the rack"
at = "rack"
hands = "10 s"
dwell = { min = "1 min", target = "1 min" }
"""


@dataclass
class Night:
    """A pause long enough that the next press starts another session."""

    hands: Hands

    def __post_init__(self) -> None:
        self.hands.now_ms += SESSION_GAP_MS


def line(names: tuple[str, ...] = ("bolster",)) -> Hands:
    """Hands at the line recipe that read no page unless told."""
    return Hands(names, small_recipe(LINE), reads=False)


def to_rack(hands: Hands, name: str = "bolster") -> None:
    """Bring a part to the rack."""
    hands(c.Begin(name))
    hands(c.Finish(name), 10_000)


def to_salts(hands: Hands, name: str = "bolster") -> None:
    """Bring a part from the rack into salts that were read."""
    hands(c.Read("salts", "290 F"))
    hands(c.Begin(name))
    hands(c.Finish(name), 20_000)


def test_a_bath_never_read_takes_no_part_that_can_wait() -> None:
    """A picked part stays on its rack until the salts are read."""
    hands = line()
    to_rack(hands)
    with pytest.raises(r.ReadingFirst, match="not read yet") as refused:
        hands(c.Begin("bolster"))
    assert refused.value.place == "salts"
    hands(c.Read("salts", "290 F"))
    assert kinds(hands(c.Begin("bolster"))) == ["TakenOut", "WorkBegan"]


@pytest.mark.parametrize(
    ("minutes", "reading", "why"),
    [(11, "290 F", "too old"), (0, "284 F", "too cool"), (0, "299 F", "too hot")],
)
def test_an_old_or_bad_reading_does_not_count(minutes: int, reading: str, why: str) -> None:
    """A bath whose reading is too old or out of range must be read again."""
    hands = line()
    to_rack(hands)
    hands(c.Read("salts", reading))
    with pytest.raises(r.ReadingFirst, match=why):
        hands(c.Begin("bolster"), minutes * MINUTE)


def test_a_reading_without_an_interval_lasts_the_session() -> None:
    """A bath without a rhythm that was read in the evening is read again the next morning."""
    hands = Hands(("a", "b"), small_recipe(SMALL.replace(', every = "10 min"', "")), reads=False)
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("a"), 3 * 60 * MINUTE)
    Night(hands)
    for page in hands.recipe.hazard:
        hands(c.Acknowledge(page.title))
    with pytest.raises(r.ReadingFirst, match="too old"):
        hands(c.Begin("b"))


@pytest.mark.parametrize("reason", c.NO_READING)
def test_going_on_without_a_reading_takes_a_reason_that_the_record_names(reason: str) -> None:
    """An override is an entry and a deviation, and it lasts no longer than a reading."""
    hands = line()
    to_rack(hands)
    events = hands(c.SkipReading("salts", reason))
    assert kinds(events) == ["ReadingSkipped", "Deviated"]
    deviation = events[1]
    assert isinstance(deviation, e.Deviated)
    assert (deviation.what, deviation.found) == ("no-reading", reason)
    hands(c.Begin("bolster"), 9 * MINUTE)
    hands(c.Undo())
    with pytest.raises(r.ReadingFirst, match="too old"):
        hands(c.Begin("bolster"), 2 * MINUTE)


def test_a_reason_lets_parts_into_a_bath_that_was_misread() -> None:
    """After a bad reading "read but not entered" lets parts in, until the next figure."""
    hands = line()
    to_rack(hands)
    hands(c.Read("salts", "284 F"))
    hands(c.SkipReading("salts", "read but not entered"))
    hands(c.Begin("bolster"))
    hands(c.Undo())
    hands(c.Read("salts", "283 F"))
    with pytest.raises(r.ReadingFirst, match="too cool"):
        hands(c.Begin("bolster"))


def test_a_part_in_hand_goes_in_even_if_the_reading_has_expired() -> None:
    """A part in hand goes into the salts even if their reading has just expired."""
    hands = line()
    to_rack(hands)
    hands(c.Read("salts", "290 F"))
    hands(c.Begin("bolster"), 9 * MINUTE)
    assert "PutIn" in kinds(hands(c.Finish("bolster"), 5 * MINUTE))


def test_a_part_past_its_window_leaves_even_with_unread_pages() -> None:
    """A late part is pulled and goes into the boil without its page or a reading."""
    hands = Hands(("bolster",), small_recipe(LINE), reads=False)
    to_rack(hands)
    to_salts(hands)
    Night(hands)
    first = agenda(hands.state.bench, hands.now_ms)[0]
    assert (first.kind, first.part) == (ActionKind.BEGIN, "bolster")
    assert kinds(hands(c.Begin("bolster"))) == ["TakenOut", "Deviated", "WorkBegan"]
    assert "PutIn" in kinds(hands(c.Finish("bolster")))
    assert hands.part().station == "boil"


@pytest.mark.parametrize("minutes", [6, 19, 21, 600])
def test_a_pull_alone_is_never_refused(minutes: int) -> None:
    """With every page and bath unread, a part can still come out of the salts."""
    hands = line()
    to_rack(hands)
    to_salts(hands)
    assert kinds(hands(c.TakeOut("bolster"), minutes * MINUTE))[0] == "TakenOut"
    assert "WorkBegan" in kinds(hands(c.Begin("bolster")))


def test_pages_are_read_before_the_part_leaves_its_safe_place() -> None:
    """On the rack the pages of salts and boil come first; in the salts they are done."""
    hands = line()
    to_rack(hands)
    Night(hands)
    hands(c.Read("salts", "290 F"))
    for title in ("Salts burn", "Boil scalds"):
        with pytest.raises(r.HazardFirst, match=title):
            hands(c.Begin("bolster"))
        hands(c.Acknowledge(title))
    hands(c.Begin("bolster"))


def test_an_acknowledgment_lasts_the_session() -> None:
    """One acknowledgment covers every part until the bench is idle for hours."""
    hands = line(("a", "b"))
    to_rack(hands, "a")
    to_salts(hands, "a")
    to_rack(hands, "b")
    to_salts(hands, "b")
    assert hands.part("b").phase is PartPhase.DWELLING
    assert hands.state.bench.is_acknowledged("Salts burn", hands.now_ms + SESSION_GAP_MS - 1)
    assert not hands.state.bench.is_acknowledged("Salts burn", hands.now_ms + SESSION_GAP_MS)


def test_a_wet_part_between_stations_shows_only_the_next_baths_page() -> None:
    """Sent back to the salts, a wet part needs only their page before it begins."""
    hands = line()
    to_rack(hands)
    to_salts(hands)
    hands(c.SendBack("bolster", "black"), 6 * MINUTE)
    Night(hands)
    with pytest.raises(r.HazardFirst, match="Salts burn"):
        hands(c.Begin("bolster"))
    hands(c.Acknowledge("Salts burn"))
    with pytest.raises(r.ReadingFirst):
        hands(c.Begin("bolster"))
    hands(c.SkipReading("salts", "by eye"))
    hands(c.Begin("bolster"))


def test_a_rinse_takes_parts_at_any_temperature_and_unread() -> None:
    """A cold, unread boil still rinses off the salts."""
    hands = line()
    hands(c.Read("boil", "40 C"))
    hands(c.Heat("boil"))
    to_rack(hands)
    to_salts(hands)
    hands(c.Begin("bolster"), 10 * MINUTE)
    assert "PutIn" in kinds(hands(c.Finish("bolster")))


TANKS = {
    "acid": SMALL.replace('title = "Tank"', 'title = "Etch"\nchemistry = ["acid"]'),
    "alkali": SMALL.replace('title = "Tank"', 'title = "Salts"\nchemistry = ["alkali"]'),
    "soda": SMALL.replace('title = "Tank"', 'title = "Soda"\nchemistry = ["carbonate"]'),
    "plain": SMALL,
}


@pytest.mark.parametrize(
    ("first", "second", "clash"),
    [("acid", "alkali", True), ("acid", "soda", False), ("acid", "plain", False)],
)
def test_two_recipes_whose_baths_must_not_meet_show_a_page(
    first: str, second: str, clash: bool
) -> None:
    """The page comes before the start and before either bath; mild pairs have none."""
    recipes = {key: table(small_recipe(TANKS[key])) for key in (first, second)}
    created = create(
        Now(0), uid="", title="t", recipes=recipes, parts=[("a", first), ("b", second)]
    )
    bench = fold(created).bench
    titles = [page.title for page in bench.clashes]
    assert bool(titles) is clash
    if clash:
        assert titles == ["Acid and alkali on one bench: violent heat and spray"]
        assert set(bench.clashes[0].before) == {"tank", "alkali-tank"}


def test_the_same_tank_id_in_two_recipes_holds_their_parts_apart() -> None:
    """A part goes into its own recipe's tank, and the log says which."""
    recipes = {key: table(small_recipe(TANKS[key])) for key in ("acid", "alkali")}
    hands = Hands(started=False)
    hands.state = fold(
        create(Now(0), uid="", title="t", recipes=recipes, parts=[("a", "acid"), ("b", "alkali")])
    )
    hands.reads = True
    for page in [*hands.state.bench.clashes, *small_recipe().hazard]:
        hands(c.Acknowledge(page.title))
    hands(c.Start())
    for name in ("a", "b"):
        hands.to_tank(name)
    placed = {name: hands.part(name).station for name in ("a", "b")}
    assert placed == {"a": "tank", "b": "alkali-tank"}
    titles = {n: hands.state.bench.places[p or ""].station.title for n, p in placed.items()}
    assert titles == {"a": "Etch", "b": "Salts"}


STRAIGHT = SMALL.replace('title = "Tank"', 'title = "Etch"\nchemistry = ["acid"]').replace(
    'title = "Rack"', 'title = "Salts"\nchemistry = ["alkali"]'
).replace('before = "tank"', 'before = ["tank", "rack"]')  # fmt: skip
BACK = 'grey = { to = "dip", limit = 1 }'


@pytest.mark.parametrize(
    ("change", "warned"),
    [(("", ""), True), (('id = "look"', 'id = "look"\nrinse = true'), False)],
)
def test_carry_over_between_incompatible_baths_gets_a_warning(
    change: tuple[str, str], warned: bool
) -> None:
    """Straight from acid into alkali needs a page; with a rinse between it does not."""
    text = STRAIGHT.replace(*change).replace(BACK, 'grey = { stop = "Gray." }')
    hands = Hands(("a",), small_recipe(text), started=False)
    pages = hands.state.bench.carried["small"]
    assert [page.before for page in pages] == ([("hang",)] if warned else [])
    if warned:
        assert "Etch into Salts without a rinse" in pages[0].title


def test_a_way_back_into_an_incompatible_bath_gets_a_warning() -> None:
    """A send-back from the salts to the etch without a rinse needs a page."""
    text = STRAIGHT.replace('id = "look"', 'id = "look"\nrinse = true')
    pages = Hands(("a",), small_recipe(text), started=False).state.bench.carried["small"]
    assert [page.before for page in pages] == [("dip",)]


def test_a_bath_out_of_service_holds_no_part_in_another_bath() -> None:
    """With the oil closed, a part in the tank can be pulled, but none begins toward it."""
    hands = Hands(names=("bolster",), recipe=small_recipe(STRAIGHT_OVER))
    hands(c.Read("oil", "65 C"))
    hands.to_tank()
    hands(c.CloseStation("oil", "spilled"))
    hands(c.Begin("bolster", anyway=True), 5 * MINUTE)
    assert hands.part().station is None
    tank = Hands(names=("bolster",))
    tank(c.CloseStation("tank", "copper in it"))
    with pytest.raises(r.OutOfService):
        tank(c.Begin("bolster"))
