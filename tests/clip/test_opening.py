"""Frames that ffmpeg would decode on opening are not decoded where an index tells the same."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ghostprep.clip import probe, read_frames


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
