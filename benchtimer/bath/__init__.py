"""The bath book: baths that outlive runs, from mixing to disposal, as commands, events, state."""
