"""Physics and chemistry of the bench: one module a subject, every figure with its source.

Plain numbers in base units go in and come out, with the unit in the name (``temper_c``). What a
figure does not hold for is refused (``valid_range``), never guessed. ``sheets`` turns each subject
into a calculation with words, units and sources for people; ``sources`` and ``dangers`` have
what is cited. Pure, and it knows no recipe, run or shop.
"""
