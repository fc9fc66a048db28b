"""Requests to end: each becomes one KeyboardInterrupt, so that every ``finally`` runs, once."""

from __future__ import annotations

import _thread
import contextlib
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from types import FrameType
from typing import Any, Final

SIGNALS: Final = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)
)
"""By which a system asks a program to end."""

_SETTLE_S: Final = 3.0
"""Seconds in which a second request is not heard: what was begun is being cleared up."""
_SWALLOWED_S: Final = 0.05
"""Seconds after which an interrupt that a destructor swallowed is raised again."""


class _Listener:
    def __init__(self) -> None:
        self._heard_at = float("-inf")
        self._before: Callable[[Any], object] = sys.unraisablehook

    def hear(self, _signum: int, _frame: FrameType | None) -> None:
        now = time.monotonic()
        if now - self._heard_at < _SETTLE_S:
            return
        self._heard_at = now
        raise KeyboardInterrupt

    def repeat(self, swallowed: Any) -> None:
        """Ask again where an interrupt fell into a ``__del__``, in which Python drops what is raised."""
        if not isinstance(swallowed.exc_value, KeyboardInterrupt):
            self._before(swallowed)
            return
        self._heard_at = float("-inf")
        again = threading.Timer(_SWALLOWED_S, _ask_again)
        again.daemon = True
        again.start()


def _ask_again() -> None:
    number = next((n for n in SIGNALS if callable(signal.getsignal(n))), signal.SIGINT)
    if os.name == "posix":
        os.kill(os.getpid(), number)  # also wakes the main thread where it waits
    else:
        _thread.interrupt_main(number)


def listen() -> None:
    """Turn every request to end into a KeyboardInterrupt in the main thread.

    Those that whoever started us has switched off (a shell's background jobs, nohup) stay off.
    """
    listener = _Listener()
    sys.unraisablehook = listener.repeat
    for number in SIGNALS:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, listener.hear)


def stop_listening() -> None:
    """Let no request to end disturb the interpreter's last steps: the work is done or cleared up."""
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """Hold requests to end back until the block is done, and pass them on then."""
    if threading.current_thread() is not threading.main_thread():
        yield  # they never fall into other threads
        return
    came: list[int] = []
    before = {number: signal.getsignal(number) for number in SIGNALS}
    try:
        for number in SIGNALS:
            signal.signal(number, lambda number, _: came.append(number))
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
        for number in came:
            signal.raise_signal(number)
