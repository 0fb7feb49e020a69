"""The next action on the whole screen, as large as the terminal allows."""

from __future__ import annotations

from benchtimer.run.actions import Action
from benchtimer.run.run_state import Bench
from benchtimer.store.log import Stamp
from benchtimer.view.letters import ROWS, large, largest, with_word
from benchtimer.view.space import Size
from benchtimer.view.text import centred
from benchtimer.view.words import AT_PLACE, IN_WORD, large_line


def glance_lines(
    bench: Bench, action: Action, stamp: Stamp, size: Size, below: tuple[str, ...]
) -> tuple[str, ...]:
    """The verb and lane number, the time and the part, each as large as fits, then words.

    Args:
        bench: the run's bench.
        action: the next action.
        stamp: the time.
        size: available columns and rows.
        below: the plain text below: path, work, what the key will do.
    """
    of_part = action.part is not None and action.kind not in AT_PLACE
    part = bench.parts[action.part or ""] if of_part else None
    words, at = large_line(bench, action, stamp)
    bare = at.removeprefix(IN_WORD)
    texts = [words, bare] if at else [words]
    texts += [part.called] if part is not None else []
    found = scales(texts, size.width, size.height - len(below))
    lines: list[str] = []
    for number, (text, scale) in enumerate(zip(texts, found, strict=True)):
        if scale:
            drawn = large(text, scale)
            if number == 1 and bare != at:
                drawn = with_word(IN_WORD, drawn, size.width, plain=True)
            lines += [*(line.center(size.width) for line in drawn), ""]
        elif number < 2:  # the part is always named below
            lines += [centred(at if number == 1 else text, size.width), ""]
    return (*lines, *(centred(line, size.width) for line in below))


def scales(texts: list[str], columns: int, rows: int) -> list[int]:
    """How large each text can be: first all the same size, then the first ones larger.

    Args:
        texts: the texts, most important first.
        columns: columns available.
        rows: rows available.
    """
    found = [min(1, largest(text, columns, ROWS)) for text in texts]

    def used() -> int:
        words = 2 * sum(not scale for scale in found[:2])
        return words + sum(ROWS * scale + 1 for scale in found if scale)

    while used() > rows and any(found):
        last = max(i for i, scale in enumerate(found) if scale)
        found[last] = 0
    grown = True
    while grown:
        grown = False
        for i, text in enumerate(texts):
            wider = found[i] + 1
            if found[i] and used() + ROWS <= rows and wider <= largest(text, columns, rows):
                found[i] = wider
                grown = True
    return found
