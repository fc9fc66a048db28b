"""The figure as tall as the scene asks, standing where it shall stand, turned for its screen."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from moviepy import Clip

from ghostprep.arrays import Frame
from ghostprep.black import LIT_CODE
from ghostprep.channels import largest_channel
from ghostprep.effects.checked import CheckedEffect
from ghostprep.effects.frames import glimpses_of
from ghostprep.errors import InputError
from ghostprep.picture import Keyed
from ghostprep.prepare.figure import Measures, measured
from ghostprep.prepare.fit import Fit, fit_to_scene
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.setup import set_up
from ghostprep.transfer import figure_of_codes, rounded


@dataclass
class SizeForScene(CheckedEffect):
    """Place a keyed figure on the raster of a scene, mirrored and turned for the mount.

    It stands for `ForPane` where there is a scene file. What is not black is the figure.

    Attributes
    ----------
    scene : str or Path
        A scene file.
    """

    scene: str | Path

    def apply(self, clip: Clip) -> Clip:
        """Return the clip as the scene's screen shows it.

        Raises
        ------
        InputError
            The scene cannot be used, or the clip is black.
        """
        fit = self.fit(clip)
        return clip.image_transform(lambda frame: placed(np.asarray(frame, np.uint8), fit)).without_mask()

    def fit(self, clip: Clip) -> Fit:
        """Return which part of the clip is shown, how large, and where on the raster."""
        setup = set_up(Recipe(scene=Path(self.scene)))
        size = (int(clip.w), int(clip.h))
        glimpses = [np.ascontiguousarray(glimpse[..., :3]) for glimpse in glimpses_of(clip)]
        rows = [measured(Keyed(figure_of_codes(shown), _covered(shown)), size) for shown in glimpses]
        body = Measures.of(rows).body(size)
        if body is None or setup.mount is None:
            raise InputError("is black: there is no figure to place", where="clip", remedy="key it first")
        return fit_to_scene(size, body, "auto", setup.raster, setup.mount)


def _covered(shown: Frame) -> Frame:
    """Return the coverage (h, w) of a keyed frame: a dark boot is as solid as a bright face."""
    lit = largest_channel(shown)
    return np.where(lit >= LIT_CODE, np.uint8(255), lit)


def placed(frame: Frame, fit: Fit) -> Frame:
    """Return a frame (h, w, 3) of the clip as the raster shows it."""
    crop = fit.crop
    cut = frame[crop.y : crop.bottom, crop.x : crop.right]
    # averaged over each pixel's area, so that a smaller figure neither flickers nor loses thin lines
    figure = cv2.resize(cut, fit.size, interpolation=cv2.INTER_AREA)
    return rounded(fit.place(figure_of_codes(np.asarray(figure, np.uint8))))
