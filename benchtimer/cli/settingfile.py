"""The default settings file, and how to write it."""

from __future__ import annotations

import json
from pathlib import Path

from benchtimer.cli.common import NO, Wrong

DEFAULT = """\
#:schema ./settings.schema.json
# Settings of your shop. You can leave out any key; remove the # to set one.

# Altitude above sea level: it sets the boiling points of water and salts.
# altitude = "1200 m"

# Units you read and weigh in: "si" or "us". Without it, the board uses the recipes'
# own degrees, or F if they differ.
# units = "si"

# How times of day are written: 24 for 18:30, 12 for 6:30 pm.
clock = 24

# People who usually work.
hands = 1

# Hours when you are usually away.
# away = ["22:00-07:00"]

# When you work, by weekday, and dates on which you don't.
# hours = "Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00"
# closed = ["2026-12-24..2026-12-26"]

# Diameters of the buffing and polishing wheels at hand.
# wheels = ["8 in", "6 in"]

# Your name, for the log.
# by = "the maker"

# Keep the computer from going to sleep while parts are in process.
keep_awake = true

# Times and failure rates come from your own real runs; these runs count, too.
# learn_from = ["practice", "imported"]

# Volume of the vessel each mix of a recipe goes into, by the mix's id.
[vessels]
# black-salts = "6 L"

# Your own limits for the baths of a mix, by its id. No published limits fit every shop, so take
# them from your own records. You can leave out any of the four.
# [bath.etchant]
# max_age = "60 d"          # since it was mixed
# max_parts = 40            # parts through it
# max_dwell = "10 h"        # total time of parts in it
# max_exhaustion = "30 %"   # of ferric chloride, estimated from the metal weighed off

# Your real tanks, racks and sinks, and the stations that recipes put there, as RECIPE.STATION.
# benchtimer settings places asks for them.
# [place.etch]
# title = "Etch tank"
# holds = 2
# for = ["etch-darken.etch", "etchant-coupon.etch"]

# What happens at an alarm besides the bell: a tone through the system's own player; a desktop
# notice by the terminal ("9", "777" or "99", the number of its command; "off"); a program of
# your own, started without a shell, with the message as its last argument.
# benchtimer settings alarm --try plays each and asks whether it reached you.
[alarm]
# tone = true
# notice = "off"
# command = ["/usr/local/bin/tell-me", "--loud"]

# How the screen looks: theme "dim", "bright" or "contrast"; text
# "ascii" for a terminal without box characters ("auto" follows its locale).
[screen]
# theme = "dim"
# text = "auto"
"""


def write_settings(path: Path, text: str) -> None:
    """Write the file whole, so that a power cut leaves the old or the new one. Its schema, which
    its first line names, goes next to it.
    """
    from benchtimer.atomic_file import clear_away_halves, make_own_folder, write_if_new, write_whole
    from benchtimer.settings import SCHEMA_NAME, settings_schema

    try:
        make_own_folder(path.parent)
        clear_away_halves(path.parent)
        write_whole(path, text, private=True)
        schema = json.dumps(settings_schema(), ensure_ascii=False, indent=2)
        write_if_new(path.with_name(SCHEMA_NAME), f"{schema}\n")
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise Wrong(f"{path} can't be written: {reason}", NO) from None
