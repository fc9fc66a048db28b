"""MPEG-4 headers laid out bit by bit after ISO/IEC 14496-2, 6.2.2 to 6.2.5."""

from __future__ import annotations

import itertools

import pytest

from ghostprep.player.parse.mpeg import Mpeg4Stream


def to_bytes(bits: str) -> bytes:
    bits += "0" * (-len(bits) % 8)
    return bytes(int(bits[i : i + 8], 2) for i in range(0, len(bits), 8))


def layer_bits(
    *, version: int = 1, aspect: bool = False, control: bool = False, buffer: bool = False,
    resolution: int = 30, fixed: bool = False, raster: tuple[int, int] = (320, 240),
    interlaced: bool = False, sprite: int = 0, quarter: bool = False,
) -> str:  # fmt: skip
    bits = "0" + "00000001"
    bits += f"1{version:04b}001" if version != 1 else "0"
    bits += "1111" + "00001100" + "00001011" if aspect else "0001"
    bits += f"1{'01'}1{'1' + '10' * 39 + '1' if buffer else '0'}" if control else "0"
    bits += "00" + "1" + f"{resolution:016b}" + "1"
    wide = max(1, (resolution - 1).bit_length())
    bits += "1" + "1" * wide if fixed else "0"
    bits += f"1{raster[0]:013b}1{raster[1]:013b}1"
    bits += f"{interlaced:b}1" + f"{sprite:0{1 if version == 1 else 2}b}"
    if not sprite:
        bits += "0" + "0" + (f"{quarter:b}" if version != 1 else "")
    return bits + "10101010"


def stream_of(layer: str, *, pictures: str = "IPP") -> Mpeg4Stream:
    """A stream of one layer and some pictures, coding types 0 to 3 being I, P, B and S."""
    stream = Mpeg4Stream()
    head = b"\0\0\1\xb0" + b"\x03" + b"\0\0\1\xb5\x09" + b"\0\0\1\0" + b"\0\0\1\x20" + to_bytes(layer)
    for n, kind in enumerate(pictures):
        picture = b"\0\0\1\xb6" + bytes(["IPBS".index(kind) << 6 | 0x15, 0x33])
        stream.add(head + picture if n == 0 else picture)
    return stream


@pytest.mark.parametrize(
    ("aspect", "control", "buffer", "fixed"), list(itertools.product([False, True], repeat=4))
)
@pytest.mark.parametrize("resolution", [1, 2, 24, 30, 30000, 65535])
def test_what_may_stand_before_the_raster_is_passed_over(
    aspect: bool, control: bool, buffer: bool, fixed: bool, resolution: int
) -> None:
    bits = layer_bits(aspect=aspect, control=control, buffer=buffer, fixed=fixed, resolution=resolution)
    layer = stream_of(bits).layer
    assert layer is not None
    assert (layer.interlaced, layer.sprites, layer.quarter_pel) == (False, False, False)


@pytest.mark.parametrize("version", [1, 2])
@pytest.mark.parametrize("interlaced", [False, True])
@pytest.mark.parametrize("sprite", [0, 1])
@pytest.mark.parametrize("quarter", [False, True])
def test_tools_are_told(version: int, interlaced: bool, sprite: int, quarter: bool) -> None:
    bits = layer_bits(
        version=version, interlaced=interlaced, sprite=sprite, quarter=quarter, raster=(720, 576)
    )
    layer = stream_of(bits).layer
    assert layer is not None
    assert (layer.interlaced, layer.sprites) == (interlaced, bool(sprite))
    # quarter samples came with version 2, and are told where there is no sprite
    assert layer.quarter_pel is (quarter and version != 1 and not sprite)


def test_kinds_of_pictures() -> None:
    stream = stream_of(layer_bits(), pictures="IPBPSI")
    assert stream.kinds == list("IPBPSI")
    assert stream.instant == [True, False, False, False, False, True]
    stream.add(b"\0\0\1\xb5")
    assert stream.kinds[-1] == ""


def test_a_header_that_is_cut_short() -> None:
    cut = b"\0\0\1\x20" + to_bytes(layer_bits()[:40])
    with pytest.raises(EOFError, match="bits wanted"):
        Mpeg4Stream().add(cut)


def test_a_picture_that_is_cut_off_right_after_its_start_code_is_of_no_kind() -> None:
    stream = stream_of(layer_bits(), pictures="I")
    stream.add(b"\0\0\1\xb6")
    assert stream.kinds == ["I", ""]
    assert stream.instant == [True, False]
