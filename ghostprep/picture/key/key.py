"""What was learned about a clip's backing, ready to be used at any crop and size."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field, fields, is_dataclass

import cv2
import numpy as np

from ghostprep.arrays import Floats
from ghostprep.box import Box
from ghostprep.finding import Finding
from ghostprep.picture.key.backing import Backing
from ghostprep.picture.key.black import BlackKeyer
from ghostprep.picture.key.chroma import ChromaKeyer
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.difference import DifferenceKeyer
from ghostprep.picture.key.hue import HueAxis, like
from ghostprep.picture.key.keyed import Keyer, as_bytes, floats, to_codes
from ghostprep.picture.key.marks import Gauge, MarklessKeyer, Marks
from ghostprep.picture.key.outside import Outside, OutsideCut
from ghostprep.picture.key.palette import Palette
from ghostprep.picture.key.plain import AlphaKeyer, FillingKeyer, OpenKeyer
from ghostprep.picture.key.plate import cut_to
from ghostprep.picture.key.rough import RoughChromaKeyer, RoughPlateKeyer
from ghostprep.picture.key.swatch import Swatch


@dataclass(frozen=True, eq=False)
class Key:
    """What was learned about a clip's backing."""

    backing: Backing
    plate: Floats | None = None
    """The backing over the whole source frame, R'G'B' codes."""
    noise: Floats | None = None
    """Sigma of the frames around the plate at each place, codes."""
    outside: Outside | None = None
    """What lies beside a backing that does not fill the frame."""
    premultiplied: bool = False
    """Whether the clip's alpha was multiplied into its colour already."""
    glare: float = 0.0
    """Share of the backing's light that the lens scattered over the whole picture; see `find_glare`."""
    palette: Palette | None = None
    """The figure's hues before a coloured backing, among amounts of the backing's mix."""
    cloths: tuple[Swatch, ...] = ()
    """What those hues were seen as, the largest first."""
    marks: Marks | None = None
    """Small things fixed to the backing, before which the camera moves."""
    fill: tuple[int, int, int] | None = None
    """Codes of the colour in whose light the figure's shape is painted."""
    toe: float = 0.0
    body: bool = False
    """On black: as in `BlackKeyer`."""
    remarks: tuple[Finding, ...] = field(default=())

    def at(self, crop: Box | None, source_size: tuple[int, int], size: tuple[int, int]) -> Keyer:
        """Return the keyer for frames cropped and scaled by the decoder.

        Parameters
        ----------
        crop : Box or None
            In pixels of the source frame; None for the whole frame.
        source_size, size : tuple of int
            (width, height) of the source frame and of the delivered frames.

        Returns
        -------
        Keyer
            Safe to call from several threads.
        """
        keyer = self._keyer(crop, source_size, size)
        return keyer if self.fill is None else FillingKeyer(keyer, self.fill)

    def _keyer(self, crop: Box | None, source_size: tuple[int, int], size: tuple[int, int]) -> Keyer:
        if self.backing.kind == "alpha":
            return AlphaKeyer(self.premultiplied)
        if self.plate is None:
            return OpenKeyer()
        plate = cut_to(self.plate, crop, source_size, size)
        if self.backing.kind == "black":
            return BlackKeyer(plate, self.toe, self.body, self.backing.mix != "codes", self.fill is not None)
        if self.noise is not None and self.backing.kind in ("white", "plate"):
            mix = Curve(self.backing.mix) if self.backing.kind == "plate" else None
            return DifferenceKeyer.of(plate, cut_to(self.noise, crop, source_size, size), mix)
        if self.palette is None:
            raise ValueError("a key before a colour needs the figure's hues")
        curve = Curve(self.backing.mix)
        colour = _middle_of(self.plate)
        axis = hue_among_amounts(colour, curve)
        beside = self._beside(colour, crop, source_size, size)
        wanders = self.backing.moving_camera
        keyer = ChromaKeyer.of(
            to_codes(plate),
            axis,
            curve,
            self.palette,
            wanders=wanders,
            beside=beside,
            glare=self.glare,
            scale=size[0] / (crop.width if crop else source_size[0]),
        )
        if self.marks is None:
            return keyer
        return MarklessKeyer(keyer, self.marks, Gauge.of(crop, source_size, size))

    def rough(self, source_size: tuple[int, int], size: tuple[int, int]) -> Keyer:
        """Return a keyer for small whole frames that takes well under a millisecond, and is only about right.

        Parameters
        ----------
        source_size, size : tuple of int
            (width, height) of the source frame and of the delivered frames.

        Returns
        -------
        Keyer
            For boxes, brightness and thumbnails; what is shown needs `at`.
        """
        keyer = self._rough_keyer(source_size, size)
        return keyer if self.fill is None else FillingKeyer(keyer, self.fill)

    def _rough_keyer(self, source_size: tuple[int, int], size: tuple[int, int]) -> Keyer:
        kind = self.backing.kind
        if self.plate is None or self.marks is not None or kind in ("alpha", "black"):
            return self._keyer(None, source_size, size)
        plate = cut_to(self.plate, None, source_size, size)
        if self.noise is not None and kind in ("white", "plate"):
            return RoughPlateKeyer.of(plate, cut_to(self.noise, None, source_size, size))
        colour = _middle_of(self.plate)
        if self.backing.moving_camera:
            # no place of the backing stays where it was: its middle colour has to do
            plate = floats(np.broadcast_to(colour, plate.shape))
        return RoughChromaKeyer.of(plate, self._beside(colour, None, source_size, size))

    def digest(self) -> str:
        """Return a digest of all that decides how a frame is keyed, in hex."""
        digest = hashlib.sha256()
        _tell(self, digest.update)
        return digest.hexdigest()

    def _beside(
        self, colour: Floats, crop: Box | None, source_size: tuple[int, int], size: tuple[int, int]
    ) -> OutsideCut | None:
        if self.outside is None:
            return None
        # the outline lies well within the backing: treat everything except a thin border as backing
        cloth = as_bytes(like(self.outside.plate, colour).astype(np.uint8))
        cloth = as_bytes(cv2.erode(cloth, np.ones((5, 5), np.uint8), borderValue=1))
        mask = cut_to(floats(np.where(cloth > 0, 0, self.outside.mask)), crop, source_size, size)
        if float(mask.max()) < 0.5:
            return None
        plate = to_codes(cut_to(self.outside.plate, crop, source_size, size))
        noise = cut_to(self.outside.noise, crop, source_size, size)
        return OutsideCut.of(mask, plate, floats(np.maximum(noise, 1)), colour)


def _middle_of(plate: Floats) -> Floats:
    """Return the mean colour (3,) of a plate (h, w, 3), codes."""
    return floats(plate.mean((0, 1)))


def hue_among_amounts(colour: Floats, curve: Curve) -> HueAxis:
    """Return the axis of a backing of R'G'B' codes (3,) among amounts of a mix."""
    return HueAxis.of(curve.amounts(to_codes(colour[None, None]))[0, 0])


def _tell(thing: object, take: Callable[[bytes], None]) -> None:
    """Give away what a value consists of, arrays byte for byte."""
    if isinstance(thing, np.ndarray):
        take(f"{thing.dtype}{thing.shape}".encode())
        take(np.ascontiguousarray(thing).tobytes())
    elif is_dataclass(thing):
        for part in fields(thing):
            take(part.name.encode())
            _tell(getattr(thing, part.name), take)
    elif isinstance(thing, tuple):
        for one in thing:
            _tell(one, take)
    else:
        take(repr(thing).encode())
