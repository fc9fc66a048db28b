"""A letter F sent through ``make --scene`` and looked at along single lines of sight."""

from __future__ import annotations

from fractions import Fraction

import av
import numpy as np
import pytest

from ghostprep.optics import make_plan
from ghostprep.prepare.make import make
from ghostprep.prepare.recipe import Recipe
from ghostprep.scene import load_scene
from ghostprep.scene.model import TOPS

SCENE = """
scale = "1:24"
[box]
width = 300
height = 300
depth = 400
[screen]
wall = "{wall}"
top = "{top}"
centre = {centre}
swivel = {swivel}
raster = [160, 120]
active = [81.6, 61.2]
[pane]
through = {through}
angle = {angle}
[ghost]
figure = "1.2 m"
feet = {feet}
"""
PLACES = {
    # middle of the screen, a point of the pane, height of the ghost's middle that follows at 45 degrees
    "left": ([-120, 150, 160], [-20, 150, 230], 150),
    "right": ([120, 150, 160], [20, 150, 230], 150),
    "floor": ([0, 30, 160], [0, 150, 230], 220),
    "ceiling": ([0, 270, 160], [0, 150, 230], 80),
}
MM = 0.5


@pytest.mark.parametrize(("wall", "top"), [(wall, top) for wall, tops in TOPS.items() for top in tops])
def test_letter_stands_upright_at_its_size_on_its_ground(green_clip, tmp_path, ray_tracer, wall, top):
    centre, through, middle = PLACES[wall]
    # every other mount leans, so that the exact map is used as well as flips and turns
    leans = TOPS[wall].index(top) % 2
    file = tmp_path / "scene.toml"
    feet = middle - 26
    file.write_text(
        SCENE.format(
            wall=wall, top=top, centre=centre, through=through, swivel=4 * leans, angle=45 - leans, feet=feet
        )
    )
    scene = load_scene(file)
    plan = make_plan(scene)
    assert (plan.mount.keystone_px > 0.5) == bool(leans)
    recipe = Recipe(scene=file, player="master-ffv1-mkv", end=Fraction(1, 10), join="none")
    make(green_clip, tmp_path / "loop.mkv", recipe)
    with av.open(tmp_path / "loop.mkv") as container:
        raster = next(container.decode(video=0)).to_ndarray(format="rgb24")
    seen = look(ray_tracer(scene), raster, plan.layout.ghost)
    # the letter darkens towards its foot, and was drawn in codes: an edge pixel that it half covers has half
    # of its own row's code, and counts from nearly that
    lit = seen > np.maximum(60, 0.47 * seen.max(axis=1, keepdims=True))
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    letter = lit[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    height, width = letter.shape
    assert height > width
    assert letter[:, : width // 8].mean() > 0.85  # the stem of the F stands at the left
    assert letter[: height // 12].mean() > 0.75  # its bar lies on top
    assert letter[-height // 4 :, width // 2 :].mean() < 0.05  # nothing at the lower right
    # 1.2 m at 1:24 are 50 mm, from the ground up; a pixel of this coarse raster is half a millimetre
    assert height * MM == pytest.approx(50, abs=1.5)
    ground = plan.layout.ghost[1] + (len(seen) / 2 - rows[-1] - 1) * MM
    assert ground == pytest.approx(feet, abs=1.5)


def look(tracer, raster, ghost):
    """Return what the eye sees round the ghost's middle, half a millimetre a sample."""
    steps = (np.arange(180) - 89.5) * MM
    x, y = np.meshgrid(ghost[0] + steps, ghost[1] - steps)
    points = np.stack([x, y, np.full_like(x, ghost[2])], axis=-1)
    across, down = np.moveaxis(np.floor(tracer.sight_to_raster(points)).astype(int), -1, 0)
    high, wide = raster.shape[:2]
    inside = (across >= 0) & (across < wide) & (down >= 0) & (down < high)
    bright = raster.max(axis=2)[down.clip(0, high - 1), across.clip(0, wide - 1)]
    return np.where(inside, bright, 0)
