"""Three invented evenings at the bench, as scenes to draw."""

from __future__ import annotations

from datetime import UTC, datetime

from benchtimer.view.picture.scene import (
    DwellTimes,
    HandsWork,
    LaneView,
    Level,
    PlaceUse,
    PlaceView,
    RunLanes,
    Scene,
    Stay,
)

NOW_MS = 10_000_000


def at(seconds: float) -> int:
    """A bench time this many seconds from now."""
    return NOW_MS + round(seconds * 1000)


def salts_busy() -> Scene:
    """Three fittings in hot salts and cleaner, and one not begun."""
    lanes = (
        LaneView(
            1, "bolster", "SALTS", "PULL", "in 1:50", "latest 18:41, 9 min left", "latest in 9 min",
            window=DwellTimes(at(-490), at(-190), at(110), at(710)), pull_ms=at(110),
            works=(HandsWork(at(110), at(150), "1"), HandsWork(at(790), at(850), "1")),
            stays=(Stay(at(-490), at(110), "SALTS"), Stay(at(150), at(790), "BOIL"),
                   Stay(at(850), None, "OIL")),
        ),
        LaneView(
            2, "ferrule", "SALTS", "PULL", "in 6:40", "latest 18:46, 14 min left", "latest 18:46",
            window=DwellTimes(at(-200), at(100), at(400), at(1000)), pull_ms=at(400),
            works=(HandsWork(at(-240), at(-200), "2"), HandsWork(at(400), at(440), "2")),
            stays=(Stay(at(-200), at(400), "SALTS"), Stay(at(440), at(1040), "BOIL")),
        ),
        LaneView(
            3, "butt cap", "CLEANER", "PULL", "in 3:00", "latest 18:45, 13 min left",
            "latest 18:45",
            tries=2, window=DwellTimes(at(-320), at(-20), at(160), at(880)), pull_ms=at(180),
            works=(HandsWork(at(180), at(260), "3"),),
            stays=(Stay(at(-320), at(180), "CLEANER"), Stay(at(260), at(560), "SALTS")),
        ),
    )  # fmt: skip
    places = (
        PlaceView(
            "SALTS", 2, 2, "291 F", "285-295 F", ("6 min ago", "6 min"),
            (0.1, 0.2, 0.2, 0.3, 0.4, 0.6),
            limit_ms=at(1440), limit="max 295", limit_left="in 24 min", read_ms=at(305),
            uses=(PlaceUse(at(-200), at(110), True), PlaceUse(at(110), at(260), False),
                  PlaceUse(at(260), at(400), True), PlaceUse(at(400), None, False)),
        ),
        PlaceView("CLEANER", 1, 3, "187 F", "180-200 F", ("12 min ago", "12 min"),
                  (0.5, 0.5, 0.3),
                  uses=(PlaceUse(at(-320), at(180), False),)),
        PlaceView("BOIL", 0, 3, uses=(PlaceUse(at(150), None, False),)),
    )  # fmt: skip
    hands = tuple(
        HandsWork(at(start), at(end), label)
        for start, end, label in (
            (-240, -200, "2"), (110, 150, "1"), (180, 260, "3"), (305, 320, "R"), (400, 440, "2"),
            (790, 850, "1"),
        )
    )  # fmt: skip
    groups = (RunLanes("hot-black", lanes, (("#4 guard", "START at 18:47"),)),)
    wall = datetime(2026, 12, 5, 18, 32, 6, tzinfo=UTC)
    return Scene(NOW_MS, wall, groups, hands, places, "RACK 0/6, SINK 0/3, OIL 0/6, DRIP 0/6")


def overnight() -> Scene:
    """A blade soaks until the morning, and two fittings rest in oil for days."""
    hour = 3600
    lanes = (
        LaneView(
            1, "blade", "SOAK", "PULL", "in 8:49:54", "max Sun 10:05", "max Sun 10:05",
            window=DwellTimes(at(-2 * hour), at(6 * hour), at(8.83 * hour), at(11.9 * hour)),
            pull_ms=at(8.83 * hour), stays=(Stay(at(-2 * hour), at(8.83 * hour), "SOAK"),),
            works=(HandsWork(at(8.83 * hour), at(8.9 * hour), "1"),),
        ),
        LaneView(
            2, "bolster", "OIL", "PULL", "in 11:12:00",
            "max Tue 21:00, 2 d 22 h left", "max Tue 21:00",
            window=DwellTimes(at(-hour), at(7 * hour), at(11.2 * hour), at(70 * hour)),
            pull_ms=at(11.2 * hour), stays=(Stay(at(-hour), at(11.2 * hour), "OIL"),),
            works=(HandsWork(at(11.2 * hour), at(11.3 * hour), "2"),),
        ),
    )  # fmt: skip
    places = (
        PlaceView(
            "SOAK",
            1,
            3,
            "68 F",
            "60-80 F",
            ("1 h 5 min ago", "2 h ago", "1 h 5 min", "2 h"),
            (0.5, 0.4, 0.4),
            uses=(PlaceUse(at(0), None, False),),
        ),
        PlaceView("OIL", 1, 6, uses=(PlaceUse(at(0), None, False),)),
    )
    wall = datetime(2026, 12, 5, 22, 10, 6, tzinfo=UTC)
    hands = (
        HandsWork(at(8.83 * hour), at(8.9 * hour), "1"),
        HandsWork(at(11.2 * hour), at(11.3 * hour), "2"),
    )
    groups = (RunLanes("etch-darken", lanes[:1]), RunLanes("hot-black", lanes[1:]))
    return Scene(NOW_MS, wall, groups, hands, places, "RACK 0/6, BOIL 0/3, ETCH 0/2, CURE 0/6")


def trouble() -> Scene:
    """A ferrule is past max, the salts are too hot, and two deadlines are close together."""
    lanes = (
        LaneView(
            1, "bolster", "BOIL", "PULL", "in 1:35",
            "max 18:49, 2 min left", "max in 2 min", Level.NOW,
            window=DwellTimes(at(-600), at(-300), at(95), at(140)), pull_ms=at(95),
            works=(HandsWork(at(95), at(205), "1", Level.LATE),),
            stays=(Stay(at(205), None, "OIL"),),
        ),
        LaneView(
            2, "ferrule", "SALTS", "PULL", "LATE", "1:20 past max", "max +1:20", Level.LATE,
            window=DwellTimes(at(-1280), at(-980), at(-680), at(-80)), pull_ms=at(0),
            works=(HandsWork(at(0), at(60), "2", Level.LATE),), stays=(Stay(at(60), None, "BOIL"),),
        ),
        LaneView(
            3, "butt cap", "CLEANER", "PULL", "in 1:00",
            "max 18:49, 2 min left", "max in 2 min", Level.NOW,
            window=DwellTimes(at(-400), at(-100), at(60), at(130)), pull_ms=at(60),
            works=(HandsWork(at(60), at(90), "3"),), stays=(Stay(at(90), None, "RACK"),),
        ),
    )  # fmt: skip
    places = (
        PlaceView("SALTS", 1, 2, "302 F", "285-295 F", ("1 min ago", "1 min"),
                  (0.2, 0.5, 0.6, 0.8, 1.2, 1.7),
                  limit="max 295", read_ms=at(205), level=Level.LATE),
        PlaceView("CLEANER", 1, 3, "187 F", "180-200 F", ("12 min ago", "12 min"),
                  (0.5, 0.5, 0.3),
                  uses=(PlaceUse(at(-400), at(60), False),)),
        PlaceView("BOIL", 1, 3, uses=(PlaceUse(at(-600), None, False),)),
    )  # fmt: skip
    hands = (
        HandsWork(at(0), at(60), "2", Level.LATE), HandsWork(at(60), at(90), "3"),
        HandsWork(at(95), at(205), "1", Level.LATE), HandsWork(at(205), at(215), "R"),
    )  # fmt: skip
    lines = (
        (Level.LATE, "SALTS 302 F, max 295. Heat off. No part goes in. Read again 18:50."),
        (Level.NOW, "TIGHT: #3 max 18:49:30, #1 max 18:49:40. Pull #3 first: 45 s to spare."),
    )
    wall = datetime(2026, 12, 5, 18, 47, 20, tzinfo=UTC)
    groups = (RunLanes("hot-black", lanes),)
    return Scene(NOW_MS, wall, groups, hands, places, "RACK 0/6, SINK 0/3", lines)


SCENES = {"salts-busy": salts_busy, "overnight": overnight, "trouble": trouble}
SIZES = {(60, 10): "60", (80, 13): "80", (120, 26): "120", (200, 36): "200"}
