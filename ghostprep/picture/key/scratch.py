"""Working memory that a keyer uses again for every frame, one set a thread.

Fresh arrays of this size come from the system page by page; that takes longer than the arithmetic.
"""

from __future__ import annotations

import math
import threading

import numpy as np

from ghostprep.arrays import Floats


class Scratch(threading.local):
    """Named float32 arrays; what is in them does not outlive the frame."""

    def __init__(self) -> None:
        self._arrays: dict[str, Floats] = {}

    def __call__(self, name: str, *shape: int) -> Floats:
        """Return the array of that name in this shape; its memory is kept, and grows when it must."""
        count = math.prod(shape)
        array = self._arrays.get(name)
        if array is None or array.size < count:
            array = self._arrays[name] = np.empty(count, np.float32)
        return array[:count].reshape(shape)
