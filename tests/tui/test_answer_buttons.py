"""Answer buttons show whole answers or only their digits."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.recipe.answers import AskYesNo
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.decide import Now, decide
from benchtimer.run.events import WorkFinished
from benchtimer.view.board_text import BUTTON_GAP, _whole
from benchtimer.view.text import wrapped
from benchtimer.view.words import steps_of
from tests.support import MINUTE, Hands
from tests.tui.benches import FEW, SIZES, benches, beside_name, board_of
from tests.view.test_most_pressing import moment_at

OPTIONS = st.lists(st.text("abcdef ,", min_size=1, max_size=40), min_size=2, max_size=9)


@given(OPTIONS, st.sampled_from([60, 80, 120, 200]), st.sampled_from([1, 3]))
def test_no_answer_is_cut_off(options: list[str], width: int, rows: int) -> None:
    """Each answer keeps its key, and its words fit its button."""
    answers = tuple((str(i), f"{i} {option}") for i, option in enumerate(options, 1))
    shown = _whole(answers, width, rows)
    assert [key for key, _ in shown] == [key for key, _ in answers]
    room = width // len(answers) - BUTTON_GAP
    if rows == 1:
        assert sum(cell_len(words) + BUTTON_GAP for _, words in shown) <= width
    else:
        assert all(len(wrapped(words, room)) <= rows for _, words in shown)
    assert all(words in (key, text) for (key, words), (_, text) in zip(shown, answers, strict=True))


def test_answers_that_fit_keep_their_words() -> None:
    """Yes and no are words at every size."""
    answers = (("y", "1  YES"), ("n", "2  NO"))
    assert _whole(answers, 60, 1) == answers


@given(benches())
@FEW
def test_a_yes_that_ends_the_work_says_so(hands: Hands) -> None:
    """YES says "done" only where it ends the work and nothing more is asked."""
    moment = moment_at(hands)
    action = moment.first
    if action is None or action.kind is not ActionKind.ANSWER or action.check is None:
        return
    if not isinstance(action.form, AskYesNo) or action.blocked is not None:
        return
    step = steps_of(moment.bench_of(action), action)[-1]
    answer = c.Answer(action.part or "", action.check.id, True)
    events = decide(hands.state, answer, Now(hands.now_ms))
    ends = any(isinstance(e, WorkFinished) and e.step == step.id for e in events)
    board = board_of(hands, SIZES[1])
    assert dict(board.answers)["y"] == ("1  YES, done" if ends else "1  YES")
    assert ("yes, done" in " ".join(board.next_lines)) == ends


def test_a_yes_completes_the_check() -> None:
    """A yes ends the check and sends the part on: both rows of keys say so."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    board = board_of(hands, SIZES[1])
    assert board.answers == (("y", "1  YES, done"), ("n", "2  NO"))
    assert beside_name(board.next_lines[-1]) == "1 or Y yes, done     2 or N no"
