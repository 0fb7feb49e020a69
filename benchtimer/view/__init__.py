"""What the screen says and what a press means, without a screen.

Functions take a state, an agenda, a plan, a time and a size, and return rows, lines and words;
the same arguments give the same picture. ``desk`` holds what you, in front of the bench, have
picked and typed, and turns presses into commands. ``keys`` and ``pagekeys`` are the tables of
keys, ``alarm`` says what calls. No Textual here, and no drawing of characters that only a
widget needs.
"""
