"""What the home page says, without a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pytest
from rich.cells import cell_len

from benchtimer.run import commands as c
from benchtimer.run.run_state import RunState
from benchtimer.store.log import RunLine, Stamp
from benchtimer.view.home_rows import first_pick, home_rows, is_pressing, lead_rows, numbered
from benchtimer.view.letters import ROWS, half, large
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from tests.support import GEARED, MINUTE, Hands, moment_at

HOUR = 60 * MINUTE
EVENING = Stamp(noted_ms=0, boot=None, count_ms=0, wall_ms=1_770_062_400_000, offset_s=0)  # 20:00
SIZES = [Size(57, 20), Size(77, 24), Size(117, 40), Size(197, 60)]


def _at(hands: Hands) -> Stamp:
    return Stamp(hands.now_ms, None, 0, EVENING.wall_ms, 0)


def _open(hands: Hands, name: str = "2026-02-02-1") -> dict[str, RunState]:
    return {name: hands.state}


def _home(
    runs: dict[str, RunState],
    lines: list[RunLine],
    verdicts: Mapping[str, Sequence[str]],
    recipes: dict[str, str],
    stamp: Stamp,
    size: Size,
    *,
    read_only: bool = False,
) -> list[Row]:
    moment = moment_at(runs, stamp)
    return home_rows(moment, lines, verdicts, recipes, size, read_only=read_only)


def _lead(runs: dict[str, RunState], stamp: Stamp, size: Size) -> list[str]:
    return lead_rows(moment_at(runs, stamp), size)


def _curing() -> Hands:
    """The first part hangs on the rack for two hours; the others have not begun."""
    hands = Hands(names=("bolster", "[red]刃🔪" * 28))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", True))
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    return hands


def _text(rows: list[Row]) -> str:
    return "\n".join(line for row in rows for line in row.lines)


def test_a_long_dwell_shows_its_time_of_day() -> None:
    """A dwell of hours shows the time of day when it ends beside its countdown."""
    hands = _curing()
    rows = _home(_open(hands), [], {}, {}, _at(hands), SIZES[1])
    (row,) = [row for row in rows if row.key.startswith("wait:")]
    assert row.key == "wait:1:2026-02-02-1"
    assert "#1 bolster: Hang up" in row.lines[0]
    assert row.lines[0].rstrip().endswith("ends 22:00")
    assert "in Rack, 2 h to go" in row.lines[1]


def test_a_time_past_midnight_names_its_day() -> None:
    """A dwell that ends after midnight shows its day."""
    hands = _curing()
    late = Stamp(hands.now_ms, None, 0, EVENING.wall_ms + 3 * HOUR, 0)
    assert "ends Tue 01:00" in _text(_home(_open(hands), [], {}, {}, late, SIZES[1]))


def test_each_run_shows_its_next_action_and_urgency() -> None:
    """Each run shows verb, part and time of its next action; LATE is a word."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Read("tank", "65 C"))
    hands.now_ms += 9 * MINUTE
    (row,) = [r for r in _home(_open(hands), [], {}, {}, _at(hands), SIZES[1]) if r.key]
    assert row.lines[0].startswith("!1 PULL #1 bolster")
    assert "LATE" in row.lines[0]
    assert row.look == "late"


@pytest.mark.parametrize("size", SIZES)
def test_no_line_is_wider_than_the_screen(size: Size) -> None:
    """Names of 200 letters, wide characters and brackets fit every size."""
    hands = _curing()
    lines = [RunLine(f"2026-02-0{n}-1", "complete", "刃" * 99, ("b" * 200,), 0, 0) for n in (1, 2)]
    verdicts = {"2026-02-01-1": ("accepted", "rework")}
    rows = _home(_open(hands), lines, verdicts, {"x" * 90: "y" * 90}, _at(hands), size)
    assert all(cell_len(line) <= size.width for row in rows for line in row.lines)
    assert "accepted, rework" in _text(rows)
    assert "complete, not judged" in _text(rows)


def test_digits_open_runs_in_the_order_shown() -> None:
    """Digits number the open runs first, then the finished ones."""
    hands = _curing()
    line = RunLine("2026-02-01-1", "aborted", "Old", ("bolster",), 0, 0)
    rows = _home(_open(hands), [line], {}, {"hot-black": ""}, _at(hands), SIZES[1])
    assert numbered(rows) == ["run:2026-02-02-1", "record:2026-02-01-1"]


def _draws(lead: list[str], words: str, time: str) -> bool:
    """Whether rows begin with words and end with a time, both in large letters."""
    drawn = zip(lead, large(words), large(time), strict=False)
    return all(
        r[3:].startswith(a.rstrip()) and r.rstrip().endswith(b.rstrip()) for r, a, b in drawn
    )


def test_the_most_pressing_action_is_large_where_there_is_room() -> None:
    """On a tall screen the most pressing action of all runs is in large letters."""
    calm, late = Hands(started=False), Hands(names=("bolster",))
    late.to_tank()
    late(c.Read("tank", "65 C"))
    late.now_ms += 9 * MINUTE
    runs = {**_open(calm, "a"), **_open(late, "b")}
    lead = _lead(runs, _at(late), SIZES[2])
    assert lead[0] == ""
    assert _draws(lead[1:], "PULL #4", "LATE 1:01")
    assert len(lead) == ROWS + 3


def test_an_empty_bench_says_how_to_begin() -> None:
    """On an empty bench the first row plans a new run, except for a watcher."""
    rows = _home({}, [], {}, {"hot-black": "Hot"}, EVENING, SIZES[0])
    assert [row.key for row in rows if row.key] == ["new", "recipe:hot-black"]
    rows = _home({}, [], {}, {"hot-black": "Hot"}, EVENING, SIZES[0], read_only=True)
    assert [row.key for row in rows if row.key] == []


@pytest.mark.parametrize(("ahead_ms", "waits"), [(HOUR, True), (HOUR - 1, False), (0, False)])
def test_a_dwell_of_an_hour_shows_as_a_wait(ahead_ms: int, waits: bool) -> None:
    """A dwell with an hour or more left is listed as waiting; a shorter one is not."""
    hands = _curing()
    ends_ms = hands.part().since_ms + 2 * HOUR
    stamp = Stamp(ends_ms - ahead_ms, None, 0, EVENING.wall_ms, 0)
    rows = _home(_open(hands), [], {}, {}, stamp, SIZES[1])
    assert any(row.key.startswith("wait:") for row in rows) == waits


def test_the_wait_that_ends_first_comes_first() -> None:
    """Of several long dwells the one that ends first comes first."""
    hands = Hands(names=("bolster", "ferrule"))
    for name in ("ferrule", "bolster"):
        hands(c.Read("tank", "65 C"))
        hands.to_tank(name)
        hands(c.Begin(name), 5 * MINUTE)
        hands(c.Answer(name, "even", True))
        hands(c.Answer(name, "heat", "25 C"))
        hands(c.Finish(name))
    rows = _home(_open(hands), [], {}, {}, _at(hands), SIZES[1])
    found = [row.key for row in rows if row.key.startswith("wait:")]
    assert found == ["wait:2:2026-02-02-1", "wait:1:2026-02-02-1"]


def test_the_tenth_run_and_later_ones_have_no_digit() -> None:
    """Digits go up to nine; later runs are chosen with the mark."""
    lines = [RunLine(f"r{n}", "complete", "Old", ("bolster",), 0, 0) for n in range(1, 13)]
    rows = _home({}, lines, {}, {}, EVENING, SIZES[1])
    found = [row.lines[0][:3] for row in rows if row.key.startswith("record:")]
    assert found == [*(f" {n} " for n in range(1, 10)), *["   "] * 3]
    assert numbered(rows) == [f"record:r{n}" for n in range(1, 10)]


@pytest.mark.parametrize(
    ("presses", "expected", "look"),
    [
        ((), " 1 GEAR UP", "now"),
        (GEARED[:1], " 1 START", "plain"),
        (GEARED, " 1 READ Tank   before #1 bolster goes in", "now"),
        ((*GEARED, c.Hold(None, "x")), " 1 RESUME", "plain"),
    ],
)
def test_an_idle_or_held_run_shows_its_state(
    presses: Sequence[c.Command], expected: str, look: str
) -> None:
    """An idle run offers gear, then its start; a running one its next action; a held one resume."""
    hands = Hands(names=("bolster",), started=False)
    for command in presses:
        hands(command)
    (row,) = [r for r in _home(_open(hands), [], {}, {}, _at(hands), SIZES[1]) if r.key]
    assert row.lines[0].partition("  NOW")[0].rstrip() == expected
    assert row.look == look
    assert row.lines[1].startswith("   run 2026-02-02-1 (")
    assert row.lines[1].endswith(": Test, 1 part: bolster")


def test_the_large_line_is_the_latest_action_of_all_runs() -> None:
    """Late work leads, then due work, then the work due first."""
    late, due, calm = Hands(names=("a",)), Hands(names=("b",)), Hands(names=("c",), started=False)
    calm(c.Acknowledge("Hot tank"))
    late(c.Read("tank", "65 C"))
    late.to_tank("a")
    late.now_ms = due.now_ms = calm.now_ms = late.now_ms + 9 * MINUTE
    runs = [_open(calm, "c"), _open(due, "b"), _open(late, "a")]
    everything = runs[0] | runs[1] | runs[2]
    shops = [runs[0], runs[0] | runs[1], everything]
    found = [_lead(each, _at(late), SIZES[2]) for each in shops]
    assert found[0] == ["", *large(" START"), ""]
    assert found[1] == ["", *large(" READ TANK  NOW"), ""]
    new = Hands(names=("d",), now_ms=late.now_ms, started=False)
    assert _lead(_open(new, "d"), _at(late), SIZES[2]) == [
        "",
        *large(" GEAR UP: TANK  NOW"),
        "",
    ]
    assert _lead({**_open(new, "d"), **runs[0], **runs[1]}, _at(late), SIZES[2]) == found[1]
    below = " PULL #3  LATE 1:00   a   Tank → Rack"
    assert _draws(found[2][1:], "PULL #3", "LATE 1:00")
    assert found[2][ROWS + 1 :] == [below, ""]
    assert _lead(runs[0] | runs[1], _at(late), Size(30, 40)) == []
    assert _lead(runs[0] | runs[1], _at(late), Size(77, 33)) == []


@pytest.mark.parametrize(
    ("minutes", "size", "drawn"),
    [
        (9, SIZES[0], ("PULL #1", "1:00")),
        (9, SIZES[1], ("PULL #1", "1:00")),
        (426, SIZES[0], ("#1", "+6:58:00")),
        (426, SIZES[1], ("PULL #1", "6:58:00")),
        (426, Size(77, 34), ("PULL #1", "6:58:00")),
    ],
)
def test_a_late_action_is_large_on_every_screen(
    minutes: int, size: Size, drawn: tuple[str, str]
) -> None:
    """The part and how late it is are large on every screen; the name is below."""
    hands = Hands(names=("petty knife",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank("petty knife")
    hands.now_ms += minutes * MINUTE
    lead = [line for line in _lead(_open(hands), _at(hands), size) if line]
    assert _draws(lead, *drawn)
    said = " ".join(lead[:ROWS])
    assert "+" in drawn[1] or "late" in said or half("LATE")[1] in said or large("LATE")[0] in said
    assert "petty knife" in lead[ROWS]
    assert all(cell_len(line) <= size.width for line in lead)


def test_the_most_pressing_run_is_picked_first() -> None:
    """The mark starts on the run with the late part, even if its row is not the first."""
    late, calm = Hands(names=("a",)), Hands(names=("c",), started=False)
    late(c.Read("tank", "65 C"))
    late.to_tank("a")
    late.now_ms += 9 * MINUTE
    both = moment_at({**_open(calm, "c"), **_open(late, "a")}, _at(late))
    assert first_pick(both) == "run:a"
    assert is_pressing(both)
    alone = moment_at(_open(calm, "c"), _at(calm))
    assert first_pick(alone) == "run:c"


def test_a_late_run_has_the_mark_of_a_late_lane() -> None:
    """A run with a late part begins with ``!`` and has the late color; a calm one has neither."""
    late, calm = Hands(names=("a",)), Hands(names=("c",))
    late(c.Read("tank", "65 C"))
    late.to_tank("a")
    late.now_ms += 9 * MINUTE
    runs = {**_open(late, "a"), **_open(calm, "c")}
    rows = {row.key: row for row in _home(runs, [], {}, {}, _at(late), SIZES[1])}
    assert rows["run:a"].lines[0].startswith("!1 PULL #1")
    assert rows["run:a"].look == "late"
    assert rows["run:c"].lines[0].startswith(" 2 ")
    assert rows["run:c"].look != "late"
