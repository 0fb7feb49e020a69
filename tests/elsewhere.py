"""Simulates Windows in one process: no fcntl, pwd, resource, signals or /proc.

Run as a program, it hides them before the project loads, and then works a bench through its
whole life. It can't simulate Windows itself: its consoles, its rights, its disks.
"""

from __future__ import annotations

# Load all of the standard library that the project uses while it is still this system's.
import asyncio  # noqa: F401
import builtins
import concurrent.futures  # noqa: F401
import ctypes
import email.message  # noqa: F401
import fcntl
import getpass  # noqa: F401
import hashlib  # noqa: F401
import importlib.abc
import io
import multiprocessing.util  # noqa: F401
import os
import platform  # noqa: F401
import shutil
import socketserver  # noqa: F401
import sqlite3  # noqa: F401
import subprocess  # noqa: F401
import sys
import tempfile  # noqa: F401
import threading  # noqa: F401
import types
import webbrowser  # noqa: F401
from collections.abc import Sequence
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any, NoReturn

import platformdirs  # noqa: F401
import rich.console
import textual.filter  # noqa: F401
import tomli_w  # noqa: F401
import tomlkit  # noqa: F401
from pydantic import BaseModel, TypeAdapter

LOADED = (BaseModel, TypeAdapter, rich.console.Console)

GONE = {"fcntl", "pwd", "grp", "resource", "termios", "tty", "pty"}
"""Modules that Windows lacks."""


class _Missing(importlib.abc.MetaPathFinder):
    def find_spec(self, name: str, path: object, target: object = None) -> None:
        """Refuse to find a hidden module."""
        del path, target
        if name.partition(".")[0] in GONE:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)


class _Locks(types.ModuleType):
    """``msvcrt`` as far as the lease uses it: a lock on a byte, for each file."""

    LK_NBLCK, LK_UNLCK = 2, 0

    def locking(self, handle: int, mode: int, _count: int) -> None:
        """Lock or unlock."""
        how = fcntl.LOCK_UN if mode == self.LK_UNLCK else fcntl.LOCK_EX | fcntl.LOCK_NB
        fcntl.flock(handle, how)


class _Kernel:
    """The calls to Windows, with the answers for processes that have ended."""

    asked: list[tuple[Any, ...]] = []

    def __getattr__(self, name: str) -> Any:
        def call(*arguments: Any) -> int:
            self.asked.append((name, *arguments))
            return 0

        return call


def _refused(*_: object, **__: object) -> NoReturn:
    raise AssertionError("os.kill was called: on Windows that stops the process")


def become_windows() -> None:
    """Make this process find what a program finds on Windows."""
    for name in GONE:
        sys.modules.pop(name, None)
    sys.meta_path.insert(0, _Missing())
    sys.modules["msvcrt"] = _Locks("msvcrt")
    ctypes.windll = types.SimpleNamespace(kernel32=_Kernel())  # type: ignore[attr-defined,unused-ignore]
    os.kill = _refused
    for name in ("geteuid", "getuid", "fork", "nice", "O_NOFOLLOW", "O_NONBLOCK"):
        if hasattr(os, name):
            delattr(os, name)
    opened, to_open = builtins.open, os.open

    def no_proc(path: Any, *more: Any, **named: Any) -> Any:
        if str(path).startswith("/proc"):
            raise FileNotFoundError(path)
        return opened(path, *more, **named)

    def no_folders(path: Any, *more: Any, **named: Any) -> int:
        if os.path.isdir(path):
            raise PermissionError(13, "Permission denied", str(path))
        return to_open(path, *more, **named)

    setattr(builtins, "open", no_proc)  # noqa: B010 - the types of open are many
    setattr(io, "open", no_proc)  # noqa: B010
    os.open = no_folders
    setattr(shutil, "_use_fd_functions", False)  # noqa: B010 - rmtree opens no folders there
    sys.platform = "win32"


def work(folder: Path) -> None:
    """Work settings, baths, a run, a second driver, a watcher and copies on that system."""
    become_windows()
    from benchtimer.bench.open_bench import look_on
    from benchtimer.bench.writer import drive
    from benchtimer.cli import main
    from benchtimer.clock import SystemClock
    from benchtimer.run import commands as c
    from benchtimer.store.lease import LeaseTaken
    from benchtimer.tui.plain import knows_only_ascii
    from tests.faults.bench_work import NEW

    os.environ |= {
        "BENCHTIMER_DATA": str(folder / "data"), "BENCHTIMER_CONFIG": str(folder / "config"),
        "USERNAME": "maker",
    }  # fmt: skip

    def run(*words: str, code: int = 0) -> str:
        result = io.StringIO()
        with redirect_stdout(result):
            found = main(list(words))
        assert found == code, (words, found)
        return result.getvalue()

    assert SystemClock().read().boot is None
    assert not knows_only_ascii({})
    run("settings", "--set", "by=maker")
    run("validate", str(Path(__file__).parents[1] / "recipes" / "hot-black.toml"))
    run("plan", "hot-wax", "blade", "--about", "blade.temper=200 C")
    driver = drive(folder / "data", SystemClock(), by="maker")
    name = driver.set_up(NEW)
    driver.press(name, c.Note("on the other system"))
    _refused_twice(folder, LeaseTaken, driver)
    watcher = look_on(folder / "data", SystemClock())
    driven = [watcher.driven]
    driver.close()
    driven.append(watcher.driven)
    assert driven == [True, False]
    watcher.close()
    again = drive(folder / "data", SystemClock(), by="maker")
    assert again.state(name).presses == 1
    assert any("wall clock" in text for text in again.notices.get(name, []))
    again.press(name, c.Abort("enough"))
    again.close()
    run("bath", "mix", "salts 1", "--of", "blacking salts", "--volume", "6", "L")
    run("backup", str(folder / "my copy.sqlite3"))
    run("export", "all", str(folder / "runs"))
    run("restore", str(folder / "my copy.sqlite3"))
    run("import", *map(str, (folder / "runs").glob("*.jsonl")))
    assert "on the other system" in run("record", name)
    (folder / "data" / ".benchtimer-writing-4000000-x").touch()
    run("bath", "read", "salts 1", "290", "F")
    sys.stdout.write("worked\n")


def _refused_twice(folder: Path, taken: type[Exception], driver: Any) -> None:
    from benchtimer.bench.writer import drive
    from benchtimer.clock import SystemClock

    assert driver is not None
    try:
        drive(folder / "data", SystemClock())
    except taken:
        return
    raise AssertionError("two drivers at once")


def _main(words: Sequence[str]) -> None:
    work(Path(words[0]))


if __name__ == "__main__":
    _main(sys.argv[1:])
