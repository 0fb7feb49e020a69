"""The table of keys in DEVELOPERS.md, made from the code.

    python -m tests.tui.keytable

writes it again.
"""

from __future__ import annotations

from pathlib import Path

from benchtimer.view.pagekeys import PAGES

GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"
HEAD = "| key | means |"

MEANINGS = {
    "space": "do the main thing of the page",
    "enter": "the same as SPACE",
    "y": "yes",
    "n": "no",
    "u": "take the last press back",
    "r": "redo it",
    "b": "move the last press back a minute",
    "s": "move the last press back ten seconds",
    "e": "go ahead anyway",
    "plus": "one minute more",
    "minus": "one minute less",
    "g": "large view",
    "x": "silence alarms for a minute",
    "o": "try the alarm",
    "m": "more",
    "f": "first aid",
    "t": "write a note",
    "a": "add a part or a job",
    "delete": "take the part off",
    "right": "later",
    "left": "sooner",
    "down": "next row or part",
    "up": "previous row or part",
    "pagedown": "page down",
    "pageup": "page up",
    "home": "first row",
    "end": "last row",
    "escape": "back",
    "c": "hazards",
    "i": "all details",
    "w": "what the recipe says to do",
    "l": "record",
    "j": "judge",
    "d": "compare tries",
    "k": "checklist",
    "p": "plan a new run",
    "equals_sign": "set a run up again",
    "full_stop": "next place that needs you",
    "comma": "previous place that needs you",
    "slash": "search",
    "0": "the plan you left",
    "semicolon": "what to do before you go",
    "asterisk": "set a timer",
    "tab": "show a run on the bench",
    "h": "home",
    "z": "as last time",
    "v": "theme",
    "ctrl+p": "find a command",
    "question_mark": "keys of this page",
    "q": "leave",
}
"""The one meaning of each key, on every page that uses it."""


def keys_table() -> str:
    """Keys by pages as a Markdown table; an x where the page uses the key."""
    used = {name: {key.key for key in keys} for name, keys in PAGES.items()}
    shown = {key.key: key.shown for keys in PAGES.values() for key in keys}
    lines = [f"{HEAD} {' | '.join(PAGES)} |", f"|---|---|{'---|' * len(PAGES)}"]
    for key, meaning in MEANINGS.items():
        marks = "|".join("x" if key in used[name] else " " for name in PAGES)
        lines.append(f"| {shown.get(key, key)} | {meaning} |{marks}|")
    return "\n".join(lines)


def written_table() -> str:
    """The table that DEVELOPERS.md has now."""
    text = GUIDE.read_text(encoding="utf-8")
    return text[text.index(HEAD) :].partition("\n\n")[0].rstrip()


if __name__ == "__main__":
    GUIDE.write_text(
        GUIDE.read_text(encoding="utf-8").replace(written_table(), keys_table()), encoding="utf-8"
    )
