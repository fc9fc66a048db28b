"""Working memory that a keyer uses again for every frame, one set a thread.

Fresh arrays of this size come from the system page by page; that takes longer than the arithmetic.
"""

from __future__ import annotations

import threading

import numpy as np

from ghostprep.picture.key.keyed import Floats


class Scratch(threading.local):
    """Named float32 arrays of one size; what is in them does not outlive the frame."""

    def __init__(self) -> None:
        self._arrays: dict[str, Floats] = {}

    def __call__(self, name: str, *shape: int) -> Floats:
        """Return the array of that name, made at its first use or when its shape changes."""
        array = self._arrays.get(name)
        if array is None or array.shape != shape:
            array = self._arrays[name] = np.empty(shape, np.float32)
        return array
