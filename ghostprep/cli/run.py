"""Runs the command line: errors become one line and an exit status."""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType

import click

from ghostprep.errors import GhostprepError


def _interrupt(_signum: int, _frame: FrameType | None) -> None:
    # a polite "terminate" is handled like Ctrl-C, so that every `finally` runs
    raise KeyboardInterrupt


def run(command: click.Command) -> None:
    """Run ``command`` on the process's arguments and exit.

    Exit status: 0 done, 1 the job failed, 2 wrong usage or input, 130 interrupted.
    """
    signal.signal(signal.SIGTERM, _interrupt)
    sys.exit(status_of(command))


def status_of(command: click.Command, args: list[str] | None = None) -> int:
    """Run ``command`` and return its exit status instead of leaving."""
    try:
        left = command.main(args=args, prog_name="ghostprep", standalone_mode=False)
        if isinstance(left, int):
            # click gives back the status of a command that left early, instead of raising it
            return left
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except click.ClickException as wrong:
        wrong.show()
        return wrong.exit_code
    except GhostprepError as wrong:
        _say(wrong.one_line())
        return wrong.exit_code
    except (click.Abort, KeyboardInterrupt):
        _say("interrupted; nothing was written at the destination")
        return 130
    except BrokenPipeError:
        # whoever read our output has gone; keep the interpreter from complaining at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as wrong:
        _say(f"{wrong.filename or 'the system'}: {wrong.strerror or wrong}")
        return 1
    except ImportError as wrong:
        if "libGL" not in str(wrong):
            raise
        _say(
            "opencv-python cannot load libGL; install it with your system's package manager "
            "(Debian and Ubuntu: apt install libgl1 libglib2.0-0)"
        )
        return 1
    return 0


def _say(line: str) -> None:
    click.echo(f"ghostprep: {line}", err=True)
