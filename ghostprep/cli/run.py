"""Runs the command line: errors become one line and an exit status."""

from __future__ import annotations

import contextlib
import gc
import io
import os
import sys

import click

from ghostprep.errors import GhostprepError, printable, reason
from ghostprep.interrupts import listen, stop_listening

INTERRUPTED = 130
"""As shells tell of a program that Ctrl-C ended: 128 and the number of SIGINT."""


def run(command: click.Command) -> None:
    """Run ``command`` on the process's arguments and exit.

    Exit status: 0 done, 1 the job failed, 2 wrong usage or input, 130 interrupted.
    """
    try:
        listen()
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                # a console without a letter for a name shows it escaped instead of giving up
                stream.reconfigure(errors="backslashreplace")
        status = status_of(command)
    except KeyboardInterrupt:
        _say(_interrupted())
        status = INTERRUPTED
    stop_listening()
    # the interpreter would go through all that is loaded once more before it lets it go: up to .2 s
    gc.freeze()
    sys.exit(status)


def status_of(command: click.Command, args: list[str] | None = None) -> int:
    """Run ``command`` and return its exit status instead of leaving."""
    try:
        left = _call(command, args)
        sys.stdout.flush()
        if isinstance(left, int):
            # click gives back the status of a command that left early, instead of raising it
            return left
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except click.ClickException as wrong:
        if type(wrong).__name__ == "NoArgsIsHelpError":
            wrong.show()  # the whole help; click has this error since 8.2
        else:
            _say(_usage(wrong))
        return wrong.exit_code
    except GhostprepError as wrong:
        _say(wrong.one_line())
        return wrong.exit_code
    except (click.Abort, KeyboardInterrupt) as asked:
        # a question that is broken off has not ended its line
        click.echo(err=True, nl=isinstance(asked, click.Abort) and asked.__cause__ is None)
        _say(_interrupted())
        return INTERRUPTED
    except BrokenPipeError:
        _drop_output()
        return 1
    except OSError as wrong:
        where = wrong.filename if wrong.filename is not None else "a file could not be read or written"
        _say(f"{os.fsdecode(where) if isinstance(where, bytes) else where}: {reason(wrong)}")
        _drop_output()
        return 1
    except MemoryError:
        _say("there is not enough memory for this; close other programs, or use a shorter or smaller clip")
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


def _call(command: click.Command, args: list[str] | None) -> object:
    try:
        return command.main(args=args, prog_name="ghostprep", standalone_mode=False)
    except RuntimeError as wrong:
        # up to Python 3.11 a request to end that comes while a library makes its classes is wrapped in one
        if isinstance(wrong.__cause__, KeyboardInterrupt) and not isinstance(wrong, click.Abort):
            raise click.Abort from None
        raise


def _drop_output() -> None:
    """Throw away what nobody takes, so that the interpreter does not complain of it at exit."""
    try:
        sys.stdout.flush()
    except OSError:
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _usage(wrong: click.ClickException) -> str:
    """Return what was wrong with how a command was called, and where to read how it is."""
    said = " ".join(wrong.format_message().split())
    context = getattr(wrong, "ctx", None)
    if context is None:
        return said
    path = context.command_path
    return f"{said.removesuffix('.')}; see {path} --help"


def _interrupted() -> str:
    from ghostprep.deliver import delivered

    done = " and ".join(map(str, delivered()))
    what = f"{done} had been written whole" if done else "nothing was written at the destination"
    return f"interrupted; {what}"


def _say(line: str) -> None:
    click.echo(f"ghostprep: {printable(line)}", err=True)
