"""The sound of a stretch of a clip."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

import numpy as np

from ghostprep.arrays import Samples
from ghostprep.clip.child import Child
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.request import jump_to
from ghostprep.errors import InputError, JobError

LONGEST_S: Final = 600
"""Longer stretches are refused: they would not fit the memory that is meant for them."""
_LEAD_S: Final = Fraction(1, 4)
"""Seconds that are decoded before the stretch and thrown away, so that a lossy decoder has settled."""
_JUMP_BACK_S: Final = 2
"""Seconds that a jump is aimed too early: it lands near, and the start must be decoded."""


def read_sound(facts: ClipFacts, start_s: Fraction, stop_s: Fraction, *, rate: int = 48_000) -> Samples:
    """Read the sound of a stretch, exactly as long as the stretch.

    Parameters
    ----------
    start_s, stop_s : Fraction
        Seconds from the clip's first frame.
    rate : int
        Samples a second that come out.

    Returns
    -------
    ndarray of float32 (n, channels)
        ``n = round((stop_s - start_s) * rate)``; one channel where the clip is mono, else two. Silence where
        the clip's sound has ended or not begun.

    Raises
    ------
    InputError
        The clip has no sound, or the stretch is empty or longer than `LONGEST_S`.
    JobError
        It cannot be decoded.
    """
    where = str(facts.path)
    length = stop_s - start_s
    if not facts.sound:
        raise InputError("has no sound", where=where, remedy="leave the sound out")
    if not 0 < length <= LONGEST_S or start_s < 0:
        what = f"a stretch of sound from {float(start_s):g} s to {float(stop_s):g} s cannot be read"
        raise InputError(what, where=where, remedy=f"it must be longer than 0 s and at most {LONGEST_S} s")
    lead = min(_LEAD_S, start_s)
    begin = facts.start + start_s - lead
    # a jump lands near; cutting by the samples' own times makes it exact
    jump = jump_to(max(begin - _JUMP_BACK_S, Fraction(0))) if facts.indexed else ()
    cut = f"atrim=start={float(begin):.6f},asetpts=PTS-{float(begin):.6f}/TB"
    arguments = [
        *("-loglevel", "level+error", "-copyts", *jump),
        *(*facts.input, "-map", "0:a:0", "-vn"),
        *("-af", f"{cut},aresample={rate}:async=1:first_pts=0,apad"),
        *("-ac", str(facts.channels), "-t", f"{float(lead + length):.6f}", "-f", "f32le", "pipe:1"),
    ]
    wanted, skipped = round(length * rate), round(lead * rate)
    samples = np.zeros((skipped + wanted, facts.channels), np.float32)
    with Child(arguments, take=True) as child:
        got = child.read_into(samples.data.cast("B"))
        child.drain()
        if child.finish() != 0 or child.stalled or not got:
            raise JobError("the sound cannot be read", where=where, tool_line=child.reason)
    return samples[skipped:]
