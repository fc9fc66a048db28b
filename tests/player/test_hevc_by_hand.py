"""An hvcC payload written bit by bit: ISO/IEC 14496-15, 8.3.3.1; ITU-T H.265, 7.3.2.3.1."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.parse.hevc import HevcStream

from .test_h264_sets_by_hand import ue
from .test_h264_sets_by_hand import unit as with_header


def unit(kind: int, bits: str) -> bytes:
    """A NAL unit with its header of two bytes."""
    body = with_header(1, bits)
    return bytes([kind << 1]) + body


def config(sets: list[tuple[int, list[bytes]]], *, tier: int = 0, length: int = 4):
    """The first 23 bytes, then arrays of units by their kind."""
    head = bytearray(23)
    head[0], head[1], head[21], head[22] = 1, tier << 5 | 1, 0b1100 | length - 1, len(sets)
    for kind, units in sets:
        head += bytes([0x80 | kind]) + len(units).to_bytes(2, "big")
        for one in units:
            head += len(one).to_bytes(2, "big") + one
    return bytes(head)


@settings(deadline=None, max_examples=150)
@given(extra=st.integers(0, 7), length=st.sampled_from([1, 2, 4]), tier=st.integers(0, 1))
def test_what_is_needed_is_read_and_the_rest_passed_over(extra: int, length: int, tier: int) -> None:
    picture = ue(0) + ue(0) + "01" + f"{extra:03b}" + "0000"
    sets = [
        (32, [unit(32, "0" * 20)]),
        (33, [unit(33, "0000" + "000" + "1" * 90)]),
        (34, [unit(34, picture)]),
        (39, [unit(39, "1" * 9)]),
    ]
    stream = HevcStream.of(config(sets, length=length, tier=tier))
    assert (stream._extra_bits, stream._length_bytes, stream.high_tier) == (extra, length, bool(tier))
    assert (stream.kinds, stream.instant) == ([], [])


def test_a_payload_that_is_cut_short() -> None:
    whole = config([(34, [unit(34, "0" * 31 + "1" + "0" * 40)])])
    with pytest.raises(IndexError, match="index out of range"):
        HevcStream.of(whole[:12])
    with pytest.raises(EOFError, match="wanted"):
        HevcStream.of(whole[:32])
