"""How each way out of a command ends: its exit status, and one line on stderr at most."""

from __future__ import annotations

import io

import click
import pytest

from ghostprep.cli.run import run, status_of
from ghostprep.errors import GhostprepError, InputError, JobError


def leaving(error: BaseException | None, value: object = None) -> click.Command:
    @click.command()
    @click.option("--count", type=int)
    def command(count: int | None) -> object:
        if error is not None:
            raise error
        return value

    return command


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (InputError("is empty", where="a\nb.mp4", remedy="bring another"), 2,
         "a\\nb.mp4: is empty; bring another"),
        (JobError("broke off", tool_line="no space"), 1, "broke off (no space)"),
        (GhostprepError("failed"), 1, "failed"),
        (KeyboardInterrupt(), 130, "interrupted; nothing was written at the destination"),
        (click.Abort(), 130, "interrupted; nothing was written at the destination"),
        (MemoryError(), 1,
         "there is not enough memory for this; close other programs, or use a shorter or smaller clip"),
        (ImportError("libGL.so.1: cannot open shared object file"), 1,
         "opencv-python cannot load libGL; install it with your system's package manager "
         "(Debian and Ubuntu: apt install libgl1 libglib2.0-0)"),
        (OSError(28, "No space left on device", b"x.mp4"), 1, "x.mp4: No space left on device"),
        (OSError(28, "No space left on device"), 1,
         "a file could not be read or written: No space left on device"),
        (click.UsageError("Too much."), 2, "Too much; see ghostprep --help"),
    ],
)  # fmt: skip
def test_an_error_is_one_line_and_a_status(
    error: BaseException,
    status: int,
    said: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # other tests of this process have written files
    monkeypatch.setattr("ghostprep.deliver._DELIVERED", [])
    assert status_of(leaving(error), []) == status
    out, err = capsys.readouterr()
    # after Ctrl+C click ends the terminal's line first
    assert (out, err.removeprefix("\n")) == ("", f"ghostprep: {said}\n")


def test_a_question_that_is_broken_off_ends_its_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ghostprep.deliver._DELIVERED", [])
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert status_of(click.Command("ask", callback=lambda: click.prompt("Which", err=True)), []) == 130
    assert capsys.readouterr().err.splitlines() == [
        "Which: ",
        "ghostprep: interrupted; nothing was written at the destination",
    ]


def test_an_interrupt_while_a_library_makes_its_classes_is_one(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ghostprep.deliver._DELIVERED", [])
    wrapped = RuntimeError("Error calling __set_name__ on 'property' instance 'size' in 'Transform'")
    wrapped.__cause__ = KeyboardInterrupt()
    assert status_of(leaving(wrapped), []) == 130
    assert capsys.readouterr().err == "\nghostprep: interrupted; nothing was written at the destination\n"
    with pytest.raises(RuntimeError, match="another"):
        status_of(leaving(RuntimeError("another")), [])


def test_an_error_of_ours_that_nobody_foresaw_is_not_hidden() -> None:
    with pytest.raises(ImportError, match="other"):
        status_of(leaving(ImportError("other")), [])


@pytest.mark.parametrize(("value", "status"), [(None, 0), ("text", 0), (3, 3)])
def test_a_command_that_ends_well(value: object, status: int) -> None:
    assert status_of(leaving(None, value), []) == status


def test_wrong_options_and_leaving_early(capsys: pytest.CaptureFixture[str]) -> None:
    assert status_of(leaving(None), ["--count", "many"]) == 2
    assert capsys.readouterr().err.endswith("; see ghostprep --help\n")
    assert status_of(leaving(None), ["--help"]) == 0
    assert capsys.readouterr().out.startswith("Usage: ghostprep")
    assert status_of(leaving(click.exceptions.Exit(7)), []) == 7


def test_what_nobody_reads_ends_quietly(capfd: pytest.CaptureFixture[str]) -> None:
    assert status_of(leaving(BrokenPipeError()), []) == 1
    assert capfd.readouterr() == ("", "")


def test_the_process_ends_with_the_status(monkeypatch: pytest.MonkeyPatch) -> None:
    # a process that ends hears no signal any more: this one goes on
    monkeypatch.setattr("ghostprep.cli.run.listen", lambda: None)
    monkeypatch.setattr("ghostprep.cli.run.stop_listening", lambda: None)
    monkeypatch.setattr("sys.argv", ["ghostprep"])
    with pytest.raises(SystemExit, match=r"^2$"):
        run(leaving(InputError("is empty")))
