"""What a recipe can't do because it hurts."""

from __future__ import annotations

import pytest

from tests.recipe.drawn import SMALLEST, problems, read

STATION = '[[station]]\nid = "tank"\ntitle = "Tank"\n'
WARNING = '[[hazard]]\nbefore = ["{}"]\ntitle = "Mind it"\ntext = "It bites."\n'


@pytest.mark.parametrize(
    ("station", "says"),
    [
        ('chemistry = ["acid"]', "it holds acid, but no hazard comes before it"),
        ('chemistry = ["alkali", "nitrite"]', "it holds alkali and nitrite"),
        ('chemistry = ["chlorine-releaser"]', "it holds bleach"),
        ('temperature = { min = "50 C", max = "60 C" }', 'it is as hot as "60 C"'),
        ('temperature = { min = "120 F", max = "140 F" }', 'it is as hot as "140 F"'),
    ],
)
def test_a_dangerous_station_needs_a_warning(station: str, says: str) -> None:
    """Dangerous chemistry or heat is refused without a hazard before it."""
    text = f"{SMALLEST}{STATION}{station}\n"
    (problem,) = problems(text)
    assert says in problem.found
    assert problem.where == 'station "tank"'
    assert not read(text + WARNING.format("tank")).hazard[0].wear


@pytest.mark.parametrize(
    "station",
    ["", 'chemistry = ["carbonate"]', 'chemistry = ["oil-wax"]',
     'temperature = { min = "20 C", max = "59 C" }'],
)  # fmt: skip
def test_a_harmless_station_needs_none(station: str) -> None:
    """Cool, mild baths and dry places need no hazard."""
    read(f"{SMALLEST}{STATION}{station}\n")


def test_a_warning_before_every_step_at_a_station_is_enough() -> None:
    """A hazard before each step that leads to the station is enough."""
    text = SMALLEST.replace('id = "wipe"', 'id = "wipe"\nat = "tank"', 1)
    station = f'{STATION}chemistry = ["acid"]\n'
    assert problems(text + station)
    read(text + station + WARNING.format("wipe"))


def test_the_mix_of_a_bath_makes_its_station_dangerous() -> None:
    """A station whose mix holds alkali needs the hazard too."""
    mix = '[[mix]]\nid = "brew"\ntitle = "Brew"\nchemistry = ["alkali"]\n'
    mix += 'of = [{ what = "x", parts = 1 }]\n'
    station = f'{STATION}bath = "brew"\n'
    (problem,) = problems(SMALLEST + mix + station)
    assert "it holds alkali" in problem.found


@pytest.mark.parametrize(
    ("entry", "where"),
    [
        (STATION + 'chemistry = ["acid", "nitrite"]\n', 'station "tank"'),
        ('[[mix]]\nid = "m"\ntitle = "M"\nchemistry = ["acid", "alkali"]\n'
         'of = [{ what = "x", parts = 1 }]\n', 'mix "m", chemistry'),
    ],
)  # fmt: skip
def test_chemicals_that_must_not_meet_are_refused_in_one_vessel(entry: str, where: str) -> None:
    """The message says what would happen and cites the source."""
    found = problems(SMALLEST + entry + WARNING.format("wipe"))
    (meets,) = [p for p in found if "in one vessel" in p.found]
    assert meets.where == where
    assert "(" in meets.found
    assert "vessel" in meets.allowed or "separately" in meets.allowed


def test_an_unknown_chemistry_lists_the_known_ones() -> None:
    """A misspelled chemistry is an error that lists the known ones."""
    (problem,) = problems(f'{SMALLEST}{STATION}chemistry = ["acidic"]\n')
    assert "acidic" in problem.found
    assert "alkali" in problem.allowed
