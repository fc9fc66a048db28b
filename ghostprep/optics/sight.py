"""What the eye sees from everywhere: the whole ghost, and nothing else of the trick."""

from __future__ import annotations

from dataclasses import dataclass

from ghostprep.optics.baffle import Baffle, find_baffle
from ghostprep.optics.edges import Edge, find_edges
from ghostprep.optics.layout import Layout
from ghostprep.optics.mirrored import LampSeen, Patch, find_lamps, find_patches
from ghostprep.optics.panefit import PaneFit
from ghostprep.optics.sightlines import Rectangle, bounds, crossings, eye_corners, opening_of
from ghostprep.scene import Scene


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """The sightlines, judged over the viewer's whole sway.

    Attributes
    ----------
    window : Rectangle
        The part of the opening's plane through which the whole ghost is seen from everywhere.
    cut_off, cut_off_middle : dict of str to float
        How far the ghost's lines pass outside the opening at each side, mm, from everywhere and
        from the middle eye; 0 where they do not.
    seen_from_everywhere : bool
        Whether neither opening nor pane cuts the lit area off anywhere.
    baffle : Baffle or None
        What hides the screen; None if it is hidden already.
    edges : tuple of Edge
    patches : tuple of Patch
        What the pane mirrors; it must be dark.
    lamps : tuple of LampSeen
    behind_back_mm : float
        How far the ghost stands behind the back wall; below 0, before it.
    """

    window: Rectangle
    cut_off: dict[str, float]
    cut_off_middle: dict[str, float]
    seen_from_everywhere: bool
    baffle: Baffle | None
    edges: tuple[Edge, ...]
    patches: tuple[Patch, ...]
    lamps: tuple[LampSeen, ...]
    behind_back_mm: float

    @property
    def screen_hidden(self) -> bool:
        """Whether the screen is seen directly from nowhere, without a baffle."""
        return self.baffle is None

    def trims(self) -> dict[str, float]:
        """Return for each side of the opening the strip that hides the edges there, mm."""
        widths: dict[str, float] = {}
        for edge in self.edges:
            if edge.trim is not None and edge.trim.clear:
                widths[edge.trim.side] = max(widths.get(edge.trim.side, 0.0), edge.trim.width_mm)
        return widths

    def as_dict(self) -> dict[str, object]:
        """Return the keys of the report."""
        return {
            "seen_from_everywhere": self.seen_from_everywhere,
            "screen_hidden": self.screen_hidden,
            "baffle": self.baffle.as_dict() if self.baffle else None,
            "edges": [edge.as_dict() for edge in self.edges],
        }


def find_sight(scene: Scene, layout: Layout, pane: PaneFit) -> Sight:
    """Return the sightlines of a scene."""
    opening, corners = opening_of(scene), layout.image.corners()
    window = bounds(crossings(eye_corners(scene), corners))
    cut_off = opening.excess(window)
    return Sight(
        window,
        cut_off,
        opening.excess(bounds(crossings(layout.eye[None, :], corners))),
        max(cut_off.values()) <= 1e-6 and pane.covers,
        find_baffle(scene, layout),
        find_edges(scene, layout, pane),
        find_patches(scene, layout, pane),
        find_lamps(scene, layout, pane),
        float(corners[:, 2].max()) - scene.box.depth,
    )
