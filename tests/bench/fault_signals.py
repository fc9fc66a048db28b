"""Sends a signal to a running command and looks what it leaves: files, processes, words."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import psutil
from fault_calls import Calls
from fault_runs import Ground

START = (
    # a shell's background jobs come with Ctrl-C switched off
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    "from ghostprep.cli import main; main()"
)
STEPS = 20
GONE_S = 1.0
ENDED_S = 5.0


@dataclass(frozen=True)
class Signalled:
    """What came of one signal; `fault` is empty if all was well."""

    sent: signal.Signals
    at_s: float
    status: int
    ended_s: float
    children: int
    children_ended_s: float
    left: str
    strangers: tuple[str, ...]
    line: str
    fault: str = ""


def start(ground: Ground) -> subprocess.Popen[str]:
    """Start the ground's command in a process of its own, its temporaries in the ground."""
    return subprocess.Popen(
        [sys.executable, "-c", START, *ground.arguments],
        env={**os.environ, "TMPDIR": str(ground.temp), "GHOSTPREP_CACHE": str(ground.cache)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def run_time_s(ground: Ground) -> float:
    """Return how long an undisturbed run takes: the shorter of two."""
    taken = []
    for _ in range(2):
        ground.reset()
        begun = time.monotonic()
        process = start(ground)
        _, said = process.communicate(timeout=300)
        taken.append(time.monotonic() - begun)
        if process.returncode or ground.state() != "new" or ground.strangers():
            raise RuntimeError(f"{process.returncode}: {said}")
    return min(taken)


def moments(length_s: float, count: int = STEPS) -> list[float]:
    """Return moments spread evenly over a run."""
    return [length_s * (i + 0.5) / count for i in range(count)]


def each_signal(
    ground: Ground, at_s: Sequence[float], sent: Sequence[signal.Signals], *, again: bool = True
) -> Iterator[Signalled]:
    """Send each signal at each moment, to a new run each time."""
    for number in sent:
        for moment in at_s:
            yield one_signal(ground, number, moment, again=again)


def one_signal(ground: Ground, sent: signal.Signals, at_s: float, *, again: bool = True) -> Signalled:
    """Send one signal so many seconds after the start; let the next run show that it is clean."""
    ground.reset()
    process = start(ground)
    time.sleep(at_s)
    family = relatives(ground)
    begun = time.monotonic()
    process.send_signal(sent)
    while (
        alive := [one for one in relatives(ground) if one.pid != process.pid]
    ) and time.monotonic() - begun < 30:
        time.sleep(0.02)
    children_ended = time.monotonic() - begun
    _, said = process.communicate(timeout=60)
    ended = time.monotonic() - begun
    state, strangers, lines = ground.state(), tuple(ground.strangers()), said.strip().splitlines()
    fault = ""
    polite = sent != signal.SIGKILL
    wanted = {130} if polite else {-signal.SIGKILL}
    starting = _in_start(said, process.returncode, sent, state)
    if alive:
        fault = f"{len(alive)} processes alive after 30 s"
    elif process.returncode not in wanted | {0} and not starting:
        fault = f"status {process.returncode}: {said}"
    elif state not in ("old", "new"):
        fault = f"outputs are {state}"
    elif polite and strangers:
        fault = f"left {strangers}"
    elif polite and children_ended > GONE_S:
        fault = f"children lived on for {children_ended:.1f} s"
    elif ended > ENDED_S:
        fault = f"took {ended:.1f} s to end"
    elif process.returncode == 130 and not starting and len(lines) != 1:
        fault = f"{len(lines)} lines: {said!r}"
    elif process.returncode == 130 and not starting and ("written whole" in said) != (state == "new"):
        fault = f"outputs are {state}, and it says {lines[0]!r}"
    if not polite and again and not fault:
        status, words = ground.run(Calls(ground.watched))
        if status or ground.state() != "new" or ground.strangers():
            fault = f"the next run: {status}, {ground.state()}, {ground.strangers()}: {words}"
    return Signalled(
        sent, at_s, process.returncode, ended, max(len(family) - 1, 0), children_ended, state, strangers,
        lines[-1] if lines else "", fault,
    )  # fmt: skip


def _in_start(said: str, status: int, sent: signal.Signals, state: str) -> bool:
    """Return whether Python itself was interrupted, before a line of ours was run."""
    if sent == signal.SIGTERM and status == -signal.SIGTERM:
        return not said and state == "old"
    return sent == signal.SIGINT and "ghostprep/cli/run.py" not in said and "KeyboardInterrupt" in said


def relatives(ground: Ground) -> list[psutil.Process]:
    """Return the living processes that were started for this ground, whoever is their parent now."""
    found = []
    for process in psutil.process_iter():
        try:
            ours = process.environ().get("TMPDIR") == str(ground.temp)
            if ours and process.status() != psutil.STATUS_ZOMBIE and process.pid != os.getpid():
                found.append(process)
        except psutil.Error:
            continue
    return found
