"""The address as a QR code for the terminal, if the package for it is installed."""

from __future__ import annotations

QUIET = 2
"""Light squares around the code. The standard (ISO/IEC 18004) requires four; cameras need two."""

MISSING = "For a QR code of the address: pip install 'benchtimer[serve]'"


def qr_lines(text: str) -> list[str] | None:
    """A QR code in half blocks, two squares per character; None without the package.

    It is drawn for light letters on a dark ground: blocks are the light squares.
    """
    try:
        import segno
    except ImportError:
        return None
    code = segno.make_qr(text, error="m")
    rows = [[not dark for dark in row] for row in code.matrix_iter(border=QUIET)]
    if len(rows) % 2:
        rows.append([True] * len(rows[0]))
    letters = {(True, True): "█", (True, False): "▀", (False, True): "▄", (False, False): " "}
    return [
        "".join(letters[pair] for pair in zip(top, below, strict=True))
        for top, below in zip(rows[::2], rows[1::2], strict=True)
    ]
