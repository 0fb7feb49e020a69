"""Quantities: what is accepted, what is refused and why, and how they read back."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from benchtimer.quantity import (
    KINDS,
    MAX_DURATION_S,
    MAX_KNOWN,
    Quantity,
    QuantityError,
    nearest,
    parse,
    parse_duration,
    parse_typed,
    pattern,
    show_number,
)
from benchtimer.times import duration

numbers = st.decimals(0, 10**9, places=6).map(lambda d: f"{d.normalize():f}")
kinds = st.sampled_from(list(KINDS))
gaps = st.sampled_from(["", " ", "  ", "\t", "\N{NO-BREAK SPACE}"])


@st.composite
def near_quantities(draw: st.DrawFn) -> str:
    """Texts that are quantities or close to them."""
    symbols = [symbol for kind in KINDS.values() for symbol in kind.units]
    pieces = st.tuples(
        st.sampled_from(["", "", "+", "-"]),
        st.one_of(numbers, st.sampled_from(["1.", ".5", "1,5", "1e3", "1234567890123", "٣"])),
        gaps,
        st.sampled_from(["", "°", "° "]),
        st.sampled_from([*symbols, "hours", "f", "M", "m2", "", "."]),
    ).map("".join)
    return draw(gaps) + draw(gaps).join(draw(st.lists(pieces, min_size=1, max_size=3))) + draw(gaps)


def is_read_as(text: str, kind: str) -> bool:
    """Whether a text reads as a kind, except for errors that no pattern can catch."""
    try:
        parse(text, kind)
    except QuantityError as error:
        beyond_syntax = ("it is far outside any real value", "it is longer than a year")
        return error.reason in (*beyond_syntax, "it is not a whole number of seconds")
    return True


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("90 s", 90),
        ("10 min", 600),
        ("1 h 30 min", 5400),
        ("1h30min", 5400),
        ("1.5 h", 5400),
        ("1.1 h", 3960),
        ("0.1 min", 6),
        ("2 d 1 s", 172_801),
        (" 7 h ", 25_200),
        ("0 s", 0),
        ("366 d", MAX_DURATION_S),
    ],
)
def test_durations_are_read_as_people_write_them(text: str, seconds: int) -> None:
    """Plain, compound and decimal durations give whole seconds."""
    assert parse_duration(text) == seconds
    assert parse(text, "time").base == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("10 F", '"F" is a unit of temperature'),
        ("10 m", '"m" is a unit of length'),
        ("40 cm2", '"cm2" is a unit of area'),
        ("8 fl  oz", '"fl oz" is a unit of volume'),
        ("1 h 8 fl oz", "it needs a number and a unit"),
        ("2 minutes", '"minutes" is not a unit, did you mean "min"?'),
        ("90", "it needs a number and a unit"),
        ("", "it needs a number and a unit"),
        ("5 min.", "it needs a number and a unit"),
        ("soon", "it needs a number and a unit"),
        ("1 h and 5 min", "it needs a number and a unit"),
        ("1,5 h", "it has a comma; use a point for decimals"),
        ("-5 s", "it has a sign"),
        ("1 h -5 min", "it has a sign"),
        ("30 min 1 h", "the larger units go first"),
        ("1 h 1 h", "the larger units go first"),
        ("0.5 s", "it is not a whole number of seconds"),
        ("1.0000001 s", "it is not a whole number of seconds"),
        ("400 d", "it is longer than a year"),
        ("146000 d", "it is longer than a year"),
        ("1" * 100 + " s", "it needs a number and a unit"),
    ],
)
def test_a_text_that_is_not_a_duration_is_refused_with_a_reason(text: str, reason: str) -> None:
    """The error says what is wrong with a duration and shows a correct one."""
    for read in (parse_duration, lambda t: parse(t, "time")):
        with pytest.raises(QuantityError) as caught:
            read(text)
        assert (caught.value.kind, caught.value.reason) == ("time", reason)
        assert "1 h 30 min" in caught.value.allowed


@pytest.mark.parametrize(
    ("text", "kind", "value", "unit"),
    [
        ("290 F", "temperature", 290, "F"),
        ("290 °F", "temperature", 290, "F"),
        ("-12.5C", "temperature", -12.5, "C"),
        ("42 °Be", "strength", 42, "Be"),
        ("8 fl  oz", "volume", 8, "fl oz"),
        ("40 cm2", "area", 40, "cm2"),
        ("40%", "share", 40, "%"),
        ("8.3 pH", "acidity", 8.3, "pH"),
        ("12 oz/gal", "concentration", 12, "oz/gal"),
        ("1.5 h", None, 1.5, "h"),
        ("1 h 30 min", None, 5400, "s"),
    ],
)
def test_quantities_keep_their_number_and_unit(
    text: str, kind: str | None, value: float, unit: str
) -> None:
    """A quantity keeps its number and has the unit's one spelling."""
    assert parse(text, kind) == Quantity(value, unit)
    assert parse(text) == Quantity(value, unit)


@pytest.mark.parametrize(
    ("text", "kind", "reason"),
    [
        ("10 min", "temperature", '"min" is a unit of time'),
        ("290 f", "temperature", '"f" is not a unit, did you mean "F"?'),
        ("290 f", None, '"f" is not a unit, did you mean "F"?'),
        ("40 °g", "mass", '"°g" is not a unit, did you mean "g"?'),
        ("1,5 L", "volume", "it has a comma; use a point for decimals"),
        ("2 L 3", "volume", '"L 3" is not a unit'),
        ("pH 8", "acidity", "it needs a number and a unit"),
        ("9000 F", "temperature", "it is far outside any real value"),
        ("-1 g", "mass", "it is far outside any real value"),
        ("5 s s", None, "it needs a number and a unit"),
    ],
)
def test_a_text_of_another_kind_is_refused_with_a_reason(
    text: str, kind: str | None, reason: str
) -> None:
    """The error names the unit's real kind, or the nearest known unit."""
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    assert caught.value.reason == reason


def test_an_error_shows_a_long_or_unsafe_text_shortened_and_safe() -> None:
    """The error quotes a shortened text without control characters."""
    with pytest.raises(QuantityError) as caught:
        parse("5 \x1b[2J" + "x" * 1000)
    assert caught.value.text.startswith("5 ?[2J")
    assert len(caught.value.text) < 80
    assert str(caught.value).isprintable()


@given(st.integers(0, MAX_DURATION_S))
@example(90)
@example(3690)
@example(86_400)
def test_a_duration_shown_reads_back_to_the_same_seconds(seconds: int) -> None:
    """A displayed duration loses nothing, and seconds after a larger unit stay under 60."""
    text = duration(seconds)
    assert parse_duration(text) == seconds
    assert re.search(r"(min|h|d) ([6-9]\d|\d{3,}) s", text) is None


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min"),
        (90, "1 min 30 s"),
        (150, "2 min 30 s"),
        (3690, "1 h 1 min 30 s"),
        (5400, "1 h 30 min"),
        (129_600, "1 d 12 h"),
        (172_800, "2 d"),
        (-90, "-1 min 30 s"),
    ],
)
def test_a_duration_names_every_unit_that_counts(seconds: int, text: str) -> None:
    """Days, hours, minutes and seconds appear only where nonzero, after any minus sign."""
    assert duration(seconds) == text


@given(kinds, st.data())
def test_a_quantity_shown_reads_back_to_itself(kind: str, data: st.DataObject) -> None:
    """A displayed quantity reads back with the same number and unit."""
    unit = data.draw(st.sampled_from(list(KINDS[kind].units)))
    text = f"{data.draw(st.sampled_from(['', '-']))}{data.draw(numbers)} {unit}"
    try:
        quantity = parse(text)
    except QuantityError:
        assume(False)
    assert quantity.kind.name == kind
    assert parse(str(quantity), kind) == quantity


@given(kinds, st.data())
def test_converting_there_and_back_changes_nothing(kind: str, data: st.DataObject) -> None:
    """A quantity converted to another unit and back is the same."""
    units = st.sampled_from(list(KINDS[kind].units))
    quantity = Quantity(data.draw(st.floats(-1e6, 1e6)), data.draw(units))
    other = quantity.to(data.draw(units))
    assert other.base == pytest.approx(quantity.base, rel=1e-12, abs=1e-9)
    assert other.to(quantity.unit).value == pytest.approx(quantity.value, rel=1e-9, abs=1e-6)


def test_a_quantity_cannot_be_shown_in_a_unit_of_another_kind() -> None:
    """Liters never convert to grams."""
    with pytest.raises(QuantityError, match="can't be given in"):
        Quantity(2, "L").to("g")


@given(near_quantities(), kinds)
@example("10 s 5 min", "time")
@example("1.5h", "time")
@example("5 °C", "temperature")
@example("5 °g", "mass")
@example("", "time")
def test_the_published_pattern_matches_what_is_read(text: str, kind: str) -> None:
    """A text matches a kind's pattern exactly when the reader accepts its syntax."""
    assume(not text.endswith("\n"))
    assert (re.search(pattern(kind), text) is not None) == is_read_as(text, kind)


@given(kinds, st.data())
def test_whatever_follows_the_published_pattern_is_read(kind: str, data: st.DataObject) -> None:
    """Texts made from the pattern are accepted, except for range and whole seconds."""
    text = data.draw(st.from_regex(pattern(kind), fullmatch=True))
    assume(len(text) <= 64)
    assert is_read_as(text, kind)


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Any text gives a quantity or a quantity error."""
    for kind in (None, *KINDS):
        try:
            found: object = parse(text, kind)
        except QuantityError as error:
            found = error
        assert isinstance(found, Quantity | QuantityError)


@given(st.decimals(-(10**6), 10**6, places=9))
def test_a_number_shown_has_its_value_and_no_needless_zero(value: Decimal) -> None:
    """Nine decimals are kept, without trailing zeros."""
    text = show_number(float(value))
    assert float(text) == float(value)
    assert text == "0" or not re.search(r"\.\d*0$|\.$|^-0$", text)


def test_a_negative_zero_is_shown_as_zero() -> None:
    """A value that rounds to zero has no sign."""
    assert show_number(-0.0) == show_number(-1e-12) == "0"


@given(st.text(max_size=20), st.lists(st.text(max_size=10), max_size=10))
def test_the_nearest_word_is_a_known_one(word: str, known: list[str]) -> None:
    """A hint is a known word, and a known word is its own nearest."""
    assert nearest(word, known) in (None, *known)
    if known and len(known[0]) > 1:
        assert (nearest(known[0], known) or "").casefold() == known[0].casefold()


def test_hints_compare_with_a_bounded_number_of_words() -> None:
    """Hints skip overlong words and stop after a fixed number of words."""
    filler = [f"x{i}" for i in range(MAX_KNOWN)]
    assert nearest("salts", ["salt", *filler]) == "salt"
    assert nearest("salts", [*filler, "salt"]) is None
    assert nearest("s" * 1000, ["salt"]) is None
    assert nearest("salts", ["s" * 10_000]) is None


@pytest.mark.parametrize(
    ("text", "read"), [("290f", "290 F"), ("290 f", "290 F"), ("143.5c", "143.5 C")]
)
def test_a_unit_can_be_typed_in_lower_case_at_the_bench(text: str, read: str) -> None:
    """At the bench 290f is a reading; in a recipe it is an error."""
    assert str(parse_typed(text, "temperature")) == read
    with pytest.raises(QuantityError):
        parse(text, "temperature")
