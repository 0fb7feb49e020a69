"""``watch --serve``: the bench on a phone or tablet, until you stop it."""

from __future__ import annotations

import secrets
import sys
import threading
import time
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, USAGE, YES, Wrong

if TYPE_CHECKING:
    from benchtimer.bench.open_bench import OpenBench
    from benchtimer.serve.server import Server
    from benchtimer.view.secondscreen import SecondScreen

LOOK_S = 0.5
"""How often the bench is checked."""

KEY_BYTES = 12
"""Random bits in the key: 96."""

EVERYWHERE = ("0.0.0.0", "::")  # noqa: S104 - recognized, to warn


def serve(watcher: OpenBench, address: str) -> int:
    """Serve the bench at an address until CTRL-C.

    Raises:
        Wrong: there is no such address here, or it is in use.
    """
    from benchtimer.serve.server import Server, address_of, give_way
    from benchtimer.view.secondscreen import second_screen

    def look() -> SecondScreen:
        watcher.refresh()
        return second_screen(watcher, watcher.stamp())

    try:
        wanted = address_of(address)
    except ValueError as error:
        raise Wrong(f"--serve: {error}", USAGE) from None
    try:
        server = Server(wanted, secrets.token_urlsafe(KEY_BYTES), look)
    except OSError as error:
        raise Wrong(f"--serve {address}: {error.strerror or 'it cannot be used'}", NO) from None
    give_way()
    thread = threading.Thread(target=server.serve_forever, args=(LOOK_S,), daemon=True)
    thread.start()
    try:
        _say(server, wanted[0])
        while True:
            time.sleep(LOOK_S)
            server.refresh()
    except KeyboardInterrupt:
        return YES
    finally:
        server.shutdown()
        server.server_close()


def _say(server: Server, host: str) -> None:
    """Print the address, as a QR code too, and what to know about it."""
    from benchtimer.serve.qr import MISSING, qr_lines

    lines = qr_lines(server.url)
    encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "")
    if lines is not None and encoding.startswith("utf"):
        print("\n".join(lines))
    print(server.url, flush=True)
    said = [
        "benchtimer: anyone with this address can see the bench but change nothing.",
        "The phone must be on the shop's own network. CTRL-C ends it.",
        *([MISSING] if lines is None else []),
        *(["It listens on every network this computer is on."] if host in EVERYWHERE else []),
    ]
    print("\n".join(said), file=sys.stderr, flush=True)
