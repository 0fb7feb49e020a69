"""Every key of the board in one table: bindings, footer and help are made from it."""

from __future__ import annotations

from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """One key.

    Attributes:
        key: the key's name for Textual.
        action: the board's action.
        shown: the key as people see it.
        label: one or two words for the bottom line; empty to leave it out there.
        help: what it does.
        changes: whether it changes the run, so that a watcher does not have it.
    """

    key: str
    action: str
    shown: str
    label: str
    help: str
    changes: bool = True


def look(key: str, action: str, shown: str, label: str, about: str) -> Key:
    """A key that changes nothing.

    Args:
        key: Textual's name of the key.
        action: what it does.
        shown: the key on screen.
        label: its words in the footer.
        about: its words in the list of keys.
    """
    return Key(key, action, shown, label, about, changes=False)


KEYS = (
    Key("space", "confirm", "SPACE", "do it", "Do what the large line says"),
    Key("enter", "confirm", "ENTER", "", "The same as SPACE"),
    Key("y", "desk('say', True)", "Y", "", "Answer yes to the question shown; 1 does the same"),
    Key("n", "desk('say', False)", "N", "", "Answer no to the question shown; 2 does the same"),
    Key(
        "u",
        "desk('undo')",
        "U",
        "undo",
        "Take the last press back; press again to undo the one before it",
    ),
    Key("r", "desk('redo')", "R", "", "Redo the press that you took back"),
    look("question_mark", "help", "?", "help", "Show this page"),
    look(
        "f",
        "first_aid",
        "F",
        "first aid",
        "First aid for what is open now, with a rinse timer; F1 works while you type, too",
    ),
    Key("m", "menu", "M", "more", "More: hold, take out, send back, scrap, stations, abort"),
    look("g", "glance", "G", "large", "Next action full screen; press again to go back"),
    look("x", "silence", "X", "quiet", "Silence alarms for a minute; the work is still due"),
    Key("b", "desk('back_date', 60)", "B", "backdate", "Move the last press back one minute"),
    Key("s", "desk('back_date', 10)", "S", "", "Move the last press back ten seconds"),
    look("h", "home", "H", "home", "Home: open runs, waiting parts, recipes"),
    Key("t", "note", "T", "note", "Write a note in the record"),
    look("q", "leave", "Q", "leave", "Leave; the timers keep running"),
    Key("e", "desk('early')", "E", "", "Go ahead early, or with something missing"),
    Key(
        "plus",
        "desk('move_target', 1)",
        "+",
        "later",
        "Pull the part shown a minute later; never past its max",
    ),
    Key(
        "minus",
        "desk('move_target', -1)",
        "-",
        "sooner",
        "Pull the part shown a minute sooner; never before its min",
    ),
    look("o", "try_alarm", "O", "", "Play the alarm and say whether you heard it"),
    Key(
        "semicolon",
        "go",
        ";",
        "",
        "Enter when you leave; shows what to do first and what can wait",
    ),
    Key("a", "add", "A", "", "Add a part to the run"),
    Key("asterisk", "timer", "*", "", "Set a simple timer: name and time"),
    look("down", "pick_next(1)", "↓", "", "Pick the next part"),
    look("up", "pick_next(-1)", "↑", "", "Pick the previous part"),
    look("escape", "let_go", "ESC", "", "Back to the most urgent action"),
    look("c", "hazards", "C", "", "Show the hazards of this run again"),
    look("i", "stations", "I", "", "All station details: parts, readings, when to read next"),
    look(
        "w",
        "work",
        "W",
        "",
        "Bath out of range: what you can do; otherwise the recipe's text for this step",
    ),
    look("l", "log", "L", "", "Show the record so far"),
    Key("j", "judge", "J", "", "Judge finished parts"),
    look("d", "compare", "D", "", "What differed between a part's tries"),
    look("k", "prepare", "K", "", "The checklist: what to lay out, mix, heat"),
    look("v", "theme", "V", "", "Next theme: dim, bright, contrast"),
    look("ctrl+p", "palette", "^P", "", "Find a command by its name"),
)
"""Most needed first: the board's footer shows as many with a label as fit."""


DIGITS = Key(
    "digits",
    "",
    "1 to 99",
    "",
    "Pick a part by its number, or choose the answer with that number",
    changes=False,
)
"""Not a single key, so only the help shows it."""
