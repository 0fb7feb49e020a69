"""A tone through the system's own player, started without a shell, failing harmlessly."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from benchtimer.records.inert import visible
from benchtimer.sound.tone import DUE_TONE, OVERDUE_TONE, wav

PLAYERS: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "linux": (("pw-play",), ("paplay",), ("aplay", "-q")),
    "darwin": (("afplay",),),
}
"""By operating system, the first one that is there plays; the file's path comes last."""

PATIENCE_S = 8.0
"""A player that takes longer than this is stopped: the longest tone takes under 3 s."""

NO_PLAYER = "no player for the tone"


class Player:
    """Plays the tones of an alarm; one at a time.

    Args:
        platform: the operating system, as ``sys.platform`` names it.
    """

    def __init__(self, platform: str = sys.platform) -> None:
        self._platform = platform
        self._busy = threading.Lock()
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._closed = False

    @property
    def words(self) -> Sequence[str] | None:
        """The player that is there; None if none is."""
        if self._platform == "win32":
            return ("winsound",)
        known = PLAYERS.get(self._platform, PLAYERS["linux"])
        return next((words for words in known if shutil.which(words[0])), None)

    def play(self, *, overdue: bool) -> str | None:
        """Play one of the tones to its end; what went wrong, None if nothing.

        A tone that is asked for while another sounds is left out.
        """
        if not self._busy.acquire(blocking=False):
            return None
        try:
            return self._play("overdue" if overdue else "due")
        except (OSError, RuntimeError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            return f"The tone can't be played: {visible(reason, keep='')}"
        finally:
            self._busy.release()

    def _play(self, name: str) -> str | None:
        words = self.words
        if words is None:
            wanted = ", ".join(each[0] for each in PLAYERS.get(self._platform, PLAYERS["linux"]))
            return f"The tone can't be played: {NO_PLAYER}. Install one of {wanted}"
        path = self._file(name)
        if self._platform == "win32":
            return _play_on_windows(path)
        return self._run([*words, str(path)])

    def _run(self, words: Sequence[str]) -> str | None:
        if self._closed:
            return None
        self._process = process = subprocess.Popen(  # noqa: S603 - fixed words, and no shell
            words,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
        try:
            _, said = process.communicate(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            return f"The tone was stopped: {words[0]} took more than {PATIENCE_S:g} s"
        if process.returncode and not self._closed:
            first = next(iter(said.decode("utf-8", "replace").strip().splitlines()), "")
            why = f" ({visible(first[:100], keep='')})" if first else ""
            return f"The tone failed: {words[0]} ended with {process.returncode}{why}"
        return None

    def _file(self, name: str) -> Path:
        """The file of a tone, made when it is first asked for."""
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="benchtimer-tone-")
        path = Path(self._folder.name) / f"{name}.wav"
        if not path.exists():
            path.write_bytes(wav(OVERDUE_TONE if name == "overdue" else DUE_TONE))
        return path

    def close(self) -> None:
        """Stop what sounds, and remove the files."""
        self._closed = True
        if self._process is not None and self._process.poll() is None:
            with suppress(OSError):
                self._process.kill()
        with self._busy:
            if self._folder is not None:
                self._folder.cleanup()


if sys.platform == "win32":  # pragma: no cover
    import winsound

    def _play_on_windows(path: Path) -> str | None:
        """Windows plays a WAV file by itself; PlaySound returns when it is over."""
        winsound.PlaySound(str(path), winsound.SND_FILENAME)
        return None
else:

    def _play_on_windows(_path: Path) -> str | None:
        return f"The tone can't be played: {NO_PLAYER}"
