"""Did you mean: any misspelled word gets the nearest known one."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.cli import main
from benchtimer.cli.parser import whole_line
from benchtimer.cli.table import COMMANDS
from benchtimer.quantity import did_you_mean, meant
from benchtimer.run.refusals import BadValue, UnknownName

KNIFE = "petty knife"


@pytest.fixture(scope="module", name="shop")
def _shop(knife_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log with the petty knife's run and a bath; nothing here writes to it."""
    folder = tmp_path_factory.mktemp("hints")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHTIMER_DATA", str(folder / "data"))
        patch.setenv("BENCHTIMER_CONFIG", str(folder / "config"))
        shutil.copytree(knife_data, folder / "data")
        assert main(["bath", "mix", "etch 3", "--of", "Brew"]) == 0
    return folder


def _told(shop: Path, capsys: pytest.CaptureFixture[str], words: list[str]) -> tuple[int, str]:
    """A command's message about wrong words, and its exit code."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHTIMER_DATA", str(shop / "data"))
        patch.setenv("BENCHTIMER_CONFIG", str(shop / "config"))
        try:
            code = main(words)
        except SystemExit as ended:
            code = int(ended.code or 0)
    output = capsys.readouterr()
    assert output.out == ""
    return code, output.err


@pytest.mark.parametrize(
    ("words", "code", "meant"),
    [
        (["rehers", "hot-black", "pin"], 2, "rehearse"),
        (["compleshun", "bash"], 2, "completion"),
        (["bath", "topupp", "etch 3", "x"], 2, "topup"),
        (["rehearse", "hot-black", "pin", "--sed", "1"], 2, "--seed"),
        (["rehearse", "hot-black", "pin", "--sed=1"], 2, "--seed"),
        (["judge", "last", KNIFE, "--verdit", "accepted"], 2, "--verdict"),
        (["bath", "mix", "etch 4", "--recip", "etch-darken"], 2, "--recipe"),
        (["--dat", "x", "record"], 2, "--data"),
        (["record", "--as", "markdwon"], 2, "markdown"),
        (["judge", "last", KNIFE, "--verdict", "acepted"], 2, "accepted"),
        (["completion", "zhs"], 2, "zsh"),
        (["recipes", "hot-blak"], 1, "hot-black"),
        (["prepare", "hot-wx"], 1, "hot-wax"),
        (["plan", "hot-black", "knife=etch-drken"], 1, "etch-darken"),
        (["plan", "hot-black", "pin", "--set", "blak.target=9 min"], 1, "black"),
        (["plan", "hot-black", "pin", "--set", "black.targt=9 min"], 1, "target"),
        (["plan", "hot-black", "pin", "--set", "hot-blak:black.target=9 min"], 1, "hot-black"),
        (["plan", "hot-wax", "bolster", "--about", "boslter.temper=200 C"], 1, "bolster"),
        (["plan", "hot-wax", "bolster", "--about", "bolster.tempr=200 C"], 1, "temper"),
        (["record", "2026-03-27-2"], 1, "2026-03-27-1"),
        (["keep", "2026-03-27-l"], 1, "2026-03-27-1"),
        (["judge", "last", "pety knife", "--verdict", "accepted"], 1, KNIFE),
        (["part", "pety knife"], 1, KNIFE),
        (["compare", "last:pety knife", "last"], 1, KNIFE),
        (["causes", "etch-drken"], 1, "etch-darken"),
        (["keep", "last", "--part", "pety knife"], 1, KNIFE),
        (["keep", "last", "--leave", "etch.targt"], 1, "etch.target"),
        (["record", "--part", "pety knife"], 1, KNIFE),
        (["record", "--recipe", "etch-drken", "--words", "photo"], 1, "etch-darken"),
        (["record", "--bath", "etsh 3"], 1, "etch 3"),
        (["record", "--verdict", "acepted"], 1, "accepted"),
        (["bath", "show", "etsh 3"], 1, "etch 3"),
        (["bath", "read", "etsh 3", "20", "C"], 1, "etch 3"),
        (["bath", "mix", "b", "--recipe", "hot-black", "--mix", "black-sals"], 1, "black-salts"),
        (["calc", "salts-reding"], 1, "salts-reading"),
        (["calc", "water", "altitud=3 m"], 1, "altitude"),
        (["settings", "--set", "altitud=3 m"], 2, "altitude"),
        (["settings", "--set", "screen.them=dim"], 2, "screen.theme"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_a_misspelled_word_gets_the_nearest_one(
    shop: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: int, meant: str
) -> None:
    """For any kind of name, the message suggests the right one, and nothing is done."""
    found, result = _told(shop, capsys, words)
    assert found == code, result
    assert f'did you mean "{meant}"?' in result


@pytest.mark.parametrize(
    ("words", "way"),
    [
        (["xyzzy"], "benchtimer --help lists the commands"),
        (["bath", "xyzzy"], "benchtimer bath --help lists the verbs"),
        (["record", "xyzzy"], "benchtimer record lists them"),
        (["part", "xyzzy"], "benchtimer record --part looks for one"),
        (["bath", "show", "xyzzy"], "benchtimer bath --all lists them"),
        (["calc", "xyzzy"], "benchtimer calc lists them"),
        (["causes", "xyzzy"], "benchtimer record lists the runs"),
        (["keep", "last", "--leave", "xyzzy"], "keep --show lists what is kept"),
        (["record", "--part", "xyzzy"], "no run matches all filters\n"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_a_word_with_no_near_match_gets_the_list(
    shop: Path, capsys: pytest.CaptureFixture[str], words: list[str], way: str
) -> None:
    """Nothing is guessed, and no long list is printed: the message says where to look."""
    _, result = _told(shop, capsys, words)
    assert way in result
    assert "did you mean" not in result


@pytest.mark.parametrize("name", COMMANDS)
def test_options_are_written_out(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """An abbreviated option is refused, so a new option never breaks a script."""
    options = [o for o in whole_line().verbs[name].options if o.startswith("--") and len(o) > 4]
    for option in options:
        with pytest.raises(SystemExit, match="2"):
            main([name, option[:-1]])
        assert f'there is no option "{option[:-1]}"; did you mean "--' in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["part", "petty", "knife"], '"knife" is one word too many; put a name with a space'),
        (["schema", "-x"], 'there is no option "-x"'),
        (["judge", "last", "butt", "cap", "--verdict", "rework"], "in quotes"),
    ],
)
def test_an_extra_word_is_reported(
    shop: Path, capsys: pytest.CaptureFixture[str], words: list[str], expected: str
) -> None:
    """A name without its quotation marks is explained, not just refused."""
    code, found = _told(shop, capsys, words)
    assert code == 2
    assert expected in found


def test_a_value_may_look_like_a_command(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What comes after an option is its value, no matter what else it could be."""
    code, result = _told(shop, capsys, ["--data", "record", "record", "--limt", "3"])
    assert code == 2
    assert 'did you mean "--limit"?' in result
    code, result = _told(
        shop, capsys, ["judge", "last", KNIFE, "--verdict", "x", "--note", "a --b"]
    )
    assert "--b" not in result


def test_control_codes_are_not_echoed(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A word that could garble the terminal is printed without its codes."""
    for words in (["\x1b[31mlog"], ["record", "--\x1b[31mas"], ["part", "a", "\x1b[31mb"]):
        _, result = _told(shop, capsys, words)
        assert "\x1b" not in result


@given(st.text(max_size=30), st.lists(st.text(max_size=30), max_size=8))
def test_only_known_words_are_suggested(word: str, known: list[str]) -> None:
    """The question suggests only known words, and a known word is its own nearest one."""
    result = did_you_mean(word, known, "look there")
    assert result == "look there" or result in {meant(each) for each in known}
    if word and word in known:
        assert result.casefold() == meant(word).casefold()


def test_a_refusal_ends_with_one_period() -> None:
    """A question at the end of a refusal stays a question."""
    assert str(BadValue("Can't", "why", "Did you mean this?")).endswith("this?")
    text = str(UnknownName("part", "boslter", ["bolster", "ferrule"]))
    assert text.endswith('did you mean "bolster"? Known: bolster, ferrule.')
