"""Reads an MP4 file into `StreamFacts`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from ghostprep.player.facts import StreamFacts, where
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.parse.hevc import read_config
from ghostprep.player.parse.mp4 import Mp4File, Track, read_mp4
from ghostprep.player.parse.nal import units_by_length


def mp4_facts(path: Path) -> StreamFacts:
    """Read a file with H.264 or HEVC in it."""
    mp4 = read_mp4(path)
    track = next(t for t in mp4.tracks if t.kind == "vide")
    if track.coding in ("avc1", "avc3"):
        return _read_mp4_h264(path, mp4, track)
    if track.coding in ("hvc1", "hev1"):
        return _read_mp4_hevc(path, mp4, track)
    raise ValueError(f"its pictures are coded as {track.coding!r}")


def _read_mp4_h264(path: Path, mp4: Mp4File, track: Track) -> StreamFacts:
    stream = H264Stream()
    for units in _pictures(path, track, stream.add_config(track.config)):
        stream.add_access_unit(units)
    sequence = stream.sequences[0]
    return replace(
        _track_facts(path, mp4, track, "h264", sequence.raster),
        keys=where(stream.instant),
        kinds=tuple(stream.kinds),
        profile=sequence.profile,
        level=sequence.level,
        full_range=sequence.full_range,
        h264=stream,
    )


def _read_mp4_hevc(path: Path, mp4: Mp4File, track: Track) -> StreamFacts:
    stream, length_bytes = read_config(track.config)
    for units in _pictures(path, track, length_bytes):
        stream.add_picture(units)
    return replace(
        _track_facts(path, mp4, track, "hevc", stream.raster),
        keys=where(stream.instant),
        kinds=tuple(stream.kinds),
        profile=stream.profile,
        level=stream.level,
        full_range=track.colour[3] if track.colour else None,
        hevc=stream,
    )


def _pictures(path: Path, track: Track, length_bytes: int) -> Iterator[Iterator[bytes]]:
    """Yield the units of each picture."""
    with path.open("rb") as file:
        for place, size in zip(track.places, track.sizes, strict=True):
            file.seek(place)
            yield units_by_length(file.read(size), length_bytes)


def _track_facts(path: Path, mp4: Mp4File, track: Track, codec: str, raster: tuple[int, int]) -> StreamFacts:
    """Return what the boxes say, whatever the coding."""
    return StreamFacts(
        path=path,
        container="mp4",
        codec=codec,
        size_bytes=path.stat().st_size,
        raster=raster,
        rate=_mp4_rate(track),
        frames=len(track.sizes),
        frame_bytes=track.sizes,
        keys=(),
        first_time=track.first_time,
        even=len(set(track.durations)) == 1,
        sound=_mp4_sound(mp4),
        colour=track.colour[:3] if track.colour else None,
        mp4=mp4,
    )


def _mp4_rate(track: Track) -> Fraction:
    return Fraction(len(track.durations) * track.timescale, sum(track.durations))


def _mp4_sound(mp4: Mp4File) -> str:
    sound = next((t.coding for t in mp4.tracks if t.kind == "soun"), "none")
    return {"mp4a": "aac"}.get(sound, sound)
