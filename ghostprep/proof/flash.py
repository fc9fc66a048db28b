"""Whether the loop flashes in a way that can harm, judged while it repeats.

Two rules of WCAG 2.2, success criterion 2.3.1, and content passes by either: no more than
three general and three red flashes in any one second; or the area that flashes at the
same time stays under 0.006 sr within any 10 degrees of the eye's field.
"""

from __future__ import annotations

import copy
import functools
import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Figure, Frame, Light
from ghostprep.channels import largest_channel
from ghostprep.finding import Finding
from ghostprep.proof.flash_area import Field, SeenScreen, luminance_and_spots, spot_side
from ghostprep.proof.flash_states import WCAG, Changes, GeneralChanges, OlderRedChanges, RedChanges, bt1702
from ghostprep.verdict import Proof

_KEPT_BYTES: Final = 32_000_000
"""Bytes of the file's beginning, a second to half a minute, that are gone through again after its end."""
MOST_TRANSITIONS: Final = 6
"""Three flashes are six transitions; the seventh makes three and a half (W3C technique G19)."""


@dataclass(frozen=True, slots=True)
class FlashCount:
    """The worst second of a loop."""

    transitions: int  # most transitions of one spot within one second
    frame: int  # first frame of the worst second
    # largest area in any 10 degrees of field whose spots make more than six transitions in one second; in
    # shares of the raster where no screen size is known
    area_sr: float
    limit: float  # what `area_sr` must not exceed

    @property
    def passed(self) -> bool:
        """Whether either rule holds."""
        return self.transitions <= MOST_TRANSITIONS or self.area_sr <= self.limit

    @property
    def flashes(self) -> float:
        """Flashes a second: pairs of transitions."""
        return self.transitions / 2


class _Counter:
    """Counts one kind of transitions in the second (`window` frames) that ends with each frame."""

    def __init__(self, start: Callable[[Light], Changes], window: int, field: Field) -> None:
        self._start = start
        self._window = window
        self._field = field
        self._changes = start(np.zeros((0, 3), np.float32))
        self._made: deque[npt.NDArray[np.uint8]] = deque()  # eight spots a byte
        self._running = np.zeros(0, np.int16)
        self.worst = FlashCount(0, 0, 0.0, field.limit)

    def extend(self, first: Light) -> None:
        """Follow more spots, which have been as in the first frame up to now."""
        self._changes.extend(self._start(first))
        self._running = np.concatenate([self._running, np.zeros(len(first), np.int16)])

    def take(self, light: Light, spots: npt.NDArray[np.intp], first: int | None) -> None:
        """Take in the next frame: linear RGB (followed, 3) of these spots; it ends a second from `first` on.

        Where that is None the second is not judged.
        """
        made = self._changes.step(light)
        self._running += made
        self._made.append(np.packbits(made))
        if len(self._made) > self._window:
            # fewer spots may have been followed then
            old = np.unpackbits(self._made.popleft())[: len(self._running)]
            self._running[: len(old)] -= old
        peak = int(self._running.max(initial=0))
        if first is None or peak == 0:
            return
        worst, area = self.worst, 0.0
        if peak > MOST_TRANSITIONS:
            area = self._field.largest(spots[self._running > MOST_TRANSITIONS], above=worst.area_sr)
        frame = first if (area, peak) > (worst.area_sr, worst.transitions) else worst.frame
        self.worst = FlashCount(
            max(peak, worst.transitions), frame, max(area, worst.area_sr), self._field.limit
        )


class FlashProof:
    """Counts general and red flashes of a looping file.

    Parameters
    ----------
    screen : SeenScreen, optional
        Given, BT.1702's luminances are judged too. Without it the limit is a quarter of the raster, the area
        rule that BT.1702 has for a displayed screen.

    Notes
    -----
    *Window.* One second holds the frames i with (i - first) / rate < 1, open at its
    end: 30 frames at 30 and at 29.97 a second. The loop follows itself without end.

    *Spots.* Pixels are joined, in linear light, into squares of at most 0.1 degrees
    (a finer pattern is exempt), and each spot's transitions are counted on its own.

    *Memory.* The file's beginning is kept, at least a second of it, and seen again after the end.
    A file that is kept whole is judged as one that has long been running. In a longer one, a spot that
    stands still through all of the beginning may have its first change after that counted once too often.

    *Red.* Each rule is counted by itself, and the worse of the two is told.
    """

    def __init__(self, raster: tuple[int, int], rate: Fraction, screen: SeenScreen | None = None) -> None:
        if rate <= 0:
            raise ValueError(f"rate is {rate}, it must be above 0")
        self._raster = raster
        self._rate = rate
        self._side = spot_side(raster, screen)
        self._field = Field(raster, self._side, screen)
        rules: dict[str, Callable[[Light], Changes]] = {
            "general": functools.partial(GeneralChanges, WCAG),
            "red": RedChanges,
            "older red": OlderRedChanges,
        }
        if screen is not None:
            rules["cd/m2"] = functools.partial(GeneralChanges, bt1702(screen.white_cd_m2))
        self._window = math.ceil(rate)
        self._counters = {name: _Counter(start, self._window, self._field) for name, start in rules.items()}
        self._followed = np.zeros(0, np.intp)
        self._first = np.zeros((0, 3), np.uint16)
        self._beginning: list[npt.NDArray[np.uint16]] = []  # of the spots that were followed by then
        self._still = np.ones(0, np.bool_)
        self._kept = 0
        self._count = 0
        self._found: dict[str, FlashCount] = {}

    def add(self, frame: Frame | Figure) -> Light:
        """Take in one frame, RGB codes (h, w, 3), and return its luminance (h, w) in linear light."""
        if frame.shape != (self._raster[1], self._raster[0], 3):
            raise ValueError(f"frame is {frame.shape}, the raster is {self._raster}")
        grey, means = luminance_and_spots(frame, self._side)
        # 16 bits hold the light within 1/100 of a code, in half the room of floats
        spots = np.asarray(cv2.addWeighted(means, 65535, means, 0, 0, dtype=cv2.CV_16U), np.uint16)
        spots = spots.reshape(-1, 3)
        if not self._count:
            self._kept = max(self._window, _KEPT_BYTES // spots.nbytes)
            self._still = np.ones(len(spots), np.bool_)
            self._first = spots
        # what has not changed yet has made no transition, and most of a ghost's picture is black for ever
        apart = np.asarray(cv2.absdiff(spots, self._first), np.uint16)
        moved = np.flatnonzero(self._still & (largest_channel(apart[None])[0] > 0))
        if len(moved):
            self._still[moved] = False
            self._followed = np.concatenate([self._followed, moved])
            for counter in self._counters.values():
                counter.extend(_floats(self._first[moved]))
        followed = np.take(spots, self._followed, axis=0)
        early = self._count < self._kept
        if early:
            self._beginning.append(followed)
        # the seconds of the beginning are judged once it is known what goes before them
        self._take(self._counters, followed, None if early else self._count - self._window + 1)
        self._count += 1
        self._found.clear()
        return grey

    def _take(
        self, counters: dict[str, _Counter], followed: npt.NDArray[np.uint16], first: int | None
    ) -> None:
        light = _floats(followed)
        for counter in counters.values():
            counter.take(light, self._followed, first)

    def general(self) -> FlashCount:
        """Return the worst second's general flashes."""
        return self._worst()["general"]

    def red(self) -> FlashCount:
        """Return the worst second's red flashes, by the rule that finds more."""
        found = self._worst()
        return max(found["red"], found["older red"], key=lambda count: (count.area_sr, count.transitions))

    def _worst(self) -> dict[str, FlashCount]:
        """Return each rule's worst second, the loop's beginning seen as what follows its end."""
        if self._found:
            return self._found
        counters = copy.deepcopy(self._counters)  # so that more frames may follow
        count, window = self._count, self._window
        # a file that was kept whole is gone through a second time, and its seconds judged in that; of a
        # longer one, only those of the beginning are left to judge
        unjudged, more = (window - 1, window - 1 + count) if count <= self._kept else (0, self._kept)
        for i in range(more):
            first = None if i < unjudged else (i - window + 1) % count
            early = self._beginning[i % count]
            # spots that changed later were as in the first frame
            late = np.take(self._first, self._followed[len(early) :], axis=0)
            self._take(counters, np.concatenate([early, late]), first)
        self._found = {name: counter.worst for name, counter in counters.items()}
        return self._found

    def _counts(self) -> dict[str, FlashCount]:
        """Return ``flash``, ``red flash`` and, of a known screen, ``flash cd/m2``."""
        counts = {"flash": self.general(), "red flash": self.red()}
        if "cd/m2" in self._counters:
            counts["flash cd/m2"] = self._worst()["cd/m2"]
        return counts

    def proofs(self) -> list[Proof]:
        """Return a proof of each kind of flashes, in flashes a second."""
        limit = f"at most 3, or on {self._field.limit_text()}"
        return [
            Proof(name, count.flashes, "a second", limit, count.passed)
            for name, count in self._counts().items()
        ]

    def passed(self) -> bool:
        """Return whether every proof passes."""
        return all(proof.passed for proof in self.proofs())

    def findings(self) -> list[Finding]:
        """Return what to tell the builder; empty if the loop passes."""
        failed = {name: count for name, count in self._counts().items() if not count.passed}
        if "flash" in failed:
            failed.pop("flash cd/m2", None)  # the same flashes by another measure
        return [
            Finding(
                "fault",
                name.removesuffix(" cd/m2"),
                f"{count.flashes:g} flashes within the second from {float(count.frame / self._rate):.2f} s "
                f"while looping{', by the luminances of ITU-R BT.1702' if name == 'flash cd/m2' else ''}, on "
                f"{self._field.area_text(count.area_sr)}; more than 3 on more than "
                f"{self._field.limit_text()} can cause seizures",
                "make it again with --calm, or choose another part of the clip",
            )
            for name, count in failed.items()
        ]


def _floats(spots: npt.NDArray[np.uint16]) -> Light:
    light = spots.astype(np.float32)
    light /= np.float32(65535)
    return light
