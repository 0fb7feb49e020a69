"""Limits of quantities: range of each kind, length of text, hours of the day, messages."""

from __future__ import annotations

import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchtimer.quantity import (
    DAY_MIN,
    KINDS,
    MAX_KNOWN,
    MAX_TEXT,
    Quantity,
    QuantityError,
    nearest,
    parse,
    parse_duration,
    parse_hours,
    pattern,
    show_number,
)
from benchtimer.times import duration

# The largest and smallest accepted text of each kind, and the nearest refused one.
EDGES = [
    ("temperature", ["-60 C", "1400 C", "2552 F", "-76 F"], ["-60.1 C", "1400.1 C", "2552.5 F"]),
    ("volume", ["0 L", "100000 L", "26417 gal"], ["-0.001 mL", "100000.1 L", "26418 gal"]),
    ("mass", ["0 g", "10000 kg", "22046 lb"], ["-1 mg", "10000.1 kg", "22047 lb"]),
    ("concentration", ["0 g/L", "3 kg/L", "25 lb/gal"], ["3000.1 g/L", "26 lb/gal", "-1 g/L"]),
    ("dose", ["0 mL/L", "1000 mL/L"], ["1000.1 mL/L", "-1 mL/L"]),
    ("share", ["0 %", "100 %"], ["100.01 %", "-0.01 %"]),
    ("acidity", ["-2 pH", "16 pH"], ["-2.1 pH", "16.1 pH"]),
    ("strength", ["0 Be", "80 °Be"], ["80.1 Be", "-1 Be"]),
    ("length", ["-500 m", "10 cm", "10000 m"], ["-500.1 m", "10000.1 m", "32809 ft"]),
    ("pressure", ["0 Pa", "2000 kPa", "20000 hPa"], ["2000.1 kPa", "-1 Pa"]),
    ("rotation", ["0 rpm", "100000 rpm"], ["100000.1 rpm", "-1 rpm"]),
    ("speed", ["0 m/s", "1000 m/s", "196850 ft/min"], ["1000.1 m/s", "196851 ft/min"]),
    ("power", ["0 W", "100 kW"], ["100.1 kW", "-1 W"]),
    ("angle", ["0 deg", "360 deg"], ["360.1 deg", "-1 deg"]),
    ("area", ["0 cm2", "1000000 cm2", "155000 in2"], ["1000000.1 cm2", "155001 in2"]),
]


def _refused(text: str, kind: str | None = None) -> QuantityError:
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    return caught.value


def test_the_edges_cover_every_kind_but_time() -> None:
    """Every kind of quantity has its range here; durations have theirs with their own tests."""
    assert {kind for kind, _, _ in EDGES} == set(KINDS) - {"time"}


@pytest.mark.parametrize(("kind", "inside", "outside"), EDGES, ids=[edge[0] for edge in EDGES])
def test_each_kind_of_quantity_has_sensible_limits(
    kind: str, inside: list[str], outside: list[str]
) -> None:
    """The last real value is accepted in any unit, and the next one is refused."""
    for text in inside:
        assert parse(text, kind).kind.name == kind
    for text in outside:
        assert _refused(text, kind).reason == "it is far outside any real value"
        assert _refused(text).kind == kind


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        (
            "9000 F",
            "temperature",
            '"9000 F" is not a temperature: it is far outside any real value; '
            "between -76 F and 2552 F is accepted",
        ),
        (
            "-2 gal",
            None,
            '"-2 gal" is not a volume: it is far outside any real value; '
            "between 0 gal and 26417.205 gal is accepted",
        ),
        (
            "10 min",
            "temperature",
            '"10 min" is not a temperature: "min" is a unit of time; '
            'write it like "290 F" or "143 C" (units: C, F, K)',
        ),
        (
            "3 apples",
            None,
            '"3 apples" is not a quantity: "apples" is not a unit; '
            'write it like "290 F", "10 min" or "2 L"',
        ),
        (
            "370 deg",
            "angle",
            '"370 deg" is not an angle: it is far outside any real value; '
            "between 0 deg and 360 deg is accepted",
        ),
        (
            "400 d",
            "time",
            '"400 d" is not a time: it is longer than a year; '
            'write it like "90 s", "10 min" or "1 h 30 min" (units: s, min, h, d)',
        ),
        (
            "1 gall",
            "volume",
            '"1 gall" is not a volume: "gall" is not a unit, did you mean "gal"?; '
            'write it like "2 L", "250 mL" or "1 gal" (units: L, mL, gal, qt, fl oz)',
        ),
    ],
)
def test_a_refusal_names_text_kind_reason_and_remedy(
    text: str, kind: str | None, message: str
) -> None:
    """The message is one complete sentence."""
    assert str(_refused(text, kind)) == message


def test_a_quantity_in_a_foreign_unit_names_its_own() -> None:
    """Liters given in grams are refused with the units of a volume."""
    with pytest.raises(QuantityError) as caught:
        Quantity(2, "L").to("g")
    assert str(caught.value) == (
        '"2 L" is not a volume: it can\'t be given in "g"; '
        'write it like "2 L", "250 mL" or "1 gal" (units: L, mL, gal, qt, fl oz)'
    )


def test_a_text_of_the_longest_length_is_read_whole() -> None:
    """Sixty-four characters are accepted and quoted whole, sixty-five are not."""
    longest = "5 C".ljust(MAX_TEXT)
    assert parse(longest) == Quantity(5, "C")
    assert parse_duration("5 s".ljust(MAX_TEXT)) == 5
    assert _refused(longest + " ").text == longest + "..."
    assert _refused("x" * MAX_TEXT).text == "x" * MAX_TEXT
    with pytest.raises(QuantityError):
        parse_duration("5 s".ljust(MAX_TEXT + 1))


def test_a_comma_far_into_the_text_is_not_searched() -> None:
    """A text too long for a quantity gets no hint about its comma."""
    assert _refused("1,5 " + "x" * MAX_TEXT).reason == "it needs a number and a unit"


@pytest.mark.parametrize(
    ("text", "base", "span"),
    [("45 F", 65 / 9, 25), ("25 C", 25, 25), ("290 K", 16.85, 290), ("2 qt", 1.892705892, None)],
)
def test_a_difference_has_no_offset(text: str, base: float, span: float | None) -> None:
    """As a difference, 45 F is 25 C; as a reading, it is 7.2 C."""
    quantity = parse(text)
    assert quantity.base == pytest.approx(base)
    assert quantity.base_span == pytest.approx(base if span is None else span)


@given(st.sampled_from(list(KINDS)), st.data())
def test_more_is_more_in_every_unit(kind: str, data: st.DataObject) -> None:
    """Converting two quantities never changes their order."""
    units = st.sampled_from(list(KINDS[kind].units))
    unit, other = data.draw(units), data.draw(units)
    low, high = sorted(data.draw(st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))))
    assume(high - low > 1e-6)
    assert Quantity(low, unit).to(other).value < Quantity(high, unit).to(other).value


@given(st.sampled_from(list(KINDS)))
def test_the_example_of_a_kind_is_read_as_that_kind(kind: str) -> None:
    """The example in an error message is accepted."""
    for text in KINDS[kind].example.replace(" or ", ", ").split(", "):
        assert parse(text.strip('"'), kind).kind.name == kind


@given(st.integers(-400 * 86_400, -1))
def test_a_negative_duration_mirrors_the_positive_one(seconds: int) -> None:
    """Overdue time looks like time left, with a minus sign."""
    assert duration(seconds) == "-" + duration(-seconds)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (119, "1 min 59 s"),
        (120, "2 min"),
        (121, "2 min 1 s"),
        (3599, "59 min 59 s"),
        (3600, "1 h"),
        (3601, "1 h 1 s"),
        (3719, "1 h 1 min 59 s"),
        (86_399, "23 h 59 min 59 s"),
        (86_400, "1 d"),
        (86_401, "1 d 1 s"),
        (90_000, "1 d 1 h"),
    ],
)
def test_durations_change_units_at_the_right_second(seconds: int, text: str) -> None:
    """The wording changes at a minute, an hour and a day."""
    assert duration(seconds) == text


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [(12.0, 9, "12"), (100, 0, "100"), (0.1 + 0.2, 9, "0.3"), (2.5, 0, "2"), (-0.04, 1, "0")],
)
def test_a_number_is_shown_to_its_places(value: float, places: int, text: str) -> None:
    """Zeros before the point stay, and trailing zeros after it go."""
    assert show_number(value, places) == text


minutes = st.integers(0, DAY_MIN - 1)


def _clock(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


@given(minutes, st.integers(0, DAY_MIN), st.sampled_from(["-", " - ", "- "]))
def test_hours_of_the_day_are_read_to_the_minute(begin: int, end: int, dash: str) -> None:
    """Any two different times of day read as minutes, overnight or not."""
    assume(begin != end)
    assert parse_hours(f" {_clock(begin)}{dash}{_clock(end)} ") == (begin, end)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("22:00-07:00", (1320, 420)),
        ("9:05-17:59", (545, 1079)),
        ("00:00-24:00", (0, 1440)),
        ("23:59-00:00", (1439, 0)),
    ],
)
def test_hours_are_read_as_people_write_them(text: str, minutes: tuple[int, int]) -> None:
    """The hour has one digit or two, and midnight works at either end."""
    assert parse_hours(text) == minutes


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("22:00", "it is not a pair of times of day"),
        ("22-07", "it is not a pair of times of day"),
        ("22:00 to 07:00", "it is not a pair of times of day"),
        ("22:00-07:00" + " " * 60, "it is not a pair of times of day"),
        ("22:00-22:00", "there are no such hours"),
        ("24:00-07:00", "there are no such hours"),
        ("22:60-07:00", "there are no such hours"),
        ("22:00-07:99", "there are no such hours"),
        ("22:00-24:01", "there are no such hours"),
        ("25:00-07:00", "there are no such hours"),
    ],
)
def test_bad_hours_are_refused(text: str, reason: str) -> None:
    """Wrong hours are named, with the correct form."""
    with pytest.raises(QuantityError) as caught:
        parse_hours(text)
    assert (caught.value.kind, caught.value.reason) == ("span of the day", reason)
    assert caught.value.allowed == 'write it like "22:00-07:00"'


@given(st.text(alphabet="0123456789:- x", max_size=14))
def test_any_text_is_hours_or_is_refused(text: str) -> None:
    """Any text gives two minutes of the day or a readable error."""
    try:
        begin, end = parse_hours(text)
    except QuantityError:
        return
    assert 0 <= begin < DAY_MIN
    assert 0 <= end <= DAY_MIN
    assert begin != end


@pytest.mark.parametrize(
    ("word", "known", "close"),
    [
        ("SALTS", ["salts"], "salts"),
        ("salts", ["Salts"], "Salts"),
        ("slats", ["salts", "boil"], "salts"),
        ("boil", ["salts"], None),
        ("a" * MAX_TEXT, ["a" * MAX_TEXT], "a" * MAX_TEXT),
        ("x", ["X", "x"], "X"),
        ("last", [f"q{i}" for i in range(MAX_KNOWN - 1)] + ["last"], "last"),
    ],
)
def test_a_hint_is_the_word_that_was_meant(word: str, known: list[str], close: str | None) -> None:
    """Hints ignore case, and a text unlike any word gets none."""
    assert nearest(word, known) == close


@pytest.mark.parametrize("text", ["1e3 C", "nan C", "inf C", "0x10 C", "1_0 C", "½ L", "٣ C"])
def test_numbers_of_other_scripts_are_refused(text: str) -> None:
    """Only plain decimal figures count: no exponents, no words, no other digits."""
    reason = _refused(text).reason
    assert reason == "it needs a number and a unit" or "is not a unit" in reason


@pytest.mark.parametrize("kind", list(KINDS))
def test_no_published_pattern_matches_a_bare_number(kind: str) -> None:
    """An editor that uses the pattern asks for the unit too."""
    assert not re.search(pattern(kind), "12")
    assert not re.search(pattern(kind), "")
