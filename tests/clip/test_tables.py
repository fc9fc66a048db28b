"""Tables of codes that others publish: ITU-T H.273 and Exif, and a container's length."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image, ImageOps

from ghostprep.clip.describe import _EXIF, _MATRICES, _PRIMARIES, _TRANSFERS, _contents


def test_every_code_of_h273_has_its_name() -> None:
    """ITU-T H.273, tables 2 to 4, as far as ffmpeg has names for them; 2 is unspecified, 3 reserved."""
    assert sorted(_PRIMARIES) == [1, *range(4, 13), 22]
    assert sorted(_TRANSFERS) == [1, *range(4, 19)]
    assert sorted(_MATRICES) == [0, 1, *range(4, 16)]
    for table in (_PRIMARIES, _TRANSFERS, _MATRICES):
        assert len(set(table.values())) == len(table)
    assert (_PRIMARIES[8], _PRIMARIES[9], _PRIMARIES[10]) == ("film", "bt2020", "smpte428")
    assert (_TRANSFERS[8], _TRANSFERS[16], _TRANSFERS[18]) == ("linear", "smpte2084", "arib-std-b67")
    assert (_MATRICES[0], _MATRICES[6], _MATRICES[9]) == ("gbr", "smpte170m", "bt2020nc")


@pytest.mark.parametrize("tag", range(1, 9))
def test_exifs_eight_ways_are_those_of_pillow(tag: int) -> None:
    picture = np.arange(15, dtype=np.uint8).reshape(3, 5)
    tagged = Image.fromarray(picture)
    tagged.getexif()[0x0112] = tag
    upright = np.asarray(ImageOps.exif_transpose(tagged))
    mirrored, turn = _EXIF[tag]
    assert (np.rot90(picture[:, ::-1] if mirrored else picture, -turn // 90) == upright).all()


def test_a_containers_length_is_in_seconds(ffmpeg: Callable[..., None], tmp_path: Path) -> None:
    ffmpeg("-f", "lavfi", "-i", "testsrc2=size=64x48:rate=10:duration=3", tmp_path / "a.mkv")
    with av.open(tmp_path / "a.mkv") as container:
        assert _contents(container).duration_s == pytest.approx(3, abs=0.05)
