"""Reads an MP4 file into `StreamFacts`."""

from __future__ import annotations

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
    length_bytes = stream.add_config(track.config)
    with path.open("rb") as file:
        for place, size in zip(track.places, track.sizes, strict=True):
            file.seek(place)
            stream.add_access_unit(units_by_length(file.read(size), length_bytes))
    sequence = stream.sequences[0]
    return StreamFacts(
        path=path,
        container="mp4",
        codec="h264",
        size_bytes=path.stat().st_size,
        raster=sequence.raster,
        rate=_mp4_rate(track),
        frames=len(track.sizes),
        frame_bytes=track.sizes,
        keys=where(stream.instant),
        first_time=track.first_time,
        even=len(set(track.durations)) == 1,
        kinds=tuple(stream.kinds),
        sound=_mp4_sound(mp4),
        profile=sequence.profile,
        level=sequence.level,
        full_range=sequence.full_range,
        colour=track.colour[:3] if track.colour else None,
        mp4=mp4,
        h264=stream,
    )


def _read_mp4_hevc(path: Path, mp4: Mp4File, track: Track) -> StreamFacts:
    stream, length_bytes = read_config(track.config)
    with path.open("rb") as file:
        for place, size in zip(track.places, track.sizes, strict=True):
            file.seek(place)
            stream.add_picture(units_by_length(file.read(size), length_bytes))
    return StreamFacts(
        path=path,
        container="mp4",
        codec="hevc",
        size_bytes=path.stat().st_size,
        raster=stream.raster,
        rate=_mp4_rate(track),
        frames=len(track.sizes),
        frame_bytes=track.sizes,
        keys=where(stream.instant),
        first_time=track.first_time,
        even=len(set(track.durations)) == 1,
        kinds=tuple(stream.kinds),
        sound=_mp4_sound(mp4),
        profile=stream.profile,
        level=stream.level,
        full_range=track.colour[3] if track.colour else None,
        colour=track.colour[:3] if track.colour else None,
        mp4=mp4,
        hevc=stream,
    )


def _mp4_rate(track: Track) -> Fraction:
    return Fraction(len(track.durations) * track.timescale, sum(track.durations))


def _mp4_sound(mp4: Mp4File) -> str:
    sound = next((t.coding for t in mp4.tracks if t.kind == "soun"), "none")
    return {"mp4a": "aac"}.get(sound, sound)
