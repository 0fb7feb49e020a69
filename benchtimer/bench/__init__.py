"""The bench: where clock, store and engine meet; the log in trouble, the planner asked."""
