"""Reads an AVI file into `StreamFacts`."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from ghostprep.player.facts import StreamFacts, jpeg_profile, where
from ghostprep.player.parse.avi import AviFile, read_avi
from ghostprep.player.parse.jpeg import JpegHeader, read_jpeg_header
from ghostprep.player.parse.mpeg4 import add_frame, new_stream

_AVI_SOUNDS: Final = {1: "pcm", 0x50: "mp2", 0x55: "mp3"}


def avi_facts(path: Path) -> StreamFacts:
    """Read a file with Motion JPEG or MPEG-4 in it."""
    avi = read_avi(path)
    if avi.coding.upper() == "MJPG":
        return _read_avi_jpeg(path, avi)
    stream = new_stream()
    with path.open("rb") as file:
        for place, size in zip(avi.places, avi.sizes, strict=True):
            file.seek(place)
            add_frame(stream, file.read(min(size, 256)))
    return StreamFacts(
        path=path,
        container="avi",
        codec="mpeg4" if stream.layer else avi.coding,
        size_bytes=path.stat().st_size,
        raster=stream.layer.raster if stream.layer else avi.raster,
        rate=avi.rate,
        frames=len(avi.sizes),
        frame_bytes=avi.sizes,
        keys=where([kind == "I" for kind in stream.kinds]),
        kinds=tuple(stream.kinds),
        sound=_avi_sound(avi),
        profile=stream.profile,
        level=stream.level,
        full_range=False,
        avi=avi,
        mpeg4=stream,
    )


def _read_avi_jpeg(path: Path, avi: AviFile) -> StreamFacts:
    headers: set[JpegHeader] = set()
    with path.open("rb") as file:
        for place, size in zip(avi.places, avi.sizes, strict=True):
            file.seek(place)
            headers.add(read_jpeg_header(file.read(size)))
    return StreamFacts(
        path=path,
        container="avi",
        codec="mjpeg",
        size_bytes=path.stat().st_size,
        raster=avi.raster,
        rate=avi.rate,
        frames=len(avi.sizes),
        frame_bytes=avi.sizes,
        keys=tuple(range(len(avi.sizes))),
        kinds=("I",) * len(avi.sizes),
        sound=_avi_sound(avi),
        profile=jpeg_profile(headers),
        full_range=True,
        avi=avi,
        jpeg=tuple(headers),
    )


def _avi_sound(avi: AviFile) -> str:
    if "auds" not in avi.streams:
        return "none"
    return _AVI_SOUNDS.get(avi.sound_tag, f"format {avi.sound_tag:#x}")
