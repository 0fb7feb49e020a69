"""The fault campaign: what was done to the program, how often, and what was lost.

Every family of faults is a module with a function ``campaign(tries, seed)`` that returns
rows. A test of the suite runs each with a small number of tries; ``python -m tests.faults``
runs them all with large ones and prints the table of ``README.md`` beside this file.
"""
