"""What comes after the encoded loop: its repeats and its sound, without a second encoding."""

from __future__ import annotations

import shutil
import wave
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.arrays import Samples
from ghostprep.clip import read_sound, run_copy
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.loop import loop_sound
from ghostprep.player.encode.common import SOUND_KBPS, SOUND_RATE
from ghostprep.player.read import StreamFacts
from ghostprep.player.repeat import plan_repeats, write_repeats
from ghostprep.prepare.ghost import PreparedGhost
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.render import Reel
from ghostprep.prepare.setup import Setup
from ghostprep.scratch import scratch_folder
from ghostprep.words import counted, seconds_words

REPEAT_FOR: Final = "30:00"
"""What is proposed for a player that goes dark at each start: twice an hour is seen by nobody."""

_LEAD_S: Final = 2
"""Sound read before the loop and after it, for the blend."""


def repeat_with_sound(
    once: Path,
    part: Path,
    made: StreamFacts,
    setup: Setup,
    *,
    repeat_for: Fraction | None,
    sound: Samples | None,
) -> tuple[int, tuple[Finding, ...]]:
    """Fill `part` with the loop's packets as often as wanted, and lay the sound under them.

    Parameters
    ----------
    once : Path
        The encoded loop.
    made : StreamFacts
        Of `once`.
    repeat_for : Fraction or None
        Length that the file may reach, seconds; None: the loop once.
    sound : ndarray of float32 (n, channels), or None
        As long as one loop, at `ghostprep.player.encode.common.SOUND_RATE`.

    Returns
    -------
    count : int
        How often the loop stands in the file.
    findings : tuple of Finding
        What to say of that.
    """
    profile = setup.profile
    if sound is None and profile.silence_needed and made.seconds:
        sound = np.zeros((round(made.seconds * SOUND_RATE), 1), np.float32)
    if repeat_for is None and sound is None:
        shutil.copyfile(once, part)
        return 1, ()
    kbps = 0 if sound is None else SOUND_KBPS[profile.sound]
    repeats = plan_repeats(profile, made, repeat_for or made.seconds or Fraction(1), sound_kbps=kbps)
    with scratch_folder() as folder:
        heard = None
        if sound is not None:
            heard = folder / "loop.wav"
            _write_wave(heard, sound)
        write_repeats(once, part, profile, made, repeats.count, run=run_copy, sound=heard)
    if not repeats.capped:
        return repeats.count, ()
    text = (
        f"the file holds {counted(repeats.count, 'repeat')} of the loop, "
        f"{seconds_words(float(repeats.seconds))}: no room for more in the largest file that it takes"
    )
    return repeats.count, (Finding("note", "repeats", text, "the player starts over by itself"),)


def dark_between(reel: Reel, setup: Setup, recipe: Recipe) -> list[Finding]:
    """Say that the player goes dark each time it starts the loop over, where that shows."""
    dark = setup.profile.blank_s
    if not dark or recipe.repeat_for is not None or recipe.join == "fades":
        return []
    every = seconds_words(float(len(reel.frames) / reel.rate))
    return [
        Finding(
            "caution",
            "repeats",
            f"a player such as {setup.profile.name} goes dark for up to {dark:g} s when it starts over, "
            f"here every {every}",
            f"fill the file with repeats of the loop: make it again with --repeat-for {REPEAT_FOR}",
        )
    ]


def sound_of(ghost: PreparedGhost, setup: Setup) -> Samples:
    """Return the loop's sound, cut and joined where the picture is, exactly as long.

    Raises
    ------
    InputError
        The clip has no sound, the player takes none, or the loop runs backwards.
    """
    if setup.profile.sound == "none":
        raise InputError(
            "takes no sound", where=f"player {setup.profile.name}", remedy="leave out --sound keep"
        )
    take, clock = ghost.take, ghost.clock
    plan = take.plan
    lead = max(plan.first - plan.blend - round(_LEAD_S * clock), 0)
    start = ghost.begins + lead / clock
    stop = ghost.begins + (plan.last + 1 + plan.blend) / clock + _LEAD_S
    # a relabelled rate plays a little faster: so must the sound
    heard = read_sound(take.facts, start, stop, rate=round(SOUND_RATE * clock / take.rate))
    shifted = replace(plan, first=plan.first - lead, last=plan.last - lead)
    return loop_sound(heard, SOUND_RATE, shifted, take.rate)


def _write_wave(path: Path, samples: Samples) -> None:
    with path.open("wb") as raw, wave.open(raw, "wb") as file:
        file.setnchannels(samples.shape[1])
        file.setsampwidth(2)
        file.setframerate(SOUND_RATE)
        file.writeframes(np.rint(np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
