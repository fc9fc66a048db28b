"""What is remembered of every frame while the clip flows past."""

from __future__ import annotations

import tempfile
import weakref
from typing import IO, Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Frame, Light
from ghostprep.loop.thumbnail import COLOUR, THUMBNAIL, shrink, thumbnail
from ghostprep.scratch import no_temporaries
from ghostprep.transfer import codes_to_light, luminance

VECTOR: Final = THUMBNAIL[0] * THUMBNAIL[1] + 2 * COLOUR[0] * COLOUR[1]
"""Numbers in a thumbnail."""
_ROW_BYTES: Final = VECTOR * 2
"""Of a thumbnail: two a number."""
_CHUNK: Final = 1024
"""Thumbnails that are held in memory: 1.3 MB."""


class ThumbnailStrip:
    """The clip's figure as thumbnails in order, with a few numbers a frame.

    Add every keyed frame once, in order. The last 1,024 thumbnails at most are held in memory, earlier ones
    in an unnamed temporary file, so that an hour of film takes little more memory than a minute.
    """

    def __init__(self) -> None:
        self._recent: list[npt.NDArray[np.float16]] = []
        self._file: IO[bytes] | None = None
        self._filed = 0
        self._steps: list[float] = []
        self._brightness: list[float] = []
        self._sharpness: list[float] = []
        self._jerks: list[float] = []
        self._before: Light | None = None
        self._change: Light | None = None

    def __len__(self) -> int:
        return self._filed + len(self._recent)

    def add(self, figure: Frame) -> None:
        """Remember the next frame (h, w, 3), premultiplied on black.

        All frames of a strip have one size; about 160 pixels on the longer side is enough, larger ones are
        shrunk.
        """
        light = codes_to_light(shrink(figure))
        grey = luminance(light)
        if self._before is not None:
            if grey.shape != self._before.shape:
                raise ValueError(
                    f"a frame of shape {grey.shape} follows frames of shape {self._before.shape}"
                )
            change = grey - self._before
            self._steps.append(rms(change))
            if self._change is not None:
                self._jerks.append(rms(change - self._change))
            self._change = change
        self._before = grey
        self._brightness.append(float(grey.mean()))
        self._sharpness.append(sharpness(grey))
        self._recent.append(thumbnail(light).astype(np.float16))
        if len(self._recent) == _CHUNK:
            self._put_away()

    def _put_away(self) -> None:
        try:
            if self._file is None:
                self._file = tempfile.TemporaryFile(prefix="ghostprep-")  # noqa: SIM115 - see the next line
                weakref.finalize(self, self._file.close)
            self._file.seek(self._filed * _ROW_BYTES)
            self._file.write(np.stack(self._recent).data)
            self._file.flush()
        except OSError as error:
            raise no_temporaries(error) from error
        self._filed += len(self._recent)
        self._recent.clear()

    def packed(self) -> tuple[npt.NDArray[np.generic], ...]:
        """Return all that the strip tells, as arrays of 1.3 KB a frame together."""
        vectors = self.vectors(0, len(self)).astype(np.float16)
        return vectors, self.steps, self.jerks, self.brightness, self.sharpness

    @classmethod
    def unpacked(cls, vectors: npt.NDArray[np.float16], *numbers: Light) -> ThumbnailStrip:
        """Return the strip that `packed` told of; it takes no more frames."""
        strip = cls()
        strip._steps, strip._jerks, strip._brightness, strip._sharpness = (one.tolist() for one in numbers)
        for begin in range(0, len(vectors), _CHUNK):
            strip._recent = list(vectors[begin : begin + _CHUNK])
            if len(strip._recent) == _CHUNK:
                strip._put_away()
        return strip

    def vectors(self, start: int, stop: int) -> Light:
        """Return the thumbnails (stop - start, 640) of frames `start` to `stop` - 1."""
        if not 0 <= start <= stop <= len(self):
            raise IndexError(f"frames {start} to {stop} are not all among the {len(self)} of this strip")
        parts: list[npt.NDArray[np.float16]] = []
        if self._file is not None and start < self._filed:
            upto = min(stop, self._filed)
            self._file.seek(start * _ROW_BYTES)
            raw = self._file.read((upto - start) * _ROW_BYTES)
            parts.append(np.frombuffer(raw, np.float16).reshape(-1, VECTOR))
        if stop > self._filed:
            held = self._recent[max(start - self._filed, 0) : stop - self._filed]
            if held:
                parts.append(np.stack(held))
        if not parts:
            return np.empty((0, VECTOR), np.float32)
        return np.concatenate(parts).astype(np.float32)

    @property
    def steps(self) -> Light:
        """RMS steps (len - 1,) between neighbours: luminance in linear light, at the working size."""
        return np.asarray(self._steps, np.float32)

    @property
    def jerks(self) -> Light:
        """RMS second differences (len - 2,) of neighbours, measured like `steps`."""
        return np.asarray(self._jerks, np.float32)

    @property
    def brightness(self) -> Light:
        """Mean luminance (len,) of each frame, 0..1."""
        return np.asarray(self._brightness, np.float32)

    @property
    def sharpness(self) -> Light:
        """Mean gradient magnitude (len,) of each frame's luminance."""
        return np.asarray(self._sharpness, np.float32)


def rms(difference: Light) -> float:
    """Return the root of the mean square of `difference`, any shape."""
    # summed in double precision
    return float(cv2.norm(difference) / np.sqrt(difference.size))


def sharpness(grey: Light) -> float:
    """Return the mean gradient magnitude of `grey` (h, w), in light a pixel."""
    across = cv2.Sobel(grey, cv2.CV_32F, 1, 0, ksize=1)
    down = cv2.Sobel(grey, cv2.CV_32F, 0, 1, ksize=1)
    return float(np.mean(cv2.magnitude(across, down))) / 2
