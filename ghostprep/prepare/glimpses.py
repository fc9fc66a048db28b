"""A few frames over the whole clip: from the cache where an earlier run took them, else decoded."""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from pathlib import Path
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.clip import ClipFacts, glance
from ghostprep.prepare.cache import Cache, cache_folder, code_digest

Frame: TypeAlias = npt.NDArray[np.uint8]

KEPT_BYTES: Final = 40_000_000
"""More is not worth the room that it would take in the cache."""


def glimpses_of(facts: ClipFacts, *, longest: int, content: str) -> list[Frame]:
    """Return some frames, evenly over the clip.

    Parameters
    ----------
    facts : ClipFacts
    longest : int
        Their longer side is at most so many pixels.
    content : str
        The clip's SHA-256; empty: nothing is recalled or kept.
    """
    if not content:
        return [glimpse.frame for glimpse in glance(facts, longest=longest)]
    cache = Cache(cache_folder())
    digest = hashlib.sha256(f"glimpses {code_digest()} {content} {longest}".encode()).hexdigest()
    kept = cache.find(digest, _read)
    if kept is not None:
        return list(kept)
    frames = [glimpse.frame for glimpse in glance(facts, longest=longest)]
    if 0 < sum(frame.nbytes for frame in frames) <= KEPT_BYTES:
        with cache.adding(digest) as part:
            if part is not None:
                with part.open("wb") as file:
                    # not packed, since noise does not pack; the archive's sums tell what was spoilt
                    np.savez(file, frames=np.stack(frames))
    return frames


def _read(path: Path) -> npt.NDArray[np.uint8] | None:
    try:
        with np.load(path, allow_pickle=False) as archive:
            frames = archive["frames"]
    except (OSError, EOFError, ValueError, KeyError, zipfile.BadZipFile, zlib.error):
        return None
    return frames if frames.dtype == np.uint8 and frames.ndim == 4 else None
