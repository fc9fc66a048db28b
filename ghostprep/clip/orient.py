"""Between a picture as stored and as it stands upright."""

from __future__ import annotations

from typing import Final

from ghostprep.box import Box

_FILTERS: Final = {
    (False, 0): "",
    (False, 90): "transpose=clock",
    (False, 180): "hflip,vflip",
    (False, 270): "transpose=cclock",
    (True, 0): "hflip",
    (True, 90): "transpose=clock_flip",
    (True, 180): "vflip",
    (True, 270): "transpose=cclock_flip",
}
"""(mirrored left to right first, then turned clockwise by so many degrees): what does it."""


def upright_filter(*, mirrored: bool, rotation: int) -> str:
    """Return the filters that set a stored picture upright; empty if it stands so."""
    return _FILTERS[mirrored, rotation]


def stored_box(box: Box, stored: tuple[int, int], *, mirrored: bool, rotation: int) -> Box:
    """Return where a box of the upright picture lies in the stored one.

    Parameters
    ----------
    box : Box
        In pixels of the upright picture.
    stored : (int, int)
        Width and height of the stored picture.
    mirrored, rotation
        See `upright_filter`.

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
