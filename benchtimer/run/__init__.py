"""One session on the bench: the engine.

A press is a command (``commands``). ``decide(state, command, now)`` gives events or refuses;
``evolve(state, event)`` gives the next state; nothing else changes it. ``codec`` converts events
for the log. From a state, ``agenda`` says what comes next for each part (``moves``, ``guards``,
``readiness``, ``upkeep``), ``windows`` how long a part can stay where it is, and ``setup`` what has
to be ready first. Pure: no clock, disk or screen, and no plan; the planner's times are an argument.
"""
