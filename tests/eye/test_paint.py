"""What colour things have, and the pictures on them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from ghostprep.errors import InputError
from ghostprep.eye.paint import colour_of, on_paper, paper_figure, read_photo, read_picture, tiles
from ghostprep.eye.stage import stage_of
from ghostprep.finding import Finding
from ghostprep.optics import make_plan
from ghostprep.scene import Scene

LUMA = (0.2126, 0.7152, 0.0722)
"""Recommendation ITU-R BT.709-6, item 3.2."""


@pytest.mark.parametrize(
    ("name", "role", "times"),
    [
        ("left wall", "wall", 1.0), ("back wall", "wall", 1.0), ("ceiling", "wall", 1.1),
        ("floor", "wall", 1.0), ("divider 1", "divider", 0.9), ("crate", "thing", 0.8),
        ("holder", "holder", 0.9),
    ],
)  # fmt: skip
def test_a_tint_keeps_the_sceneries_luminance(name: str, role: str, times: float) -> None:
    for reflectance in (0.3, 0.6):
        assert colour_of(name, role, reflectance) @ LUMA == pytest.approx(times * reflectance, rel=1e-5)
    assert colour_of(name, role, 0.95).max() <= 0.9


def test_walls_are_warm_things_browner_dividers_greenish_and_the_frame_dark() -> None:
    wall, thing, divider = (
        colour_of(n, r, 0.4) for n, r in (("left wall", "wall"), ("", "thing"), ("", "divider"))
    )
    assert 1 < wall[0] / wall[2] < thing[0] / thing[2]
    assert divider[1] == divider.max()
    assert wall[0] / wall[1] == pytest.approx(1.06)
    assert thing[2] / thing[1] == pytest.approx(0.6 / 0.96)
    assert [colour_of("", role, 0.4)[0] for role in ("front", "player", "baffle")] == pytest.approx(
        [0.16, 0.035, 0.02]
    )


def test_tiles_have_their_size_and_meet_in_the_floors_middle() -> None:
    """A floor of 120 x 60 mm, tiles of 20: six across, three down, of two greys."""
    floor = tiles((120.0, 60.0), 20.0, 0.5)
    assert floor.shape == (256, 512, 3)
    light = floor[..., 0] / 0.5
    assert np.unique(light.round(4)) == pytest.approx([0.55, 0.85])
    across, down = (512 * 20 / 120, 256 * 20 / 60)
    rows, columns = (((np.arange(n) + 0.5) * side).astype(int) for n, side in ((3, down), (6, across)))
    middles = light[rows][:, columns]
    assert (middles[:, 1:] != middles[:, :-1]).all()
    assert (middles[1:] != middles[:-1]).all()
    changes = np.flatnonzero(np.diff(light[10]))
    assert changes == pytest.approx([across * n - 0.5 for n in range(1, 6)], abs=1)
    # an odd width: half a tile at each side
    odd = tiles((100.0, 60.0), 20.0, 0.5)[10, :, 0]
    assert np.flatnonzero(np.diff(odd))[:2] == pytest.approx([512 * 0.1, 512 * 0.3], abs=1.5)
    assert tiles((60.0, 120.0), 20.0, 0.5).shape == (512, 256, 3)


def widths(mask: np.ndarray, height_mm: float) -> list[tuple[float, float]]:
    """Where the figure is at a height, mm from the middle: runs from and to."""
    row = mask[round(400 - height_mm * 400 / 1700)]
    ends = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return [
        ((a - 84) * 1700 / 400, (b - 84) * 1700 / 400) for a, b in zip(ends[::2], ends[1::2], strict=True)
    ]


def test_the_paper_figure_is_a_grown_passenger_with_hat_coat_and_case() -> None:
    """Of a man of 1.70 m: head 17 cm wide, shoulders about 45 (DIN 33402-2, from memory), the card 71."""
    picture = paper_figure()
    assert picture.shape == (400, 168, 3)
    card = picture[5, 5].tolist()
    assert card == [150, 144, 132]
    mask = (picture != card).any(-1)
    assert set(map(tuple, picture[mask])) == {(70, 66, 62)}
    assert mask[:2].any()
    assert mask[-2:].any()
    for height, runs in {
        1690: [(-82, 82)], 1611: [(-150, 150)], 1545: [(-86, 86)], 1440: [(-60, 60)], 1350: [(-215, 215)],
        1300: [(-225, 225)], 1000: [(-236, 236)], 800: [(-253, 243)], 600: [(-249, 249)],
        450: [(-154, -24), (24, 154), (180, 340)], 200: [(-163, -33), (33, 163)],
        10: [(-170, -40), (40, 170)],
    }.items():  # fmt: skip
        found = widths(mask, height)
        if height == 600:
            assert found[0] == pytest.approx((-249, 340), abs=9)
        else:
            assert len(found) == len(runs), height
            for got, wanted in zip(found, runs, strict=True):
                assert got == pytest.approx(wanted, abs=9), height


def test_white_paper_reflects_85_percent() -> None:
    """Code 188 is half of white, IEC 61966-2-1: 0.5029."""
    codes = np.array([[[0, 188, 255]]], np.uint8)
    assert on_paper(codes)[0, 0] == pytest.approx([0, 0.85 * 0.5029, 0.85], abs=1e-3)


def test_a_photograph_is_read_upright_and_no_larger_than_needed(tmp_path: Path) -> None:
    stored = np.zeros((40, 90, 3), np.uint8)
    stored[:20, :45] = (250, 20, 20)
    path = tmp_path / "box.png"
    Image.fromarray(stored).save(path)
    for longest, size, shrink in (
        (90, (40, 90), 1),
        (400, (40, 90), 1),
        (45, (20, 45), 0.5),
        (9, (4, 9), 0.1),
    ):
        picture, by = read_photo(path, longest)
        assert picture.shape == (*size, 3)
        assert by == pytest.approx(shrink)
        assert picture[0, 0].tolist() == [250, 20, 20]
    # turned by its tag, clockwise: JEITA CP-3451 (Exif 2.3), 4.6.4, orientation 6
    turned = Image.fromarray(stored)
    exif = turned.getexif()
    exif[0x0112] = 6
    turned.save(tmp_path / "turned.jpg", exif=exif, quality=95)
    picture, _ = read_photo(tmp_path / "turned.jpg", 400)
    assert picture.shape == (90, 40, 3)
    assert picture[10, 30, 0] > 200
    assert picture[10, 10].max() < 60


def test_what_is_no_picture_is_refused_and_a_things_picture_is_looked_for_in_order(tmp_path: Path) -> None:
    (tmp_path / "text.png").write_text("no picture")
    (tmp_path / "empty.png").write_bytes(b"")
    for name in ("text.png", "empty.png"):
        with pytest.raises(InputError, match="is not a picture that can be read; give a JPEG or PNG"):
            read_photo(tmp_path / name, 400)
    with pytest.raises(InputError, match=r"no such file.*check the name"):
        read_photo(tmp_path / "missing.png", 400)
    large = tmp_path / "large.png"
    with large.open("wb") as file:
        file.truncate(100_000_001)
    with pytest.raises(InputError, match="is larger than 100 MB"):
        read_photo(large, 400)
    first, second = tmp_path / "first", tmp_path / "second"
    for folder, red in ((first, 200), (second, 90)):
        folder.mkdir()
        Image.new("RGB", (600, 30), (red, 0, 0)).save(folder / "lamp.png")
    picture = read_picture("lamp.png", (tmp_path, first, second))
    assert isinstance(picture, np.ndarray)
    assert picture.shape == (26, 512, 3)
    assert picture[0, 0, 0] == 200
    told = read_picture("text.png", (tmp_path, first))
    assert isinstance(told, Finding)
    assert told.level == "caution"
    assert "is not a picture" in told.text
    assert read_picture("none.png", (tmp_path, first)) is None


def test_all_pictures_that_are_missing_are_told_at_once(tmp_path):
    things = [
        {"name": f"door {n}", "at": (30 * n - 60, 0, 300), "size": (20, 40, 4), "picture": f"door{n % 2}.png"}
        for n in range(3)
    ]
    scene = Scene.model_validate(
        {
            "box": {"width": 300, "height": 300, "depth": 400},
            "screen": {"wall": "left", "raster": (320, 240), "active": (40.8, 30.6)},
            "thing": things,
        }
    )
    (told,) = stage_of(make_plan(scene), folders=(tmp_path,)).remarks
    assert told.text == f"not found in {tmp_path.resolve()}: door0.png, door1.png"
