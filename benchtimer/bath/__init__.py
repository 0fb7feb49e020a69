"""The bath book: baths that outlive runs, from mixing to disposal.

A command goes through ``bath_decide`` and becomes an event (``bath_events``).
``bath_state`` folds the events of one bath's own stream; ``bath_wear`` says how far a bath is used
up, and ``ties`` which bath is in which place. When a run ends, what it did with a bath becomes one
event. Pure: no clock, disk or screen.
"""
