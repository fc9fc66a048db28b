"""A matte from elsewhere, and a silhouette painted in light, through the whole of `make`."""

import json
import subprocess
from fractions import Fraction
from pathlib import Path

import av
import cv2
import imageio_ffmpeg
import numpy as np
import pytest

from ghostprep.errors import InputError
from ghostprep.prepare.appear import make_appearances
from ghostprep.prepare.make import make
from ghostprep.prepare.recipe import Recipe
from ghostprep.transfer import codes_to_light, light_to_codes

SIZE = (160, 120)
COUNT = 12
ARGUMENTS = {"player": "master-ffv1-mkv", "raster": SIZE, "crop": "none", "join": "none", "edge": 0}


def coverage(i: int) -> np.ndarray:
    """A soft-edged figure that sways."""
    mask = np.zeros((SIZE[1], SIZE[0]), np.uint8)
    cv2.ellipse(mask, (80 + round(8 * np.sin(i)), 60), (18, 45), 0, 0, 360, 255, -1)
    cv2.circle(mask, (110, 30), 8, 128, -1)  # a veil: half the coverage
    return cv2.GaussianBlur(mask, (5, 5), 1)


def write(path: Path, frames: list[np.ndarray], rate: str = "25") -> Path:
    height, width = frames[0].shape[:2]
    pipe = ("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{width}x{height}", "-r", rate, "-i", "-")
    coding = ("-c:v", "ffv1", "-pix_fmt", "bgr0", "-y", str(path))
    subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), "-loglevel", "error", *pipe, *coding],
        input=b"".join(frame.tobytes() for frame in frames),
        check=True,
    )
    return path


def mattes(count: int = COUNT) -> list[np.ndarray]:
    return [np.repeat(coverage(i)[..., None], 3, axis=2) for i in range(count)]


def room() -> list[np.ndarray]:
    """The figure before a room of its own colours."""
    rng = np.random.default_rng(2)
    back = cv2.resize(rng.integers(30, 220, (9, 12, 3), dtype=np.uint8), SIZE)
    figure = cv2.resize(rng.integers(90, 250, (5, 6, 3), dtype=np.uint8), SIZE)
    alphas = [coverage(i)[..., None] / 255 for i in range(COUNT)]
    return [np.rint(figure * a + back * (1 - a)).astype(np.uint8) for a in alphas]


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("matte") / "room.mkv", room())


@pytest.fixture(scope="module")
def matte(clip: Path) -> Path:
    return write(clip.with_name("matte.mkv"), mattes(), rate="30")  # frame for frame, whatever its rate


def shown(path: Path) -> list[np.ndarray]:
    """The loop as PyAV decodes it, mirrored back."""
    with av.open(str(path)) as file:
        return [frame.to_ndarray(format="rgb24")[:, ::-1] for frame in file.decode(video=0)]


def test_the_matte_is_the_key(clip: Path, matte: Path, tmp_path: Path) -> None:
    out = tmp_path / "loop.mkv"
    make(clip, out, Recipe(matte=matte, gain=1.0, **ARGUMENTS))
    for i, (got, frame) in enumerate(zip(shown(out), room(), strict=True)):
        wanted = frame * (coverage(i)[..., None] / 255.0)
        assert np.abs(got - wanted).max() <= 4
        assert (got[coverage(i) == 0] == 0).all()
    report = json.loads(out.with_suffix(".json").read_text())
    assert report["source"]["name"] == "room.mkv"
    assert (report["recipe"]["matte"], report["recipe"]["backing"]) == ("matte.mkv", "auto")
    assert report["backing"]["reason"] == "the matte matte.mkv"


def test_black_clothes_are_told_from_the_backing(clip: Path, matte: Path, tmp_path: Path) -> None:
    """Black within the figure keeps one code of light, 0.03 % of white; only the backing is 0."""
    black = write(tmp_path / "black.mkv", [np.where(frame > 140, frame, 0) for frame in room()])
    out = tmp_path / "loop.mkv"
    make(black, out, Recipe(matte=matte, gain=1.0, **ARGUMENTS))
    for i, got in enumerate(shown(out)):
        light = got.max(axis=2)
        assert (light[coverage(i) > 130] > 0).all()
        assert (light[coverage(i) > 130] == 1).any()
        assert (light[coverage(i) == 0] == 0).all()


def test_numbered_pictures_are_taken_one_for_one_at_the_rate_that_is_named(tmp_path: Path) -> None:
    (tmp_path / "walk").mkdir()
    for i in range(COUNT):
        cv2.imwrite(str(tmp_path / "walk" / f"w{i:03d}.png"), np.dstack([room()[i], coverage(i)]))
    told = make(tmp_path / "walk", tmp_path / "a.mkv", Recipe(**ARGUMENTS))
    assert (told.output.frames, told.output.rate) == (COUNT, 25)
    assert [f.level for f in told.findings if "tell no rate: 25 frames a second" in f.text] == ["note"]
    named = make(tmp_path / "walk", tmp_path / "b.mkv", Recipe(fps=Fraction(30), **ARGUMENTS))
    assert (named.output.frames, named.output.rate) == (COUNT, 30)
    assert not any("rate" in f.text for f in named.findings)


def test_numbered_pictures_are_a_matte(clip: Path, tmp_path: Path) -> None:
    for i in range(COUNT):
        cv2.imwrite(str(tmp_path / f"m{i:03d}.png"), coverage(i))
    out = tmp_path / "loop.mkv"
    make(clip, out, Recipe(matte=tmp_path / "m%03d.png", fill="#ff8000", **ARGUMENTS))
    for i, got in enumerate(shown(out)):
        # half the coverage is half the light, not half the code: 255 becomes 188 (IEC 61966-2-1)
        light = codes_to_light(np.array([255, 128, 0], np.uint8)) * (coverage(i)[..., None] / np.float32(255))
        assert np.abs(got - light_to_codes(light).astype(int))[coverage(i) > 60].max() <= 4
        assert abs(int(got[30, 110, 0]) - 188) <= 2


def test_a_black_silhouette_is_told_and_painted(tmp_path: Path) -> None:
    backing, alphas = np.array([20, 190, 40]), [coverage(i)[..., None] / 255 for i in range(COUNT)]
    clip = write(tmp_path / "dark.mkv", [np.rint(backing * (1 - a)).astype(np.uint8) for a in alphas])
    told = make(clip, tmp_path / "a.mkv", Recipe(**ARGUMENTS)).findings
    assert any(f.level == "fault" and "--fill" in f.remedy for f in told)
    done = make(clip, tmp_path / "b.mkv", Recipe(fill="#80a0ff", **ARGUMENTS))
    assert not any(f.subject == "brightness" for f in done.findings)
    assert done.recipe.fill == "#80a0ff"
    middle = np.array([frame[60, 80] for frame in shown(tmp_path / "b.mkv")])
    assert (middle == (128, 160, 255)).all()
    assert all((frame[:, :20] == 0).all() for frame in shown(tmp_path / "b.mkv"))


@pytest.mark.parametrize(
    ("count", "message"),
    [(COUNT - 1, "ends after 11 frames, and the clip goes on"), (COUNT + 2, "goes on after frame 12")],
)
def test_a_matte_of_another_length_is_refused(clip: Path, tmp_path: Path, count: int, message: str) -> None:
    other = write(tmp_path / "m.mkv", mattes(count))
    with pytest.raises(InputError, match=message):
        make(clip, tmp_path / "loop.mkv", Recipe(matte=other, **ARGUMENTS))
    assert not (tmp_path / "loop.mkv").exists()


def test_a_matte_of_another_shape_is_refused(clip: Path, tmp_path: Path) -> None:
    other = write(tmp_path / "m.mkv", [frame[:100] for frame in mattes()])
    with pytest.raises(InputError, match="is 160x100, and the clip is 160x120"):
        make(clip, tmp_path / "loop.mkv", Recipe(matte=other, **ARGUMENTS))


def test_a_cut_out_tells_by_its_alpha_where_the_figure_is(clip: Path, tmp_path: Path) -> None:
    """As programs that take a backing away write it: a dark figure on nothing, not white on black."""
    for i in range(COUNT):
        figure = np.full((SIZE[1], SIZE[0], 3), (40, 20, 10), np.uint8)
        cv2.imwrite(str(tmp_path / f"m{i:03d}.png"), np.dstack([figure, coverage(i)]))
    out = tmp_path / "loop.mkv"
    make(clip, out, Recipe(matte=tmp_path / "m%03d.png", gain=1.0, **ARGUMENTS))
    for i, (got, frame) in enumerate(zip(shown(out), room(), strict=True)):
        assert np.abs(got - frame * (coverage(i)[..., None] / 255.0)).max() <= 4


def test_a_clip_in_colour_is_no_matte(clip: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"room.mkv: is in colour, and a matte is grey"):
        make(clip, tmp_path / "loop.mkv", Recipe(matte=clip, **ARGUMENTS))
    assert not (tmp_path / "loop.mkv").exists()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (
            {"matte": Path("m.mkv"), "backing": "green"},
            "where the figure is, and so does --backing green",
        ),
        (
            {"matte": Path("m.mkv"), "plate": Path("p.png")},
            "where the figure is, and so does --plate",
        ),
        ({"fill": "red"}, "--fill: is red, it must be a colour #rrggbb"),
        ({"fill": "#ff0000", "tint": "#00ff00"}, "--fill: gives the figure its colour, and so does --tint"),
        ({"fill": "#ff0000", "backing": "none"}, "--fill: paints the figure's shape"),
    ],
)
def test_contradictions_are_refused(options: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        Recipe(**options)  # type: ignore[arg-type]


def test_a_clip_with_alpha_or_several_clips_take_no_matte(clip: Path, matte: Path, tmp_path: Path) -> None:
    alpha = tmp_path / "alpha.mkv"
    pipe = ("-i", str(clip), "-i", str(matte), "-filter_complex", "[1]format=gray[m];[0][m]alphamerge")
    subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), "-loglevel", "error", *pipe, "-c:v", "ffv1", "-y", str(alpha)],
        check=True,
    )
    with pytest.raises(InputError, match="has an alpha channel of its own"):
        make(alpha, tmp_path / "loop.mkv", Recipe(matte=matte, **ARGUMENTS))
    with pytest.raises(InputError, match="belongs to one clip only"):
        make_appearances([clip, clip], tmp_path / "loop.mkv", Recipe(matte=matte, repeat_for=60), (5, 9))
