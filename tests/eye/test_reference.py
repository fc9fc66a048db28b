"""The view beside pictures that a person has looked at, and a stage's numbers beside those that went with it.

Colours, the paper passenger and the light between walls have no outside truth but that the box is known
again.
After a change on purpose, draw the pictures anew, look at each, and keep them:

    python -m tests.eye.test_reference
"""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from ghostprep.eye.page.stage_data import stage_data
from ghostprep.eye.paint import paper_figure
from ghostprep.eye.stage import Stage, stage_of
from ghostprep.eye.view import EyeView
from ghostprep.eye.window import near_window, whole_window
from ghostprep.optics import make_plan
from ghostprep.scene import load_scene
from tests.eye.plain_box import plain_box

FOLDER = Path(__file__).parent / "reference"
SAMPLE = Path(__file__).parents[2] / "sample_media"
HIGH_PX = 150


def stages() -> dict[str, Stage]:
    lamps = "[light]\nlamps = [ { at = [30, 185, 60], lumens = 8 } ]\nreflectance = 0.4"
    ground = 'figure = "1.7 m"\nfeet = 14\n'
    return {
        "hall": stage_of(make_plan(load_scene(SAMPLE / "scene.toml")), folders=(SAMPLE,)),
        "bare": stage_of(plain_box(light=ground + lamps)),
    }


STAGES = stages()


def lit_frame(wide: int, high: int) -> np.ndarray:
    """A raster with a bright bar and a corner of its own colour, so that it shows how it is turned."""
    frame = np.zeros((high, wide, 3), np.uint8)
    frame[high // 8 : -high // 8, wide // 3 : wide // 2] = (220, 230, 250)
    frame[: high // 6, : wide // 6] = (240, 120, 60)
    return frame


def pictures() -> dict[str, np.ndarray]:
    found = {"passenger": paper_figure()[::2, ::2]}
    for name, stage in STAGES.items():
        frame = lit_frame(*stage.plan.scene.screen.raster)
        whole = whole_window(stage.plan, HIGH_PX)
        aside = stage.plan.layout.eye + np.array([40.0, 15.0, 0.0])
        found[f"{name}-whole"] = EyeView(stage, whole, stage.plan.layout.eye).show(frame)
        dim = replace(stage, scenery=stage.scenery / 2)
        found[f"{name}-near"] = EyeView(dim, near_window(stage.plan, whole), aside).show(frame)
    return found


def numbers(stage: Stage) -> Any:
    """What the page's script gets, of each face's light its corners."""
    told: dict[str, Any] = stage_data(stage)
    faces = [
        {**face, "map": [face["map"][k] for k in (0, 7, 56, 63)]}
        | ({"picture": 1} if "picture" in face else {})
        for face in told["faces"]
    ]
    return json.loads(json.dumps({**told, "faces": faces, "pictures": len(told["pictures"])}, default=float))


def test_views_agree_with_their_references() -> None:
    drawn = pictures()
    assert set(drawn) == {path.stem for path in FOLDER.glob("*.png")}
    for name, picture in drawn.items():
        with Image.open(FOLDER / f"{name}.png") as kept:
            off = np.abs(np.asarray(kept.convert("RGB")).astype(int) - picture)
        # another release of a library may round a code, or move an edge by a hair
        assert np.quantile(off, 0.995) <= 1, name
        assert (off > 24).mean() < 0.0005, name


@pytest.mark.parametrize("name", STAGES)
def test_a_stages_numbers_are_those_that_were_kept(name: str) -> None:
    kept = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    found = numbers(STAGES[name])
    assert found.keys() == kept.keys()
    for key, value in kept.items():
        agree(found[key], value, key)


def agree(found: Any, kept: Any, where: str) -> None:
    if isinstance(kept, dict):
        assert found.keys() == kept.keys(), where
        for key, value in kept.items():
            agree(found[key], value, f"{where}.{key}")
    elif isinstance(kept, list):
        assert len(found) == len(kept), where
        for number, (one, other) in enumerate(zip(found, kept, strict=True)):
            agree(one, other, f"{where}[{number}]")
    elif isinstance(kept, float):
        assert found == pytest.approx(kept, rel=1e-3, abs=1e-3), where
    else:
        assert found == kept, where


if __name__ == "__main__":
    for name, picture in pictures().items():
        Image.fromarray(picture).save(FOLDER / f"{name}.png", optimize=True)
    for name, stage in STAGES.items():
        text = json.dumps(numbers(stage), indent=None, separators=(",", ":")).replace("},{", "},\n{")
        (FOLDER / f"{name}.json").write_text(text + "\n", encoding="utf-8")
