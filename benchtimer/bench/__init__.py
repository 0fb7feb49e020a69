"""The bench joins clock, store and engine. It copes with a failing log and asks the planner.

Unsaved entries (``unsaved``)
    ``SteadyLog.append`` writes. On any ``StoreError`` but ``Overtaken`` it keeps the call as one
    ``Unsaved``, with the numbers its entries will have, and a read returns the log and the unsaved
    entries together. The entries of the runs on the bench stay in memory, because a disk that is
    gone can't be read either. ``save`` runs on each tick, each press and on closing. It writes the
    queue in order, each call in one transaction with its own stamp, and stops at the first failure.
    Before that it makes sure that the file is the one that was open: same device and number, or, in
    another file, the same last entry by number and digest. It recognizes what a disk kept although
    it reported a failure, and does not write it twice. It writes nothing after entries of another
    program. When everything is saved, each run gets a ``WrittenLate``.

    A log that can only be read is opened that way, and for writing as soon as that works.
    ``OpenBench.unsaved`` must stay on the screen. Commands that don't wait (``judge``, ``bath``)
    call ``want_saved``, which refuses. ``close`` saves the rest somewhere else (``rescue``): a
    whole log with the queue in it if the old one can still be read, otherwise lines of JSON,
    otherwise text to copy by hand. ``Writer.parting`` says which.

Bench time after a dead battery (``bench_time``)
    A wall clock before 2025 or before the last entry is useless, and the run says so
    (``Reopened`` by ``nothing``). Once the wall clock is past the last dated entry, now or at the
    next start, the time in between is known, and bench time moves forward by it.
"""
