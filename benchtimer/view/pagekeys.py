"""The keys of the pages around a run, one table per page, for bindings, footer and help.

The most needed come first: the footer shows as many with a label as fit.
"""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.view.keys import KEYS, Key, look

THEME = look("v", "theme", "V", "", "Next theme: dim, bright, contrast")

MOVING = (
    look("down", "move('down')", "↓", "", "Down: the next row"),
    look("up", "move('up')", "↑", "", "Up: the previous row"),
    look("pagedown", "move('page down')", "PGDN", "", "Page down"),
    look("pageup", "move('page up')", "PGUP", "", "Page up"),
    look("home", "move('first')", "HOME", "", "To the first row"),
    look("end", "move('last')", "END", "", "To the last row"),
)

FIRST_AID = look("f", "first_aid", "F", "first aid", "First aid for what is open now; also F1")
HELP = look("question_mark", "help", "?", "keys", "Show the keys of this page")
BACK = look("escape", "back", "ESC", "back", "Back to the previous page")
HOME = look("h", "home", "H", "home", "Home: open runs, waiting parts, earlier runs, recipes")
AGAIN = Key(
    "equals_sign", "again", "=", "again", "Set that run up again: same recipes, new part names"
)

HOME_KEYS = (
    look("space", "go", "SPACE", "show", "Show the work that is due; if none is, the row marked >"),
    look("enter", "open", "ENTER", "", "Open the row marked >"),
    Key("p", "new", "P", "new run", "Plan a new run and set it up"),
    FIRST_AID,
    HELP,
    Key("a", "job", "A", "", "Add a job: its name, the day it is due, its parts"),
    Key("0", "kept", "0", "", "Continue the plan that you left"),
    look("slash", "runs", "/", "all runs", "Find a run in the list of all runs, with filters"),
    look("l", "record", "L", "record", "The record of the run marked >"),
    look("k", "prepare", "K", "checklist", "What to lay out, mix and heat for that run"),
    AGAIN,
    *MOVING,
    THEME,
    look("escape", "back", "ESC", "", "Back to the last run you viewed"),
    look("q", "leave", "Q", "leave", "Leave; the timers keep running"),
)

JOB_KEYS = (
    Key(
        "space",
        "open",
        "SPACE",
        "do it",
        "Set up the part, answer its question, or do what the row says",
    ),
    Key("enter", "open", "ENTER", "", "The same as SPACE"),
    Key("u", "undo", "U", "undo", "Take the last entry of this job back"),
    FIRST_AID,
    HELP,
    BACK,
    *MOVING,
    THEME,
    HOME,
)

PLAN_KEYS = (
    Key("space", "set_up", "SPACE", "set up", "Set the run up as planned, ready to start"),
    Key("enter", "set_up", "ENTER", "", "The same as SPACE"),
    Key("a", "add", "A", "add", "Choose a recipe and name its parts"),
    Key("m", "more", "M", "more", "More: times, order, changes, batches, hours, hands, start"),
    FIRST_AID,
    HELP,
    look("escape", "back", "ESC", "back", "Back; the plan is saved until you leave the program"),
    Key("delete", "drop", "DEL", "drop", "Take the part marked > off the list"),
    Key("right", "later(1)", "→", "later", "Start the part five minutes later"),
    Key("left", "later(-1)", "←", "sooner", "Start the part five minutes sooner"),
    look("k", "prepare", "K", "checklist", "What to lay out, mix and heat"),
    Key("z", "last_time", "Z", "last time", "Use what the last accepted try did differently"),
    look("i", "details", "I", "moves", "Details: every move, the risks, and what would help"),
    *MOVING,
    THEME,
    HOME,
)

PLAN_MORE = (
    ("not_before", "Begin this part no earlier than a time"),
    ("forward", "Move this part up one place; from the top it goes to the end"),
    ("change", "Change a dwell or temperature in this recipe, for this run only"),
    ("worked", "Your hours by weekday, for this plan"),
    ("away", "Hours when you are away"),
    ("hands", "Add a pair of hands; after four it goes back to one"),
    ("start", "When the plan begins"),
    ("stop", "Stop the planner; keep the best plan so far"),
    ("enter", "This part is half done: it starts at a later step"),
    ("batch", "This part is several pieces, such as six pins on one wire"),
)
"""What M offers on the plan page: the actions and their words."""

RUNS_MORE = (("rates", "Your shop's rates: first-pass yield, send-backs and hours by month"),)
"""What M offers on the list of runs."""

PREPARE_KEYS = (
    Key(
        "space",
        "tick",
        "SPACE",
        "check off",
        "Check off this line; press again to take the check mark off",
    ),
    Key("enter", "tick", "ENTER", "", "The same as SPACE"),
    Key("u", "undo", "U", "undo", "Take the last press of this run back"),
    FIRST_AID,
    HELP,
    BACK,
    Key(
        "t",
        "tick_with_words",
        "T",
        "check off with note",
        "Check it off with a note, such as: at 290 F",
    ),
    look("full_stop", "next_open", ".", "next open", "To the next line that is not checked off"),
    *MOVING,
    THEME,
    HOME,
)

RECORD_KEYS = (
    Key("j", "judge", "J", "judge", "Judge the parts"),
    look(
        "full_stop",
        "trouble(1)",
        ".",
        "next problem",
        "To the next problem: a deviation, a failed check, a late alarm",
    ),
    look("comma", "trouble(-1)", ",", "", "To the previous problem"),
    FIRST_AID,
    HELP,
    BACK,
    look("slash", "search", "/", "search", "Search for words; press again for the next match"),
    Key("t", "note", "T", "note", "Write a note in the record"),
    AGAIN,
    Key("u", "undo", "U", "undo", "Take the last press of this run back"),
    *MOVING,
    THEME,
    look("space", "move('page down')", "SPACE", "", "Page down"),
    HOME,
)

RUNS_KEYS = (
    look("space", "open", "SPACE", "record", "The record of the run marked >"),
    look("enter", "open", "ENTER", "", "The same as SPACE"),
    look("slash", "filter", "/", "filter", "Filter runs by part, recipe, verdict, state, date"),
    FIRST_AID,
    HELP,
    BACK,
    look("tab", "bench", "TAB", "bench", "Show that run on the bench, if it is still open"),
    look("m", "more", "M", "more", "More: your shop's rates"),
    AGAIN,
    *MOVING,
    THEME,
    HOME,
)

RUNS_FILTERS = (
    ("clear", "All runs"),
    ("part", "Runs with a certain part"),
    ("recipe", "Runs of a certain recipe"),
    ("verdict", "Runs with a part judged accepted, rework or rejected"),
    ("state", "Runs that are open, complete or aborted"),
    ("words", "Runs with certain words in title, notes or answers"),
    ("date", "Runs in a year, a month or a day"),
)
"""What / offers on the list of runs: the actions and their words."""


def allowed(keys: Sequence[Key], *, read_only: bool) -> list[Key]:
    """The keys for a watcher or for the driver."""
    return [key for key in keys if not (read_only and key.changes)]


PAGES = {
    "board": KEYS,
    "home": HOME_KEYS,
    "plan": PLAN_KEYS,
    "checklist": PREPARE_KEYS,
    "record": RECORD_KEYS,
    "runs": RUNS_KEYS,
}
