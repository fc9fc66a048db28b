"""The holder: a tray that the player slides into, with a card before it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Panel
from ghostprep.optics.solids import Block, player_block
from ghostprep.optics.vectors import AXES, vector
from ghostprep.scene import Scene

_CARD_MM: Final = 0.5
"""Thickness of the card before the player, with the window for its lit area. Common practice, no source."""
_STRIPS: Final = ("right", "left", "top", "bottom")
"""The holder's sides by the picture on the screen, in the order of `HolderFit.strips`."""


@dataclass(frozen=True, slots=True, eq=False)
class HolderFit:
    """The holder: a tray of strips that the player slides into, a card with a window before it.

    All sizes are along the raster's width and height and across them, mm.
    """

    inner: tuple[float, float, float]
    """Room for the player with its slack."""
    window: tuple[float, float]
    """Hole in the card before the lit area."""
    sheet: float
    strips: tuple[bool, bool, bool, bool]
    """Whether a strip stands at the picture's right, left, top and bottom; the player slides out at the side
    that has none."""
    back: bool
    """Whether it has a back plate. Where the player hangs so near to a wall that none has room, the strips
    stand on the wall itself."""
    slack: float = 0.0
    """Clearance of the player on each side but where it slides out: the holder ends flush with it there."""

    def blocks(self, screen: Panel) -> Iterator[tuple[str, Block]]:
        """Yield the name and the block of each part where it stands round the screen."""
        axes = np.array([screen.right, screen.up, screen.normal])
        w, h, deep = self.inner
        right, left, top, bottom = (self.sheet if stands else -self.slack for stands in self.strips)
        x0, x1, y0, y1 = -w / 2 - left, w / 2 + right, -h / 2 - bottom, h / 2 + top
        across = (max(x0, -w / 2), min(x1, w / 2))

        def piece(*spans: tuple[float, float]) -> Block:
            low, high = np.array(spans).T
            return Block(screen.centre + (low + high) / 2 @ axes, axes, (high - low) / 2)

        tray = (-deep, 0.0)
        sides = (((w / 2, x1), (y0, y1)), ((x0, -w / 2), (y0, y1)), (across, (h / 2, y1)))
        for side, stands, spans in zip(_STRIPS, self.strips, (*sides, (across, (y0, -h / 2))), strict=True):
            if stands:
                yield f"{side} strip", piece(*spans, tray)
        a, b = self.window[0] / 2, self.window[1] / 2
        card = (0.0, _CARD_MM)
        for side, spans in (
            ("right", ((a, x1), (y0, y1))),
            ("left", ((x0, -a), (y0, y1))),
            ("top", ((-a, a), (b, y1))),
            ("bottom", ((-a, a), (y0, -b))),
        ):
            if all(end - start > 1e-6 for start, end in spans):
                yield f"card, {side}", piece(*spans, card)
        if self.back:
            yield "back plate", piece((x0, x1), (y0, y1), (-deep - self.sheet, -deep))


def fit_holder(scene: Scene, screen: Panel, out: str) -> HolderFit:
    """Return the holder from which the player is drawn in the direction `out`, one of `AXES`."""
    holder, (w, h, thick) = scene.holder, scene.screen.body
    slack = holder.slack
    window = tuple(min(lit + 2 * slack, side) for lit, side in zip(scene.screen.active, (w, h), strict=True))
    ways = np.array([screen.right, -screen.right, screen.up, -screen.up]) @ vector(AXES[out])
    is_open = int(ways.argmax())
    right, left, top, bottom = (side != is_open for side in range(4))
    room = _room_behind(scene, screen)
    back = room >= slack + holder.sheet - 1e-6
    deep = thick + (slack if back else max(room, 0.0))
    return HolderFit(
        (w + 2 * slack, h + 2 * slack, deep),
        (window[0], window[1]),
        holder.sheet,
        (right, left, top, bottom),
        back,
        slack,
    )


def _room_behind(scene: Scene, screen: Panel) -> float:
    """Return how far the player's back may go before one of its corners meets a wall of the box, mm."""
    block = player_block(screen, scene.screen.body)
    back = block.corners()
    back = back[(back - block.centre) @ screen.normal < 0]
    box = scene.box
    room = math.inf
    for axis, (low, high) in enumerate(((-box.width / 2, box.width / 2), (0, box.height), (0, box.depth))):
        way = -float(screen.normal[axis])
        if abs(way) > 1e-6:
            ahead = (high if way > 0 else low) - back[:, axis]
            room = min(room, float((ahead / way).min()))
    return room
