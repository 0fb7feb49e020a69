"""One session on the bench: the engine.

A press is a command (``commands``). ``decide(state, command, now)`` gives events or refuses;
``evolve(state, event)`` gives the next state; nothing else changes it. ``codec`` is the form
that the log keeps. From a state, ``agenda`` says what comes next for each part (``moves``,
``guards``, ``readiness``, ``upkeep``), ``windows`` until when a part may stay where it is, and
``setup`` what has to be ready first. Pure: no clock, disk or screen, and no plan: the planner's
times come in as an argument.
"""
