"""An hvcC payload written bit by bit: ISO/IEC 14496-15, 8.3.3.1; ITU-T H.265, 7.3.2.2.1, 7.3.2.3.1, 7.3.3."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.parse.hevc import read_config

from .test_h264_sets_by_hand import ue
from .test_h264_sets_by_hand import unit as with_header


def unit(kind: int, bits: str) -> bytes:
    """A NAL unit with its header of two bytes."""
    body = with_header(1, bits)
    return bytes([kind << 1]) + body


def sequence(
    *, sub_layers: list[tuple[bool, bool]], chroma: int, size: tuple[int, int], crop, depth: int
) -> str:
    bits = "0000" + f"{len(sub_layers):03b}" + "1" + "10" * 44 + f"{93:08b}"
    if sub_layers:
        bits += "".join(f"{profile:b}{level:b}" for profile, level in sub_layers)
        bits += "00" * (8 - len(sub_layers))
        bits += "".join("01" * 44 * profile + "00111100" * level for profile, level in sub_layers)
    bits += ue(0) + ue(chroma) + ("1" if chroma == 3 else "") + ue(size[0]) + ue(size[1])
    bits += "1" + "".join(map(ue, crop)) if crop else "0"
    return bits + ue(depth - 8) + ue(depth - 8) + ue(4)


def config(
    sets: list[tuple[int, list[bytes]]], *, profile: int = 1, level: int = 93, tier: int = 0, length: int = 4
):
    """The first 23 bytes, then arrays of units by their kind."""
    head = bytearray(23)
    head[0], head[1], head[12], head[21], head[22] = (
        1,
        tier << 5 | profile,
        level,
        0b1100 | length - 1,
        len(sets),
    )
    for kind, units in sets:
        head += bytes([0x80 | kind]) + len(units).to_bytes(2, "big")
        for one in units:
            head += len(one).to_bytes(2, "big") + one
    return bytes(head)


@settings(deadline=None, max_examples=150)
@given(
    sub_layers=st.lists(st.tuples(st.booleans(), st.booleans()), max_size=6),
    chroma=st.sampled_from([0, 1, 2, 3]),
    size=st.tuples(st.integers(16, 8192), st.integers(16, 4320)),
    crop=st.one_of(st.none(), st.tuples(*[st.integers(0, 3)] * 4)),
    depth=st.integers(8, 12),
    extra=st.integers(0, 7),
    length=st.sampled_from([1, 2, 4]),
)
def test_whatever_stands_in_the_sets_is_read_or_passed_over(
    sub_layers, chroma, size, crop, depth, extra, length
):
    bits = sequence(sub_layers=sub_layers, chroma=chroma, size=size, crop=crop, depth=depth)
    picture = ue(0) + ue(0) + "01" + f"{extra:03b}" + "0000"
    sets = [
        (32, [unit(32, "0" * 20)]),
        (33, [unit(33, bits)]),
        (34, [unit(34, picture)]),
        (39, [unit(39, "1" * 9)]),
    ]
    stream = read_config(config(sets, length=length))
    # table 6-1, as in H.264: chroma samples that lie under one unit of cropping
    wide, high = {0: (1, 1), 1: (2, 2), 2: (2, 1), 3: (1, 1)}[chroma]
    left, right, top, bottom = crop or (0, 0, 0, 0)
    assert stream.raster == (size[0] - wide * (left + right), size[1] - high * (top + bottom))
    assert (stream.chroma, stream.bit_depth) == (chroma, depth)
    assert (stream._extra_bits, stream._length_bytes) == (extra, length)


@pytest.mark.parametrize(
    ("profile", "level", "tier", "words"),
    [
        (1, 93, 0, ("main", "3.1", False)),  # A.4: general_level_idc is thirty times the level
        (2, 120, 1, ("main-10", "4", True)),
        (4, 153, 0, ("profile 4", "5.1", False)),
    ],
)
def test_profile_level_and_tier(profile: int, level: int, tier: int, words: tuple[str, str, bool]) -> None:
    stream = read_config(config([], profile=profile, level=level, tier=tier))
    assert (stream.profile, stream.level, stream.high_tier) == words
    assert (stream.kinds, stream.instant) == ([], [])


def test_a_payload_that_is_cut_short() -> None:
    whole = config([(33, [unit(33, sequence(sub_layers=[], chroma=1, size=(320, 240), crop=None, depth=8))])])
    with pytest.raises(IndexError, match="index out of range"):
        read_config(whole[:12])
    with pytest.raises(EOFError, match="wanted"):
        read_config(whole[:36])
