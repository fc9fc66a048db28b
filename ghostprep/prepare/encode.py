"""Encodes the raster frames within the player's limits, attempt by attempt."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep.arrays import Frame, Frames
from ghostprep.black import LEAST_NEAR
from ghostprep.clip import ClipFacts, FrameRange, probe, read_frames
from ghostprep.finding import Finding
from ghostprep.heap import give_back
from ghostprep.player import Profile
from ghostprep.player.attempt import Attempt
from ghostprep.player.control import RateControl
from ghostprep.player.measured import measured
from ghostprep.player.read import StreamFacts
from ghostprep.prepare.carry_out import carry_out
from ghostprep.prepare.prove import black_of
from ghostprep.prepare.render import Reel
from ghostprep.prepare.setup import Setup
from ghostprep.progress import Progress
from ghostprep.proof.black import BlackProof

_HALF_RATE: Final = 0.6
"""Bits at half the frame rate, over those at the whole: half the pictures, each farther from the last."""


@dataclass(frozen=True, slots=True)
class Encoded:
    """The file that was kept."""

    facts: StreamFacts
    black: BlackProof | None = None
    """Its black, where the search has measured it."""
    findings: tuple[Finding, ...] = ()


def encode(part: Path, reel: Reel, setup: Setup, progress: Progress) -> Encoded:
    """Write the best file that the profile allows to `part`, which has the container's ending.

    Raises
    ------
    JobError
        The encoder failed, or nothing stays within the limits.
    """
    profile = setup.profile
    give_back()
    control = RateControl(
        profile, setup.raster, reel.rate, len(reel.frames), keyed=reel.keyed, loop=reel.frames
    )
    kept: Encoded | None = None
    tried, draft = (part.with_stem(f"{part.stem}-{name}") for name in ("tried", "draft"))
    ours = _OurFiles()
    attempt: Attempt | None = control.first()
    while attempt is not None:
        path = draft if attempt.draft else tried
        drafted: Iterator[Frame] = iter(())
        with ExitStack() as stack:
            if attempt.from_draft:
                drafted = stack.enter_context(read_frames(ours(draft), pixels="i420"))
            facts = _write(path, attempt, reel, setup, progress, drafted=drafted)
        black = None
        if control.asks_for_black and not attempt.draft:
            black = black_of(ours(path), _shown(attempt, reel), profile)
        near, far = black.shares() if black else (None, None)
        made = measured(
            facts,
            rate_kbps=profile.bits.rate_kbps,
            black_near=near,
            black_far=far,
            loop=len(reel.frames) if attempt.part else None,
        )
        following = control.next(attempt, made)
        if control.is_best(attempt):
            tried.replace(part)
            kept = Encoded(replace(facts, path=part), black)
        attempt = following
    for left in (tried, draft):
        left.unlink(missing_ok=True)
    if kept is None:
        raise control.nothing_fits()
    return replace(kept, findings=_too_few_bits(kept, control.needed_kbps, profile, reel.rate))


class _OurFiles:
    """Says what our own files are: only the first is asked, since all of a search are written alike."""

    def __init__(self) -> None:
        self._first: ClipFacts | None = None

    def __call__(self, path: Path) -> ClipFacts:
        self._first = self._first or probe(path, ours=True)
        return self._first.of_twin(path)


def _too_few_bits(
    kept: Encoded, needed_kbps: float | None, profile: Profile, rate: Fraction
) -> tuple[Finding, ...]:
    """Return what to tell the builder where the player's bit rate was too low for black beside the figure."""
    near = kept.black.shares()[0] if kept.black else 1.0
    taken = profile.bits.rate_kbps
    if near >= LEAST_NEAR or needed_kbps is None or taken is None:
        return ()
    ways = []
    if profile.rate.takes(rate / 2) and needed_kbps * _HALF_RATE <= taken:
        ways.append(f"half the frame rate (--fps {float(rate / 2):g})")
    if taken < needed_kbps:
        ways.append(f"a figure {taken / needed_kbps:.0%} as large")
    ways.append("a --player that takes more")
    return (
        Finding(
            "caution",
            "black",
            f"beside the figure {near:.0%} of the pixels are exactly black and the rest nearly; "
            f"{LEAST_NEAR:.0%} would take about {needed_kbps:.0f} kbit/s, and the player takes {taken}",
            "where that shows in the dark, choose " + ", or ".join(ways),
        ),
    )


def _shown(attempt: Attempt, reel: Reel) -> Frames:
    """Return the frames that an attempt encodes."""
    return reel.frames if attempt.part is None else FrameRange(reel.frames, *attempt.part)


def _write(
    path: Path, attempt: Attempt, reel: Reel, setup: Setup, progress: Progress, *, drafted: Iterator[Frame]
) -> StreamFacts:
    """Carry out an attempt; from what the latest draft decodes to, where it asks for one."""

    def noted() -> Iterator[Frame]:
        shown = _shown(attempt, reel)
        for number, frame in enumerate(shown, 1):
            progress("encode", number, len(shown))
            yield frame

    return carry_out(attempt, path, attempt.prepared(noted(), drafted), raster=setup.raster, rate=reel.rate)
