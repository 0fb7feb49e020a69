"""The store: the append-only log of events in SQLite, and the lease of the one driver.

How it protects a log:

Seals (``seal``)
    Every entry carries the number of the entry before it in its stream, and a checksum over all
    of its columns. Every entry read is checked: a changed byte is refused by its number. A
    missing or empty file beside backups counts as damage, not as a new bench.
Register (``register``, ``sealed``)
    The end of each stream, the lines of the runs, the open runs and the index are in one sorted
    table. The seal of a row covers its key, its value and the key of the next row, so one or two
    more rows prove each answer, also "not there" and "no more than these". A reader checks what
    it finds in ``event`` against the register, which is on other pages of the file. Only these
    two modules and ``log`` may read either table.
Opening (``check``)
    Every opening compares tables and triggers with those the program makes. Opening to write
    reads a file of up to 8 MB whole. Of a larger file it reads the newest 64 entries and every
    open run, so the cost depends on what is open and not on the length of the log
    (``tests/benchmarks/opening.py``). A backup reads all of it. The check uses a connection that
    can't write, before any other. A log that is ``Damaged``, of a ``Newer`` layout or ``Foreign``
    stays byte for byte as it was found.
Way back (``backups``)
    If every entry is whole and only the rest is damaged, ``restore`` of the log itself makes a
    new log from its entries, and nothing is lost. Otherwise the newest intact backup is restored.
    ``restore`` always makes the register from the entries.
Newest part (``wal``)
    It finds whole presses after the place where SQLite stops reading the write-ahead log. Opening
    to write then copies file and log aside (``bench-found-N``) before it changes them. A reader
    refuses if no driver is at work.
Backups (``backups``)
    They run in a thread of their own when a driver opens and when a run ends. Their names have
    the bench time and number of the last entry, so their order is the log's. They are whole,
    private, forced to the disk and read back before older ones go. When a copy was restored on
    purpose, newer backups become ``set-aside-...``. Otherwise a backup with more entries than
    the log is reported at opening.
Lease (``lease``)
    It locks the lock file and the folder, so deleting the file lets no one in. Where a disk locks
    no folders, the log's own number of the last entry keeps two writers apart (``Overtaken``).

What happens while the log can't be written is in ``bench``.
"""
