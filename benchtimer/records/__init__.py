"""Records: the readable account of a run, made from its log."""
