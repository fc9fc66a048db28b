"""A post in the opening hides the pane's edge from everywhere, and nothing of the ghost."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ghostprep.optics.edges import Trim, _posts
from ghostprep.optics.sightlines import Rectangle
from ghostprep.scene.lengths import ruler_step


@given(
    seen=st.tuples(st.floats(-150, 150), st.floats(0.1, 40)),
    ghost=st.tuples(st.floats(-150, 150), st.floats(5, 200)),
    units=st.sampled_from(["mm", "in"]),
)
def test_a_post_covers_the_edge_and_leaves_the_ghost(make_scene, seen, ghost, units) -> None:
    opening = Rectangle(-150, 0, 150, 300)
    scene = make_scene().model_copy(update={"units": units})
    part = opening.common(Rectangle(seen[0], 20, seen[0] + seen[1], 280))
    shown = Rectangle(ghost[0], 50, ghost[0] + ghost[1], 120)
    assume(part.size[0] > 0)
    posts = list(_posts(scene, part, shown))
    for post in posts:
        face = post.face(scene)
        assert face.left <= part.left + 1e-6
        assert part.right <= face.right + 1e-6
        assert min(face.right, shown.right) <= max(face.left, shown.left) + 1e-6
        # to marks on the ruler, from the nearer side, and never much wider than what it hides
        marks = np.array([post.off_mm, post.width_mm]) / ruler_step(units)
        assert marks == pytest.approx(np.round(marks), abs=1e-6)
        assert post.off_mm <= 150
        assert post.width_mm <= min(part.size[0] + 2 * ruler_step(units) + 1e-6, 30)
    aside = part.right + 2 < shown.left or part.left - 2 > shown.right
    room = min(part.left + 150, 150 - part.right) > 2 and part.size[0] < 27
    assert len(posts) == 1 or not (aside and room)


def test_a_trim_is_named_and_drawn_where_it_stands(make_scene) -> None:
    scene = make_scene()
    assert Trim("left", 12, True).name == "trim, left"
    assert Trim("left", 12, True, 40).name == "post, left"
    assert Trim("left", 11.2, True, 40).face(scene) == Rectangle(-110, 0, -98, 300)
    assert Trim("right", 12, True, 40).face(scene) == Rectangle(98, 0, 110, 300)
    assert Trim("right", 12, True).face(scene) == Rectangle(138, 0, 150, 300)
    assert Trim("top", 12, True).face(scene) == Rectangle(-150, 288, 150, 300)
    assert Trim("bottom", 12, True).face(scene) == Rectangle(-150, 0, 150, 12)
