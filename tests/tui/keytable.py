"""The table of keys in DEVELOPERS.md, made from the code.

    python -m tests.tui.keytable

writes it again.
"""

from __future__ import annotations

from pathlib import Path

from benchtimer.view.keys import MEANINGS
from benchtimer.view.pagekeys import PAGES

GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"
HEAD = "| key | means |"


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
