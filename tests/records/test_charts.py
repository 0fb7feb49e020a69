"""The charts of a record: dwells against their windows, baths between their limits."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from benchtimer.records.charts import MAX_X, MIN_X, baths_svg, dwells_svg
from benchtimer.records.html_record import as_html
from benchtimer.records.record import Record, make_record
from benchtimer.run import commands as c
from tests.records.golden import entries_of
from tests.support import MINUTE, Hands


def record(minutes: float, *readings: str) -> Record:
    """The record of a bolster in a tank with a window of 4 to 8 minutes."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank("bolster")
    for reading in readings:
        hands(c.Read("tank", reading))
    hands(c.Begin("bolster"), round(minutes * MINUTE))
    return make_record(entries_of(hands))


def pulled_at(made: Record) -> float:
    """The tip of the first dwell's mark."""
    found = re.search(r"Z?L([0-9.]+) \d+ Z", dwells_svg(made))
    assert found is not None
    return float(found[1])


def test_a_dwell_is_drawn_against_its_window() -> None:
    """Cut short is left of min, within is between, an overrun is right of max and labeled."""
    short, within, over = record(2), record(6), record(12)
    assert pulled_at(short) < MIN_X < pulled_at(within) < MAX_X < pulled_at(over)
    assert ">!!</text>" in dwells_svg(over)
    assert 'class="over"' in dwells_svg(over)
    assert 'class="over"' not in dwells_svg(within)


def test_a_bath_out_of_range_is_past_its_limit_and_marked() -> None:
    """Readings are dots between the lines of max and min; those outside have a mark."""
    svg = baths_svg(record(6, "72 C", "64 C"))
    top, bottom = (float(y) for y in re.findall(r'class="limit"[^>]* y1="([0-9.]+)"', svg))
    first, hot, last = (float(y) for y in re.findall(r'<circle [^>]*cy="([0-9.]+)"', svg))
    assert hot < top < first < bottom
    assert top < last < bottom
    assert ">72 !</text>" in svg


def test_overruns_are_named_at_the_top_of_the_card() -> None:
    """The card names part and step of an overrun before everything else."""
    page = as_html(record(12))
    assert page.index("OVERRUN by 4 min (Dip, tank)") < page.index("<dl>")
    assert '<ul class="trouble">' not in as_html(record(6))


def test_charts_are_well_formed() -> None:
    """Both charts are well-formed XML."""
    made = record(12, "72 C")
    for svg in (dwells_svg(made), baths_svg(made)):
        assert ElementTree.fromstring(svg).tag.endswith("svg")  # noqa: S314  made here
