"""Writes the file in which a loop stands many times, in the way that its container asks for."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from ghostprep.player.encode.sound import sound_arguments
from ghostprep.player.facts import StreamFacts
from ghostprep.player.profile import Profile
from ghostprep.player.read import coded_pictures
from ghostprep.player.repeat import repeat_arguments
from ghostprep.scratch import scratch_folder


class Copier(Protocol):
    """What copies packets from local files to a local file, as `ghostprep.clip.run_copy` does."""

    def __call__(
        self, inputs: Sequence[Path], output: Path, arguments: Sequence[str], *, before: Sequence[str] = ()
    ) -> None:
        """Copy."""


def write_repeats(
    loop: Path,
    output: Path,
    profile: Profile,
    facts: StreamFacts,
    count: int,
    *,
    run: Copier,
    sound: Path | None = None,
) -> None:
    """Write a file in which a loop's coded pictures stand `count` times, byte for byte.

    Parameters
    ----------
    loop : Path
        The encoded loop.
    output : Path
        Where to write; replaced if it exists.
    profile : Profile
    facts : StreamFacts
        Of the loop.
    count : int
        At least 1.
    run : Copier
        `ghostprep.clip.run_copy`.
    sound : Path, optional
        A sound file exactly as long as one loop.

    Raises
    ------
    InputError
        There is sound and the player takes none.
    JobError
        Copying failed.
    """
    if count < 1:
        raise ValueError(f"count is {count}, it must be at least 1")
    if sound is not None:
        sound_arguments(profile)  # refused before anything is written
    if profile.container in ("h264-stream", "jpeg-stream"):
        # no container: the bytes once more are the loop once more
        with output.open("wb") as file:
            for _ in range(count):
                with loop.open("rb") as one:
                    shutil.copyfileobj(one, file)
    elif profile.container == "mpeg-ps":
        _, arguments = repeat_arguments(profile, facts, 1, sound=sound is not None, sound_laps=count)
        _repeat_packs(loop, output, arguments, count, run=run, sound=sound)
    else:
        before, arguments = repeat_arguments(profile, facts, count, sound=sound is not None)
        run([loop] if sound is None else [loop, sound], output, arguments, before=before)


def _repeat_packs(
    loop: Path, output: Path, arguments: Sequence[str], count: int, *, run: Copier, sound: Path | None
) -> None:
    """Take the pictures out of their packs, which carry a clock, and pack them anew."""
    with scratch_folder() as folder:
        bare = folder / "pictures.m1v"
        with bare.open("wb") as file:
            for _ in range(count):
                file.writelines(coded_pictures(loop))
        run([bare] if sound is None else [bare, sound], output, arguments)
