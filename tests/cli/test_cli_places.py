"""`benchtimer settings places`: asking, listing, and the effect on runs and plans."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchtimer.cli import main
from benchtimer.cli.settingfile import DEFAULT
from benchtimer.cli.shopplaces import _ask_all
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.settings import parse_settings


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A separate settings folder."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path))
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    return tmp_path / "settings.toml"


RECIPES = {name: RecipeFiles().find(name) for name in ("hot-black", "slow-rust-blue")}


def _answer(*answers: str) -> int:
    found = iter(answers)
    return _ask_all(RECIPES, lambda _question: next(found, ""))


def test_answers_are_saved_and_asked_once(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The boils become one place for two parts; comments stay; the second time there is no
    question.
    """
    config.write_text("# mine\n" + DEFAULT)
    groups = {"sink": [""], "boil": ["1 9", "yes", "1 2", "The pot", "x", "2"], "oil": [""]}
    assert _answer(*groups["sink"], *groups["boil"], *groups["oil"]) == 0
    text = config.read_text()
    shop = parse_settings(text, "x")
    assert text.startswith("# mine\n")
    assert "# Your name, for the log." in text
    boil = shop.place["boil"]
    assert (boil.title, boil.holds) == ("The pot", 2)
    assert boil.stations == ("hot-black.boil", "slow-rust-blue.boil")
    assert shop.place["hot-black-sink"].stations == ("hot-black.sink",)
    capsys.readouterr()
    assert _answer("this would be wrong") == 0
    assert "Every station has its place" in capsys.readouterr().out
    assert config.read_text() == text


def test_chemicals_that_must_not_meet_are_asked_again(
    config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A contradiction gets a message, and nothing is saved."""
    from benchtimer.recipe.onetank import groups_to_ask
    from tests.recipe.test_places import ACID, CAUSTIC

    answers = iter(["1 2", "", "", ""])
    recipes = {"acid": ACID, "caustic": CAUSTIC}
    assert len(groups_to_ask(recipes)) == 1
    assert _ask_all(recipes, lambda _question: next(answers)) == 0
    assert "in one vessel" in capsys.readouterr().out
    stations = [place.stations for place in parse_settings(config.read_text(), "x").places]
    assert stations == [("acid.tank",), ("caustic.tank",)]


def test_places_are_listed_for_people_and_programs(capsys: pytest.CaptureFixture[str]) -> None:
    """A declared place has its title and room, and says which stations are put there.

    The third bicarbonate bath equals the second in every way, so it is the same place.
    """
    stations = "etch-darken.neutral, slow-rust-blue.soda"
    assert main(["settings", "--set", f"place.soda.for={stations}"]) == 0
    assert main(["settings", "--set", "place.soda.holds=1", "--set", "place.soda.title=Soda"]) == 0
    capsys.readouterr()
    assert main(["settings", "places", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    soda = next(place for place in listed if place["id"] == "soda")
    assert (soda["title"], soda["holds"], soda["declared"]) == ("Soda", 1, True)
    assert set(stations.split(", ")) < set(soda["stations"])
    assert main(["settings", "places"]) == 0
    (line,) = [x for x in capsys.readouterr().out.splitlines() if x.startswith("Soda, holds 1: ")]
    assert "(by the recipes)" not in line


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[place.a]\nfor = ["boil"]', "names no station of a recipe"),
        (
            '[place.a]\nfor = ["x.y"]\n[place.b]\nfor = ["x.y"]',
            "x.y is listed under two places, a and b",
        ),
        ("[place.a]\nholds = 0", "holds"),
        ("[place.a]\nroom = 2", "room"),
    ],
)
def test_what_is_wrong_with_a_place_is_named(
    config: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    """A broken place gets one clear message."""
    config.write_text(text)
    assert main(["settings", "places", "--list"]) != 0
    assert words in capsys.readouterr().err


def test_a_station_that_no_recipe_has_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelled station would be left out silently, so setting and listing places name it."""
    change = 'place.boil.for="hot-blak.boil, slow-rust-blue.boil"'
    for command in (["--set", change], ["places", "--list"]):
        assert main(["settings", *command]) == 0
        said = capsys.readouterr().err
        assert 'place boil: none of your recipes has hot-blak.boil; did you mean "hot-' in said
        assert "slow-rust-blue" not in said


def test_one_bath_for_one_place(capsys: pytest.CaptureFixture[str]) -> None:
    """Stations at one place are mixed once, and prepare and plan see one tank."""
    both = ["prepare", "etch-darken", "slow-rust-blue", "--json"]

    def mixes() -> int:
        assert main(both) == 0
        return capsys.readouterr().out.count("Bicarbonate")

    apart = mixes()
    change = 'place.soda.for="etch-darken.neutral, slow-rust-blue.soda"'
    assert main(["settings", "--set", change]) == 0
    capsys.readouterr()
    assert mixes() < apart
