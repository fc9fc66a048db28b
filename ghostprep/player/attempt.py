"""One way to encode a loop."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final, Literal, Protocol

from ghostprep.arrays import Frame
from ghostprep.player.guard import Guard


class Pictures(Protocol):
    """A loop's frames in play order, uint8 (h, w, 3), however they are kept."""

    def __len__(self) -> int: ...

    def __getitem__(self, number: int, /) -> Frame: ...


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
    """What is varied from one attempt to the next.

    Attributes
    ----------
    quality : float
        The encoder's own quantiser; lower is better.
    rim : float or None
        Quantiser of the blocks in which figure and black meet; None: as everywhere.
    share : float
        Part of the near black (0..1) that gets `rim`; the blocks that cost most are left out.
    guard : Guard
        How the figure's rim is treated before it is encoded.
    hold : float
        Code up to which a change at the rim is not followed; see `settle`.
    settled : bool
        The frames are what a draft of the same quality decodes to, its black made black again.
    plain : bool
        There is no black around a figure to be kept: the encoder's usual tools are best.
    ceiling : bool
        The encoder itself must stay under the bit rate, at whatever quality.
    """

    quality: float
    rim: float | None = None
    share: float = 1.0
    guard: Guard = _NO_GUARD
    hold: float = 0.0
    settled: bool = False
    plain: bool = False
    ceiling: bool = False

    @property
    def draft(self) -> Setting:
        """The draft that a settled one is made from."""
        return Setting(self.quality, guard=self.guard)


@dataclass(frozen=True, slots=True)
class Attempt:
    """Settings of one encoding, ready to be carried out.

    Attributes
    ----------
    number : int
        From 0.
    setting : Setting
    arguments : tuple of str
        ffmpeg's output arguments for the frames that `prepared` yields.
    pixels : {"rgb24", "i420"}
        Form of the frames that `prepared` yields.
    draft : bool
        The file is no loop to be handed over: those that follow are made from what it decodes to.
    part : (int, int) or None
        First frame, and the one after the last, of the part that is to be encoded, only to learn from it;
        None: all of the loop.
    """

    number: int
    setting: Setting
    arguments: tuple[str, ...]
    pixels: Literal["rgb24", "i420"]
    draft: bool
    part: tuple[int, int] | None
    _prepare: Callable[[Iterable[Frame], Iterable[Frame]], Iterator[Frame]] = field(compare=False, repr=False)

    @property
    def from_draft(self) -> bool:
        """Whether `prepared` needs what the latest draft decodes to."""
        return self.setting.settled

    def prepared(self, frames: Iterable[Frame], drafted: Iterable[Frame] = ()) -> Iterator[Frame]:
        """Yield the frames as the encoder takes them.

        Parameters
        ----------
        frames : iterable of ndarray of uint8 (h, w, 3)
            RGB, full range, 0 outside the figure.
        drafted : iterable of ndarray of uint8 (h * 3 // 2, w), optional
            What the latest draft decodes to, planar 4:2:0; needed where `from_draft` says so.

        Yields
        ------
        ndarray of uint8
            (h, w, 3) for ``rgb24``, (h * 3 // 2, w) for ``i420``.
        """
        return self._prepare(frames, drafted)
