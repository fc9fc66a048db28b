"""The chain of ffmpeg filters between a decoded frame and the array that we want."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ghostprep.box import Box
from ghostprep.clip.colour import HDR, WIDE, is_yuv, kept, narrow_gamut, reading, tone_map
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.pixels import Pixels, ffmpeg_name

_UPRIGHT: Final = {
    **{(False, 0): [], (False, 90): ["transpose=clock"], (False, 180): ["hflip,vflip"]},
    **{(False, 270): ["transpose=cclock"], (True, 0): ["hflip"], (True, 90): ["transpose=clock_flip"]},
    **{(True, 180): ["vflip"], (True, 270): ["transpose=cclock_flip"]},
}
"""By whether a picture is mirrored left to right, and the degrees by which it is then turned clockwise."""


def chain(facts: ClipFacts, *, pixels: Pixels, size: tuple[int, int], crop: Box | None, pick: str) -> str:
    """Return the filters: deinterlace, pick frames, crop, scale, convert colours, set upright.

    Parameters
    ----------
    size : (int, int)
        Width and height that come out.
    crop : Box or None
        In delivered pixels.
    pick : str
        Expression of the select filter; empty for every frame.

    Notes
    -----
    The turn comes last, when the picture is small: it costs next to nothing there.
    """
    which = "all" if facts.combed else "interlaced"
    parts = [f"bwdif=mode=send_frame:deint={which}"] if facts.interlaced else []
    if pick:
        parts.append(f"select='{pick}'")
    stored = _turned(facts.size, facts)
    box = None
    if crop is not None and crop != Box(0, 0, *facts.size):
        box = stored_box(crop, stored, mirrored=facts.mirrored, rotation=facts.rotation)
    cut = _Cut(facts, stored, box, _turned(size, facts))
    if pixels == "i420":
        parts += cut.parts(kept(facts), "yuv444p")
    elif facts.transfer in HDR:
        parts += [*cut.deep("gbrp12le"), *tone_map(facts)]
    elif facts.alpha != "none":
        parts += cut.with_alpha(pixels)
    elif facts.primaries in WIDE:
        parts += [*cut.deep("gbrp16le"), *narrow_gamut(facts)]
    else:
        parts += cut.plain("gbrp")
    parts.append(f"format={ffmpeg_name(pixels)}")
    return ",".join([*parts, *_UPRIGHT[facts.mirrored, facts.rotation], "setsar=1"])


def stored_box(box: Box, stored: tuple[int, int], *, mirrored: bool, rotation: int) -> Box:
    """Return where a box of the upright picture lies in the stored one.

    Parameters
    ----------
    box : Box
        In pixels of the upright picture.
    stored : (int, int)
        Width and height of the stored picture.
    mirrored, rotation
        Whether it is mirrored left to right to be upright, and the degrees by which it is then turned
        clockwise.

    Examples
    --------
    A picture of 100x50 turned clockwise: what was its bottom left corner is the top left now.

    >>> stored_box(Box(0, 0, 10, 20), (100, 50), mirrored=False, rotation=90)
    Box(x=0, y=40, width=20, height=10)
    """
    width, height = stored
    if rotation == 90:
        turned = Box(box.y, height - box.right, box.height, box.width)
    elif rotation == 180:
        turned = Box(width - box.right, height - box.bottom, box.width, box.height)
    elif rotation == 270:
        turned = Box(width - box.bottom, box.x, box.height, box.width)
    else:
        turned = box
    return turned._replace(x=width - turned.right) if mirrored else turned


@dataclass(frozen=True, slots=True)
class _Cut:
    """Crop and scale in the stored picture, with pixels made square."""

    facts: ClipFacts
    square: tuple[int, int]
    box: Box | None
    size: tuple[int, int]

    @property
    def taken(self) -> tuple[int, int]:
        return (self.box.width, self.box.height) if self.box else self.square

    def plain(self, between: str) -> list[str]:
        # from luma and chroma to RGB by planes: as exact as straight to packed pixels, at half the cost
        planes = [f"format={between}"] if is_yuv(self.facts.pixel_format) else []
        return [*self.parts(reading(self.facts), between), *planes]

    def deep(self, between: str) -> list[str]:
        """Crop and scale into a deep format, for more work on the colours; white is its largest value."""
        return [*self.parts(reading(self.facts), between), f"format={between}", *_white_at_top(between)]

    def with_alpha(self, pixels: Pixels) -> list[str]:
        """Crop and scale; what lies under no coverage must not leak into the figure's rim."""
        straight, coded = self.facts.alpha == "straight", self.facts.coded_size
        resampled = self.taken != self.size or self.square != coded
        if pixels == "rgba" and (not resampled or not straight):
            return self.plain("gbrap")
        # weigh by alpha, resample, divide again
        parts = [_scale(coded, coded, reading(self.facts)), "format=gbrap16le"]
        if straight:
            parts.append("premultiply=inplace=1")
        if self.box is not None:
            if self.square != coded:
                parts.append(_scale(coded, self.square, ""))
            parts.append(_crop(self.box))
        parts.append(_scale(self.taken, self.size, ""))
        if straight and pixels == "rgba":
            parts.append("unpremultiply=inplace=1")
        return parts

    def parts(self, codes: str, between: str) -> list[str]:
        """Crop and scale, codes turned as `codes` says; where need be in the format `between`."""
        coded, box = self.facts.coded_size, self.box
        if box is None:
            return [_scale(coded, self.size, codes)]
        if self.square == coded and _on_samples(self.facts, box):
            return [_crop(box), _scale(self.taken, self.size, codes)]
        # cuts that chroma samples do not allow are made in the format `between`
        if self.square == coded:
            # only the box and what chroma's filter reaches is converted
            outer = _grown_to_samples(box, coded)
            taken = (outer.width, outer.height)
            cut = [_crop(outer), _scale(taken, taken, codes), f"format={between}"]
            cut.append(_crop(Box(box.x - outer.x, box.y - outer.y, box.width, box.height)))
        else:
            cut = [_scale(coded, self.square, codes), f"format={between}", _crop(box)]
        return cut if self.size == self.taken else [*cut, _scale(self.taken, self.size, "")]


def _white_at_top(pixel_format: str) -> list[str]:
    """Return the filter that brings white to the largest value of a deep format.

    The scaler widens 255 to 255 x 2^n, so that white lies a 256th below the top; what comes after it
    takes the top for white.
    """
    bits = int(pixel_format.removeprefix("gbrp").removesuffix("le"))
    white = (255 << (bits - 8)) / ((1 << bits) - 1)
    return [f"colorlevels=rimax={white:.8f}:gimax={white:.8f}:bimax={white:.8f}"]


def _turned(size: tuple[int, int], facts: ClipFacts) -> tuple[int, int]:
    """Return a size of the upright picture as it is in the stored one."""
    return (size[1], size[0]) if facts.rotation % 180 else size


def _on_samples(facts: ClipFacts, box: Box) -> bool:
    """Return whether the box begins and ends between chroma samples."""
    name = facts.pixel_format
    if not is_yuv(name) or "444" in name:
        return True
    step = 4 if "411" in name or "410" in name else 2
    ends = (
        box.right % step == 0 or box.right == facts.coded_size[0],
        box.bottom % step == 0 or box.bottom == facts.coded_size[1],
    )
    return box.x % step == 0 and box.y % step == 0 and all(ends)


def _grown_to_samples(box: Box, picture: tuple[int, int]) -> Box:
    """Return the box with a margin, begun and ended between chroma samples of any format."""
    x, y = max(box.x - 8, 0) // 4 * 4, max(box.y - 8, 0) // 4 * 4
    return Box(x, y, -(-(box.right + 8 - x) // 4) * 4, -(-(box.bottom + 8 - y) // 4) * 4).within(picture)


def _crop(box: Box) -> str:
    return f"crop={box.width}:{box.height}:{box.x}:{box.y}:exact=1"


def _scale(before: tuple[int, int], after: tuple[int, int], codes: str) -> str:
    # far down, the mean over the area is as good as a wide cubic and costs half as much
    far_down = before[0] >= 2 * after[0] and before[1] >= 2 * after[1]
    kernel = "area" if far_down else "bicubic"
    return f"scale={after[0]}:{after[1]}:flags={kernel}+full_chroma_int+accurate_rnd{codes}"
