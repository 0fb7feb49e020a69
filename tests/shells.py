"""Real shells on their own terminals: type a line, press TAB, read the words."""

from __future__ import annotations

import os
import pty
import select
import shutil
import signal
import time
from pathlib import Path

SHELLS = {
    "bash": ["bash", "--norc", "--noprofile", "-i"],
    "zsh": ["zsh", "-f", "-i"],
    "fish": ["fish", "--no-config", "-i"],
}
LOAD = {
    "bash": 'eval "$(benchtimer completion bash)"',
    "zsh": 'autoload -Uz compinit; compinit -D; eval "$(benchtimer completion zsh)"',
    "fish": "benchtimer completion fish | source",
}
SECONDS = 30
"""How long a shell on a busy machine can take for one line."""


def missing(shell: str) -> str:
    """What to install before this shell can be tested; empty if nothing."""
    if shutil.which(shell):
        return ""
    return f"{shell} is not installed: the tests need it (apt-get install {shell}; .ci/run does so)"


class Shell:
    """A shell that has loaded the completion script.

    Args:
        name: which shell.
        folder: an empty folder, used as its home and working folder.
        programs: the folder of the installed program.
        environment: extra environment variables.
    """

    def __init__(
        self, name: str, folder: Path, programs: Path, environment: dict[str, str]
    ) -> None:
        self._said = folder / "said"
        found = {
            "HOME": str(folder),
            "PATH": f"{_with_say(folder)}:{programs}:{os.environ['PATH']}",
            "TERM": "xterm",
            "LANG": "C.UTF-8",
            "SAID": str(self._said),
            "PYTHONPATH": os.environ.get("PYTHONPATH", ""),
            **environment,
        }
        self.output = b""
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            os.chdir(folder)
            os.execvpe(SHELLS[name][0], SHELLS[name], found)
        self._send(f"{LOAD[name]}; say ready\r")
        assert self._heard() == ["ready"]

    def completed(self, line: str) -> list[str]:
        """The words that a program would get after this line and TAB."""
        self._said.unlink(missing_ok=True)
        self._send(f"{line}\t\x01say \r")  # then back to the start of the line, and run it
        return self._heard()

    def shown(self, line: str) -> str:
        """What the terminal got after this line and two TABs."""
        before = len(self.output)
        self._send(f"{line}\t")
        self._quiet()
        self._send("\t")
        self._quiet()
        found = self.output[before:].decode(errors="replace")
        self._send("\x15\r")
        return found

    def close(self) -> None:
        """Close it."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self._fd)

    def _send(self, keys: str) -> None:
        os.write(self._fd, keys.encode())

    def _quiet(self) -> None:
        """Wait until the program has answered and then been silent for a while."""
        self._read(SECONDS)
        while self._read(0.4):
            pass

    def _read(self, seconds: float) -> bool:
        ready, _, _ = select.select([self._fd], [], [], seconds)
        if ready:
            self.output += os.read(self._fd, 65536)
        return bool(ready)

    def _heard(self) -> list[str]:
        """The words that ``say`` received."""
        end = time.monotonic() + SECONDS
        while not self._said.exists():
            assert time.monotonic() < end, self.output[-2000:].decode(errors="replace")
            self._read(0.05)
        return self._said.read_text().splitlines()


def _with_say(folder: Path) -> Path:
    """A folder with a program that records the words it receives."""
    programs = folder / "programs"
    programs.mkdir()
    say = programs / "say"
    say.write_text('#!/bin/sh\nprintf "%s\\n" "$@" > "$SAID.new" && mv "$SAID.new" "$SAID"\n')
    say.chmod(0o755)
    return programs
