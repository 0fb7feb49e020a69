"""Printed text, word for word: answers, refusals, and the full sheet of every topic."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.quantity import KINDS
from benchtimer.trade.figure import (
    Amount,
    Figure,
    FigureSource,
    Given,
    Origin,
    ResultLine,
    SourceStatus,
    render_text,
)
from benchtimer.trade.topic import DIFFERENCE, Parameter, Topic
from benchtimer.trade.topics import TOPICS, find_topic
from benchtimer.trade.valid_range import TradeError
from tests.trade import sheets
from tests.trade.derived import figure_for

FOLDER = Path(__file__).parent / "words"
Asked = dict[str, str]


def _rows(file: str) -> list[tuple[str, Asked, Any]]:
    """Topic, question and expected answer of every row of a file."""
    topics = tomllib.loads((FOLDER / file).read_text("utf-8"))
    return [
        (topic, dict(pair.split("=") for pair in asked.split("; ") if pair), comes)
        for topic, rows in topics.items()
        for asked, comes in rows.items()
    ]


def _cases(file: str) -> list[Any]:
    rows = _rows(file)
    return [pytest.param(*row, id=f"{row[0]} {'; '.join(row[1].values())}") for row in rows]


@pytest.mark.parametrize(("topic", "asked", "results"), _cases("answers.toml"))
def test_the_words_of_an_answer(topic: str, asked: Asked, results: list[str]) -> None:
    """An answer's lines, their order, units, places and words."""
    found = [f"{line.label}: {line.text}" for line in figure_for(topic, asked).results]
    if results[-1] == "...":
        assert found[: len(results) - 1] == results[:-1]
    else:
        assert found == results


@pytest.mark.parametrize(("topic", "asked", "error"), _cases("refusals.toml"))
def test_the_words_of_a_refusal(topic: str, asked: Asked, error: str) -> None:
    """A refusal names what was found and what is allowed, and has its own error type."""
    with pytest.raises(TradeError) as caught:
        figure_for(topic, asked)
    assert f"{type(caught.value).__name__}: {caught.value}" == error


@pytest.mark.parametrize("name", [f"{name}.txt" for name in TOPICS])
def test_a_whole_sheet_matches_the_saved_one(name: str) -> None:
    """Inputs, hazards, results, working, limits and sources of each topic's own example."""
    assert sheets.sheets()[name] == (sheets.FOLDER / name).read_text("utf-8")


def test_every_saved_sheet_has_a_topic() -> None:
    """Every file of the folder belongs to a topic."""
    assert {path.name for path in sheets.FOLDER.iterdir()} == set(sheets.sheets())


def test_every_topic_has_an_answer_and_a_refusal() -> None:
    """Every topic has an answer and a refusal in the stored cases."""
    assert {topic for topic, _, _ in _rows("answers.toml")} == set(TOPICS)
    assert {topic for topic, _, _ in _rows("refusals.toml")} >= set(TOPICS)


NOT_ONE = [
    "",
    "   ",
    "nan",
    "inf",
    "-",
    "1e5",
    "NaN K",
    "1,5 L",
    "0x1F",
    "twelve",
    "1 \N{DEGREE SIGN}",
]
PARAMETERS = [
    pytest.param(topic, parameter, id=f"{topic.name}-{parameter.name}")
    for topic in TOPICS.values()
    for parameter in topic.parameters
    if parameter.kind == DIFFERENCE or set(parameter.kind.split(" or ")) <= set(KINDS)
]


@pytest.mark.parametrize(("topic", "parameter"), PARAMETERS)
def test_a_bad_quantity_is_refused_with_the_parameters_name(
    topic: Topic, parameter: Parameter
) -> None:
    """Empty text, not-a-number, words and commas are refused with topic, parameter and text."""
    for text in NOT_ONE:
        with pytest.raises(TradeError) as caught:
            topic.figure({**topic.example, parameter.name: text})
        assert f'{topic.name}: {parameter.name}: "{text}" is not a' in str(caught.value)
        assert "write it like" in str(caught.value)


def _refusal(topic: Topic, asked: dict[str, str]) -> str | None:
    """The refusal of a question, None if it has an answer."""
    try:
        assert topic.figure(asked).results
    except TradeError as error:
        return str(error)
    return None


@pytest.mark.parametrize("name", TOPICS)
def test_a_missing_input_has_a_default_or_is_asked_for(name: str) -> None:
    """Without one of its inputs, or all, a topic answers or says which is missing."""
    topic = TOPICS[name]
    for left_out in topic.example:
        asked = {key: text for key, text in topic.example.items() if key != left_out}
        refusal = _refusal(topic, asked)
        assert refusal is None or left_out in refusal
    needed = [parameter.name for parameter in topic.parameters if parameter.needed]
    refusal = _refusal(topic, {})
    assert all(f"{each} is missing" in (refusal or "") for each in needed)


@pytest.mark.parametrize(("topic", "parameter"), PARAMETERS)
def test_a_unit_of_another_kind_is_named(topic: Topic, parameter: Parameter) -> None:
    """A unit of the wrong kind gets a message with the kind it belongs to."""
    wanted = {"temperature"} if parameter.kind == DIFFERENCE else set(parameter.kind.split(" or "))
    for kind in set(KINDS) - wanted:
        unit = KINDS[kind].base.symbol
        with pytest.raises(TradeError, match=f'"{re.escape(unit)}" is a unit of {kind}'):
            topic.figure({**topic.example, parameter.name: f"1 {unit}"})


def _figure(**change: Any) -> Figure:
    return Figure(
        **{
            "title": "Plain",
            "results": (ResultLine("a", "b"),),
            "working": (),
            "sources": (),
            "limits": (),
            **change,
        }
    )


@given(st.text(alphabet="ab ", min_size=1, max_size=300), st.integers(1, 120))
def test_text_of_any_length_keeps_the_width(text: str, width: int) -> None:
    """Words of usual length stay within the page, which is never narrower than forty."""
    words = " ".join(word[:30] for word in text.split())
    printed = render_text(_figure(limits=(words, "x")), width)
    assert max(map(len, printed.splitlines())) <= max(width, 40)
    assert printed.endswith("x\n")


def test_results_are_aligned() -> None:
    """Labels are padded to the longest, so the values line up."""
    printed = render_text(
        _figure(results=(ResultLine("short", "1"), ResultLine("rather long", "2")))
    )
    rows = printed.splitlines()[3:]
    assert rows == ["  short        1", "  rather long  2"]


def test_an_empty_section_is_left_out() -> None:
    """An empty section has no heading."""
    assert render_text(_figure()) == "Plain\n\nresult\n  a  b\n"


@pytest.mark.parametrize(
    ("amount", "text"),
    [
        (Amount(12.345, "C"), "12.3 C"),
        (Amount(12.0, "C", 2), "12 C"),
        (Amount(-0.04, "C"), "0 C"),
        (Amount(1234.5, "g", -2), "1200 g"),
        (Amount(1.5, "", 2), "1.5"),
    ],
)
def test_an_amount_shows_only_meaningful_decimals(amount: Amount, text: str) -> None:
    """Amounts are rounded, without needless zeros, minus zero, or a unit where none exists."""
    assert str(amount) == text


def test_a_line_has_value_other_units_and_note() -> None:
    """A line has a bound, the value, other units in parentheses, and a remark after a semicolon."""
    line = ResultLine("x", Amount(1, "L", 2), (Amount(0.2642, "gal", 2),), "cold", bound="at least")
    assert line.text == "at least 1 L (0.26 gal); cold"
    assert line.as_dict() == {
        "label": "x",
        "text": "at least 1 L (0.26 gal); cold",
        "value": 1,
        "unit": "L",
        "also": [{"value": 0.2642, "unit": "gal"}],
        "note": "cold",
    }


@pytest.mark.parametrize(
    ("origin", "text"),
    [(Origin.WRITTEN, ""), (Origin.SHOP, " (shop setting)"), (Origin.DEFAULT, " (default)")],
)
def test_an_input_names_where_it_came_from(origin: Origin, text: str) -> None:
    """An input you gave is plain; a default is marked."""
    assert str(Given("altitude", "1200 m", origin)) == f"altitude = 1200 m{text}"


@pytest.mark.parametrize("status", list(SourceStatus))
def test_a_source_states_how_reliable_it_is(status: SourceStatus) -> None:
    """Each source has its standing, except arithmetic, which needs none."""
    found = str(FigureSource("a table", status))
    assert found == ("a table" if status is SourceStatus.ARITHMETIC else f"a table [{status}]")


def test_a_word_is_read_in_any_capitals() -> None:
    """Capitals and spaces around a choice don't change the answer."""
    plain = figure_for("edge", {"flat": "0.5 mm", "angle": "15 deg", "sides": "one"})
    loud = figure_for("edge", {"flat": "0.5 mm", "angle": "15 deg", "sides": " ONE "})
    assert plain.results == loud.results


@pytest.mark.parametrize(("name", "topic"), TOPICS.items())
def test_a_topic_is_found_by_its_name(name: str, topic: Topic) -> None:
    """The registry returns each topic by name, with one line on what it answers."""
    assert find_topic(name) is topic
    assert topic.about
    assert len({p.name for p in topic.parameters}) == len(topic.parameters)


def test_an_entered_altitude_overrides_the_settings() -> None:
    """The shop's altitude is marked as such; one you give replaces it and is not."""
    shop = {"altitude": "1500 m"}
    stood_in = figure_for("salts-mix", {}, shop)
    written = figure_for("salts-mix", {"altitude": "1500 m"}, shop)
    assert [str(g) for g in stood_in.given] == [
        "target = 290 F (default)",
        "altitude = 1500 m (shop setting)",
    ]
    assert [str(g) for g in written.given] == ["target = 290 F (default)", "altitude = 1500 m"]
    assert stood_in.results == written.results


@pytest.mark.parametrize(
    ("sides", "formula"),
    [("one", "width = flat / sin(angle)"), ("two", "height = half the flat / (tan(angle)")],
)
def test_the_working_covers_only_what_was_asked(sides: str, formula: str) -> None:
    """A bevel on one side is not explained with the formula for two."""
    asked = {"flat": "0.5 mm", "angle": "15 deg", "sides": sides}
    assert figure_for("edge", asked).working[0].startswith(formula)
