"""The screen. ``view`` decides what is shown, widgets draw it, the app passes presses on."""
