"""A job through real runs: parts done, sent back, scrapped, replaced, delivered."""

from __future__ import annotations

import json
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import icalendar
import pytest

from benchtimer.bath.bath_decide import MixBath
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import ManualClock
from benchtimer.job import job_decide as d
from benchtimer.job.job_progress import PartStatus
from benchtimer.job.jobcalendar import jobs_to_ics
from benchtimer.job.order import Order, OrderPart
from benchtimer.job.sessions import plan_jobs
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.jobcard import card_html, card_lines, card_of, card_toml
from benchtimer.rehearsal import rehearse
from benchtimer.run import commands as c
from benchtimer.run.refusals import Refused
from benchtimer.shop.hours import parse_week
from benchtimer.store.log import EventLog
from tests.job.shops import knives, shop_of
from tests.support import READY, SMALL, small_recipe, table

NOON = 1_770_000_000_000
RECIPES = ("small",)
ORDER = Order(
    date(2026, 3, 20),
    (
        OrderPart("bolster", ("small", "small")),
        OrderPart("ferrule", ("small",)),
        OrderPart("knife", ("small",), ("bolster", "ferrule")),
    ),
)


def _run(driver: OpenBench, *parts: str) -> str:
    jobs = {part: f"petty knife/{part}" for part in parts}
    result = {"small": table(small_recipe())}
    name = driver.set_up(NewRun("Test", result, [(part, "small") for part in parts], jobs=jobs))
    for command in READY:
        driver.press(name, command)
    return name


def _statuses(driver: OpenBench) -> dict[str, tuple[PartStatus, int]]:
    job = driver.writer.jobs.job("petty knife")
    assert job is not None
    return {part.name: (part.status, part.at) for part in driver.writer.jobs.progress(job)}


def test_progress_comes_from_the_runs(tmp_path: Path) -> None:
    """A part is in progress in an open run, scrapped when given up, and ready with a new blank."""
    with closing(drive(tmp_path, ManualClock(NOON))) as driver:
        driver.write_job("petty knife", d.OpenJob(ORDER), RECIPES)
        assert _statuses(driver)["knife"] == (PartStatus.WAITING, 0)
        name = _run(driver, "bolster", "ferrule")
        assert _statuses(driver)["bolster"] == (PartStatus.IN_WORK, 0)
        driver.press(name, c.Scrap("ferrule", "dropped"))
        assert _statuses(driver)["ferrule"] == (PartStatus.SCRAPPED, 0)
        driver.press(name, c.Undo())
        assert _statuses(driver)["ferrule"] == (PartStatus.IN_WORK, 0)
        driver.press(name, c.Scrap("ferrule", "dropped"))
        driver.write_job("petty knife", d.ReplacePart("ferrule", "new steel"), RECIPES)
        assert _statuses(driver)["ferrule"] == (PartStatus.READY, 0)
        driver.press(name, c.Abort("enough"))
        assert _statuses(driver)["bolster"] == (PartStatus.READY, 0)
        driver.write_job("petty knife", d.TakeJobEntryBack(), RECIPES)
        assert _statuses(driver)["ferrule"] == (PartStatus.SCRAPPED, 0)


def test_a_chain_moves_on_and_back_by_hand_and_is_delivered(tmp_path: Path) -> None:
    """Recipes done without the program count, and a part sent back does them again."""
    with closing(drive(tmp_path, ManualClock(NOON))) as driver:
        driver.write_job("petty knife", d.OpenJob(ORDER), RECIPES)
        for part in ("bolster", "bolster", "ferrule"):
            driver.write_job("petty knife", d.MarkRecipeDone(part, "small"), RECIPES)
        assert _statuses(driver)["knife"] == (PartStatus.READY, 0)
        driver.write_job("petty knife", d.SendPartBack("bolster", "small", "pitted"), RECIPES)
        assert _statuses(driver)["knife"] == (PartStatus.WAITING, 0)
        with pytest.raises(Refused, match="not done yet: bolster, knife"):
            driver.write_job("petty knife", d.DeliverJob(), RECIPES)
        for part in ("bolster", "bolster", "knife"):
            driver.write_job("petty knife", d.MarkRecipeDone(part, "small"), RECIPES)
        job = driver.write_job("petty knife", d.DeliverJob("by <hand>"), RECIPES)
        assert job is not None
        assert job.status == "delivered"
        look = driver.job_look(RecipeFiles(), parse_week("Mon 18:00-20:00"))
        card = card_of(look.log, job, look.closed_on(job))
        page, toml, text = card_html(job, card), card_toml(job, card), "\n".join(card_lines(card))
        assert "Delivered 2026-02-02: by &lt;hand&gt;." in page
        assert "<p>Done without the program: bolster: small, " in page
        assert 'closed = "2026-02-02"\nwords = "by <hand>"' in toml
        assert text.startswith("done without the program: bolster: small, ferrule: small")
        driver.write_job("petty knife", d.TakeJobEntryBack(), RECIPES)
        with pytest.raises(Refused, match='the part "knife" has none with that name'):
            driver.write_job("petty knife", d.MarkRecipeDone("knife", "smal"), RECIPES)


def test_a_part_that_is_not_in_the_job_is_refused(tmp_path: Path) -> None:
    """A run for an unknown job, or for a part the job lacks, is refused."""
    with closing(drive(tmp_path, ManualClock(NOON))) as driver:
        with pytest.raises(Refused, match='there is no job "petty knife"'):
            _run(driver, "bolster")
        driver.write_job("petty knife", d.OpenJob(ORDER), RECIPES)
        with pytest.raises(Refused, match='the job has no part "handle"'):
            _run(driver, "handle")


def test_a_job_survives_a_restart_and_a_reader(tmp_path: Path) -> None:
    """Job entries survive a restart, and the job card has tries and hours."""
    clock = ManualClock(NOON)
    with closing(drive(tmp_path, clock)) as driver:
        driver.write_job("petty knife", d.OpenJob(ORDER), RECIPES)
        name = _run(driver, "bolster")
        driver.press(name, c.Begin("bolster"))
        clock.advance(60_000)
        driver.press(name, c.Finish("bolster"))
        driver.press(name, c.Scrap("bolster", "cracked"))
        driver.press(name, c.Complete())
    with closing(drive(tmp_path, clock)) as driver:
        job = driver.writer.jobs.job("PETTY KNIFE")
        assert job is not None
        assert _statuses(driver)["bolster"] == (PartStatus.SCRAPPED, 0)
    with closing(EventLog(tmp_path, read_only=True)) as log:
        card = card_of(log, job)
    assert card.hands_s >= 60
    assert "1 try" in " ".join(card_lines(card))
    assert 'identity = "petty knife/bolster"' in card_toml(job, card)
    assert "<td>bolster</td>" in card_html(job, card)


def test_the_plan_for_programs_has_the_promised_shape(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """``job plan --json`` has every documented key, times with offset, and chances from 0 to 1."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    part = "bolster=fittings-polish > hot-black"
    assert main(["job", "open", "pen", "--due", "2099-01-05", "--part", part]) == 0
    assert main(["job", "change", "pen", "--due", "Fri"]) == 0
    capsys.readouterr()
    assert main(["job", "plan", "pen", "--trials", "100", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert {
        "job", "due", "status", "finish", "finish_p10", "finish_p50", "finish_p90",
        "chance_by_due", "chance_error", "late_causes", "next_start", "latest_start_p90",
        "hands_planned_s", "sessions", "trials",
    } <= set(data)  # fmt: skip
    assert datetime.fromisoformat(data["finish"]).tzinfo is not None
    assert 0 <= data["chance_by_due"] <= 1
    assert data["trials"] == 100
    assert {"start", "end", "moves"} <= set(data["sessions"][0])
    assert main(["tonight", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["set_up"][0]["parts"] == ["pen/bolster"]


def test_a_job_with_a_missing_recipe_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The plan and ``tonight`` name a part whose recipe is missing, and other jobs go on."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    for command in (["tonight"], ["job", "plan"], ["job", "show", "pen"]):
        assert main(command) == 1
        assert "there are no jobs; open one with benchtimer job open" in capsys.readouterr().err
    shelf = tmp_path / "config" / "recipes"
    shelf.mkdir(parents=True)
    own = shelf / "own-wax.toml"
    own.write_bytes(RecipeFiles().paths()["hot-wax"].read_bytes())
    for job, recipe in (("pen", "own-wax"), ("box", "fittings-polish")):
        assert main(["job", "open", job, "--due", "2099-01-05", "--part", f"blade={recipe}"]) == 0
    own.unlink()
    capsys.readouterr()
    plan = ["job", "plan", "pen", "--trials", "20"]
    assert main(plan) == 1
    shown = capsys.readouterr().out
    assert "pen: can't be planned\n  blade: own-wax: that recipe no longer exists" in shown
    assert "box" not in shown
    assert main([*plan, "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert (data["job"], data["status"], len(data["why"])) == ("pen", "infeasible", 1)
    assert main(["tonight", "--hours", "always"]) == 0
    shown = capsys.readouterr().out
    assert "box/blade: fittings-polish" in shown
    assert "Can't be planned:\n  pen/blade: own-wax" in shown


def test_the_plan_for_one_job_heats_only_its_own_places() -> None:
    """The plan of one job doesn't heat places that only another job needs."""
    wax = OrderPart("blade", ("hot-wax",))
    polish = OrderPart("bolster", ("fittings-polish",))
    due = date(2026, 12, 11)
    plan = plan_jobs(shop_of({"pen": Order(due, (wax,)), "box": Order(due, (polish,))}))
    assert [session for session in plan.sessions if session.heats]
    assert [session for session in plan.sessions_of("pen") if session.heats]
    assert not [session for session in plan.sessions_of("box") if session.heats]


def test_options_change_what_a_job_file_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file whose due date is past opens with --due, and --part replaces or adds a part."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    file = tmp_path / "pen.toml"
    part = '[[part]]\nname = "cap"\nrecipes = ["hot-wax"]\n'
    file.write_text(f'title = "Pen"\ndue = 2020-01-05\n{part}', encoding="utf-8")
    assert main(["job", "open", str(file)]) == 1
    assert "is past" in capsys.readouterr().err
    assert main(["job", "open", str(file), "--due", "Fri", "--like", "pen"]) == 2
    assert "not both" in capsys.readouterr().err
    asked = ["--due", "2099-01-05", "--part", "cap=hot-black", "--part", "clip=hot-wax"]
    assert main(["job", "open", str(file), *asked, "--json"]) == 0
    job = json.loads(capsys.readouterr().out)
    assert (job["job"], job["due"]) == ("Pen", "2099-01-05")
    assert [(p["part"], p["recipes"]) for p in job["parts"]] == [
        ("cap", ["hot-black"]),
        ("clip", ["hot-wax"]),
    ]


def test_a_card_goes_into_the_file_that_you_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """``job show --out`` writes the card and prints the file's name."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    part = "bolster=fittings-polish > hot-black"
    assert main(["job", "open", "pen", "--due", "2099-01-05", "--part", part]) == 0
    card = tmp_path / "card.html"
    capsys.readouterr()
    assert main(["job", "show", "pen", "--as", "html", "--out", str(card)]) == 0
    assert capsys.readouterr().out == f"{card}\n"
    assert "<title>pen</title>" in card.read_text(encoding="utf-8")


def test_a_job_whose_parts_are_done_is_delivered_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With nothing left to plan, both commands name the delivery as the next step."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    assert main(["job", "open", "pen", "--due", "2099-01-05", "--part", "cap=hot-wax"]) == 0
    assert 'job plan "pen"' in capsys.readouterr().err
    assert main(["job", "change", "pen", "--done", "cap=hot-wax"]) == 0
    assert 'job deliver "pen"' in capsys.readouterr().err
    assert main(["job", "plan", "pen"]) == 0
    assert capsys.readouterr().out == (
        'pen: all parts are done. Next: benchtimer job deliver "pen"\n'
    )


def test_the_calendar_reads_back() -> None:
    """The calendar has one event a session, with an alarm and a name that stays the same."""
    plan = plan_jobs(knives(1))
    made = datetime(2026, 11, 27, 18, tzinfo=UTC)
    text = jobs_to_ics(plan, made, job="knife 1")
    events = _events(text)
    sessions = plan.sessions_of("knife 1")
    assert len(events) == len(sessions)
    for event, session in zip(events, sessions, strict=True):
        begins = event.decoded("dtstart")
        assert abs(begins.timestamp() - plan.load.at(session.start_s).timestamp()) < 1
        (alarm,) = event.walk("VALARM")
        assert alarm.decoded("trigger").total_seconds() < 0
        assert "benchtimer" not in str(event["summary"])
        hours = [line[:5] for line in str(event["description"]).splitlines()]
        assert hours == sorted(hours)
    assert "heat Tempering oven" in text.replace("\r\n ", "")
    names = [event.decoded("uid") for event in events]
    assert len(set(names)) == len(names)
    later = jobs_to_ics(plan, datetime(2026, 11, 28, 9, tzinfo=UTC), job="knife 1")
    assert [event.decoded("uid") for event in _events(later)] == names


def _events(text: str) -> list[Any]:
    """The events of a calendar, read by the library."""
    found: list[Any] = icalendar.Calendar.from_ical(text).walk("VEVENT")
    return found


def test_a_rehearsed_run_of_a_job_counts_as_its_recipe(tmp_path: Path) -> None:
    """A rehearsed run counts as a run of its recipe, not as work on a job."""
    del tmp_path
    new = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small")])
    assert rehearse(new, 3).jobs == {}


def test_a_part_in_the_last_dwell_needs_no_more_hands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """``tonight`` plans the work of a move, a minute at least, and none in the last dwell."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    dip = small_recipe(SMALL[: SMALL.index('[[step]]\nid = "look"')])
    with closing(drive(tmp_path, ManualClock(NOON))) as driver:
        name = driver.set_up(NewRun("Test", {"small": table(dip)}, [("bolster", "small")]))
        for command in (*READY, c.Begin("bolster"), c.Finish("bolster")):
            driver.press(name, command)
        assert main(["tonight", "--hours", "always"]) == 0
        assert "bolster: small, dip (1 min)" in capsys.readouterr().out
        driver.press(name, c.Finish("bolster"))
    assert main(["tonight", "--hours", "always"]) == 1
    assert "Nothing to do in these hours." in capsys.readouterr().out


def test_tonight_lists_what_its_recipes_need_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """``tonight --prepare`` lists gear and mixes of all recipes of the session, each once."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    for job in ("pen", "box"):
        part = "bolster=fittings-polish > hot-black"
        assert main(["job", "open", job, "--due", "2099-01-05", "--part", part]) == 0
    capsys.readouterr()
    assert main(["tonight", "--prepare", "--hours", "always", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    recipes = {m["recipe"] for s in data["sessions"] for m in s["moves"]}
    assert recipes == {"fittings-polish", "hot-black"}
    sections = {one["title"]: one["items"] for one in data["prepare"]["sections"]}
    assert {"Gear", "Mixes", "Heat"} <= set(sections)
    for items in sections.values():
        texts = [item["text"] for item in items]
        assert len(texts) == len(set(texts))
    assert main(["tonight", "--prepare", "--hours", "always"]) == 0
    shown = capsys.readouterr().out
    assert "Before the run" in shown
    assert "benchtimer tonight --prepare" not in shown


def test_the_list_of_the_next_sessions_names_each_thing_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """``job plan --prepare`` adds up purchases over all recipes; an open bath needs none."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    part = "blade=temper-cycles > etch-darken > hot-wax"
    assert main(["job", "open", "pen", "--due", "2099-01-05", "--part", part]) == 0
    plan = ["job", "plan", "pen", "--trials", "20", "--hours", "always", "--json", "--prepare"]

    def listed() -> dict[str, list[dict[str, Any]]]:
        capsys.readouterr()
        assert main(plan) == 0
        data = json.loads(capsys.readouterr().out)["prepare"]["sections"]
        return {one["title"]: one["items"] for one in data}

    found = listed()
    for items in found.values():
        texts = [item["text"] for item in items]
        assert len(texts) == len(set(texts))
    bought = {item["text"] for item in found["To buy"]}
    assert "500 mL ferric chloride solution" in bought
    assert (
        "benchtimer prepare temper-cycles etch-darken hot-wax"
        in (found["Before you mix or heat"][0]["text"])
    )
    assert main(["bath", "mix", "etch 1", "--mix", "etchant", "--recipe", "etch-darken"]) == 0
    assert bought - {item["text"] for item in listed()["To buy"]} == {
        "1.5 L distilled water", "500 mL ferric chloride solution"
    }  # fmt: skip


def test_the_card_has_what_its_baths_were_mixed_from(tmp_path: Path) -> None:
    """The card, in all three forms, has the recipe's mix at the volume in the bath book."""
    order = Order(date(2026, 3, 20), (OrderPart("blade", ("etch-darken",)),))
    shelf = RecipeFiles()
    with closing(drive(tmp_path, ManualClock(NOON))) as driver:
        driver.write_job("petty knife", d.OpenJob(order), list(shelf.paths()))
        driver.write_bath("etch 3", MixBath("Etchant", "etchant", "etch-darken", "2 L", "14 Be"))
        driver.set_up(new_run(shelf, "etch-darken", ["petty knife/blade"]))
        job = driver.writer.jobs.job("petty knife")
    assert job is not None
    with closing(EventLog(tmp_path, read_only=True)) as log:
        card = card_of(log, job)
    mix = next(m for m in shelf.find("etch-darken").mix if m.id == "etchant")
    result = card.mixed["etch 3"]
    assert len(result) == len(mix.of)
    parts = sum(item.parts or 0 for item in mix.of)
    for words, item in zip(result, mix.of, strict=True):
        assert words.endswith(f" L {item.what}")
        assert float(words.split()[0]) == pytest.approx(2 * (item.parts or 0) / parts, abs=0.001)
    for form in ("\n".join(card_lines(card)), card_toml(job, card), card_html(job, card)):
        assert all(words in form for words in result)
