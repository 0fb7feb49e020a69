"""The screen: widgets draw what ``view`` says and pass presses on.

``app`` opens the screens; ``board_screen`` is one run, and ``home_page``, ``planning``,
``preparing``, ``recordpage`` and ``runs_page`` are lists. Data comes down as rows and lines that
are ready to draw; a press goes up as a call to the desk. Nothing in it decides what is due, what a
key means or what is safe: a widget that needs an ``if`` about the bench needs a function in
``view``.
"""
