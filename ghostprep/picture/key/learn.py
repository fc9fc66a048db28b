"""From glimpses to a key, from a key to the keyer of one crop and size."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.picture.key.backing import Backing
from ghostprep.picture.key.chroma import ChromaKeyer
from ghostprep.picture.key.dark import DarkKeyer
from ghostprep.picture.key.detect import as_hex, commonest_hue, detect, name_of, near_hue
from ghostprep.picture.key.difference import DifferenceKeyer
from ghostprep.picture.key.hue import HueAxis
from ghostprep.picture.key.keyed import Bytes, Floats, Keyer, floats
from ghostprep.picture.key.plain import AlphaKeyer, OpenKeyer
from ghostprep.picture.key.plate import cut_to, learn_plate

TOLD = ("auto", "green", "blue", "black", "white", "plate", "alpha", "none")


@dataclass(frozen=True, eq=False)
class Key:
    """What was learned about a clip's backing.

    Attributes
    ----------
    backing : Backing
    plate : ndarray of float32 (h, w, 3) or None
        The backing over the whole source frame, R'G'B' codes.
    premultiplied : bool
        For alpha only.
    """

    backing: Backing
    plate: Floats | None = None
    premultiplied: bool = False

    def at(self, crop: Box | None, source_size: tuple[int, int], size: tuple[int, int]) -> Keyer:
        """Return the keyer for frames cropped and scaled by the decoder.

        Parameters
        ----------
        crop : Box or None
            In pixels of the source frame.
        source_size, size : tuple of int
            (width, height) of the source frame and of the delivered frames.
        """
        if self.backing.kind == "alpha":
            return AlphaKeyer(self.premultiplied)
        if self.plate is None:
            return OpenKeyer()
        plate = cut_to(self.plate, crop, source_size, size)
        if self.backing.kind == "black":
            return DarkKeyer(plate, 5.0)
        if self.backing.kind in ("plate", "white"):
            return DifferenceKeyer(plate, 4.0)
        return ChromaKeyer(plate, HueAxis.of(self.plate.mean((0, 1))))

    def findings(self) -> list[Finding]:
        """Return what the builder should know about the backing."""
        if self.backing.confidence >= 0.6:
            return []
        return [
            Finding(
                "caution",
                "backing",
                f"the backing is not certain ({self.backing.reason}); {self.backing.kind} was taken",
                "name it with --backing, or give --plate a picture of it without the figure",
            )
        ]


def learn_key(
    glimpses: Sequence[Bytes],
    *,
    kind: str = "auto",
    plate: Bytes | None = None,
    alpha: str = "none",
) -> Key:
    """Learn the backing from frames over the whole clip.

    Parameters
    ----------
    glimpses : sequence of uint8 (h, w, 3) or (h, w, 4)
        Whole frames of one size.
    kind : str
        ``auto``, a kind, or ``#rrggbb``.
    plate : ndarray of uint8 (h, w, 3), optional
        A picture of the backing alone, any size; it shows the whole frame.
    alpha : {"none", "straight", "premultiplied"}
        What the clip's own alpha is.

    Raises
    ------
    InputError
        The kind is unknown, or asks for what the clip does not have.
    """
    told = _told_colour(kind)
    frames = np.stack([g[..., :3] for g in glimpses])
    if kind == "alpha" or (kind == "auto" and alpha != "none"):
        if alpha == "none":
            raise InputError(
                "the clip has no alpha", where="--backing alpha", remedy="choose another backing"
            )
        return Key(Backing("alpha", None, 1.0, "the clip has alpha"), None, alpha == "premultiplied")
    if plate is not None or kind == "plate":
        if plate is None:
            return Key(Backing("plate", None, 1.0, "as told"), floats(np.median(frames, axis=0)))
        return Key(Backing("plate", None, 1.0, "a clean plate was given"), floats(plate[..., :3]))
    if kind == "none":
        return Key(Backing("none", None, 1.0, "as told"))
    small = np.stack([cv2.resize(f, (160, 90), interpolation=cv2.INTER_AREA) for f in frames])
    backing = detect(small)
    colour = told
    if kind in ("green", "blue") and backing.kind != kind:
        pure = np.array({"green": (0, 180, 60), "blue": (30, 60, 200)}[kind], np.float32)
        hue = commonest_hue(small[near_hue(small, pure)][None, None])
        colour = pure if hue is None else hue
    if colour is not None:
        share = float(near_hue(small, colour).mean())
        backing = Backing(name_of(colour), as_hex(colour), 1.0, "as told", share)
    elif kind not in ("auto", backing.kind):
        backing = Backing(kind, None, 1.0, "as told")  # type: ignore[arg-type]
    if backing.kind in ("green", "blue", "colour") and backing.colour:
        middle = np.array([int(backing.colour[i : i + 2], 16) for i in (1, 3, 5)], np.float32)
        empty = near_hue(frames, middle)
        ring = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9))
        empty = np.stack([cv2.erode(e.astype(np.uint8), ring) for e in empty]).astype(bool)
        return Key(backing, learn_plate(frames, empty, blur=4)[0])
    if backing.kind == "black":
        floor = floats(np.percentile(frames, 50, axis=0))
        return Key(backing, floats(cv2.GaussianBlur(floor, (0, 0), 6)))
    if backing.kind == "white":
        return Key(backing, floats(np.percentile(frames, 80, axis=0)))
    return Key(backing)


def _told_colour(kind: str) -> npt.NDArray[np.float32] | None:
    if re.fullmatch(r"#[0-9a-fA-F]{6}", kind):
        return np.array([int(kind[i : i + 2], 16) for i in (1, 3, 5)], np.float32)
    if kind not in TOLD:
        raise InputError(
            f"unknown backing {kind!r}", where="--backing", remedy=f"use one of {', '.join(TOLD)} or #rrggbb"
        )
    return None
