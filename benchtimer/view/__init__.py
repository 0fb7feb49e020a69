"""What the screen says and what a press means, without Textual.

Functions take a state, an agenda, a plan, a time and a size, and return rows, lines and words;
the same arguments give the same picture. ``desk`` holds what you have picked and typed, and turns
presses into commands. ``keys`` and ``pagekeys`` are the tables of keys, ``alarm`` decides what
rings.
"""
