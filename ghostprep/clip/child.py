"""A running ffmpeg, or another program of ours: always ended, never waited for without a limit."""

from __future__ import annotations

import atexit
import contextlib
import functools
import io
import re
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final, Self, cast

from ghostprep.errors import JobError

_PIPE_BYTES: Final = 1 << 20
"""Bytes of the largest pipe that Linux gives to anyone."""
_DRAIN_BYTES: Final = 1 << 16
"""Bytes that are read at a time to be thrown away."""
STALL_S: Final = 60.0
"""Seconds for which an ffmpeg may give and take nothing while it should; then it is killed."""
AGAIN: Final = "start again; a system short of memory ends programs: then close others first"
"""What to do when an ffmpeg was ended by someone else."""
_COMPLAINT: Final = re.compile(
    r"\[(?:error|fatal|panic)\] (?!Application provided invalid)(?P<error>.*)"
    r"|\[warning\] (?P<loss>(?:Packet corrupt|corrupt decoded).*)"
)
_ERRORS_KEPT: Final = 8
_LINES_KEPT: Final = 400
_LINE_MAX: Final = 2000
"""First errors, last lines and bytes of a line that are kept: a broken clip makes millions."""
_LIVING: Final[set[subprocess.Popen[bytes]]] = set()


@functools.cache
def ffmpeg_path() -> str:
    """Return where ffmpeg is; JobError: there is none."""
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


def complaint(line: str) -> str:
    """Return what a message line says of an error or of lost data; empty if it says nothing of them."""
    found = _COMPLAINT.search(line)
    return (found["error"] or found["loss"]) if found else ""


class Child:
    """One process with its pipes, its messages and a watchdog; as a context manager it is ended in the end.

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
    program : sequence of str, optional
        What is run; default: ffmpeg.
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
        program: Sequence[str] = (),
    ) -> None:
        command = [*(program or (ffmpeg_path(), "-hide_banner", "-nostdin")), *arguments]
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
            raise JobError(f"{Path(command[0]).name} could not be started", tool_line=str(error)) from error
        _LIVING.add(self.process)
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                _widen(pipe.fileno())
        self.lines: deque[str] = deque(maxlen=_LINES_KEPT)
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

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    @contextlib.contextmanager
    def waiting(self) -> Iterator[None]:
        """Mark that we wait for it to give or take bytes: the watchdog counts only then."""
        self._waiting_since = time.monotonic()
        try:
            yield
        finally:
            self._waiting_since = None

    def read_into(self, space: memoryview) -> int:
        """Fill `space` from its standard output; return how many bytes came before it ended."""
        pipe = cast("io.FileIO", self.process.stdout)
        got = 0
        while got < len(space):
            with self.waiting():
                count = pipe.readinto(space[got:])
            if not count:
                break
            got += count
        return got

    def drain(self) -> None:
        """Throw away what else it gives."""
        waste = memoryview(bytearray(_DRAIN_BYTES))
        while self.read_into(waste) == len(waste):
            pass

    def write(self, data: memoryview) -> None:
        """Write all of `data` to its standard input; OSError if it has gone."""
        pipe = cast("io.FileIO", self.process.stdin)
        while data:
            with self.waiting():
                sent = pipe.write(data)
            data = data[sent:]

    def close_input(self) -> None:
        """Tell it that nothing more comes."""
        if self.process.stdin is not None:
            with contextlib.suppress(OSError):
                self.process.stdin.close()

    def finish(self, growing: Path | None = None) -> int:
        """Wait until it ends by itself and return its exit status; all messages have arrived then.

        While the file `growing` changes its size it is not taken to stand still.
        """
        size = -1
        while True:
            try:
                with self.waiting():
                    if growing is not None:
                        # it closes its messages as it ends; a wait with a limit looks only now and then
                        self._listener.join(self._stall_s / 4)
                    status = self.process.wait(timeout=None if growing is None else self._stall_s / 4)
            except subprocess.TimeoutExpired:
                before, size = size, _size(growing) if growing is not None else 0
                if size == before:
                    self._kill_as_stalled()
            else:
                self._listener.join(timeout=5)
                return status

    def kill(self) -> None:
        """Stop it at once if it still runs."""
        if self.process.poll() is None:
            with contextlib.suppress(OSError):
                self.process.kill()

    def end(self) -> None:
        """End it if it still runs, and take back everything it held. May be called twice."""
        self._ended.set()
        process = self.process
        self.kill()
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
        if said := complaint(line):
            self.error_count += 1
            if len(self.errors) < _ERRORS_KEPT:
                self.errors.append(said)

    def _watch(self) -> None:
        while not self._ended.wait(0.5):
            since = self._waiting_since
            if since is not None and time.monotonic() - since > self._stall_s:
                self._kill_as_stalled()
                return
            if self.process.poll() is not None:
                return

    def _kill_as_stalled(self) -> None:
        self.stalled = True
        self.kill()


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _widen(pipe: int) -> None:
    """Give a pipe more room, where the system can: fewer switches between the two processes."""
    if sys.platform == "linux":
        import fcntl

        with contextlib.suppress(OSError):
            fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, _PIPE_BYTES)
