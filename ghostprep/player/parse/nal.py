"""Cuts samples of H.264 and HEVC into NAL units."""

from __future__ import annotations

from collections.abc import Iterator


def units_by_length(data: bytes, length_bytes: int) -> Iterator[bytes]:
    """Yield the NAL units of a sample in which each is preceded by its length (ISO/IEC 14496-15).

    Raises
    ------
    EOFError
        A length points past the sample's end.
    """
    at = 0
    while at < len(data):
        size = int.from_bytes(data[at : at + length_bytes], "big")
        at += length_bytes
        if size == 0 or at + size > len(data):
            raise EOFError("a NAL unit is longer than its sample")
        yield data[at : at + size]
        at += size
