"""Reads bit by bit."""

from __future__ import annotations


class BitReader:
    """Reads bits from the first byte's highest on.

    Parameters
    ----------
    data : bytes
        What is read.

    Raises
    ------
    EOFError
        From every method: the data ends before what was asked for.
    """

    def __init__(self, data: bytes) -> None:
        self._value = int.from_bytes(data, "big")
        self._left = len(data) * 8

    @property
    def left(self) -> int:
        """Bits that are left."""
        return self._left

    def bits(self, count: int) -> int:
        """Return the next `count` bits as an unsigned number."""
        if count > self._left:
            raise EOFError(f"{count} bits wanted, {self._left} left")
        self._left -= count
        return (self._value >> self._left) & ((1 << count) - 1)

    def flag(self) -> bool:
        """Return the next bit."""
        return self.bits(1) == 1

    def unsigned(self) -> int:
        """Return the next unsigned Exp-Golomb number (ITU-T H.264, 9.1)."""
        zeros = 0
        while not self.flag():
            zeros += 1
            if zeros > 31:  # 2^32 - 2 is the largest number
                raise EOFError("an Exp-Golomb number is longer than 32 bits")
        return (1 << zeros) - 1 + self.bits(zeros)

    def signed(self) -> int:
        """Return the next signed Exp-Golomb number (ITU-T H.264, 9.1.1)."""
        code = self.unsigned()
        return (code + 1) // 2 if code % 2 else -(code // 2)


def without_stuffing(payload: bytes) -> bytes:
    """Return a NAL unit's payload without its emulation prevention bytes (H.264, 7.4.1).

    >>> without_stuffing(bytes([1, 0, 0, 3, 1, 0, 0, 3])).hex()
    '010000010000'
    """
    result = bytearray()
    zeros = 0
    for byte in payload:
        if zeros >= 2 and byte == 3:
            zeros = 0
            continue
        zeros = zeros + 1 if byte == 0 else 0
        result.append(byte)
    return bytes(result)
