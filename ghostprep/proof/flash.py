"""Whether the loop flashes in a way that can harm, judged while it repeats.

Two rules of WCAG 2.2, success criterion 2.3.1, and content passes by either: no more than
three general and three red flashes in any one second; or the area that flashes at the
same time stays under 0.006 sr within any 10 degrees of the eye's field.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.finding import Finding
from ghostprep.proof.flash_area import Field, spot_side, spots_of
from ghostprep.proof.flash_states import (
    WCAG,
    Flags,
    GeneralChanges,
    Light,
    RedChanges,
    Threshold,
    bt1702,
    is_red,
    relative_luminance,
)
from ghostprep.transfer import codes_to_light
from ghostprep.verdict import Proof

MOST_TRANSITIONS: Final = 6
"""Three flashes are six transitions; the seventh makes three and a half (W3C technique G19)."""


@dataclass(frozen=True, slots=True)
class FlashCount:
    """The worst second of a loop.

    Attributes
    ----------
    transitions : int
        Most transitions of one spot within one second.
    frame : int
        First frame of the worst second.
    area_sr : float
        Largest area in any 10 degrees of field whose spots make more than six
        transitions in one second; in shares of the raster where no screen size is known.
    limit : float
        What `area_sr` must not exceed.
    """

    transitions: int
    frame: int
    area_sr: float
    limit: float

    @property
    def passed(self) -> bool:
        """Whether either rule holds."""
        return self.transitions <= MOST_TRANSITIONS or self.area_sr <= self.limit

    @property
    def flashes(self) -> float:
        """Flashes a second: pairs of transitions."""
        return self.transitions / 2


class FlashProof:
    """Counts general and red flashes of a looping file.

    Parameters
    ----------
    raster : (int, int)
        Width and height in pixels.
    rate : Fraction
        Frames a second.
    screen_mm : (float, float), optional
        Lit area along the raster's width and height.
    distance_mm : float, optional
        From the eye to the ghost. Without it and `screen_mm` the limit is a quarter of
        the raster, the area rule that BT.1702 has for a displayed screen.
    white_cd_m2 : float, optional
        Luminance of white as the eye sees it; given, BT.1702's luminances are judged too.

    Notes
    -----
    *Window.* One second holds the frames i with (i - first) / rate < 1, open at its
    end: 30 frames at 30 and at 29.97 a second. The loop follows itself without end.

    *Spots.* Pixels are joined, in linear light, into squares of at most 0.1 degrees
    (a finer pattern is exempt), and each spot's transitions are counted on its own.
    """

    def __init__(
        self,
        raster: tuple[int, int],
        rate: Fraction,
        *,
        screen_mm: tuple[float, float] | None = None,
        distance_mm: float | None = None,
        white_cd_m2: float | None = None,
    ) -> None:
        if rate <= 0:
            raise ValueError(f"rate is {rate}, it must be above 0")
        self._raster = raster
        self._rate = rate
        self._side = spot_side(raster, screen_mm, distance_mm)
        self._field = Field(raster, self._side, screen_mm, distance_mm)
        self._white = white_cd_m2
        self._frames: list[npt.NDArray[np.uint16]] = []
        self._counts: dict[str, FlashCount] = {}

    def add(self, frame: npt.NDArray[np.uint8]) -> None:
        """Take in one decoded frame, uint8 RGB (h, w, 3).

        Raises
        ------
        ValueError
            The frame has another size than the raster.
        """
        self.add_light(codes_to_light(frame))

    def add_light(self, light: Light) -> None:
        """Take in one decoded frame in linear light (h, w, 3).

        Raises
        ------
        ValueError
            The frame has another size than the raster.
        """
        if light.shape != (self._raster[1], self._raster[0], 3):
            raise ValueError(f"frame is {light.shape}, the raster is {self._raster}")
        spots = spots_of(light, self._side)
        # 16 bits hold the light within 1/100 of a code, in half the room of floats
        self._frames.append(np.rint(spots.reshape(-1, 3) * 65535).astype(np.uint16))
        self._counts.clear()

    def general(self) -> FlashCount:
        """Return the worst second's general flashes."""
        return self._kept("general", lambda: self._general(WCAG))

    def red(self) -> FlashCount:
        """Return the worst second's red flashes."""

        def start(first: Light) -> Callable[[Light], Flags]:
            return RedChanges(first).step

        return self._kept("red", lambda: self._count(start, self._ever_red()))

    def _kept(self, name: str, count: Callable[[], FlashCount]) -> FlashCount:
        """Return a count, made once for the frames that are in: proofs and findings both ask for it."""
        if name not in self._counts:
            self._counts[name] = count()
        return self._counts[name]

    def _general(self, threshold: Threshold) -> FlashCount:
        def start(first: Light) -> Callable[[Light], Flags]:
            changes = GeneralChanges(threshold, relative_luminance(first))
            return lambda light: changes.step(relative_luminance(light))

        return self._count(start, self._ever_changing(threshold.change))

    def _light(self, spots: npt.NDArray[np.intp] | slice = slice(None)) -> Iterator[Light]:
        for frame in self._frames:
            yield frame[spots].astype(np.float32) / np.float32(65535)

    def _ever_changing(self, change: float) -> npt.NDArray[np.intp]:
        """Return the spots whose luminance changes by so much at all: the others make no transition."""
        low, high = np.full(1, np.inf, np.float32), np.full(1, -np.inf, np.float32)
        for light in self._light():
            here = relative_luminance(light)
            low, high = np.minimum(low, here), np.maximum(high, here)
        return np.flatnonzero(high - low >= change - 1e-6)

    def _ever_red(self) -> npt.NDArray[np.intp]:
        """Return the spots that are a saturated red at any time: the others make no red transition."""
        return np.flatnonzero(
            functools.reduce(np.logical_or, map(is_red, self._light()), np.zeros(1, np.bool_))
        )

    def _count(
        self, start: Callable[[Light], Callable[[Light], Flags]], spots: npt.NDArray[np.intp]
    ) -> FlashCount:
        """Count the transitions of some of the spots, while the others make none."""
        if not len(spots):
            return FlashCount(0, 0, 0.0, self._field.limit)
        step = start(next(self._light(spots)))
        for light in self._light(spots):
            step(light)  # once round, so that the state is that of a loop which has long been running
        made = np.stack([step(light) for light in self._light(spots)])
        return self._worst(made, spots)

    def _worst(self, made: Flags, spots: npt.NDArray[np.intp]) -> FlashCount:
        """Find the worst second of transitions made (frames, spots), cyclically."""
        count = len(made)
        window = math.ceil(self._rate)
        rounds, rest = divmod(window, count)
        running = made.sum(axis=0, dtype=np.int32) * rounds + made[:rest].sum(axis=0, dtype=np.int32)
        most, frame, area = 0, 0, 0.0
        for first in range(count):
            peak = int(running.max())
            here = self._flashing(spots[running > MOST_TRANSITIONS]) if peak > MOST_TRANSITIONS else 0.0
            if (here, peak) > (area, most):
                frame, area = first, here
            most = max(most, peak)
            running = running - made[first] + made[(first + window) % count]
        return FlashCount(most, frame, area, self._field.limit)

    def _flashing(self, spots: npt.NDArray[np.intp]) -> float:
        """Return the largest area within any 10 degrees of which these spots flash."""
        flags = np.zeros(len(self._frames[0]), np.bool_)
        flags[spots] = True
        return self._field.largest(flags)

    def proofs(self) -> list[Proof]:
        """Return ``flash`` and ``red flash``, and ``flash cd/m2`` where white is known: flashes a second."""
        counts = [("flash", self.general()), ("red flash", self.red())]
        if self._white is not None:
            counts.append(("flash cd/m2", self._general(bt1702(self._white))))
        return [
            Proof(
                name, count.flashes, "a second", f"at most 3, or on {self._field.limit_text()}", count.passed
            )
            for name, count in counts
        ]

    def findings(self) -> list[Finding]:
        """Return what to tell the builder; empty if the loop passes."""
        found = []
        for subject, count in (("flash", self.general()), ("red flash", self.red())):
            if not count.passed:
                at = float(count.frame / self._rate)
                found.append(
                    Finding(
                        "fault",
                        subject,
                        f"{count.flashes:g} flashes within the second from {at:.2f} s while looping, on "
                        f"{self._field.area_text(count.area_sr)}; more than 3 on more than "
                        f"{self._field.limit_text()} can cause seizures",
                        "make it again with --calm, or choose another part of the clip",
                    )
                )
        return found
