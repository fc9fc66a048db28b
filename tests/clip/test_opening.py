"""How a clip is opened: by another process meanwhile, and without decoding what an index tells."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest

from ghostprep.clip import probe, probing, read_frames
from ghostprep.errors import InputError


@pytest.mark.parametrize(
    ("fragments", "spared"), [((), True), (("-movflags", "frag_keyframe+empty_moov"), False)]
)
def test_each_frame_comes_in_its_turn_where_the_coding_does_not_tell_the_order(
    fragments: tuple[str, ...], spared: bool, encode: Callable[..., Path], card: Any
) -> None:
    b_frames = ("-c:v", "libx264", "-bf", "3", "-b_strategy", "0", "-pix_fmt", "yuv420p", "-crf", "10")
    path = encode("clip.mp4", *b_frames, *fragments, frames=card.frames(24))
    data = bytearray(path.read_bytes())
    start = data.index(b"avcC") + 12
    length = int.from_bytes(data[start - 2 : start])
    # ITU-T H.264, 7.3.2.1.1: without vui_parameters nothing says how far frames are reordered
    data[start + 8 : start + length] = bytes([data[start + 8] & 0xC0 | 0x10]).ljust(length - 8, b"\0")
    path.write_bytes(data)
    facts = probe(path)
    assert ("-nofind_stream_info" in facts.input) is spared
    with read_frames(facts) as stream:
        assert [card.number(frame) for frame in stream] == list(range(24))


def test_a_clip_is_opened_beside_other_work(encode: Callable[..., Path], card: Any) -> None:
    path = encode("clip.mp4", "-c:v", "libx264", "-pix_fmt", "yuv420p", frames=card.frames(3))
    before = set(psutil.Process().children())
    with probing(path) as probed:
        assert len(set(psutil.Process().children()) - before) == 1
        assert probed() == probe(path)
    assert set(psutil.Process().children()) == before


def test_what_fails_beside_it_leaves_no_process_behind(encode: Callable[..., Path], card: Any) -> None:
    path = encode("clip.mp4", "-c:v", "libx264", "-pix_fmt", "yuv420p", frames=card.frames(3))
    before = set(psutil.Process().children())
    with pytest.raises(ValueError, match="the scene"), probing(path):
        raise ValueError("the scene is wrong")
    assert set(psutil.Process().children()) == before


def test_what_is_wrong_with_the_clip_is_told_when_it_is_asked(tmp_path: Path) -> None:
    with probing(tmp_path / "none.mp4") as probed, pytest.raises(InputError, match="no such file"):
        probed()
    (tmp_path / "none.txt").write_text("no clip")
    with probing(tmp_path / "none.txt") as probed, pytest.raises(InputError, match=r"none\.txt"):
        probed()
