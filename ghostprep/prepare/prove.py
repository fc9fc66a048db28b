"""The finished file is decoded and measured; nothing is believed because we meant it."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Final

from ghostprep.arrays import Frames
from ghostprep.channels import largest_channel
from ghostprep.clip import ClipFacts, probe, read_frames
from ghostprep.finding import Finding
from ghostprep.heap import give_back
from ghostprep.player import Profile
from ghostprep.prepare.render import Reel
from ghostprep.prepare.setup import Setup
from ghostprep.proof.black import BlackProof
from ghostprep.proof.height import HeightProof
from ghostprep.proof.join import DipMeter, JoinMeter
from ghostprep.proof.upright import UprightProof
from ghostprep.verdict import Proof

SOME: Final = 8
"""Frames that are looked at where a few are enough."""


def black_of(facts: ClipFacts, shown: Frames, profile: Profile) -> BlackProof:
    """Decode a file's own codes and hold them against the frames that went in."""
    blocks = profile.codec in {"mjpeg", "mpeg1", "mpeg4"}
    black = BlackProof(full_range=profile.colour.range == "full", blocks=blocks)
    with read_frames(facts, pixels="i420") as stream:
        for planes, frame in zip(stream, shown, strict=False):
            black.add(planes, largest_channel(frame) > 0)
    return black


def spread(count: int) -> list[int]:
    """Return up to `SOME` frame numbers spread over a loop of `count`.

    >>> spread(12)
    [0, 1, 3, 4, 6, 7, 9, 10]
    """
    wanted = min(SOME, count)
    return [n * count // wanted for n in range(wanted)]


def prove(
    path: Path, reel: Reel, setup: Setup, black: BlackProof | None
) -> tuple[list[Proof], list[Finding]]:
    """Decode the file, the reel once, and measure all that is promised of it.

    `black` is this very file's, where it is measured already.
    """
    flash = setup.flash_proof(reel.rate)
    join, dip = JoinMeter(reel.join_steps), DipMeter(reel.blend_frames)
    upright = UprightProof(setup.homography)
    height = None
    if setup.mount is not None:
        # the scene's models take a seventh of the time that all of us take to load
        from ghostprep.scene.lengths import format_length

        length = partial(format_length, units=setup.units)
        height = HeightProof(setup.homography, setup.mount.height_mm, length=length)
    looked_at = set(spread(len(reel.frames)))
    facts = probe(path, ours=True)
    give_back()
    with read_frames(facts) as stream:
        for number, frame in enumerate(stream):
            grey = flash.add(frame)
            join.add_luminance(grey)
            dip.add_luminance(grey)
            if height is not None:
                height.add(frame)
            if number in looked_at and (figure := reel.as_shot(number)) is not None:
                upright.add(frame, figure)
    proofs: list[Proof] = []
    findings: list[Finding] = []
    if reel.keyed and setup.profile.codec != "ffv1":
        black = black or black_of(facts, reel.frames, setup.profile)
        proofs += black.proofs()
        findings += black.findings()
    proofs += [join.proof(), dip.proof(), upright.proof(), *flash.proofs()]
    findings += [*upright.findings(), *flash.findings()]
    if height is not None:
        proofs.append(height.proof())
        findings += height.findings()
    return proofs, findings
