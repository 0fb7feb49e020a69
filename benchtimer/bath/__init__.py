"""The bath book: baths that outlive runs, from mixing to disposal.

A command of ``commands`` goes through ``decide`` and becomes an event of ``events``; ``state``
folds the events of one bath's own stream; ``fatigue`` says how far a bath is used up, and
``ties`` which bath stands where. What a run does with a bath comes as one event when the run
ends. Pure: no clock, disk or screen.
"""
