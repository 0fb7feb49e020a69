"""What a press causes on the whole bench: in its own run, and in others that it affects."""

from __future__ import annotations

from collections.abc import Mapping

from benchtimer.run import commands as c
from benchtimer.run.decide import Now, decide
from benchtimer.run.events import Event
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import Bench
from benchtimer.shop.shop_state import Shop, also_pressed
from benchtimer.values import replace


def decide_in_shop(shop: Shop, run: str, command: c.Command, now: Now) -> dict[str, list[Event]]:
    """What a press causes, by run.

    A reading counts in every run that shares the bath, and your hours and hands in all runs on the
    bench. Corrections apply to all of them, too.

    Args:
        shop: the bench, with the run of the press.
        run: its name.
        command: what to do.
        now: bench time of the press and who makes it.

    Raises:
        Refused: the command can't be done; nothing has changed.
    """
    wished = {run: command, **_elsewhere(shop, run, command, now)}
    if isinstance(command, c.BackDate) and len(wished) > 1:
        around = shop.before_last(wished)
    else:
        around = shop
    found = {
        name: decide(shop.states[name], wish, now, around.around(name))
        for name, wish in wished.items()
    }
    if isinstance(command, c.TieBath | c.AddPart):  # which places are the same may have changed
        after = fold(found[run], shop.states[run])
        replace(shop, states={**shop.states, run: after}).check_vessels(run)
    return found


def _elsewhere(shop: Shop, run: str, command: c.Command, now: Now) -> Mapping[str, c.Command]:
    """What the same press means in other runs."""
    if isinstance(command, c.Read):
        places = shop.also_read(run, command.station, now.t_ms)
        return {name: replace(command, station=place) for name, place in places}
    if isinstance(command, c.Leave | c.ChangeHours | c.ChangeHands):
        others = (name for name in shop.runs if name != run)
        names = [name for name in others if not _has_already(command, shop.states[name].bench)]
    elif isinstance(command, c.Undo | c.Redo | c.BackDate):
        names = also_pressed(shop.states, run, undone=isinstance(command, c.Redo))
    else:
        return {}
    return dict.fromkeys(names, command)


def _has_already(command: c.Leave | c.ChangeHours | c.ChangeHands, bench: Bench) -> bool:
    """Whether a run already has these hours or hands."""
    if isinstance(command, c.ChangeHours):
        return bench.away == command.away
    return isinstance(command, c.ChangeHands) and bench.hands == command.hands
