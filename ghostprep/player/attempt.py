"""One way to encode a loop, and the line of ways that are tried, of falling cost, best first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final, Literal

from ghostprep.arrays import Frame
from ghostprep.player.guard import Guard
from ghostprep.player.profile import Profile

_NO_GUARD: Final = Guard()


@dataclass(frozen=True, slots=True)
class Shape:
    """What is to be encoded: raster (width, height), frames a second, frames."""

    raster: tuple[int, int]
    rate: Fraction
    frames: int

    @property
    def seconds(self) -> Fraction:
        """How long it lasts."""
        return self.frames / self.rate


@dataclass(frozen=True, slots=True)
class Setting:
    """What is varied from one attempt to the next."""

    quality: float  # the encoder's own quantiser; lower is better
    rim: float | None = None  # quantiser of the blocks in which figure and black meet; None: as everywhere
    # part of the near black (0..1) that gets `rim`; the blocks that cost most are left out
    share: float = 1.0
    guard: Guard = _NO_GUARD  # how the figure's rim is treated before it is encoded
    hold: float = 0.0  # code up to which a change at the rim is not followed; see `settle`
    # the frames are what a draft of the same quality decodes to, its black made black again
    settled: bool = False
    plain: bool = False  # there is no black around a figure to be kept: the encoder's usual tools are best
    ceiling: bool = False  # the encoder itself must stay under the bit rate, at whatever quality

    @property
    def draft(self) -> Setting:
        """The draft that a settled one is made from."""
        return Setting(self.quality, guard=self.guard)


@dataclass(frozen=True, slots=True)
class Attempt:
    """Settings of one encoding, ready to be carried out."""

    number: int  # from 0
    setting: Setting
    arguments: tuple[str, ...]  # ffmpeg's output arguments for the frames that `prepared` yields
    pixels: Literal["rgb24", "i420"]  # form of the frames that `prepared` yields
    draft: bool  # the file is no loop to be handed over: those that follow are made from what it decodes to
    # first frame, and the one after the last, of the part that is to be encoded, only to learn from it; None:
    # all of the loop
    part: tuple[int, int] | None
    # from the loop's frames, RGB (h, w, 3), 0 outside the figure, and from what the latest draft decodes to,
    # 4:2:0 (h * 3 // 2, w), which is read only where `from_draft` says so, to the frames the encoder takes
    prepared: Callable[[Iterable[Frame], Iterable[Frame]], Iterator[Frame]] = field(compare=False, repr=False)

    @property
    def from_draft(self) -> bool:
        """Whether `prepared` needs what the latest draft decodes to."""
        return self.setting.settled


@dataclass(frozen=True, slots=True)
class Ladder:
    """Settings of falling cost."""

    rungs: tuple[Setting, ...]  # best first
    # by how much the logarithm of the bits falls from one rung to the next, about; what was measured counts
    # instead as soon as two rungs are known
    fall: float
    kept: int  # last rung on which black beside the figure is kept; on those below it gives way


_KEYED: Final = Guard(floor=8, colour_px=2)
_WHOLE: Final = Guard(colour_px=0)
"""With black around a figure, and without."""
_SCALES: Final = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 24, 28, 31)
"""Quantiser scales of MPEG and JPEG, each about a sixth coarser than the last."""
_FINE_TABLES: Final = (0.25, 0.5, 0.75)
"""JPEG's tables may be finer than scale 1."""
_SHARE: Final = 0.985
"""Part of the near black that is coded finely: the dearest 1.5 % of it costs a tenth of the rim's bits."""


def ladder(profile: Profile, *, keyed: bool, bought: bool = False) -> Ladder:
    """Return the settings to choose from.

    `keyed`: there is black around a figure to be kept black; `bought`: it shall have bits of its own.
    """
    if bought:
        return _black_bought()
    match profile.codec:
        case "h264" | "hevc":
            # the quantiser's step doubles every six (ITU-T H.264, 8.5.9)
            return _all_alike(range(14, 44, 2), fall=0.28, keyed=keyed)
        case "mjpeg":
            return _all_alike((*_FINE_TABLES, *_SCALES), fall=0.2, keyed=keyed)
        case "ffv1":
            return _all_alike((0,), fall=1, keyed=False)
        case _:
            return _all_alike(_SCALES, fall=0.2, keyed=keyed)


def _all_alike(qualities: range | tuple[float, ...], *, fall: float, keyed: bool) -> Ladder:
    guard = _KEYED if keyed else _WHOLE
    rungs = tuple(Setting(quality, guard=guard, plain=not keyed) for quality in qualities)
    return Ladder(rungs, fall, len(rungs) - 1)


def _black_bought() -> Ladder:
    """Return how bits for black are found: what nobody misses goes first.

    First the finest detail in the figure; then that its rim wavers by a part of a pixel, and the hardness of
    the rim over a pixel or two; and only then black: a lost face is seen, a little grey beside it hardly.
    """
    finest = [Setting(quality, rim=0, share=_SHARE, guard=_KEYED) for quality in (12, 14, 16, 18)]
    settled = []
    for quality in range(14, 31):
        fade = max(0.0, (quality - 22) / 4)
        guard = replace(_KEYED, colour_px=2 + 1.5 * fade, fade_px=fade)
        settled.append(replace(finest[0], quality=quality, guard=guard, hold=2 * quality - 28, settled=True))
    greyer = [replace(settled[-1], rim=rim) for rim in (1, 2, 3, 4, 5, 6, 8, 10, 13, 16, 20, 24)]
    return Ladder((*finest, *settled, *greyer), fall=0.08, kept=len(finest) + len(settled) - 1)
