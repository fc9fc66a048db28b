"""Fills a file with exact repeats of the encoded loop: copies of its packets, no second encoding.

Every loop begins with a picture that stands on its own and ends with a closed group, so its
packets can follow themselves as often as wanted.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.errors import InputError
from ghostprep.player.encode.common import FORMS, REPEATABLE, sound_arguments
from ghostprep.player.profile import Profile
from ghostprep.player.read import StreamFacts, coded_pictures
from ghostprep.scratch import scratch_folder

_INDEX_BYTES: Final = 64
"""Index entries for one more picture: 16 bytes in AVI, up to 24 in MP4, and what the muxer adds."""


@dataclass(frozen=True, slots=True)
class Repeats:
    """How often a loop stands in its file."""

    count: int  # at least 1
    seconds: Fraction  # how long the file plays
    capped: bool  # whether the player's largest file, not the wanted length, set the count


def plan_repeats(profile: Profile, facts: StreamFacts, wanted_s: Fraction, *, sound_kbps: int = 0) -> Repeats:
    """Return how many whole loops of these facts fit `wanted_s` and the player; `sound_kbps` come on top."""
    if wanted_s <= 0:
        raise InputError(f"the length is {float(wanted_s):g} s, it must be above 0", where="--repeat-for")
    loop_s = facts.seconds
    if not loop_s:
        raise ValueError("the loop's length is not known")
    sound = int(sound_kbps * 125 * loop_s)
    each = sum(facts.frame_bytes) + _INDEX_BYTES * facts.frames + sound
    head = max(facts.size_bytes - sum(facts.frame_bytes), 0)
    wanted = max(1, int(wanted_s / loop_s))
    fitting = max(1, (profile.largest_bytes - head) // each)
    count = min(wanted, fitting)
    return Repeats(count, count * loop_s, fitting < wanted)


Copier = Callable[[Sequence[Path], Path, Sequence[str], Sequence[str]], None]
"""What copies packets from local files to a local file, as `ghostprep.clip.run_copy` does."""


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
    loop, output : Path
        The encoded loop, and where to write; what is there is replaced.
    facts : StreamFacts
        Of the loop.
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
        # without a container the bytes written again are the loop again
        with output.open("wb") as file:
            for _ in range(count):
                with loop.open("rb") as one:
                    shutil.copyfileobj(one, file)
        return
    packs = profile.container == "mpeg-ps"
    arguments = _arguments(profile, facts, sound=sound is not None, laps=count if packs else 1)
    more = [] if sound is None else [sound]
    if not packs:
        run([loop, *more], output, arguments, ("-stream_loop", str(count - 1)))
        return
    # the pictures are taken out of their packs, which carry a clock, and packed anew
    with scratch_folder() as folder:
        bare = folder / "pictures.m1v"
        with bare.open("wb") as file:
            for _ in range(count):
                file.writelines(coded_pictures(loop))
        run([bare, *more], output, arguments, ())


def _arguments(profile: Profile, facts: StreamFacts, *, sound: bool, laps: int) -> tuple[str, ...]:
    """Return ffmpeg's arguments that copy pictures, and code a second input as sound, played `laps` times."""
    arguments: tuple[str, ...] = ("-map", "0:v:0", "-c:v", "copy")
    if facts.rate is not None:
        # times by counting: a container's own clock is too coarse to add up loops with it
        frame = f"{facts.rate.denominator}/{facts.rate.numerator}/TB"
        at = f"round(N*{frame})"
        arguments += ("-bsf:v", f"setts=pts={at}:dts={at}:duration=round({frame})")
    if sound:
        arguments += ("-map", "1:a:0", *sound_arguments(profile, laps=laps))
    return (*arguments, *REPEATABLE, *FORMS[profile.container])
