"""Bench time runs forward through sleep, jumps, restarts and wrong clocks."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.bench_time import Timeline, gap_since
from benchtimer.clock import ManualClock, PracticeClock, SystemClock, offset_s
from benchtimer.run.events import Started
from benchtimer.store.log import LogEntry

MINUTE = 60_000
HOUR = 3_600_000
DAY = 24 * HOUR
NOON = 1_770_000_000_000


def _entry(timeline: Timeline) -> LogEntry:
    stamp = timeline.stamp()
    return LogEntry(1, "a", Started(press=1, t_ms=stamp.noted_ms, by="maker"), stamp)


def test_bench_time_counts_through_sleep() -> None:
    """Nine hours asleep are nine hours of dwell."""
    clock = ManualClock(NOON)
    timeline = Timeline(clock, None)
    before = timeline.stamp().noted_ms
    clock.advance(9 * HOUR)
    assert timeline.stamp().noted_ms - before == 9 * HOUR
    assert timeline.wall_jump_ms() == 0


def test_setting_the_wall_clock_changes_no_timer() -> None:
    """A wall clock set a day back is reported until recorded, and bench time continues."""
    clock = ManualClock(NOON)
    timeline = Timeline(clock, None)
    before = timeline.stamp().noted_ms
    clock.advance(5000)
    clock.set_wall(clock.wall_ms - DAY)
    assert timeline.wall_jump_ms() == -DAY
    assert timeline.wall_jump_ms() == -DAY
    timeline.acknowledge_jump()
    assert timeline.wall_jump_ms() == 0
    assert timeline.stamp().noted_ms - before == 5000


def test_small_corrections_of_the_wall_clock_pass() -> None:
    """A small correction by a time service leaves no entry."""
    clock = ManualClock(NOON)
    timeline = Timeline(clock, None)
    for _ in range(100):
        clock.advance(1000)
        clock.set_wall(clock.wall_ms + 1)
        assert timeline.wall_jump_ms() == 0


def test_the_count_goes_on_after_a_program_restart() -> None:
    """On the same boot the time away comes from the count, whatever the wall clock says."""
    clock = ManualClock(NOON)
    last = _entry(Timeline(clock, None))
    clock.advance(HOUR)
    clock.set_wall(NOON + 10 * DAY)
    timeline = Timeline(clock, last)
    assert timeline.gap is not None
    assert (timeline.gap.elapsed_from, timeline.gap.away_ms) == ("counting clock", HOUR)
    assert timeline.gap.jump_ms == 10 * DAY - HOUR
    assert timeline.stamp().noted_ms == last.stamp.noted_ms + HOUR


def test_after_a_reboot_the_wall_clock_decides() -> None:
    """After a reboot the time away comes from the wall clock and is marked so."""
    clock = ManualClock(NOON)
    last = _entry(Timeline(clock, None))
    clock.restart("another boot", 3 * HOUR)
    timeline = Timeline(clock, last)
    assert timeline.gap is not None
    assert (timeline.gap.elapsed_from, timeline.gap.away_ms) == ("wall clock", 3 * HOUR)
    assert timeline.stamp().noted_ms == last.stamp.noted_ms + 3 * HOUR


def test_a_wall_clock_from_1970_is_ignored() -> None:
    """With a dead battery time does not go back, and the gap is marked unknown."""
    clock = ManualClock(NOON)
    last = _entry(Timeline(clock, None))
    clock.restart("another boot", 0)
    clock.set_wall(0)
    timeline = Timeline(clock, last)
    assert timeline.gap is not None
    assert (timeline.gap.elapsed_from, timeline.gap.away_ms) == ("nothing", 0)
    assert timeline.stamp().noted_ms == last.stamp.noted_ms


def test_a_corrected_clock_shows_how_long_the_machine_was_off() -> None:
    """After a start in 1970 bench time waits, then catches up once, as far as known."""
    clock = ManualClock(NOON)
    last = _entry(Timeline(clock, None))
    clock.restart("another boot", 0)
    clock.set_wall(DAY)
    timeline = Timeline(clock, last)
    behind = [timeline.is_behind]
    assert timeline.catch_up_ms() == 0
    clock.advance(HOUR)
    clock.set_wall(NOON + 5 * HOUR)
    assert timeline.catch_up_ms() == 4 * HOUR
    assert timeline.stamp().noted_ms == last.stamp.noted_ms + 5 * HOUR
    behind.append(timeline.is_behind)
    assert behind == [True, False]
    assert timeline.catch_up_ms() == 0


def test_time_unknown_at_one_start_is_known_at_the_next() -> None:
    """The last entry with a known time sets the gap, across a whole session in 1970."""
    clock = ManualClock(NOON)
    dated = _entry(Timeline(clock, None))
    clock.restart("in 1970", 0)
    clock.set_wall(DAY)
    lost = Timeline(clock, dated)
    clock.advance(HOUR)
    last = _entry(lost)
    clock.restart("put right", 0)
    clock.set_wall(NOON + 5 * HOUR)
    timeline = Timeline(clock, last, dated=dated)
    assert timeline.gap is not None
    assert (timeline.gap.elapsed_from, timeline.gap.away_ms) == ("wall clock", 4 * HOUR)
    assert Timeline(clock, last).stamp().noted_ms > NOON + 365 * DAY  # which is why


def test_a_clock_that_always_starts_in_1970_is_ignored() -> None:
    """A few minutes later in 1970 is no time of day either."""
    clock = ManualClock(MINUTE)
    last = _entry(Timeline(clock, None))
    clock.restart("another boot", HOUR)
    assert gap_since(last, clock.read()).elapsed_from == "nothing"


def test_without_a_boot_id_the_wall_clock_decides() -> None:
    """Without boot names the count is never trusted across a restart."""
    clock = ManualClock(NOON, boot=None)
    last = _entry(Timeline(clock, None))
    clock.advance(HOUR)
    assert gap_since(last, clock.read()).elapsed_from == "wall clock"


@given(
    st.lists(
        st.tuples(st.sampled_from(["advance", "set", "restart"]), st.integers(-(10**13), 10**13)),
        max_size=20,
    )
)
def test_bench_time_never_goes_back(steps: list[tuple[str, int]]) -> None:
    """For any clock changes, no entry is before an earlier one."""
    clock = ManualClock(NOON)
    timeline = Timeline(clock, None)
    last = _entry(timeline)
    for number, (kind, ms) in enumerate(steps):
        if kind == "advance":
            clock.advance(abs(ms))
        elif kind == "set":
            clock.set_wall(ms)
        else:
            clock.restart(f"boot {number}", ms)
            timeline = Timeline(clock, last)
        entry = _entry(timeline)
        assert entry.stamp.noted_ms >= last.stamp.noted_ms
        last = entry


def test_the_practice_clock_is_stretched_evenly() -> None:
    """At thirty times the speed both clocks agree, also across a restart of the program."""
    base = ManualClock(NOON)
    first = PracticeClock(base, 30, NOON).read()
    base.advance(1000)
    later = PracticeClock(base, 30, NOON).read()
    assert later.count_ms - first.count_ms == 30_000
    assert later.wall_ms - first.wall_ms == 30_000
    assert later.boot == first.boot


def test_the_machine_clock_counts() -> None:
    """The real clock moves forward and names the same boot twice."""
    clock = SystemClock()
    first, second = clock.read(), SystemClock().read()
    assert second.count_ms >= first.count_ms
    assert second.boot == first.boot
    assert abs(offset_s(first.wall_ms)) < 86_400
    assert offset_s(10**18) == 0
