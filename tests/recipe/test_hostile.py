"""Hostile or nonsense files give a recipe or a recipe error, nothing else.

These tests don't time the reader. They check that slow input is refused before the work begins.
"""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchtimer.recipe import reader
from benchtimer.recipe.line_finder import LineFinder, tokens
from benchtimer.recipe.loading import MAX_BYTES, MAX_DEPTH
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import MAX_PROBLEMS, RecipeError
from benchtimer.recipe.reader import MAX_FOUND, build_recipe, parse_recipe
from tests.recipe.drawn import SHIPPED, SMALLEST, problems, read
from tests.recipe.test_cases import BAD

TEXTS = [path.read_text(encoding="utf-8") for path in SHIPPED]
SNIPPETS = [
    "", "[", "]", "[[", "{", "}", "=", '"', '"""', "'", "\\", "\n", "#", ".", ",", "\x00", "\u202e",
    "[[step]]\n", "[step.check]\n", 'id = "scrub"\n', "0x" + "f" * 40, "nan", "-inf", "1979-05-27",
    "true", "[[[]]]", "{ a = { b = {} } }", "a.b.c = 1\n", "9" * 40, "\U0010ffff", "\ufeff", "é",
    '"10 F"', '"400 d"', '""', "[1]", '["x", 1]',
]  # fmt: skip


def outcome(raw: bytes) -> Recipe | RecipeError:
    """A recipe or its recipe error; any other exception fails the test."""
    try:
        return parse_recipe(raw, name="trial.toml", default_id="trial")
    except RecipeError as error:
        return error


def is_clear(found: Recipe | RecipeError) -> bool:
    """Whether it is a recipe, or an error with at least one problem, on safe lines."""
    if isinstance(found, Recipe):
        return True
    return bool(found.problems) and all(line.isprintable() for line in str(found).split("\n"))


@st.composite
def mutated_texts(draw: st.DrawFn) -> str:
    """A shipped recipe with a few pieces cut, repeated, swapped or inserted."""
    text = draw(st.sampled_from(TEXTS))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        end = min(len(text), at + draw(st.sampled_from([0, 0, 1, 2, 5, 20, 200])))
        middle = draw(st.sampled_from([*SNIPPETS, text[at:end] * 2, text[at:end][::-1]]))
        text = text[:at] + middle + text[end:]
    return text


@st.composite
def mutated_lines(draw: st.DrawFn) -> str:
    """A shipped recipe with a few lines dropped, doubled, moved or changed."""
    lines = draw(st.sampled_from(TEXTS)).split("\n")
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(lines) - 1))
        line = lines.pop(at)
        key = line.partition("=")[0]
        to = draw(st.integers(0, len(lines)))
        value = draw(st.sampled_from(SNIPPETS))
        new = draw(st.sampled_from([[], [line, line], [line], [f"{key}= {value}"]]))
        lines[to:to] = new if draw(st.booleans()) else []
    return "\n".join(lines)


@given(mutated_texts())
def test_a_mutated_text_is_a_recipe_or_a_recipe_error(text: str) -> None:
    """Cuts, repeats and foreign pieces give a recipe or a recipe error."""
    assert is_clear(outcome(text.encode("utf-8", "surrogatepass")))


@given(mutated_lines())
def test_mutated_lines_are_a_recipe_or_a_recipe_error(text: str) -> None:
    """Dropped, doubled, moved and changed lines give a recipe or a recipe error."""
    assert is_clear(outcome(text.encode("utf-8", "surrogatepass")))


@given(st.sampled_from(TEXTS), st.lists(st.tuples(st.integers(0), st.integers(0, 255)), max_size=8))
def test_mutated_bytes_are_a_recipe_or_a_recipe_error(
    text: str, changes: list[tuple[int, int]]
) -> None:
    """Changed bytes give a recipe or a recipe error."""
    raw = bytearray(text.encode())
    for at, byte in changes:
        raw[at % len(raw)] = byte
    assert is_clear(outcome(bytes(raw)))


@given(st.binary(max_size=300))
def test_any_bytes_are_a_recipe_or_a_recipe_error(raw: bytes) -> None:
    """Random bytes are refused like any other text."""
    assert is_clear(outcome(raw))


ANY_TOML: st.SearchStrategy[Any] = st.recursive(
    st.none().map(lambda _: "x") | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=5,
)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.sampled_from(["title", "step", "walk", "mix", "hazard"]), ANY_TOML))
def test_any_tables_are_a_recipe_or_a_recipe_error(table: dict[str, Any]) -> None:
    """Any TOML values under the keys of a recipe are accepted or refused in words."""
    data = {"schema": 1, "id": "x", "title": "X"} | table
    try:
        found: object = build_recipe(data, name="x")
    except RecipeError as error:
        found = error
    assert isinstance(found, Recipe | RecipeError)


def absurd_files() -> dict[str, str]:
    """Texts that no reader should spend time on, by their flaw."""
    steps = '[[step]]\nid = "s"\n'
    return {
        "a million steps": steps * 1_000_000,
        "a 10 MB string": f'title = "{"x" * 10_000_000}"',
        "brackets to the limit": "[" * MAX_BYTES,
        "an array of brackets": "a = " + "[" * (MAX_BYTES - 10),
        "tables to the limit": "a = " + "{a = " * (MAX_BYTES // 6),
        "a dotted key": ".".join(["a"] * 20_000) + " = 1",
        "a dotted key with blanks": " . ".join(["'a'"] * 10_000) + " = 1",
        "a dotted header": f"[{'.'.join(['a'] * 20_000)}]\n" + "k = 1\n" * 10,
        "a dotted key in a table": f"a = {{ {'.'.join(['a'] * 20_000)} = 1 }}",
        "a dotted key after a comment": f"# don't\n{'.'.join(['a'] * 20_000)} = 1",
        "digits": "a = " + "9" * (MAX_BYTES - 10),
        "open quotes": 'a = "' + '"""\\' * (MAX_BYTES // 4 - 10),
        "blanks": "a = [\n[1" + " " * 200_000 + ", 2]\n]",
    }


ABSURD = absurd_files()


@pytest.mark.parametrize("what", ABSURD)
def test_an_absurd_file_gets_a_short_answer(what: str) -> None:
    """Excessive size, nesting or length gets a short message."""
    found = outcome(ABSURD[what].encode())
    assert isinstance(found, RecipeError)
    assert len(found.problems) <= 4
    assert len(str(found)) < 1000


@pytest.mark.parametrize("what", [what for what in ABSURD if "dotted" in what or "million" in what])
def test_input_that_stalls_the_library_is_refused_first(
    what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The TOML reader is not called, since its time grows with the square of a key's pieces."""

    def never(_: str) -> None:
        raise AssertionError("the library was asked")

    monkeypatch.setattr(tomllib, "loads", never)
    assert isinstance(outcome(ABSURD[what].encode()), RecipeError)


def test_prose_may_have_any_number_of_dots() -> None:
    """Dots in texts, comments and numbers don't count as a dotted key."""
    dots = ". ".join(["on"] * 100)
    text = f'# {dots}\n{SMALLEST}text = """{dots}\n{dots}"""\n'
    assert problems(text) == []
    assert problems(text.replace("Wipe it dry", dots[:100])) == []


def test_the_deepest_recipe_is_far_from_the_limit() -> None:
    """A recipe with its deepest tables fits twice the nesting."""
    check = '{ id = "c", kind = "yes-no", ask = "?", send = { no = { to = "wipe", limit = 1 } } }'
    text = f"{SMALLEST}check = [{check}]\n"
    assert problems(text) == []
    around = MAX_DEPTH // 2
    found = problems(f"{'a.' * around}{text.splitlines()[-1]}")
    assert all("nested" not in problem.found for problem in found)


@pytest.mark.parametrize(
    ("what", "text"),
    [
        ("entries", '[[step]]\nid = "a"\ntitle = "A"\nhands = "1 s"\nat = "x"\n' * 4500),
        ("stations", '[[station]]\nid = "a"\n' * 10_000),
        ("unknown keys", "\n".join(f"key-{i} = 1" for i in range(18_000))),
        ("options", f"[[step]]\ncheck = [{{ kind = 'choice', no = {['x'] * 9000} }}]"),
        ("walks", "\n".join(f'walk.a{i}.b{i} = "1 s"' for i in range(9000))),
    ],
)
def test_the_search_for_problems_ends(what: str, text: str) -> None:
    """The list of problems is cut off at a length that a person can read."""
    raw = f'schema = 1\ntitle = "{what}"\n{text}'.encode()
    assert len(raw) <= MAX_BYTES
    found = outcome(raw)
    assert isinstance(found, RecipeError)
    assert 1 <= len(found.problems) <= MAX_FOUND
    assert len(str(found).splitlines()) <= MAX_PROBLEMS + 2


def test_hints_are_searched_only_for_reported_problems(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Words are compared only for problems that are shown."""
    asked: list[str] = []

    def counted(word: str, _known: object) -> None:
        asked.append(word)

    monkeypatch.setattr("benchtimer.recipe.rules.nearest", counted)
    monkeypatch.setattr("benchtimer.recipe.shapes.nearest", counted)
    stations = "".join(f'[[station]]\nid = "tray-{i}"\ntitle = "T"\n' for i in range(2000))
    steps = "".join(f'[[step]]\nid = "s{i}"\nat = "trey-{i}"\n' for i in range(3000))
    outcome(f'schema = 1\ntitle = "Many"\n{stations}{steps}'.encode())
    assert len(asked) <= 2 * MAX_FOUND


@pytest.mark.parametrize(
    "value", ["0x" + "f" * 10_000, "-0o" + "7" * 10_000, "9" * 4000, "1e99999", "-nan"]
)
@pytest.mark.parametrize("key", ["holds", "expect", "limit", "revision", "parts", "hands"])
def test_a_huge_number_gets_a_message(key: str, value: str) -> None:
    """A number too large to print gets a message of ordinary length."""
    value = value.removeprefix("-") if value.startswith("-0o") else value
    lines = {
        "holds": f"[[station]]\nid = 'a'\ntitle = 'A'\nholds = {value}",
        "expect": f"[[step.check]]\nid = 'c'\nkind = 'yes-no'\nask = '?'\nsend.no = "
        f"{{ to = 'wipe', limit = 2, expect = {value} }}",
        "limit": f"[[step.check]]\nid = 'c'\nkind = 'yes-no'\nask = '?'\nsend.no = "
        f"{{ to = 'wipe', limit = {value} }}",
        "revision": "",
        "parts": f"[[mix]]\nid = 'm'\ntitle = 'M'\nof = [{{ what = 'x', parts = {value} }}]",
        "hands": f"[[step]]\nid = 'b'\ntitle = 'B'\nhands = {value}",
    }
    head = f"revision = {value}\n" if key == "revision" else ""
    found = problems(head + SMALLEST + lines[key])
    assert found
    assert all(len(str(problem)) < 200 for problem in found)
    assert any(key in problem.where for problem in found)


def test_a_file_is_read_once_and_only_up_to_the_limit(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    """An endless file is read only a little past the limit."""
    endless = tmp_path / "endless.toml"
    endless.write_bytes(b"#" * (MAX_BYTES * 4))
    seen: list[int] = []

    def parse(raw: bytes, **_: object) -> Recipe:
        seen.append(len(raw))
        return read(SMALLEST)

    monkeypatch.setattr(reader, "parse_recipe", parse)
    reader.read_recipe(endless)
    assert seen == [MAX_BYTES + 1]


@given(st.text(max_size=200) | mutated_texts())
def test_tokens_cover_any_text_with_its_lines(text: str) -> None:
    """Splitting any text into tokens ends, and each token is on a real line."""
    last = text.count("\n") + 1
    assert all(1 <= token.line <= last for token in tokens(text))
    line = LineFinder(text).line_of(("step", 0))
    assert line is None or 1 <= line <= last


@pytest.mark.parametrize("case", BAD, ids=lambda path: path.stem)
def test_a_bad_recipe_cut_off_anywhere_still_gets_a_message(case: Any) -> None:
    """A truncated file is refused like any other."""
    raw = case.read_bytes()
    for end in range(0, len(raw), max(1, len(raw) // 25)):
        assert isinstance(outcome(raw[:end]), RecipeError)
