"""Which entries of a log count; see ``store.standing``, where the index needs it too."""

from benchtimer.store.standing import standing

__all__ = ["standing"]
