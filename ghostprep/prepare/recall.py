"""What an earlier run saw in the same clip with the same key, recalled instead of looked for again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from fractions import Fraction

import numpy as np

from ghostprep.clip import ClipFacts
from ghostprep.picture import Key
from ghostprep.prepare.cache import Cache, cache_folder, code_digest
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.sightings import Sightings
from ghostprep.prepare.sightings_file import read_sightings, write_sightings


def digest_of(facts: ClipFacts, key: Key, recipe: Recipe, content: str) -> str | None:
    """Return a digest of all that the sightings in a clip depend on; None where there is none.

    The key goes in as it was learned, not as it was asked for: "auto" that came out as green and
    "green" see the same.
    """
    if not content:
        return None
    digest = hashlib.sha256()
    backing = key.backing
    learned = [getattr(key, part.name) for part in fields(key) if part.name not in ("backing", "remarks")]
    about = (code_digest(), content, facts.size, recipe.start, recipe.end)
    for piece in _pieces([*about, backing.kind, backing.colour, backing.moving_camera, *learned]):
        digest.update(hashlib.sha256(piece).digest())
    return digest.hexdigest()


def recall(digest: str | None) -> Sightings | None:
    """Return what was seen under a digest, None if nothing was."""
    return None if digest is None else Cache(cache_folder()).find(digest, read_sightings)


def remember(digest: str | None, seen: Sightings) -> None:
    """Keep what was seen for a later run, where it can be kept."""
    if digest is None or seen.small is None or seen.damage is not None or not len(seen.small):
        return
    with Cache(cache_folder()).adding(digest) as part:
        if part is not None:
            write_sightings(part, seen)


def _pieces(value: object) -> Iterator[bytes]:
    """Yield the content of a value, part after part; what it cannot read is an error, not passed over."""
    match value:
        case np.ndarray():
            yield f"{value.dtype} {value.shape}".encode()
            yield np.ascontiguousarray(value).tobytes()
        case list() | tuple():
            yield f"{len(value)}".encode()
            for part in value:
                yield from _pieces(part)
        case _ if is_dataclass(value):
            for part in fields(value):
                yield from _pieces(getattr(value, part.name))
        case None | str() | int() | float() | Fraction():
            yield repr(value).encode()
        case _:
            raise TypeError(f"{type(value).__name__} has no digest")
