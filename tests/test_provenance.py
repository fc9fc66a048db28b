"""Only files of ours are replaced, and only as we wrote them."""

import hashlib
import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.deliver import whole_file, whole_files, write_text
from ghostprep.errors import InputError
from ghostprep.provenance import is_ours, sign

ENDINGS = (".html", ".svg", ".toml", ".pdf", ".webp", ".png")
PNG = cv2.imencode(".png", np.zeros((2, 3), np.uint8))[1].tobytes()


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_file_of_ours_is_known_until_one_byte_changes(ending: str, tmp_path: Path) -> None:
    out = tmp_path / f"a{ending}"
    data = PNG if ending == ".png" else b"of any kind"
    out.write_bytes(data)
    assert not is_ours(out)
    sign(out, ending)
    assert is_ours(out)
    signed = out.read_bytes()
    for at in (0, len(data) // 2, len(signed) - 20):
        out.write_bytes(signed[:at] + bytes([signed[at] ^ 1]) + signed[at + 1 :])
        assert not is_ours(out), at
    out.write_bytes(signed + b"mine\n")
    assert not is_ours(out)


@settings(deadline=None)
@given(st.binary(max_size=400))
def test_signing_twice_is_signing_once(data: bytes) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "a.toml"
        out.write_bytes(data)
        sign(out, ".toml")
        once = out.read_bytes()
        sign(out, ".toml")
        assert out.read_bytes() == once
        assert is_ours(out)


def test_a_signed_png_is_still_a_png(tmp_path: Path) -> None:
    out = tmp_path / "a.png"
    out.write_bytes(PNG)
    sign(out, ".png")
    assert out.read_bytes() != PNG
    assert cv2.imdecode(np.frombuffer(out.read_bytes(), np.uint8), 0).shape == (2, 3)
    from PIL import Image

    with Image.open(out) as picture:
        picture.load()
        assert str(picture.info["Comment"]).startswith("as ghostprep wrote it")


def test_what_is_not_ours_stays_even_with_overwrite(tmp_path: Path) -> None:
    mine = tmp_path / "mine.svg"
    mine.write_text("mine")
    for overwrite in (False, True):
        with pytest.raises(
            InputError, match="not as ghostprep wrote it, and is never replaced; name another"
        ):
            write_text(mine, "new", overwrite=overwrite)
    assert mine.read_text() == "mine"
    with whole_file(mine, overwrite=True, theirs=True) as part:
        part.write_text("changed on my word")
    assert mine.read_text() == "changed on my word"


def test_what_is_ours_is_replaced_when_asked(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    write_text(page, "first", overwrite=False)
    with pytest.raises(InputError, match="exists already; name another file or add --overwrite"):
        write_text(page, "second", overwrite=False)
    write_text(page, "second", overwrite=True)
    assert page.read_text().startswith("second\n<!-- as ghostprep wrote it")
    page.write_text(page.read_text().replace("second", "my own"))
    with pytest.raises(InputError, match="never replaced"):
        write_text(page, "third", overwrite=True)


def test_a_loop_is_known_by_its_report(tmp_path: Path) -> None:
    both = tmp_path / "loop.mp4", tmp_path / "loop.json"

    def write(loop: bytes) -> None:
        with whole_files(both, overwrite=True) as (part, report):
            part.write_bytes(loop)
            report.write_text(json.dumps({"output": {"sha256": hashlib.sha256(loop).hexdigest()}}))

    write(b"first")
    write(b"second")
    assert both[0].read_bytes() == b"second"
    both[0].write_bytes(b"a clip of mine with the same name")
    with pytest.raises(InputError, match=r"loop\.mp4: exists already, not as"):
        write(b"third")
    both[0].unlink()
    both[1].write_text('{"mine": 1}')
    with pytest.raises(InputError, match=r"loop\.json: exists already, not as"):
        write(b"third")


def test_a_run_killed_between_report_and_loop_is_taken_back_first(tmp_path: Path) -> None:
    loop, report = tmp_path / "loop.mp4", tmp_path / "loop.json"
    old = json.dumps({"output": {"sha256": hashlib.sha256(b"old").hexdigest()}})
    loop.write_bytes(b"old")
    report.write_text(json.dumps({"output": {"sha256": hashlib.sha256(b"new").hexdigest()}}))
    (tmp_path / ".loop.0123abcd.ghostprep-old.json").write_text(old)
    (tmp_path / ".loop.0123abcd.ghostprep.mp4").write_bytes(b"new")
    with whole_files((loop, report), overwrite=True) as (part, about):
        assert report.read_text() == old
        part.write_bytes(b"third")
        about.write_text("{}")
    assert loop.read_bytes() == b"third"


def test_an_empty_file_has_nothing_to_lose(tmp_path: Path) -> None:
    (tmp_path / "a.html").touch()
    with whole_file(tmp_path / "a.html", overwrite=True) as part:
        part.write_text("new")
    assert (tmp_path / "a.html").read_text().startswith("new\n")


@pytest.mark.parametrize("more", [[], ["--overwrite"]])
@pytest.mark.parametrize("second", ["second.mp4", "second.mov"])
def test_a_second_clip_is_not_taken_for_the_loop(
    green_clip: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str], second: str, more: list[str]
) -> None:
    mine = tmp_path / second
    mine.write_bytes(green_clip.read_bytes())
    assert status_of(group, ["make", str(green_clip), str(mine), *more]) == 2
    assert capfd.readouterr().err == (
        f"ghostprep: {mine}: exists already, not as ghostprep wrote it, and is never replaced; "
        "name another file, or --out-dir FOLDER for a loop of each clip\n"
    )
    assert mine.read_bytes() == green_clip.read_bytes()
    assert [path.name for path in tmp_path.iterdir()] == [second]


def test_the_builders_own_scene_file_is_never_replaced(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    scene = tmp_path / "hall.toml"
    assert status_of(group, ["scene", str(scene)]) == 0
    assert status_of(group, ["scene", str(scene), "--overwrite"]) == 0
    scene.write_text(scene.read_text().replace('"1:24"', '"1:12"'))
    before = scene.read_text()
    for command in (["scene", str(scene)], ["plan", str(scene), "--solve", "--out", str(scene)]):
        assert status_of(group, [*command, "--overwrite"]) == 2
        assert "never replaced" in capfd.readouterr().err
    assert scene.read_text() == before
