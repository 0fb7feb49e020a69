"""The shop's commands as a shell would call them: calc, prepare, bath."""

from __future__ import annotations

import io
import json
import re
import sys
from pathlib import Path
from typing import Any

import pytest

from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import SystemClock
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from benchtimer.trade.topics import TOPICS

Capture = pytest.CaptureFixture[str]


@pytest.fixture(name="data", autouse=True)
def _data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop at 1200 m with US units, one wheel and an empty log."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "settings.toml").write_text(
        'altitude = "1200 m"\nunits = "us"\nwheels = ["8 in"]\nby = "anna"\n'
        '[vessels]\nblack-salts = "2 gal"\n[bath.etchant]\nmax_parts = 1\n'
    )
    return tmp_path / "data"


def _json(capsys: Capture, *arguments: str) -> Any:
    assert main(list(arguments)) == 0
    return json.loads(capsys.readouterr().out)


def _no(capsys: Capture, *arguments: str, code: int = 1) -> str:
    assert main(list(arguments)) == code
    output = capsys.readouterr()
    assert output.out == ""
    return output.err


# ---------------------------------------------------------------- figure


def test_topics_are_listed(capsys: Capture) -> None:
    """Without a topic, every topic is listed with a description, as text and JSON."""
    assert main(["calc"]) == 0
    text = capsys.readouterr().out
    assert all(f"{t.name} " in text and t.about in text for t in TOPICS.values())
    assert [t["topic"] for t in _json(capsys, "calc", "--json")] == list(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_every_topic_answers_its_own_example(topic: str, capsys: Capture) -> None:
    """The example that a topic's help gives works, as text and as JSON."""
    with pytest.raises(SystemExit, match="0"):
        main(["calc", topic, "--help"])
    output = capsys.readouterr().out
    assert f"  To try:\n      benchtimer calc {topic} " in output
    given = [f"{key}={value}" for key, value in TOPICS[topic].example.items()]
    assert main(["calc", topic, *given]) == 0
    assert "sources" in capsys.readouterr().out
    assert _json(capsys, "calc", topic, *given, "--json")["topic"] == topic


def test_calculations_use_the_shops_settings(capsys: Capture) -> None:
    """The altitude comes from the settings unless given; a pressure overrides it."""

    def boils_c(*given: str) -> float:
        table = _json(capsys, "calc", "water", *given, "--json")
        return float(next(r["value"] for r in table["results"] if r["unit"] == "C"))

    # IAPWS-IF97 with the standard atmosphere: 96.02 C at 1200 m, 99.97 C at sea level.
    assert boils_c() == pytest.approx(96.02, abs=0.05)
    assert boils_c("altitude=0 m") == pytest.approx(99.97, abs=0.02)
    assert boils_c("pressure=101.325 kPa") == pytest.approx(99.97, abs=0.02)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["salts-reading"], 1, "reading is missing"),
        (["salts-reding", "x=1"], 1, 'did you mean "salts-reading"?'),
        (["water", "altitude=90000 m"], 1, "far outside any real value"),
        (["etchant-dilute", "stock=130 %", "wanted=12 %"], 1, "0 % and 100 %"),
        (["water", "1200"], 2, "is not KEY=VALUE"),
        (["water", "altitude=1 m", "altitude=2 m"], 2, "given twice"),
    ],
)
def test_a_missing_figure_says_why(
    arguments: list[str], code: int, words: str, capsys: Capture
) -> None:
    """A calculation without an answer exits 1, an argument of the wrong form exits 2."""
    assert words in _no(capsys, "calc", *arguments, code=code)


# ---------------------------------------------------------------- prepare


def test_the_page_is_made_for_this_shop(capsys: Capture) -> None:
    """Mixes for the shop's vessel in its units, boils at its altitude, turns of its wheel."""
    assert main(["prepare", "hot-black", "fittings-polish"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "[ ] face shield over goggles" in text
    # 750 g/L x 7.571 L (2 US gal) = 5.678 kg = 12.52 lb
    assert "[black-salts]: 2 gal, your vessel" in text
    assert "12.5 lb blacking salts" in text
    # IAPWS-IF97 at the standard atmosphere's 87.7 kPa: 96.0 C
    assert re.search(r"Boiling rinse[^:]*: water boils at 204\.8 F at 1200 m", text)
    assert (
        "Blacking salts: 285 F to 295 F, target 290 F, never above 310 F, read every 10 min" in text
    )
    # surface speed = pi x diameter x turns: 7500 ft/min / (pi x 8/12 ft) = 3581 rpm
    assert "8 in wheel: 3581 rpm at most" in text
    assert "51 % sodium hydroxide" in text
    assert "bath black-salts: none is open in the bath book" in text


def test_the_page_names_the_mixed_baths(capsys: Capture) -> None:
    """A bath in the book is at its station, with age, wear and warnings."""
    main(["bath", "mix", "salts 1", "--recipe", "hot-black", "--mix", "black-salts"])
    main(["bath", "read", "salts 1", "270", "F"])
    capsys.readouterr()
    page = _json(capsys, "prepare", "hot-black", "--json")
    stations = next(s for s in page["sections"] if s["title"] == "Stations")
    first_found = next(i["more"][-1] for i in stations["items"] if "[salts]" in i["text"])
    assert first_found.startswith("bath black-salts: salts 1, 0 s old")
    assert "under its window of 285 F to 295 F" in first_found


@pytest.mark.parametrize("recipe", sorted(RecipeFiles().paths()))
def test_every_shipped_recipe_has_a_page(recipe: str, capsys: Capture) -> None:
    """Gear, hazards, stations: every shipped recipe has them, and no line is too wide."""
    assert main(["prepare", recipe]) == 0
    text = capsys.readouterr().out
    assert all(title in text for title in ("Gear", "Hazards", "Stations"))
    assert max(map(len, text.splitlines())) <= 88


def test_an_oven_is_not_a_salts_bath(capsys: Capture) -> None:
    """The caustic hint appears only at a station with a bath in the salts' window."""
    assert main(["prepare", "temper-cycles", "hot-wax", "etch-darken", "slow-rust-blue"]) == 0
    assert "caustic salts, they boil" not in capsys.readouterr().out


# ---------------------------------------------------------------- bath


def _mixed(capsys: Capture) -> None:
    main(["bath", "mix", "etch 1", "--recipe", "etch-darken", "--mix", "etchant",
          "--volume", "2", "L", "--fecl3", "20", "%"])  # fmt: skip
    capsys.readouterr()


def test_a_bath_from_mix_to_retirement(capsys: Capture) -> None:
    """Each verb adds its line to the history, with the maker, and the page adds them up."""
    _mixed(capsys)
    assert main(["bath", "read", "etch 1", "21", "C"]) == 0
    assert main(["bath", "read", "etch 1", "19.5 Be"]) == 0
    assert main(["bath", "topup", "etch 1", "0.2 L of water", "--volume", "2.1 L"]) == 0
    assert main(["bath", "weigh", "etch 1", "8", "g"]) == 0
    assert main(["bath", "read", "etch 1", "99", "C", "--by", "ben"]) == 0
    assert main(["bath", "undo", "etch 1"]) == 0
    capsys.readouterr()
    page = _json(capsys, "bath", "show", "etch 1", "--json")
    assert (page["volume"], page["fecl3_when_fresh"]) == ("2.1 L", "20 %")
    assert [r["reading"] for r in page["readings"]] == ["21 C", "19.5 Be"]
    # 2 L x 1183 g/L x 20 % x 0.17214 = 81.5 g of iron at most (2 FeCl3 + Fe -> 3 FeCl2)
    assert page["used_up"] == pytest.approx(8 / 81.46, rel=1e-3)
    assert [(x["counts"], x["by"]) for x in page["account"]][-2:] == [
        (False, "ben"),
        (True, "anna"),
    ]
    assert main(["bath", "retire", "etch 1", "--how", "town's collection point, code 06 05"]) == 0
    output = capsys.readouterr()
    assert "RETIRED" in output.out
    assert "local code" in output.err
    assert _json(capsys, "bath", "--json") == []
    assert [b["disposed"] for b in _json(capsys, "bath", "--all", "--json")] == [
        "town's collection point, code 06 05"
    ]
    assert main(["bath", "show", "etch 1"]) == 0
    assert "[read 99 C]" in capsys.readouterr().out


def test_the_list_of_baths_warns(capsys: Capture) -> None:
    """The list says when a bath is out of its window."""
    _mixed(capsys)
    main(["bath", "read", "etch 1", "50", "F"])
    capsys.readouterr()
    assert main(["bath"]) == 0
    assert "! last read 50 F, 0 s ago: under its window" in capsys.readouterr().out


def test_the_shops_vessel_gives_the_volume(capsys: Capture) -> None:
    """Without a volume, a bath is as large as the shop's vessel for its mix."""
    table = _json(capsys, "bath", "mix", "s", "--recipe", "hot-black", "--mix", "black-salts",
                  "--json")  # fmt: skip
    assert (table["volume"], table["window"]) == ("2 gal", ["285 F", "295 F"])


def test_a_bath_in_words(capsys: Capture) -> None:
    """A bath without a recipe is described in words."""
    table = _json(capsys, "bath", "mix", "drum", "--of", "oil, bought open", "--json")
    assert table["of"] == "oil, bought open"
    assert "mix" not in table


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["show", "etch1"], 1, 'did you mean "etch 1"'),
        (["read", "nothing", "20", "C"], 1, "Mix it first"),
        (["read", "etch 1", "20"], 1, "it needs a number and a unit"),
        (["read", "etch 1", "20", "gal"], 1, '"gal" is a unit of volume'),
        (["mix", "etch 1", "--of", "x"], 1, "Retire it first"),
        (["mix", "b"], 2, "--of WORDS"),
        (["mix", "b", "--recipe", "hot-black"], 1, "several mixes"),
        (["mix", "b", "--recipe", "hot-black", "--mix", "black-salt"], 1, 'mean "black-salts"'),
        (["mix", "b", "--recipe", "hot-blac", "--mix", "x"], 1, 'mean "hot-black"'),
        (["mix", "b", "--of", "x", "--volume", "0", "L"], 1, "the volume is zero"),
        (["mix", "a/b", "--of", "x"], 1, "Bad bath name"),
        (["retire", "etch 1", "--how", " "], 1, "it is empty"),
    ],
)
def test_the_bath_book_refuses_bad_entries(
    arguments: list[str], code: int, words: str, capsys: Capture
) -> None:
    """Each refusal names the thing and what to do, and writes nothing."""
    _mixed(capsys)
    assert words in _no(capsys, "bath", *arguments, code=code)
    assert len(_json(capsys, "bath", "show", "etch 1", "--json")["account"]) == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(["mixx", "a"], 'did you mean "mix"?'), (["retire", "etch 1"], "--how")],
)
def test_wrong_usage_of_the_bath_book(arguments: list[str], words: str, capsys: Capture) -> None:
    """An unknown verb or a missing disposal note is wrong usage."""
    with pytest.raises(SystemExit, match="2"):
        main(["bath", *arguments])
    assert words in capsys.readouterr().err


def test_an_empty_bath_book(data: Path, capsys: Capture) -> None:
    """Reading a book that was never opened makes no log."""
    assert main(["bath"]) == 0
    assert "no open baths" in capsys.readouterr().out
    assert not data.exists()


def test_a_running_bench_stays_the_only_writer(data: Path, capsys: Capture) -> None:
    """While a bench runs, nothing else writes, and the message says what to do; reading works."""
    _mixed(capsys)
    driver = drive(data, SystemClock())
    error = _no(capsys, "bath", "read", "etch 1", "20", "C", code=3)
    assert "nothing was saved" in error
    assert "leave the bench first" in error
    assert [b["name"] for b in _json(capsys, "bath", "--json")] == ["etch 1"]
    driver.close()


def test_a_run_and_its_bath_are_in_log_and_bath_book(data: Path, capsys: Capture) -> None:
    """The record names the bath, the book names the run, and a bath's stream is not a run."""
    _mixed(capsys)
    driver = drive(data, SystemClock())
    run = driver.set_up(new_run(RecipeFiles(), "etch-darken", ["petty"]))
    assert list(driver.state(run).bench.baths.values()) == ["etch 1"]
    driver.close()
    assert [b.get("in_run") for b in _json(capsys, "bath", "--json")] == [run]
    assert "uses it" in _no(capsys, "bath", "retire", "etch 1", "--how", "x")
    driver = drive(data, SystemClock())
    driver.press(run, c.Abort("x"))
    driver.close()
    record = _json(capsys, "record", run, "--as", "json")
    assert record["baths"][0]["bath"] == "etch 1"
    assert record["baths"][0]["parts_before"] == 0
    assert "there is no run" in _no(capsys, "record", "bath/etch 1")
    assert [r["name"] for r in _json(capsys, "record", "--json")] == [run]


@pytest.mark.parametrize("text", ["tank", "tank=", "=etch 1"])
def test_bath_choices_have_a_form(text: str, capsys: Capture) -> None:
    """A choice of bath that is not STATION=NAME is wrong usage."""
    assert "is not STATION=NAME" in _no(
        capsys, "run", "etch-darken", "petty", "--bath", text, code=2
    )


def test_times_of_day_follow_the_shops_clock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With ``clock = 12`` a plan is printed in 12-hour times; with 24 it is not."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path))
    plan = ["plan", "hot-wax", "blade", "--about", "blade.temper=200 C", "--start", "18:00"]
    shown = {}
    for clock in (12, 24):
        (tmp_path / "settings.toml").write_text(f"clock = {clock}\n")
        main([*plan, "--data", str(tmp_path / "data")])
        shown[clock] = capsys.readouterr().out
    assert "6:00 pm" in shown[12]
    assert "18:00" not in shown[12]
    assert "18:00" in shown[24]
