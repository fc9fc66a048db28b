"""Numbers and stuffing written out bit by bit."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.parse.bits import BitReader, without_stuffing


@settings(deadline=None, max_examples=80)
@given(st.lists(st.integers(0, 2**20), max_size=20))
def test_exp_golomb_numbers(numbers: list[int]) -> None:
    """ITU-T H.264, 9.1: k is written as k + 1 in binary after as many zeros as it has further digits."""
    bits = "".join("0" * (len(f"{k + 1:b}") - 1) + f"{k + 1:b}" for k in numbers)
    padded = bits + "0" * (-len(bits) % 8)
    data = bytes(int(padded[i : i + 8], 2) for i in range(0, len(padded), 8))
    reader = BitReader(data)
    assert [reader.unsigned() for _ in numbers] == numbers


@settings(deadline=None, max_examples=80)
@given(st.binary(max_size=60))
def test_stuffing_is_undone(payload: bytes) -> None:
    """ITU-T H.264, 7.4.1.1: a byte 3 goes in wherever two zeros meet a byte below 4."""
    stuffed, zeros = bytearray(), 0
    for byte in payload:
        if zeros >= 2 and byte <= 3:
            stuffed.append(3)
            zeros = 0
        stuffed.append(byte)
        zeros = zeros + 1 if byte == 0 else 0
    assert without_stuffing(bytes(stuffed)) == payload


def test_signed_exp_golomb_numbers() -> None:
    """ITU-T H.264, table 9-3: 0, 1, -1, 2, -2, 3 are written as the unsigned 0 to 5."""
    bits = "1" + "010" + "011" + "00100" + "00101" + "00110"
    data = bytes(int(bits[i : i + 8].ljust(8, "0"), 2) for i in range(0, len(bits), 8))
    reader = BitReader(data)
    assert [reader.signed() for _ in range(6)] == [0, 1, -1, 2, -2, 3]


def test_the_largest_exp_golomb_number_has_32_bits() -> None:
    """31 zeros, a one and 31 ones: 2^32 - 2; a zero more is none."""
    number = (1 << 32) - 1
    assert BitReader((number << 1).to_bytes(8)).unsigned() == 2**32 - 2
    with pytest.raises(EOFError, match="longer than 32 bits"):
        BitReader(number.to_bytes(8)).unsigned()
