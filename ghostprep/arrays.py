"""What arrays of pixels are called: one name for each kind."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol, TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt

Frame: TypeAlias = npt.NDArray[np.uint8]
"""sRGB codes (h, w, 3) or (h, w, 4), one channel of them (h, w), or planes of 4:2:0 (h * 3 // 2, w)."""

Figure: TypeAlias = npt.NDArray[np.uint16]
"""A figure (h, w, 3), from the key to its place: sRGB codes of 16 bits, 257 to one of 8.

So faint light that is enlarged, blended and made brighter is rounded to codes of 8 bits once, at the end.
"""

Codes = TypeVar("Codes", Frame, Figure)
"""Either: what comes out has as many bits as what went in."""

Light: TypeAlias = npt.NDArray[np.float32]
"""Linear light, 0..1, (h, w, 3), or its luminance (h, w)."""

Floats: TypeAlias = npt.NDArray[np.float32]
"""Any other numbers: shares, places, codes with their fractions."""

Doubles: TypeAlias = npt.NDArray[np.float64]
"""Numbers of double precision: points, matrices, sums over many pixels."""

Mask: TypeAlias = npt.NDArray[np.bool_]
"""Which pixels (h, w), or which of many things (n,)."""

Samples: TypeAlias = npt.NDArray[np.float32]
"""Sound (n, channels), -1..1."""


class Frames(Protocol):
    """Frames of a loop, in play order, that can be read again and again, however they are kept."""

    def __len__(self) -> int: ...

    def __iter__(self) -> Iterator[Frame]: ...

    def __getitem__(self, place: int, /) -> Frame: ...
