"""Whenever `make` is told to end, or killed: old outputs or new ones, no child, and the next run is clean.

All three signals at 20 moments of a run: ``python tests/bench/faults.py --part signals``.
"""

import os
import signal
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

Bench = Callable[[str], ModuleType]
pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")


@pytest.fixture(scope="module")
def ground(bench: Bench, clip: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    return bench("fault_runs").Ground(
        tmp_path_factory.mktemp("signals"),
        ["make", str(clip), "OUT/loop.mp4", "--overwrite"],
        ["loop.mp4", "loop.json"],
    )


@pytest.fixture(scope="module")
def length_s(bench: Bench, ground: Any) -> float:
    taken: float = bench("fault_signals").run_time_s(ground)
    return taken


@pytest.mark.parametrize("part", [0.5, 0.95])
@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_a_signal_in_a_run(
    sent: signal.Signals,
    part: float,
    bench: Bench,
    ground: Any,
    length_s: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    signals = bench("fault_signals")
    # other tests share the processor; the bench holds a quiet one to a second
    monkeypatch.setattr(signals, "GONE_S", 10.0)
    monkeypatch.setattr(signals, "ENDED_S", 30.0)
    outcome = signals.one_signal(ground, sent, part * length_s)
    assert outcome.fault == ""


SCRIPT = """
import gc, os, signal, sys, time
from pathlib import Path
from ghostprep.interrupts import listen, undisturbed
listen()
{body}
"""


def say(body: str) -> tuple[int, list[str]]:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT.format(body=textwrap.dedent(body))],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.stderr == ""
    return done.returncode, done.stdout.split()


def test_an_interrupt_that_python_drops_comes_again() -> None:
    """What is raised in a ``__del__`` is dropped; the work must end all the same."""
    code, said = say("""
        class Held:
            def __del__(self):
                os.kill(os.getpid(), signal.SIGTERM)
                for _ in range(100): time.sleep(0.001)
        try:
            held = Held()
            del held
            print("went on")
            time.sleep(20)
        except KeyboardInterrupt:
            print("ended")
    """)
    assert (code, said) == (0, ["went", "on", "ended"])


def test_a_second_request_does_not_disturb_the_clearing_up() -> None:
    code, said = say("""
        try:
            try:
                os.kill(os.getpid(), signal.SIGTERM)
                time.sleep(20)
            finally:
                os.kill(os.getpid(), signal.SIGTERM)
                time.sleep(0.1)
                print("cleared")
        except KeyboardInterrupt:
            print("ended")
    """)
    assert (code, said) == (0, ["cleared", "ended"])


def test_requests_wait_until_files_have_changed_places() -> None:
    code, said = say("""
        try:
            with undisturbed():
                for number in (signal.SIGTERM, signal.SIGHUP):
                    os.kill(os.getpid(), number)
                time.sleep(0.1)
                print("done")
        except KeyboardInterrupt:
            print("ended")
    """)
    assert (code, said) == (0, ["done", "ended"])


def test_what_was_switched_off_stays_off() -> None:
    """As nohup does it: the terminal may close, the work goes on."""
    code, said = say("""
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
        listen()
        with undisturbed():
            os.kill(os.getpid(), signal.SIGHUP)
        os.kill(os.getpid(), signal.SIGHUP)
        print("went on")
    """)
    assert (code, said) == (0, ["went", "on"])
