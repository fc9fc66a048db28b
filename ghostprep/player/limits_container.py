"""Proves that a file's container has the form that plain players read."""

from __future__ import annotations

from ghostprep.player.facts import StreamFacts
from ghostprep.player.parse.avi import AviFile
from ghostprep.player.parse.mp4 import Mp4File
from ghostprep.player.parse.mpeg1 import Mpeg1Stream
from ghostprep.verdict import Proof


def container_proofs(facts: StreamFacts) -> list[Proof]:
    """Return the proofs on a file's boxes, chunks or packets; none for bare streams."""
    if facts.mp4 is not None:
        return _mp4(facts.mp4)
    if facts.avi is not None:
        return _avi(facts.avi, facts.frames)
    if facts.mpeg1 is not None:
        return _packets(facts.mpeg1)
    return []


def _mp4(mp4: Mp4File) -> list[Proof]:
    order = list(mp4.order)
    index_first = "moov" in order and "mdat" in order and order.index("moov") < order.index("mdat")
    edits = sum(track.edits for track in mp4.tracks)
    pictures_first = bool(mp4.tracks) and mp4.tracks[0].kind == "vide"
    kinds = " ".join(track.kind for track in mp4.tracks)
    tags = [track.coding for track in mp4.tracks if track.kind == "vide"]
    return [
        Proof("boxes", " ".join(order), "", "moov before mdat", index_first),
        Proof("edit list", edits, "entries", "none", edits == 0),
        Proof("streams", kinds, "", "pictures first", pictures_first),
        Proof("tag", " ".join(tags), "", "avc1 or hvc1", all(tag in ("avc1", "hvc1") for tag in tags)),
    ]


def _avi(avi: AviFile, frames: int) -> list[Proof]:
    order = " ".join(avi.streams)
    # many players stop at the first chunk that is of no stream they know
    plain = avi.streams[0] == "vids" and not avi.strangers and len(avi.streams) <= 2
    shown = order + (f", and chunks {' '.join(avi.strangers)}" if avi.strangers else "")
    one_part = avi.riff_parts == 1 and not avi.open_dml
    index = avi.index_entries >= frames > 0
    return [
        Proof("streams", shown, "", "pictures first, nothing else but one sound", plain),
        Proof("parts", avi.riff_parts, "", "1, without OpenDML", one_part),
        Proof("index", avi.index_entries, "entries", f"idx1 with at least {frames}", index),
        Proof("frames in header", avi.frames, "", str(frames), avi.frames == frames),
        Proof("size in header", "right" if avi.size_field_right else "wrong", "", "the file's, less 8",
              avi.size_field_right),
    ]  # fmt: skip


def _packets(mpeg1: Mpeg1Stream) -> list[Proof]:
    shown = " ".join(f"{code:02X}" for code in mpeg1.streams)
    right = mpeg1.streams[:1] == (0xE0,) and len(mpeg1.streams) <= 2
    return [Proof("streams", shown, "", "pictures first (E0)", right)]
