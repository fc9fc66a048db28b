"""Flashes are taken out where that was asked for and is needed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from typing import Final

from ghostprep.clip import FrameStore
from ghostprep.finding import Finding
from ghostprep.picture.calm import calm
from ghostprep.prepare.setup import Setup
from ghostprep.proof.flash import FlashProof

NOT_NEEDED: Final = Finding(
    "note",
    "flash",
    "--calm changed nothing: the loop flashes within the limits by itself",
    "leave --calm out",
)


@contextmanager
def calmed(shown: FrameStore, setup: Setup, rate: Fraction, *, wanted: bool) -> Iterator[FrameStore]:
    """Give frames that pass the flash proof: the same ones where they pass already."""
    if not wanted:
        yield shown
        return
    flash = flash_proof(setup, rate)
    for frame in shown:
        flash.add(frame)
    red = flash.red().passed
    if red and all(proof.passed for proof in flash.proofs()):
        yield shown
        return
    with FrameStore(setup.raster) as still:
        for frame in calm(lambda: iter(shown), rate, red=not red):
            still.append(frame)
        yield still


def flash_proof(setup: Setup, rate: Fraction) -> FlashProof:
    """Return a flash proof for the screen and the eye of the setup."""
    return FlashProof(
        setup.raster,
        rate,
        screen_mm=setup.screen_mm,
        distance_mm=setup.distance_mm,
        white_cd_m2=setup.white_cd_m2,
    )
