"""Physics and chemistry of the bench: one module a subject, every figure with its source."""
