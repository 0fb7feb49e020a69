"""The server of the second screen: one page, read-only, behind a key, with limits on everything.

The bench is another process and never waits for this one. One thread reads the log and makes the
page; the clients' threads only send it. So a flood of clients costs no more than sending, and slow
ones are cut off.
"""

from __future__ import annotations

import hmac
import json
import os
import socket
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from http import HTTPStatus
from ipaddress import ip_address
from socketserver import BaseRequestHandler, TCPServer, ThreadingMixIn
from typing import NamedTuple

from benchtimer.serve.phone_page import body, security_policy, whole_page
from benchtimer.view.secondscreen import SecondScreen

PORT = 8765
"""The port if none is given."""

HEAD_BYTES = 8192
"""A longer request is not read."""

PATIENCE_S = 5.0
"""A client has this long to send its request, and again to receive the answer."""

CALLERS, CALLERS_EACH = 48, 12
"""How many are served at once: in total, and per address."""

STALE_S = 5.0
"""Anything older than this is not sent: the phone must not show an old bench as the present."""

NICE = 10
"""The server yields to the bench on the same machine."""


class Made(NamedTuple):
    """What is sent until the next update."""

    page: bytes
    now: bytes


def made(shown: SecondScreen) -> Made:
    """The page, and its changing part, ready to send."""
    answer = {"html": body(shown), "level": shown.level, "about": shown.about}
    now = json.dumps(answer, ensure_ascii=False).encode("utf-8", "replace")
    return Made(whole_page(shown).encode("utf-8", "replace"), now)


def address_of(text: str) -> tuple[str, int]:
    """Host and port of ``ADDRESS`` or ``ADDRESS:PORT``; an IPv6 address with a port in brackets.

    Raises:
        ValueError: it is not an address; the message says what to enter.
    """
    host, port = text, str(PORT)
    if text.startswith("["):
        host, _, rest = text[1:].partition("]")
        port = rest.removeprefix(":") or port
    elif text.count(":") == 1:
        host, _, port = text.partition(":")
    if not (port.isdecimal() and len(port) < 6 and int(port) < 65536):
        raise ValueError(f'"{port}" is not a port from 0 to 65535')
    try:
        found = ip_address(host)
    except ValueError:
        message = f'"{host}" is not an address of this computer, such as 192.168.1.20 or 127.0.0.1'
        raise ValueError(message) from None
    return str(found), int(port)


class Server(ThreadingMixIn, TCPServer):
    """Serves the pages that ``look`` makes.

    Args:
        address: the only host and port to listen on; port 0 picks a free one.
        key: the start of the path.
        look: makes the page; called only by ``refresh``.

    Raises:
        OSError: the address is not of this computer, or is in use.
    """

    daemon_threads = True
    block_on_close = False
    allow_reuse_address = os.name == "posix"
    request_queue_size = 64

    def __init__(
        self, address: tuple[str, int], key: str, look: Callable[[], SecondScreen]
    ) -> None:
        self.address_family = socket.AF_INET6 if ":" in address[0] else socket.AF_INET
        self._key = key.encode()
        self._look = look
        self._made, self._made_at = made(look()), time.monotonic()
        self._callers: Counter[str] = Counter()
        self._lock = threading.Lock()
        super().__init__(address, Caller)

    @property
    def url(self) -> str:
        """The address to open on the phone."""
        host, port = self.server_address[:2]
        name = f"[{host!s}]" if ":" in str(host) else host
        return f"http://{name!s}:{port}/{self._key.decode()}/"

    def refresh(self) -> None:
        """Make the page again, and send that from now on."""
        self._made, self._made_at = made(self._look()), time.monotonic()

    def answer_to(self, method: str, path: str) -> tuple[HTTPStatus, str, bytes]:
        """Status, type and content for a request; only the two paths with the key have any."""
        if method not in ("GET", "HEAD"):
            return HTTPStatus.METHOD_NOT_ALLOWED, "text/plain", b"read-only\n"
        given, slash, rest = path.removeprefix("/").partition("/")
        fresh = time.monotonic() - self._made_at < STALE_S
        opens = bool(slash) and hmac.compare_digest(given.encode("utf-8", "replace"), self._key)
        if opens and rest == "":
            return HTTPStatus.OK, "text/html; charset=utf-8", self._made.page
        if opens and rest == "now" and not fresh:
            return HTTPStatus.SERVICE_UNAVAILABLE, "text/plain", b"the log can't be read\n"
        if opens and rest == "now":
            return HTTPStatus.OK, "application/json", self._made.now
        return HTTPStatus.NOT_FOUND, "text/plain", b"nothing here\n"

    @contextmanager
    def place_for(self, host: str) -> Iterator[bool]:
        """Whether there is room for one more client from a host; counts it while inside."""
        with self._lock:
            free = self._callers.total() < CALLERS and self._callers[host] < CALLERS_EACH
            self._callers[host] += free
        try:
            yield free
        finally:
            with self._lock:
                self._callers[host] -= free
                self._callers += Counter()  # drops hosts that have left

    def verify_request(self, request: object, client_address: object) -> bool:
        """Refuse a client right away if there is no room, before a thread starts."""
        del request
        host = client_address[0] if isinstance(client_address, tuple) else ""
        with self._lock:
            return self._callers.total() < CALLERS and self._callers[host] < CALLERS_EACH

    def handle_error(self, request: object, client_address: object) -> None:
        """A client that disconnects halfway is not worth a message."""


class Caller(BaseRequestHandler):
    """One request and its answer; then the connection closes."""

    server: Server

    def handle(self) -> None:
        """Read the request, send the answer."""
        with self.server.place_for(self.client_address[0]) as free:
            if free:
                with suppress(OSError, ValueError):
                    self._answer(*_question(self.request))

    def _answer(self, method: str, path: str) -> None:
        status, kind, content = self.server.answer_to(method, path)
        head = (
            f"HTTP/1.1 {status.value} {status.phrase}\r\nContent-Type: {kind}\r\n"
            f"Content-Length: {len(content)}\r\nConnection: close\r\nCache-Control: no-store\r\n"
            f"Content-Security-Policy: {security_policy()}\r\nX-Content-Type-Options: nosniff\r\n"
            "Referrer-Policy: no-referrer\r\nCross-Origin-Resource-Policy: same-origin\r\n\r\n"
        )
        self.request.settimeout(PATIENCE_S)
        self.request.sendall(head.encode() + (b"" if method == "HEAD" else content))


def _question(connection: socket.socket) -> tuple[str, str]:
    """Method and path of a request.

    Raises:
        OSError: it takes too long.
        ValueError: it is too long or not a request.
    """
    head, until = b"", time.monotonic() + PATIENCE_S
    while b"\r\n\r\n" not in head:
        connection.settimeout(max(0.001, until - time.monotonic()))
        more = connection.recv(HEAD_BYTES)
        head += more
        if not more or len(head) > HEAD_BYTES or time.monotonic() > until:
            raise ValueError("no question")
    method, path, version = head.split(b"\r\n", 1)[0].decode("latin-1").split(" ")
    if not version.startswith("HTTP/1."):
        raise ValueError("no question")
    return method, path


def give_way() -> None:
    """Let the bench on the same machine run first."""
    if hasattr(os, "nice"):
        os.nice(NICE)
