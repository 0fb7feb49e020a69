"""The keys of the pages around a run, one table a page: bindings, bars and help come from them."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.view.keys import Key


def _look(key: str, action: str, shown: str, label: str, told: str) -> Key:
    """A key that changes nothing."""
    return Key(key, action, shown, label, told, changes=False)


THEME = _look("v", "theme", "V", "", "Another theme: dim, bright, contrast")

MOVING = (
    _look("down", "move(1)", "↓", "", "Down: the next row"),
    _look("up", "move(-1)", "↑", "", "Up: the row before"),
    _look("pagedown", "page(1)", "PGDN", "", "A screenful down"),
    _look("pageup", "page(-1)", "PGUP", "", "A screenful up"),
    _look("home", "to_end(False)", "HOME", "", "To the first row"),
    _look("end", "to_end(True)", "END", "", "To the last row"),
)

FIRST_AID = _look("f", "first_aid", "F", "first aid", "First aid for what is open now; also F1")
HELP = _look("question_mark", "help", "?", "keys", "Show the keys of this page")
BACK = _look("escape", "back", "ESC", "back", "Back to where you came from")

HOME_KEYS = (
    _look("space", "open", "SPACE", "open", "Open what the mark > stands at"),
    _look("enter", "open", "ENTER", "", "The same as SPACE"),
    Key("n", "new", "N", "new run", "Plan a new run and lay it out"),
    _look("r", "runs", "R", "all runs", "Every run there was, with filters"),
    _look("l", "record", "L", "record", "The record of the run the mark > stands at"),
    _look("k", "prepare", "K", "check list", "What to lay out, mix and heat for that run"),
    Key("a", "again", "A", "again", "Set up that run again: same recipes and settings, new names"),
    *MOVING,
    THEME,
    _look("escape", "back", "ESC", "", "Back to the run last shown"),
    FIRST_AID,
    HELP,
    _look("q", "leave", "Q", "leave", "Leave; the timers run on"),
)

PLAN_KEYS = (
    Key("space", "lay_out", "SPACE", "lay out", "Lay the run out as planned, ready to start"),
    Key("enter", "lay_out", "ENTER", "", "The same as SPACE"),
    Key("a", "add", "A", "add", "Choose a recipe and name the parts that follow it"),
    Key("d", "drop", "D", "drop", "Take the part at the mark > off the list"),
    Key("right", "later(1)", "→", "later", "The part begins five minutes later"),
    Key("left", "later(-1)", "←", "sooner", "The part may begin five minutes sooner"),
    Key(
        "n", "not_before", "N", "not before", "The part is not to be begun before a time you write"
    ),
    Key("o", "forward", "O", "order", "The part moves one place forward; the first goes last"),
    Key("e", "enter", "E", "enter at", "A half-done part enters its recipe at a later step"),
    Key("b", "batch", "B", "batch", "How many pieces the part is, such as six pins on one wire"),
    Key("c", "change", "C", "change", "A recipe's dwell or heat, changed for this run only"),
    Key("w", "away", "W", "away", "Hours when you are away, such as 22:00-07:00"),
    Key("h", "hands", "H", "hands", "One more pair of hands; after four, one again"),
    Key("s", "start", "S", "start", "The time of day the plan begins"),
    _look("k", "prepare", "K", "check list", "What to lay out, mix and heat"),
    Key("l", "last_time", "L", "last time", "Take over what the last accepted try did differently"),
    _look("i", "last_page", "I", "", "What the last accepted try had: settings, answers, notes"),
    _look("m", "details", "M", "moves", "Every move with its time, the chances, what would help"),
    _look("x", "stop", "X", "", "Stop thinking; what was found so far stays"),
    *MOVING,
    THEME,
    _look("escape", "back", "ESC", "back", "Back; the plan is kept until you leave the program"),
    FIRST_AID,
    HELP,
)

PREPARE_KEYS = (
    Key("space", "tick", "SPACE", "tick", "This is ready; again: not ready after all"),
    Key("enter", "tick", "ENTER", "", "The same as SPACE"),
    Key("t", "tick_with_words", "T", "tick with words", "Ready, with words such as: at 290 F"),
    Key("u", "undo", "U", "undo", "Take the last press of this run back"),
    _look("n", "next_open", "N", "next open", "To the next line without a tick"),
    *MOVING,
    THEME,
    _look("h", "home", "H", "home", "What runs, what waits, what was"),
    BACK,
    FIRST_AID,
    HELP,
)

RECORD_KEYS = (
    _look("d", "trouble(1)", "D", "next trouble", "To the next deviation, alarm or failed check"),
    _look("b", "trouble(-1)", "B", "", "To the one before"),
    _look("slash", "search", "/", "search", "Look for words"),
    _look("n", "hit(1)", "N", "next", "To the next place that has them"),
    _look("p", "hit(-1)", "P", "", "To the place before"),
    Key("j", "judge", "J", "judge", "Say how the parts came out"),
    Key("t", "note", "T", "note", "Write a note into the record"),
    Key("a", "again", "A", "again", "Set the run up again: same recipes and settings, new names"),
    Key("u", "undo", "U", "undo", "Take the last press of this run back"),
    *MOVING,
    THEME,
    _look("space", "page(1)", "SPACE", "", "A screenful down"),
    _look("h", "home", "H", "home", "What runs, what waits, what was"),
    BACK,
    _look("q", "back", "Q", "", "The same as ESC"),
    _look("l", "back", "L", "", "The same as ESC"),
    FIRST_AID,
    HELP,
)

RUNS_KEYS = (
    _look("space", "open", "SPACE", "record", "The record of the run at the mark >"),
    _look("enter", "open", "ENTER", "", "The same as SPACE"),
    _look("o", "bench", "O", "to the bench", "Show that run on the bench, if it is still open"),
    Key("a", "again", "A", "again", "Set up that run again: same recipes and settings, new names"),
    _look(
        "p", "part", "P", "part", "Only runs with a part of this name; petty* finds what begins so"
    ),
    _look("r", "recipe", "R", "recipe", "Only runs of one recipe"),
    _look("j", "verdict", "J", "judged", "Only runs with a part that came out so"),
    _look("s", "state", "S", "state", "Only runs that are open, complete or aborted"),
    _look(
        "slash", "words", "/", "words", "Only runs whose title, notes or answers have these words"
    ),
    _look("d", "date", "D", "date", "Only runs of a year, a month or a day"),
    _look("t", "rates", "T", "rates", "First-pass yield, send-backs and hours by month"),
    _look("x", "clear", "X", "all again", "Let every run be shown again"),
    *MOVING,
    THEME,
    _look("h", "home", "H", "home", "What runs, what waits, what was"),
    BACK,
    FIRST_AID,
    HELP,
)


def allowed(keys: Sequence[Key], *, read_only: bool) -> list[Key]:
    """The keys there are for somebody who looks on, or for everybody."""
    return [key for key in keys if not (read_only and key.changes)]


def help_of(keys: Sequence[Key], *, read_only: bool) -> str:
    """The help page."""
    told = allowed(keys, read_only=read_only)
    return "\n".join(f"{key.shown:>6}  {key.help}" for key in told)
