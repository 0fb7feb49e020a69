"""What each mark of the picture means, for the help; the board shows no legend."""

from __future__ import annotations

from benchtimer.view.picture.lane_rows import (
    MAX,
    NOW_LINE,
    OVER,
    PICKED,
    PULL,
    READ,
    TARGET,
    THICK,
    THIN,
    WAY,
    WORK,
)
from benchtimer.view.picture.place_rows import ABOVE, BELOW, FULL, PIP

LEGEND = (
    (NOW_LINE, "Now; the past is to its left"),
    (2 * THIN, "In a place, too early to pull; or a place in use"),
    (2 * THICK, "You can pull: min has passed"),
    (MAX, "Max: pull before it"),
    (OVER, "Past max, or work that comes too late"),
    (TARGET, "Target of the dwell"),
    (PULL, "Planned pull"),
    (READ, "Reading: in your hands, at its place"),
    (WORK, "Your work; in HANDS with part numbers where they fit"),
    (2 * WAY, "Planned time in the place named"),
    (2 * FULL, "Place full"),
    (PIP, "A part in a place; an empty one is a free slot"),
    (f"{ABOVE} {BELOW}", "A reading above max, below min"),
    (PICKED, "After a number: the part you picked"),
    ("in", "Time left until the part is pulled or picked up"),
    ("max", "The end of the part's bar: a time of day, or minutes from now"),
    ("latest", "The same, but sooner: later moves of the plan need this one by then"),
    ("DO 1st", "Several parts are late: pull them in this order, which loses the least"),
    ("> !", "Before a row: due now; late or in danger"),
)
"""Marks with their meaning, in the order in which you meet them."""
