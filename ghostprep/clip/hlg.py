"""From HLG signals to the light that the reference screen shows, as a table that ffmpeg can use.

HLG's last step (its OOTF) weighs a pixel's three channels by that pixel's luminance. ffmpeg's filters
raise each channel by itself, which is right for greys and makes colours too strong by up to 20 codes. So a
table turns HLG into PQ, which states light outright and which they read exactly.

References
----------
Recommendation ITU-R BT.2100-2, tables 4 (PQ) and 5 (HLG).
"""

from __future__ import annotations

import atexit
import contextlib
import functools
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.scratch import scratch_folder

Floats = npt.NDArray[np.float64]

CUBE_NAME: Final = "hlg-to-pq.cube"
_POINTS: Final = 33
"""Grid points a side: in between, codes after tone mapping are off by less than two."""
_SCREEN_CD_M2: Final = 1000.0
_GAMMA: Final = 1.2
_LUMINANCE_2020: Final = (0.2627, 0.6780, 0.0593)


def hlg_to_pq(signal: Floats) -> Floats:
    """Turn HLG signals into PQ signals of the light on a screen of 1000 cd/m2.

    Parameters
    ----------
    signal : ndarray of float, shape (..., 3)
        R', G', B' with BT.2020 primaries, 0..1.

    Returns
    -------
    ndarray of float, same shape
        0..1.
    """
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    high = (np.exp((np.maximum(signal, 0.5) - c) / a) + b) / 12
    scene = np.where(signal <= 0.5, signal * signal / 3, high)
    luminance = np.maximum(scene @ np.array(_LUMINANCE_2020), 1e-12)[..., None]
    shown = _SCREEN_CD_M2 * scene * luminance ** (_GAMMA - 1)
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    root = (shown / 10_000) ** m1
    signals: Floats = ((c1 + c2 * root) / (1 + c3 * root)) ** m2
    return signals


@functools.cache
def cube_folder() -> Path:
    """Return a temporary folder that holds the table as `CUBE_NAME`; it goes when we end."""
    kept = contextlib.ExitStack()
    atexit.register(kept.close)
    folder = kept.enter_context(scratch_folder())
    grid = np.linspace(0, 1, _POINTS)
    blue, green, red = np.meshgrid(grid, grid, grid, indexing="ij")  # red changes fastest in such files
    table = hlg_to_pq(np.stack([red, green, blue], axis=-1)).reshape(-1, 3)
    rows = "\n".join(f"{r:.5f} {g:.5f} {b:.5f}" for r, g, b in table.tolist())
    (folder / CUBE_NAME).write_text(f"LUT_3D_SIZE {_POINTS}\n{rows}\n", encoding="ascii")
    return folder
