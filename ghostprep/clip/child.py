"""A running ffmpeg: always ended, never waited for without a limit."""

from __future__ import annotations

import atexit
import contextlib
import functools
import re
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Final

from ghostprep.errors import JobError

STALL_S: Final = 60.0
"""An ffmpeg that gives and takes nothing for so long, while it should, is killed."""

_ERROR_LINE: Final = re.compile(r"\[(?:error|fatal|panic)\] (.*)")
_ERRORS_KEPT: Final = 8
_LINE_MAX: Final = 2000
_LIVING: Final[set[subprocess.Popen[bytes]]] = set()


@functools.cache
def ffmpeg_path() -> str:
    """Return where ffmpeg is.

    Raises
    ------
    JobError
        There is none.
    """
    import imageio_ffmpeg

    try:
        path: str = imageio_ffmpeg.get_ffmpeg_exe()
    except RuntimeError as error:
        raise JobError(
            "ffmpeg was not found",
            remedy="install imageio-ffmpeg again, or set IMAGEIO_FFMPEG_EXE to an ffmpeg of your own",
        ) from error
    return path


@atexit.register
def _end_all() -> None:
    # only reached with children left if an interrupt fell between their start and their `finally`
    for process in list(_LIVING):
        with contextlib.suppress(OSError):
            process.kill()


def first_error(lines: Iterable[str]) -> str:
    """Return the first complaint among message lines; empty if there is none."""
    return next((found[1] for line in lines if (found := _ERROR_LINE.search(line))), "")


class Child:
    """One ffmpeg process with its pipes, its messages and a watchdog.

    Parameters
    ----------
    arguments : sequence of str
        Everything after the program's name; goes to the system as a list, never through a shell.
    feed : bool
        Whether we write to its standard input; otherwise it has none.
    take : bool
        Whether we read its standard output; otherwise it is thrown away.
    on_line : callable, optional
        Called in the listening thread with each message line; returns True if the line is
        used up and shall not be kept.
    stall_s : float
        Seconds without a byte moving, while we wait, until it is killed.
    folder : Path, optional
        Where it runs.
    keep : int
        How many message lines are remembered.
    """

    def __init__(
        self,
        arguments: Sequence[str],
        *,
        feed: bool = False,
        take: bool = False,
        on_line: Callable[[str], bool] | None = None,
        stall_s: float = STALL_S,
        folder: Path | None = None,
        keep: int = 400,
    ) -> None:
        command = [ffmpeg_path(), "-hide_banner", "-nostdin", *arguments]
        try:
            self.process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE if feed else subprocess.DEVNULL,
                stdout=subprocess.PIPE if take else subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                bufsize=0,
                cwd=folder,
                # its own group: Ctrl-C reaches us alone, and we end it
                start_new_session=sys.platform != "win32",
                creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
            )
        except (OSError, ValueError) as error:
            raise JobError("ffmpeg could not be started", tool_line=str(error)) from error
        _LIVING.add(self.process)
        self.lines: deque[str] = deque(maxlen=keep)
        self.errors: list[str] = []
        self.error_count = 0
        self.stalled = False
        self._on_line = on_line
        self._stall_s = stall_s
        self._waiting_since: float | None = None
        self._ended = threading.Event()
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._watchdog = threading.Thread(target=self._watch, daemon=True)
        self._listener.start()
        self._watchdog.start()

    @contextlib.contextmanager
    def waiting(self) -> Iterator[None]:
        """Mark that we wait for it to give or take bytes: the watchdog counts only then."""
        self._waiting_since = time.monotonic()
        try:
            yield
        finally:
            self._waiting_since = None

    def finish(self) -> int:
        """Wait until it ends by itself and return its exit status; all messages have arrived then."""
        with self.waiting():
            status = self.process.wait()
        self._listener.join(timeout=5)
        return status

    def end(self) -> None:
        """End it if it still runs, and take back everything it held. May be called twice."""
        self._ended.set()
        process = self.process
        if process.poll() is None:
            with contextlib.suppress(OSError):
                process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(timeout=10)
        _LIVING.discard(process)
        self._listener.join(timeout=5)
        for pipe in (process.stdin, process.stdout, process.stderr):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    @property
    def reason(self) -> str:
        """What it said first of what went wrong: what follows is mostly its echo."""
        if self.stalled:
            return f"nothing came for {self._stall_s:.0f} s"
        return self.errors[0] if self.errors else ""

    def _listen(self) -> None:
        stream = self.process.stderr
        assert stream is not None
        rest = b""
        with contextlib.suppress(OSError, ValueError):
            while chunk := stream.read(65536):
                *whole, rest = (rest + chunk).replace(b"\r", b"\n").split(b"\n")
                for line in whole:
                    self._take_line(line[:_LINE_MAX].decode("utf-8", "replace"))
                rest = rest[-_LINE_MAX:]
        if rest:
            self._take_line(rest.decode("utf-8", "replace"))

    def _take_line(self, line: str) -> None:
        if self._on_line is not None and self._on_line(line):
            return
        self.lines.append(line)
        if found := _ERROR_LINE.search(line):
            self.error_count += 1
            if len(self.errors) < _ERRORS_KEPT:
                self.errors.append(found[1])

    def _watch(self) -> None:
        while not self._ended.wait(0.5):
            since = self._waiting_since
            if since is not None and time.monotonic() - since > self._stall_s:
                self.stalled = True
                with contextlib.suppress(OSError):
                    self.process.kill()
                return
            if self.process.poll() is not None:
                return
