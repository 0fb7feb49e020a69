"""The registry of topics: what it reads, what it refuses, what each figure includes."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.quantity import KINDS
from benchtimer.trade.figure import Origin, SourceStatus, render_text
from benchtimer.trade.topic import DIFFERENCE, NUMBER, TEXT_KINDS, Parameter, TopicError, read
from benchtimer.trade.topics import TOPICS, UnknownTopicError
from benchtimer.trade.valid_range import CannotTellError, OutOfRangeError, TradeError
from tests.trade.derived import figure_for

EXAMPLES = [pytest.param(name, dict(topic.example), id=name) for name, topic in TOPICS.items()]
PARAMETERS = [
    pytest.param(parameter, id=f"{name}-{parameter.name}")
    for name, topic in TOPICS.items()
    for parameter in topic.parameters
]


def _result(name: str, arguments: dict[str, str], label: str) -> str:
    lines = {line.label: line.text for line in figure_for(name, arguments).results}
    return lines[label]


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_every_topic_answers_its_example_in_full(name: str, example: dict[str, str]) -> None:
    """A figure has a title, results, working, sources and limits, and lists its inputs."""
    figure = figure_for(name, example)
    assert figure.topic == name
    assert figure.title
    assert figure.results
    assert figure.working
    assert figure.sources
    assert figure.limits
    assert set(example) <= {given.name for given in figure.given}


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_every_result_survives_json(name: str, example: dict[str, str]) -> None:
    """The plain form survives JSON unchanged."""
    plain: Any = figure_for(name, example).as_dict()
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
@pytest.mark.parametrize("width", [60, 100])
def test_every_result_prints_within_its_width(
    name: str, example: dict[str, str], width: int
) -> None:
    """The text form wraps and names each result and each source."""
    figure = figure_for(name, example)
    text = render_text(figure, width)
    assert max(map(len, text.splitlines())) <= width
    flat = re.sub(r"\s+", " ", text)
    assert all(re.sub(r"\s+", " ", line.label) in flat for line in figure.results)
    assert all(re.sub(r"\s+", " ", str(source)) in flat for source in figure.sources)


@pytest.mark.parametrize("parameter", PARAMETERS)
def test_every_parameter_reads_its_own_example_and_default(parameter: Parameter) -> None:
    """The kinds exist, and the parameter accepts its own examples and defaults."""
    if parameter.kind not in (*TEXT_KINDS, DIFFERENCE, NUMBER):
        assert set(parameter.kind.split(" or ")) <= set(KINDS)
    assert read(parameter, parameter.example) is not None
    if parameter.default is not None:
        assert not parameter.needed
        assert read(parameter, parameter.default) is not None


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("salts-reading", {"reading": "300 F", "volume": "8 L"}),
        ("salts-reading", {"reading": "275 F"}),
        ("water-break", {"broke_after": "20 s"}),
        ("temper-ceiling", {"temper": "400 F", "reading": "390 F"}),
        ("grit-ladder", {"grits": "P120, P400"}),
    ],
)
def test_no_verdict_rests_on_memory(name: str, arguments: dict[str, str]) -> None:
    """Figures with a verdict cite no source from memory."""
    figure = figure_for(name, arguments)
    assert all(source.status.may_judge for source in figure.sources)


def test_a_grit_from_memory_is_judged_roughly() -> None:
    """A ladder step onto P5000 gets a verdict marked rough, with the source."""
    figure = figure_for("grit-ladder", {"grits": "P2500, P5000"})
    assert "fine (rough: a size is from memory)" in figure.results[0].text
    assert SourceStatus.MEMORY in {source.status for source in figure.sources}


def test_only_figures_from_memory_give_no_verdict() -> None:
    """Every kind of source except memory may support a verdict."""
    barred = [status for status in SourceStatus if not status.may_judge]
    assert barred == [SourceStatus.MEMORY]


def test_speeds_from_memory_are_marked() -> None:
    """Each comparison speed from memory says so on its own line."""
    figure = figure_for("wheel", {"diameter": "8 in", "rotation": "1750 rpm"})
    marked = [line.label for line in figure.results if line.note == "from memory"]
    assert marked == [
        "for comparison: cut-down buffing of steel",
        "for comparison: color buffing of steel",
        "for comparison: belt grinding of steel",
    ]


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("salts-reading", "Never pour water"),
        ("salts-climb", "Less heat slows the climb"),
        ("cooling", "no oil until it is cool"),
        ("oil-temperature", "no flame"),
        ("salts-reading", "face shield"),
        ("salts-mix", "never water onto salts"),
        ("neutralize", "Never close the vessel"),
        ("neutralize", "local code"),
        ("etchant-dilute", "goggles"),
        ("wheel", "no gloves"),
        ("temper-ceiling", "first bloom of color"),
        ("water", "scald"),
    ],
)
def test_hazards_come_before_the_result(name: str, word: str) -> None:
    """Hazards come above the answer."""
    text = re.sub(r"\s+", " ", render_text(TOPICS[name].figure(TOPICS[name].example)))
    assert word in text.partition(" result ")[0]


def test_the_salts_calculation_works_both_ways() -> None:
    """A hot reading gives the water lost, a cool one the water to boil off."""
    hot = figure_for("salts-reading", {"reading": "300 F", "volume": "8 L"})
    cool = figure_for("salts-reading", {"reading": "280 F", "volume": "8 L"})
    assert hot.results[-1].label == "about this much water has gone"
    assert cool.results[-1].label == "about this much water must boil off"


def test_a_reading_off_the_table_still_gets_its_verdict() -> None:
    """A reading too hot for the table still gets its verdict, even without a strength."""
    beyond = {"reading": "340 F", "volume": "8 L"}
    assert "too concentrated" in _result("salts-reading", beyond, "verdict")
    assert "beyond the table" in _result("salts-reading", beyond, "strength")


def test_a_bath_not_yet_boiling_gives_no_strength() -> None:
    """Below the window without a boil there is no strength."""
    figure = figure_for("salts-reading", {"reading": "250 F", "boiling": "no", "volume": "8 L"})
    assert "not boiling yet" in figure.results[1].text
    assert "strength" not in {line.label for line in figure.results}


def test_altitude_raises_the_strength_and_not_the_target() -> None:
    """The same target needs a stronger mix higher up; the sea-level mix boils too cool there."""
    high: Any = figure_for("salts-mix", {"target": "290 F", "altitude": "2000 m"}).as_dict()[
        "results"
    ]
    here, at_sea, boils_here = (line["value"] for line in high[:3])
    assert here > at_sea + 4
    assert boils_here == pytest.approx(143.3 - 7.3, abs=0.3)


def test_a_margin_in_fahrenheit_is_a_difference() -> None:
    """A margin of 45 F is a difference of 25 C, not the temperature 7.2 C."""
    line = _result("temper-ceiling", {"temper": "200 C", "margin": "45 F"}, "ceiling for the heat")
    assert line == "175 C (347 F)"


def test_shop_settings_fill_in_and_are_named() -> None:
    """The shop's altitude applies if you give none, and the figure says so."""
    figure = figure_for("water", {}, {"altitude": "1500 m", "wheel": "8 in"})
    assert figure.results[0].text == "94.98 C (202.97 F)"
    assert figure.given[0].origin is Origin.SHOP


def test_a_measured_pressure_overrides_the_shops_altitude() -> None:
    """A pressure you give overrides the shop's altitude."""
    figure = figure_for("water", {"pressure": "100 kPa"}, {"altitude": "1500 m"})
    assert figure.results[0].text.startswith("99.61 C")


@pytest.mark.parametrize(
    ("altitude", "target", "start"),
    [
        ("0 m", "212 F", "can be reached"),
        ("0 m", "100 C", "can be reached"),
        ("0 m", "101 C", "can't be reached"),
        ("1500 m", "100 C", "can't be reached"),
        ("1500 m", "95 C", "can be reached"),
    ],
)
def test_a_rinse_at_the_boil_counts_as_reached(altitude: str, target: str, start: str) -> None:
    """The usual round figure for boiling is met at sea level and missed in the mountains."""
    line = _result("water", {"altitude": altitude, "target": target}, "rinse at the target")
    assert line.startswith(start)


@pytest.mark.parametrize(
    ("name", "arguments", "words"),
    [
        ("water", {"altitude": "90000 m"}, ["altitude", "90000 m"]),
        ("water", {"altitude": "1 m", "pressure": "90 kPa"}, ["altitude or pressure, not both"]),
        ("water", {"altitud": "1 m"}, ["altitud", 'did you mean "altitude"?']),
        ("water", {"pressure": "3 C"}, ["pressure", "unit of temperature", "90 kPa"]),
        ("salts-boil", {"strength": "130 %"}, ["130 %", "0 %", "100 %"]),
        ("salts-boil", {"strength": "-5 %"}, ["-5 %", "0 %", "100 %"]),
        ("salts-boil", {"strength": "70 %"}, ["70 %", "0 to 60 %"]),
        ("salts-boil", {}, ["strength is missing", 'strength="48 %"']),
        ("salts-boil", {"strength": "40 %", "altitude": "8000 m"}, ["pressure", "60000 to 108000"]),
        ("etchant-dilute", {"stock": "20 %", "wanted": "30 %", "mass": "1 kg"}, ["stronger"]),
        ("etchant-dilute", {"stock": "20 %", "wanted": "3 g", "mass": "1 kg"}, ["unit of mass"]),
        ("etchant-parts", {"stock": "20 %", "parts": "1 to 3"}, ["1 to 3", "1:3"]),
        ("etchant-wear", {"volume": "1 L", "strength": "5 %", "removed": "20 g"}, ["20 g", "more"]),
        ("etchant-wear", {"volume": "1 L", "strength": "5 %", "area": "3 cm2"}, ["go together"]),
        ("grit", {"grit": "400"}, ["P400 (35 um)", "CAMI 400 (23 um)"]),
        ("grit", {"grit": "P401"}, ["P401", "P400"]),
        ("grit-ladder", {"grits": "P120"}, ["fewer than two grits"]),
        ("grit-ladder", {"grits": "P120, P240", "step": "1"}, ["1.2 to 10"]),
        ("wheel", {"diameter": "8 in"}, ["exactly two of diameter, rotation, speed"]),
        ("edge", {"flat": "0.5 mm", "angle": "2 deg", "taper": "5 deg"}, ["taper", "steeper"]),
        ("edge", {"flat": "0.5 mm", "width": "0.1 mm"}, ["0.1 mm", "possible"]),
        ("edge", {"flat": "0.5 mm", "angle": "5 deg", "sides": "three"}, ["one, two"]),
        ("temper-ceiling", {"temper": "400 F", "margin": "600 F"}, ["margin", "0 to 200"]),
    ],
)
def test_bad_input_names_the_value_and_what_to_do(
    name: str, arguments: dict[str, str], words: list[str]
) -> None:
    """An error names what was found and what is allowed."""
    with pytest.raises(TradeError) as caught:
        figure_for(name, arguments)
    assert all(word in str(caught.value) for word in words), str(caught.value)


def test_all_problems_of_a_question_come_at_once() -> None:
    """Three mistakes give three lines."""
    with pytest.raises(TopicError) as caught:
        figure_for("salts-reading", {"readings": "300 F", "volume": "8 apples"})
    assert len(caught.value.problems) == 3


def test_an_unknown_topic_gets_the_nearest_name() -> None:
    """A misspelled topic gets the nearest name."""
    with pytest.raises(UnknownTopicError, match='did you mean "neutralize"'):
        figure_for("neutralise", {})


DWELLS = {
    "first_temperature": "18 C",
    "first_dwell": "6 min",
    "second_temperature": "24 C",
    "second_dwell": "5 min",
    "temperature": "21 C",
}


def test_dwell_reaches_five_degrees_beyond_distant_readings() -> None:
    """A dwell has answers from 5 degrees below the lower reading to 5 above the upper."""
    wide = DWELLS | {"first_temperature": "10 C", "second_temperature": "40 C"}
    results: Any = figure_for("dwell", wide).as_dict()["results"]
    assert [line["value"] for line in results[2:]] == [5.0, 45.0]


@pytest.mark.parametrize(
    ("grits", "ratio"),
    [("CAMI 600, P1000", "0.87"), ("P400, CAMI 320", "0.97"), ("P180, CAMI 180", "1")],
)
def test_a_ladder_that_turns_coarser_names_the_sizes(grits: str, ratio: str) -> None:
    """A step that doesn't get finer is judged by its grain, not by its number."""
    line = _result("grit-ladder", {"grits": grits}, grits.replace(",", " to"))
    assert line == f"{ratio} times finer; does not get finer"


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"temperature": "30 C"}, OutOfRangeError),
        ({"temperature": "10 C"}, OutOfRangeError),
        ({"second_temperature": "20 C"}, CannotTellError),
        ({"second_dwell": "7 min"}, CannotTellError),
    ],
)
def test_dwell_refuses_readings_that_are_too_close(
    change: dict[str, str], error: type[TradeError]
) -> None:
    """Too far, too close together, or slower when warm: there is no figure."""
    with pytest.raises(error):
        figure_for("dwell", DWELLS | change)


_NUMBERS = st.floats(-1e6, 1e6).map(lambda x: f"{x:.3f}")
_UNITS = [unit for kind in KINDS.values() for unit in kind.units]
_TEXTS = st.one_of(
    st.text(max_size=20),
    st.tuples(_NUMBERS, st.sampled_from(_UNITS)).map(" ".join),
    st.sampled_from(["nan", "inf", "-0", "yes", "two", "P400, P401", "P120,P80", "1:0", "0:0"]),
)


@given(st.data(), st.sampled_from(sorted(TOPICS)))
def test_any_text_gives_a_result_or_a_plain_refusal(data: st.DataObject, name: str) -> None:
    """Any input gives a printable figure or a readable error."""
    topic = TOPICS[name]
    names = st.sampled_from([parameter.name for parameter in topic.parameters])
    changed = data.draw(st.dictionaries(names, _TEXTS, max_size=3))
    try:
        figure = topic.figure({**topic.example, **changed})
    except TradeError:
        return
    json.dumps(figure.as_dict(), allow_nan=False)
    assert render_text(figure)
