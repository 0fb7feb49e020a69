"""Records: the readable account of a run, made from its log.

How a record keeps the nine words of ALCOA+:

attributable
    Every event names who pressed the key (``by``). If no one did, it says ``benchtimer``.
legible
    Every kind of event has a sentence. ``forms`` lists its forms, and no text can garble a screen
    (``inert``).
contemporaneous
    The press is the entry, and it is on the disk before the screen shows it. A backdated entry
    has both times.
original
    The log itself. SQLite refuses UPDATE and DELETE on events. A record is made from it each time.
accurate
    Times come from a counting clock, readings keep the unit they were entered in, and a
    correction says what it replaced.
complete
    Undone presses stay, in brackets. The first entry has the recipe as run, adjustments, baths
    and properties.
consistent
    Entries are in order, bench time never goes back, and a jump of the wall clock is an entry.
enduring
    SQLite with full sync, a TOML record in ``records/``, backups, export as lines of JSON. An
    old layout is migrated and a copy is kept.
available
    The index (``store.index``) is written in the same transaction as the events, complete or
    refused. ``find``, ``part`` and ``try_comparison`` use it.

Planned times in a record come from the recipe: hands-on time, limits, and when a dwell reached its
target. The planner's schedule is advice that changes with every press, so it is not logged. Alarms
are not events either: ``alarms`` computes them from the events.
"""
