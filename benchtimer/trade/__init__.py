"""Physics and chemistry of the bench: one module per subject, every figure with its source.

Plain numbers in base units go in and come out, with the unit in the name (``temper_c``). Values
outside a figure's range are refused (``valid_range``), never guessed. ``sheets`` turns each subject
into a calculation with words, units and sources for people; ``sources`` and ``dangers`` have the
citations. Pure, and independent of recipes, runs and shops.
"""
