"""The shop's settings: read, refused, written and changed."""

from __future__ import annotations

import io
import os
import shutil
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.cli import main
from benchtimer.cli.common import Wrong
from benchtimer.cli.settingfile import DEFAULT
from benchtimer.cli.settingkeys import _kind_of, _read_value, with_key
from benchtimer.cli.settings_command import _asked
from benchtimer.quantity import Quantity
from benchtimer.settings import DailyAway, Settings, SettingsError, parse_settings, read_settings
from tests.recipe.layouts import Layout, layouts

FULL = """
altitude = "4000 ft"
units = "us"
hands = 2
away = ["22:00-07:00", "12:00-12:30"]
wheels = ["8 in", "150 mm"]
by = "anna"

[vessels]
black-salts = "2 gal"

[bath.etchant]
max_age = "60 d"
max_parts = 40
max_dwell = "10 h"
max_exhaustion = "30 %"
"""


@pytest.fixture(name="config")
def _config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Empty folders for settings and data, with no terminal."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    return tmp_path / "config" / "settings.toml"


def test_every_setting_can_be_set() -> None:
    """Each key is read with its units."""
    shop = parse_settings(FULL, "x")
    assert shop.altitude is not None
    assert shop.altitude.to("m").value == pytest.approx(1219.2)
    assert (shop.units, shop.hands, shop.by) == ("us", 2, "anna")
    assert shop.away == (DailyAway(22 * 60, 7 * 60), DailyAway(12 * 60, 12 * 60 + 30))
    assert [str(w) for w in shop.wheels] == ["8 in", "150 mm"]
    assert shop.vessels == {"black-salts": Quantity(2, "gal")}
    limits = shop.limits["etchant"]
    assert (limits.age_s, limits.parts, limits.dwell_s) == (60 * 86_400, 40, 36_000)
    assert limits.exhaustion == pytest.approx(0.3)
    assert shop.figures == {"altitude": "4000 ft"}


def test_no_setting_is_required(tmp_path: Path) -> None:
    """No file, an empty file and the file from setup give the same shop."""
    assert read_settings(tmp_path / "none.toml") == Settings()
    assert parse_settings("", "x") == Settings()
    assert parse_settings(DEFAULT, "x") == Settings()


def test_the_examples_in_the_default_file_are_right() -> None:
    """The default file is still valid without the # of its example lines."""
    lines = [
        line[2:] if line.startswith("# ") and (" = " in line or line[2:3] == "[") else line
        for line in DEFAULT.splitlines()
    ]
    shop = parse_settings("\n".join(lines), "x")
    assert shop.altitude == Quantity(1200, "m")
    assert shop.limits["etchant"].parts == 40


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("altitud = '1 m'", 'x:1: the file: unknown key "altitud"; known here: altitude, units'),
        ("altitud = '1 m'", 'did you mean "altitude"?'),
        ("\naltitude = 1200", "x:2: altitude: 1200: a length is text in quotes"),
        ("altitude = '90 km'", 'is not a unit, did you mean "m"?'),
        ("altitude = '90000 m'", "between -500 m and 10000 m is accepted"),
        ("units = 'metric'", "'us' or 'si'"),
        ("hands = 0", "at least 1"),
        ("hands = '2'", "must be a whole number"),
        ("hands = true", "must be a whole number"),
        ("away = '22:00-07:00'", "must be a list"),
        ("away = ['22-7']", 'away number 1: "22-7": it is not a pair of times of day'),
        ("away = [7]", "away number 1: 7: hours away are text in quotes"),
        ("away = ['22:00-25:00']", "there are no such hours"),
        ("away = ['22:00-22:00']", "there are no such hours"),
        ("away = ['22:60-07:00']", "there are no such hours"),
        ("wheels = ['8 in', '9 m']", "wheels number 2"),
        ("by = ''", "the text is empty"),
        ("[vessels]\nsalts = '0 L'", "x:2: vessels, salts"),
        ("[vessels]\nsalts = '3 F'", '"F" is a unit of temperature'),
        ("[vessels]\n'No Id' = '3 L'", "lowercase letters, digits and -"),
        ("[bath.etchant]\nmax_agee = '1 d'", 'x:2: bath, etchant: unknown key "max_agee"'),
        ("[bath.etchant]\nmax_age = '0 s'", "at least 1"),
        ("[bath.etchant]\nmax_exhaustion = '130 %'", "far outside any real value"),
        ("bath = 3", "bath: found 3; must be a table"),
        ("hands = =", "x:1: the file: it is not TOML"),
    ],
)  # fmt: skip
def test_a_mistake_is_reported_with_its_line(text: str, words: str) -> None:
    """Each error names the line, the key, what was found and what is allowed."""
    with pytest.raises(SettingsError) as result:
        parse_settings(text, "x")
    assert words in str(result.value)


def test_all_mistakes_come_at_once() -> None:
    """A file with three mistakes gives three errors."""
    with pytest.raises(SettingsError) as result:
        parse_settings("hands = 0\nunits = 'x'\n[bath.a]\nmax_parts = 0", "x")
    assert [problem.line for problem in result.value.problems] == [1, 2, 4]


def test_setup_makes_a_file_once(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The first time, setup writes the commented default and says where; then it prints it."""
    assert main(["settings"]) == 0
    assert capsys.readouterr().out == f"{config}\n"
    assert config.read_text("utf-8") == DEFAULT
    assert main(["settings"]) == 0
    assert capsys.readouterr().out == f"# {config}\n{DEFAULT}"


def test_setup_changes_one_key(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Setting a key leaves every other line alone."""
    config.parent.mkdir()
    config.write_text("# mine\nhands = 3 # two and a half\n\n[vessels]\n# big\na = '1 L'\n")
    assert main(["settings", "--set", "altitude=900 m", "--set", "vessels.b=2 L"]) == 0
    capsys.readouterr()
    assert config.read_text("utf-8") == (
        "# mine\nhands = 3 # two and a half\naltitude = \"900 m\"\n\n"
        "[vessels]\n# big\na = '1 L'\nb = \"2 L\"\n"
    )  # fmt: skip


@pytest.mark.parametrize(
    ("change", "code", "words"),
    [
        ("altitude", 2, "is not KEY=VALUE"),
        ("altitud=1 m", 2, 'did you mean "altitude"?'),
        ("alarm=x", 2, 'did you mean "alarm.tone"?'),
        ("screen.theme=dark", 1, "'contrast'"),
        ("vessels=1 L", 2, "vessels.MIX"),
        ("bath.x.max=1", 2, "bath.MIX.max_age"),
        ("altitude=high", 1, "it needs a number and a unit"),
        ("hands=40", 1, "at most 20"),
    ],
)
def test_a_wrong_change_changes_nothing(
    config: Path, change: str, code: int, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """An unknown key is a usage error and a bad value is refused; the file stays."""
    assert main(["settings"]) == 0
    assert main(["settings", "--set", change]) == code
    assert words in capsys.readouterr().err
    assert config.read_text("utf-8") == DEFAULT


LAYOUTS = [
    ("bath = { etchant = { max_parts = 3 } } # c\n", "max_parts = 3", "max_parts = 40"),
    ("bath.etchant.max_parts = 3 # c\nhands = 2\n", "= 3", "= 40"),
    ("[bath]\netchant . max_parts=3\n", "=3", "=40"),
    ("[ bath . 'etchant' ] # c\n\tmax_parts = 3\n", "= 3", "= 40"),
    ('["bath"."etch\\u0061nt"]\r\nmax_parts = 3 # c\r\n\r\n[screen]\r\n', "= 3", "= 40"),
    ('by = """\nanna\\\n"""\nbath.etchant.max_parts = 3', "= 3", "= 40"),
    ('away = [\n  "22:00-07:00", # [bath]\n]\n[bath.etchant]\nmax_parts = 0x3 # c', "0x3", "40"),
]
"""A text, its value, and the text with bath.etchant.max_parts set to 40."""


@pytest.mark.parametrize(("text", "old", "new"), LAYOUTS, ids=[text for text, _, _ in LAYOUTS])
def test_every_layout_can_be_set(text: str, old: str, new: str) -> None:
    """Inline, dotted, quoted, spaced and multi-line tables can all be set."""
    assert with_key(text, "bath.etchant.max_parts", "40", "x") == text.replace(old, new)


NEW_KEYS = [
    ("bath = { etchant = { max_parts = 3 } } # c\n", " } }", ', max_age = "1 d" } }'),
    ("bath = {} # c\n", "{}", '{etchant = {max_age = "1 d"}}'),
    ("bath.etchant.max_parts = 3 # c\nhands = 2\n", "# c\n", '# c\nbath.etchant.max_age = "1 d"\n'),
    ("[ bath . 'etchant' ]\n#\n\n# s\n[screen]\n", "' ]\n", '\' ]\nmax_age = "1 d"\n'),
    ("[bath.etchant]\r\n# a\r\n", "]\r\n", ']\r\nmax_age = "1 d"\r\n'),
    ("[bath.etchant] # no end of line", "line", 'line\nmax_age = "1 d"\n'),
    ("hands = 2 # c", "# c", '# c\n\n[bath.etchant]\nmax_age = "1 d"\n'),
]  # fmt: skip


@pytest.mark.parametrize(("text", "old", "new"), NEW_KEYS, ids=[text for text, _, _ in NEW_KEYS])
def test_a_new_key_goes_where_its_table_is(text: str, old: str, new: str) -> None:
    """A new key is written in the style of its table."""
    assert with_key(text, "bath.etchant.max_age", "1 d", "x") == text.replace(old, new)


def test_a_file_with_windows_line_ends_keeps_them(
    config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Line ends, comments after values and blank lines stay byte for byte."""
    config.parent.mkdir()
    old = b'# mine\r\nhands = 3  # two and a half\r\n\r\n[vessels]\r\na = "1 L"\t# big\r\n'
    for raw in (old, b"\xef\xbb\xbf" + old):
        config.write_bytes(raw)
        assert main(["settings", "--set", "hands=2", "--set", "vessels.a=2 L"]) == 0
        assert config.read_bytes() == raw.replace(b"= 3", b"= 2").replace(b"1 L", b"2 L")
        assert main(["settings"]) == 0
        assert "\ufeff" not in capsys.readouterr().out


def test_a_list_keeps_its_comments() -> None:
    """A list with one entry per line keeps its layout and the comments of what stays."""
    night = '  "22:00-07:00", # night\n'
    text = f'away = [\n{night}  # lunch\n  "12:00-13:00",\n] # usually\nhands = 2\n'
    one = with_key(text, "away", "21:00-06:00, 12:00-13:00", "x")
    assert one == text.replace("22:00-07:00", "21:00-06:00")
    assert with_key(text, "away", "12:00-13:00", "x") == text.replace(night, "")
    more = with_key(text, "away", "22:00-07:00, 12:00-13:00, 17:00-18:00", "x")
    assert more == text.replace("\n] #", '\n  "17:00-18:00",\n] #')


def test_a_key_inside_a_value_is_refused() -> None:
    """A number in place of a table is refused."""
    with pytest.raises(
        Wrong, match=r"x: bath.etchant.max_age can't be set here: bath is not a table"
    ):
        with_key("bath = 3\n", "bath.etchant.max_age", "1 d", "x")


def test_a_comment_that_shows_a_key_stays() -> None:
    """A new line goes below the comment that shows its form."""
    new = with_key(DEFAULT, "away", "21:00-06:00", "x")
    example = '# away = ["22:00-07:00"]\n'
    assert new == DEFAULT.replace(example, example + 'away = ["21:00-06:00"]\n')


VALUES = {
    "altitude": ["0 m", "4000 ft"],
    "units": ["us", "si"],
    "hands": ["1", "3"],
    "away": ["22:00-07:00", "22:00-07:00, 12:00-13:00"],
    "wheels": ["8 in", "8 in, 150 mm"],
    "by": ["anna", 'the "boss"', "J. # 2"],
    "vessels.black-salts": ["6 L"],
    "vessels.etchant": ["2 L"],
    "bath.etchant.max_age": ["60 d"],
    "bath.etchant.max_parts": ["40"],
    "bath.oil.max_age": ["30 d"],
}


@given(st.lists(st.sampled_from(sorted(VALUES)).flatmap(
    lambda key: st.tuples(st.just(key), st.sampled_from(VALUES[key]))), max_size=8))  # fmt: skip
def test_keys_can_be_set_in_any_order(changes: list[tuple[str, str]]) -> None:
    """After any changes in any order, the file has the last value of each key."""
    text = DEFAULT
    for key, value in changes:
        text = with_key(text, key, value, "x")
    data = tomllib.loads(text)
    for key, value in dict(changes).items():
        found = data
        for part in key.split("."):
            found = found[part]
        want = {"hands": [int(value)] if value.isdecimal() else []}.get(key, [value])
        assert found in [*want, int(value) if value.isdecimal() else None, value.split(", ")]
    shown = [line for line in DEFAULT.splitlines() if line.startswith("#")]
    assert [line for line in text.splitlines() if line.startswith("#")] == shown


_SHOPS = st.fixed_dictionaries(
    {},
    optional={
        "altitude": st.sampled_from(VALUES["altitude"]),
        "hands": st.integers(1, 20),
        "away": st.lists(st.just("22:00-07:00"), max_size=3),
        "vessels": st.dictionaries(st.sampled_from(["black-salts", "etchant"]), st.just("3 L")),
        "bath": st.fixed_dictionaries(
            {"etchant": st.fixed_dictionaries({}, optional={"max_parts": st.integers(1, 99)})}
        ),
        "screen": st.just({"text": "ascii"}),
    },
)


@given(layouts(_SHOPS), st.sampled_from(sorted(VALUES)).flatmap(
    lambda key: st.tuples(st.just(key), st.sampled_from(VALUES[key]))))  # fmt: skip
def test_a_key_can_be_set_in_any_layout(layout: Layout, change: tuple[str, str]) -> None:
    """In any layout the key gets its value and no other key changes."""
    key, value = change
    *way, last = key.split(".")
    new = with_key(layout.text, key, value, "x")
    result, was = tomllib.loads(new), tomllib.loads(layout.text)
    for name in way:
        result, was = result[name], was.get(name, {})
    assert result.pop(last) == _read_value(_kind_of((*way, last), key), value)
    was.pop(last, None)
    assert result == was
    assert parse_settings(new, "x")


def test_questions_accept_an_empty_answer(capsys: pytest.CaptureFixture[str]) -> None:
    """An empty answer keeps a key, and a wrong one is asked again."""
    answers = iter(["sky high", "1200 m", "", "anna", ""])
    text = _asked(DEFAULT, lambda _question: next(answers))
    shop = parse_settings(text, "x")
    assert (shop.altitude, shop.by, shop.units) == (Quantity(1200, "m"), "anna", None)
    assert "it needs a number and a unit" in capsys.readouterr().err


def test_a_broken_file_is_one_clear_message(
    config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Commands that need the settings stop with exit code 1 and the line."""
    config.parent.mkdir()
    config.write_text("hands = 0\n")
    for command in (["calc", "water"], ["prepare", "hot-black"], ["rehearse", "hot-black", "a"],
                    ["bath"], ["settings"]):  # fmt: skip
        assert main(command) == 1
        assert f"{config}:1: hands" in capsys.readouterr().err


@pytest.mark.usefixtures("config")
def test_runs_take_their_hands_from_the_shop(capsys: pytest.CaptureFixture[str]) -> None:
    """A rehearsal uses the shop's hands by default."""
    import json

    main(["settings", "--set", "hands=2"])
    hands = []
    for more in ([], ["--hands", "1"]):
        capsys.readouterr()
        assert main(["rehearse", "temper-cycles", "bar", "--json", *more]) == 0
        hands.append(json.loads(capsys.readouterr().out)["hands"])
    assert hands == [2, 1]


@pytest.mark.parametrize("text", ["[]", '[""]', '[" "]', '["\\t", "x"]'])
def test_an_alarm_command_without_a_program_is_refused(text: str) -> None:
    """A command that can't start is refused, and a missing key means no command."""
    with pytest.raises(SettingsError, match="alarm"):
        parse_settings(f"[alarm]\ncommand = {text}\n", "x")
    assert parse_settings("[alarm]\n", "x").alarm.command == ()


@pytest.mark.parametrize("value", ["[]", ",", " , "])
def test_an_empty_alarm_command_cannot_be_set(
    config: Path, capsys: pytest.CaptureFixture[str], value: str
) -> None:
    """The message says what to do, and no file is made."""
    assert main(["settings", "--set", f"alarm.command={value}"]) == 1
    assert "no program" in capsys.readouterr().err
    assert not config.exists()


posix = pytest.mark.skipif(os.name != "posix", reason="rights of files are of another kind here")


@posix
@pytest.mark.parametrize(("file", "folder", "way_out"), [
    (0o620, 0o700, "chmod go-w"), (0o602, 0o700, "chmod go-w"), (0o600, 0o770, "can replace it"),
    (0o600, 0o707, "can replace it"), (0o644, 0o755, ""), (0o600, 0o1777, ""),
])  # fmt: skip
def test_a_file_that_others_can_write_is_refused(
    config: Path, file: int, folder: int, way_out: str
) -> None:
    """A settings file that others can write is refused, because it names a program to run."""
    config.parent.mkdir()
    config.write_text("hands = 2\n")
    config.chmod(file)
    config.parent.chmod(folder)
    if not way_out:
        assert read_settings(config).hands == 2
        return
    with pytest.raises(SettingsError, match=way_out):
        read_settings(config)
    with pytest.raises(SettingsError, match="program as you"):
        read_settings(config)


@posix
def test_settings_are_private_whatever_the_umask(config: Path) -> None:
    """The file, its folder and any new parent folder are private."""
    config.parent.mkdir()
    config.write_text("hands = 2\n")
    config.chmod(0o644)
    before = os.umask(0)
    try:
        assert main(["settings", "--set", "hands=3"]) == 0
        assert config.stat().st_mode & 0o777 == 0o600
        shutil.rmtree(config.parent)
        assert main(["settings"]) == 0
    finally:
        os.umask(before)
    assert config.stat().st_mode & 0o777 == 0o600
    assert config.parent.stat().st_mode & 0o777 == 0o700
