"""Only requests with the key get the page."""

from __future__ import annotations

import http.client
import json
import socket
import time
from contextlib import ExitStack, closing

import pytest

from benchtimer.run import commands as c
from benchtimer.serve import server as serving
from benchtimer.serve.server import CALLERS_EACH
from tests.serve.conftest import KEY, Served

HOME = f"/{KEY}/"


def _get(
    served: Served, path: str, method: str = "GET", source: str = "127.0.0.1"
) -> tuple[int, dict[str, str], bytes]:
    connection = http.client.HTTPConnection(
        "127.0.0.1", served.port, timeout=20, source_address=(source, 0)
    )
    with closing(connection):
        connection.request(method, path)
        answer = connection.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read()


def _raw(served: Served, data: bytes, seconds: float = 10) -> bytes:
    """The reply to any bytes, until the server closes."""
    with socket.create_connection(("127.0.0.1", served.port), timeout=seconds) as connection:
        connection.sendall(data)
        found = b""
        try:
            while more := connection.recv(65536):
                found += more
        except ConnectionResetError:
            pass
        return found


def test_the_page_and_what_changes_in_it(served: Served) -> None:
    """Page and updates come with headers that keep them out of caches and other pages."""
    status, headers, page = _get(served, HOME)
    assert (status, page[:15]) == (200, b"<!DOCTYPE html>")
    assert headers["Cache-Control"] == "no-store"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "Server" not in headers
    status, _, now = _get(served, f"{HOME}now")
    result = json.loads(now)
    assert status == 200
    assert "bolster" in result["html"]
    assert set(result) == {"html", "level", "about"}


def test_a_press_at_the_bench_shows(served: Served) -> None:
    """The page shows a press within moments."""
    served.scene.driver.press(served.scene.name, c.Scrap("bolster", "cracked"))
    end = time.monotonic() + 10
    while b"bolster" in _get(served, f"{HOME}now")[2]:
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.mark.parametrize(
    "path",
    [
        "/", "/now", "/wrong/", f"/{KEY}", f"/{KEY}x/", f"/{KEY[:-1]}/", f"/{KEY.upper()}/",
        f"//{KEY}/", f"/{KEY}//", f"{HOME}../", f"{HOME}now/", f"{HOME}now?x", f"{HOME}..%2fetc",
        f"{HOME}/etc/passwd", f"{HOME}bench.sqlite3", f"{HOME}second.js", "/%2e%2e/", f"/{KEY}%00/",
        f"/{KEY}\xe9/",
    ],
)  # fmt: skip
def test_wrong_keys_and_paths_get_nothing(served: Served, path: str) -> None:
    """Each wrong key or path gets the same short answer, with nothing from the bench."""
    answer = _raw(served, f"GET {path} HTTP/1.1\r\n\r\n".encode("latin-1"))
    head, _, content = answer.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 404 ")
    assert content == b"nothing here\n"


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "X"])
def test_only_reading_is_allowed(served: Served, method: str) -> None:
    """Any other method is refused, and the log stays as it was."""
    before = served.watcher._log.last_seq()
    assert _get(served, HOME, method)[0] == 405
    assert served.watcher._log.last_seq() == before


def test_head_has_no_content(served: Served) -> None:
    """HEAD has the length of the page and no content."""
    status, headers, content = _get(served, HOME, "HEAD")
    assert (status, content) == (200, b"")
    assert int(headers["Content-Length"]) > 1000


@pytest.mark.parametrize(
    "data",
    [
        b"", b"\r\n\r\n", b"GET\r\n\r\n", b"GET /\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" * 20 + b"\r\n\r\n", b"\0" * 9000,
        b"GET /" + b"a" * 20_000 + b" HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 5000 + b"\r\n",
    ],
    ids=range(9),
)  # fmt: skip
def test_an_invalid_request_gets_no_answer(
    served: Served, data: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A malformed request closes the connection, and the next request works."""
    monkeypatch.setattr(serving, "PATIENCE_S", 0.5)
    assert b"bolster" not in _raw(served, data)
    assert _get(served, HOME)[0] == 200


def test_slow_callers_are_cut_off(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """A slow sender is cut off at the time limit, even if bytes keep coming."""
    monkeypatch.setattr(serving, "PATIENCE_S", 1.0)
    begun = time.monotonic()
    with socket.create_connection(("127.0.0.1", served.port), timeout=10) as connection:
        with pytest.raises((ConnectionResetError, BrokenPipeError)):  # noqa: PT012 - at either end
            while time.monotonic() - begun < 8:
                connection.sendall(b"G")
                time.sleep(0.1)
                connection.setblocking(False)
                try:
                    if connection.recv(1) == b"":
                        raise ConnectionResetError
                except BlockingIOError:
                    pass
                connection.setblocking(True)
        assert time.monotonic() - begun < 5


def test_a_flood_from_one_address_leaves_room_for_the_others(served: Served) -> None:
    """One phone that holds every connection it gets does not block another."""
    with ExitStack() as held:
        for _ in range(3 * CALLERS_EACH):
            connection = socket.create_connection(("127.0.0.1", served.port), timeout=10)
            held.enter_context(connection)
            connection.sendall(b"GET ")
        time.sleep(0.3)
        assert served.server._callers["127.0.0.1"] <= CALLERS_EACH
        for _ in range(5):
            assert _get(served, HOME, source="127.0.0.2")[0] == 200
        served.scene.driver.press(served.scene.name, c.Note("the bench goes on"))
    end = time.monotonic() + 10
    while served.server._callers.total():
        assert time.monotonic() < end
        time.sleep(0.05)
    assert _get(served, HOME)[0] == 200


def test_an_old_bench_is_not_shown_as_new(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the log can't be read, the phone gets no answer and marks its data as old."""
    monkeypatch.setattr(serving, "STALE_S", 0.3)
    served.looks = False
    time.sleep(0.5)
    assert _get(served, f"{HOME}now")[0] == 503
    served.looks = True
    time.sleep(0.5)
    monkeypatch.setattr(serving, "STALE_S", 5)
    assert _get(served, f"{HOME}now")[0] == 200
