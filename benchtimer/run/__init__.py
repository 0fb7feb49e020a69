"""One session on the bench: events, state and the pure engine between them."""
