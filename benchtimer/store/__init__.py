"""The store: the append-only log of events in SQLite, and the lease of the one driver."""
