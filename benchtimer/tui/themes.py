"""Three themes of the same screen, each for different light. Every pair of text and background
colors in the style sheets has a contrast of at least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3,
level AA); a test calculates it on the drawn screens.
"""

from __future__ import annotations

from textual.theme import Theme

DARK_SHOP = Theme(
    name="dim",
    dark=True,
    primary="#e3b071",
    secondary="#9db8c9",
    accent="#e3b071",
    warning="#f0b44c",
    error="#ffab97",
    success="#b5d39a",
    background="#15120e",
    surface="#1d1914",
    panel="#2e271e",
    foreground="#f3eadb",
    variables={
        "foreground-muted": "#c4b8a4",
        "now-ground": "#f0b44c",
        "now-ink": "#1d1300",
        "late-ground": "#ffc2b3",
        "late-ink": "#2a0600",
        "picked-ground": "#4a3a22",
    },
)
"""A dim shop: warm colors, no large bright area until something is due."""

BRIGHT_DAYLIGHT = Theme(
    name="bright",
    dark=False,
    primary="#5c3a00",
    secondary="#23485c",
    accent="#5c3a00",
    warning="#6f4400",
    error="#8a1600",
    success="#2d4f12",
    background="#fcf8f0",
    surface="#f6efe2",
    panel="#e6dac4",
    foreground="#1b160f",
    variables={
        "foreground-muted": "#4d4436",
        "now-ground": "#6f4400",
        "now-ink": "#fff9ec",
        "late-ground": "#8a1600",
        "late-ink": "#ffffff",
        "picked-ground": "#ead2a4",
    },
)
"""Sun on the screen: dark text on a light background."""

HIGH_CONTRAST = Theme(
    name="contrast",
    dark=True,
    primary="#ffffff",
    secondary="#ffffff",
    accent="#ffffff",
    warning="#ffe900",
    error="#ffffff",
    success="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#202020",
    foreground="#ffffff",
    variables={
        "foreground-muted": "#ffffff",
        "now-ground": "#ffe900",
        "now-ink": "#000000",
        "late-ground": "#ffffff",
        "late-ink": "#000000",
        "picked-ground": "#303030",
    },
)
"""Tired or weak eyes, a poor screen: black, white and one yellow."""

THEMES = (DARK_SHOP, BRIGHT_DAYLIGHT, HIGH_CONTRAST)


def theme_after(name: str) -> str:
    """The next theme, wrapping around."""
    names = [theme.name for theme in THEMES]
    return names[(names.index(name) + 1) % len(names)] if name in names else names[0]
