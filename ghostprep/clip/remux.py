"""Copies packets from local files into a file without decoding them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ghostprep.clip.child import Child
from ghostprep.clip.source import file_url, open_source
from ghostprep.clip.write import finish_file


def run_copy(
    inputs: Sequence[Path],
    output: Path,
    arguments: Sequence[str],
    *,
    before: Sequence[str] = (),
) -> None:
    """Run ffmpeg from local files to a local file, usually with ``-c copy``.

    Parameters
    ----------
    inputs : sequence of Path
        Local media files.
    output : Path
        Where to write; replaced if it exists.
    arguments : sequence of str
        Arguments for the output ("-c", "copy", ...).
    before : sequence of str
        Arguments for each input, set before it ("-stream_loop", "3").

    Raises
    ------
    InputError
        An input cannot be read.
    JobError
        It failed or stood still; the message carries ffmpeg's last line.

    Examples
    --------
    Four times the same packets::

        run_copy([loop], out, ["-map", "0", "-c", "copy"], before=["-stream_loop", "3"])
    """
    opened = [part for path in inputs for part in (*before, *open_source(path).input)]
    child = Child(["-loglevel", "level+error", "-y", *opened, *arguments, file_url(output)])
    try:
        finish_file(child, output, "copying stopped")
    finally:
        child.end()
