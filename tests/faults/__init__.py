"""The fault campaign: faults done to the program, how often, and losses.

Every family of faults is a module with a function ``campaign(tries, seed)`` that returns
rows. The test suite runs each with a few tries; ``python -m tests.faults`` runs them all with
many and prints the table of ``README.md`` in this folder.
"""
