"""Proves from the written file alone that a player can decode it: size, rate, coding, container."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from ghostprep.player.encode.mpeg import MPEG1_BUFFER_BITS, SIMPLE_LEVELS, is_constrained
from ghostprep.player.h264_level import LEVELS, Demand, level_named
from ghostprep.player.measured import buffer_kbit, peak_kbps
from ghostprep.player.parse.avi import AviFile
from ghostprep.player.parse.bits import CodedStream
from ghostprep.player.parse.h264 import H264Stream
from ghostprep.player.parse.hevc import HevcStream
from ghostprep.player.parse.jpeg import JpegStream
from ghostprep.player.parse.mp4 import Mp4File
from ghostprep.player.parse.mpeg import Mpeg1Stream, Mpeg4Stream
from ghostprep.player.profile import Profile
from ghostprep.player.read import StreamFacts
from ghostprep.verdict import Proof
from ghostprep.words import size_words

_MKV_ROUNDS: Final = Fraction(1, 10**6)


def check_limits(
    facts: StreamFacts, profile: Profile, *, raster: tuple[int, int], rate: Fraction, frames: int
) -> list[Proof]:
    """Hold a file against a profile, and against the raster, rate and frames that were asked for."""
    return [
        *_shape(facts, profile, raster, rate, frames),
        *_data(facts, profile),
        *_coding(facts, profile),
        *key_proofs(facts, profile),
        *container_proofs(facts),
    ]


def _shape(
    facts: StreamFacts, profile: Profile, raster: tuple[int, int], rate: Fraction, frames: int
) -> list[Proof]:
    made = f"{facts.raster[0]}x{facts.raster[1]}"
    takes = profile.raster.takes(facts.raster)
    form = f"{facts.codec} in {facts.container}"
    wanted = f"{profile.codec} in {profile.container}"
    proofs = [
        Proof("form", form, "", wanted, form == wanted),
        Proof("raster", made, "px", f"{raster[0]}x{raster[1]}", facts.raster == raster and takes),
        Proof("frames", facts.frames, "", str(frames), facts.frames == frames),
    ]
    if facts.rate is not None:
        told = facts.rate
        # Matroska rounds how long a picture lasts to ns, and its reader the rate once more; the times tell
        if facts.container == "mkv" and abs(told / rate - 1) < _MKV_ROUNDS:
            told = rate
        fits = told == rate and profile.rate.takes(told) and facts.even
        proofs.append(Proof("rate", str(told), "frames/s", str(rate), fits))
    start = float(facts.first_time)
    return [*proofs, Proof("first time", start, "s", "0", start == 0 and facts.keys[:1] == (0,))]


def _data(facts: StreamFacts, profile: Profile) -> list[Proof]:
    bits, sizes = profile.bits, facts.frame_bytes
    limit = profile.largest_bytes
    proofs = [
        Proof("size", facts.size_bytes, "bytes", f"at most {size_words(limit)}", facts.size_bytes <= limit)
    ]

    def at_most(name: str, value: float, unit: str, most: float | None) -> None:
        if most is not None:
            proofs.append(Proof(name, round(value, 3), unit, f"at most {most:g}", value <= most))

    if facts.rate is not None and bits.rate_kbps:
        at_most("bit rate", float(facts.mean_bits / 1000), "kbit/s", bits.rate_kbps)
        if bits.buffer_kbit:
            at_most("buffer", buffer_kbit(sizes, facts.rate, bits.rate_kbps), "kbit", bits.buffer_kbit)
        else:
            at_most("busiest second", peak_kbps(sizes, facts.rate), "kbit/s", bits.rate_kbps)
    at_most("largest frame", max(sizes, default=0), "bytes", bits.frame_bytes)
    if facts.avi is not None:
        at_most("header", facts.avi.header_bytes, "bytes", bits.header_bytes)
    return proofs


def _coding(facts: StreamFacts, profile: Profile) -> list[Proof]:
    """Return the proofs on profile, level and tools of the coding; none for FFV1."""
    proofs: list[Proof] = []
    match facts.coded:
        case H264Stream() as h264 if profile.h264 is not None:
            proofs = _h264(h264, facts, profile)
        case HevcStream() as hevc:
            proofs = _hevc(hevc, facts, profile)
        case Mpeg1Stream() as mpeg1:
            proofs = _mpeg1(mpeg1, facts)
        case Mpeg4Stream() as mpeg4:
            proofs = _mpeg4(mpeg4, facts, profile)
        case JpegStream() as jpeg:
            proofs = _jpeg(jpeg, facts)
    if facts.full_range is not None:
        made = "full" if facts.full_range else "limited"
        proofs.append(Proof("range", made, "", profile.colour.range, made == profile.colour.range))
    return proofs


def key_proofs(facts: StreamFacts, profile: Profile) -> list[Proof]:
    """Return the proofs that the file starts on its own, often enough, and without B-frames."""
    kinds = facts.coded.kinds
    if not any(kinds):
        return []
    proofs = [
        Proof("first frame", kinds[0] or "none", "", "stands on its own", facts.keys[:1] == (0,)),
        _none("B-frames", sum("B" in kind for kind in kinds)),
    ]
    if facts.rate is not None and set(kinds) != {"I"}:
        gaps = [b - a for a, b in zip(facts.keys, [*facts.keys[1:], facts.frames], strict=True)]
        longest = float(max(gaps, default=facts.frames) / facts.rate)
        limit = profile.key_s
        proofs.append(
            Proof("key frames", round(longest, 4), "s apart", f"at most {limit:g}", longest <= limit)
        )
    return proofs


_SAMPLES: Final = "4:2:0, 8 bit"


_H264: Final = ("constrained-baseline", "main", "high")
"""A decoder of one profile decodes those before it too (ITU-T H.264, clauses A.2.2 to A.2.4)."""


def _none(name: str, count: int, unit: str = "") -> Proof:
    return Proof(name, count, unit, "none", count == 0)


def _same(name: str, value: str, limit: str) -> Proof:
    return Proof(name, value, "", limit, value == limit)


def _profile(facts: StreamFacts, limit: str) -> Proof:
    return _same("coding", facts.profile or "not said", limit)


def _tools(used: dict[str, bool]) -> Proof:
    names = [name for name, is_used in used.items() if is_used]
    return Proof("tools", ", ".join(names) or "none", "", "none beyond the plainest", not names)


def _closed(stream: CodedStream) -> Proof:
    """Prove that every picture that stands on its own closes the group before it (IDR)."""
    pictures = zip(stream.kinds, stream.instant, strict=True)
    return _none("open groups", sum(kind == "I" and not idr for kind, idr in pictures))


def _h264(stream: H264Stream, facts: StreamFacts, profile: Profile) -> list[Proof]:
    limits = profile.h264
    if limits is None or not stream.pictures:
        return [Proof("coding", "no parameter sets", "", "some", False)]
    sequence, picture = next(iter(stream.sequences.values())), stream.pictures[0]
    level = next((row for row in LEVELS if row.name == facts.level), None)
    top = level_named(limits.level)
    fits = (
        level is not None
        and level.idc <= top.idc
        and facts.rate is not None
        and Demand(
            raster=facts.raster,
            rate=facts.rate,
            profile=facts.profile,
            bit_rate=int(facts.mean_bits),
            references=max(sequence.references, 1),
        ).fits(level)
    )
    sets = len(stream.sequences) + len(stream.pictures)
    used = {"fields": not sequence.frames_only, "weighted prediction": picture.weighted,
            "slice groups": picture.slice_groups > 1, "redundant slices": picture.redundant,
            "CABAC": picture.cabac and limits.profile == "constrained-baseline",
            "8x8 transform": picture.transform_8x8 and limits.profile != "high"}  # fmt: skip
    plainer = _H264[: _H264.index(limits.profile) + 1]
    proofs = [
        Proof("coding", facts.profile or "not said", "", " or ".join(plainer), facts.profile in plainer),
        Proof("level", facts.level, "", f"fits table A-1, at most {top.name}", fits),
        Proof("references", sequence.references, "", f"at most {limits.references}",
              sequence.references <= limits.references),
        _same("samples", facts.samples, _SAMPLES),
        Proof("parameter sets", sets, "", "2, the same throughout", sets == 2),
        _closed(stream),
        _tools(used),
    ]  # fmt: skip
    if profile.container == "h264-stream":
        pictures = zip(stream.instant, stream.sets_before, strict=True)
        bare = sum(key and not sets_there for key, sets_there in pictures)
        proofs.append(_none("key frames without parameter sets", bare))
    return proofs


def _hevc(stream: HevcStream, facts: StreamFacts, profile: Profile) -> list[Proof]:
    top = float(profile.level or "6.2")
    fits = float(facts.level) <= top and not stream.high_tier
    return [
        _profile(facts, "main"),
        Proof("level", facts.level, "", f"at most {top:g}, main tier", fits),
        _same("samples", facts.samples, _SAMPLES),
        _closed(stream),
    ]


def _mpeg1(stream: Mpeg1Stream, facts: StreamFacts) -> list[Proof]:
    small = is_constrained(facts.raster, facts.rate or Fraction(0))
    within = small and stream.buffer_bits <= MPEG1_BUFFER_BITS
    stated = f"{facts.raster[0]}x{facts.raster[1]}, buffer {stream.buffer_bits // 1000} kbit"
    return [
        _same("coding", facts.codec, "mpeg1"),
        Proof("constrained parameters", stated, "", "within ISO/IEC 11172-2", within),
        _none("open groups", sum(not closed for closed in stream.closed)),
    ]


def _mpeg4(stream: Mpeg4Stream, facts: StreamFacts, profile: Profile) -> list[Proof]:
    row = next((level for level in SIMPLE_LEVELS if level.name == facts.level), None)
    fits = row is not None and row.fits(facts.raster, facts.rate or Fraction(0), facts.mean_bits / 1000)
    fits = fits and facts.profile == "simple" and (not profile.level or facts.level <= profile.level)
    layer = stream.layer
    limit = f"fits annex N, at most {profile.level}" if profile.level else "fits annex N"
    used = {
        "fields": layer is None or layer.interlaced,
        "quarter-pel motion": layer is None or layer.quarter_pel,
        "sprites": layer is None or layer.sprites,
    }
    return [
        _profile(facts, "simple"),
        Proof("level", facts.level or "not said", "", limit, fits),
        _tools(used),
    ]


def _jpeg(stream: JpegStream, facts: StreamFacts) -> list[Proof]:
    shown = ", ".join(sorted({header.sampling for header in stream.headers}))
    baseline = all(header.baseline for header in stream.headers)
    whole = all(header.whole and header.raster == facts.raster for header in stream.headers)
    return [
        _same("coding", "baseline" if baseline else "not baseline", "baseline"),
        _same("samples", shown, "4:2:0"),
        Proof("pictures", "whole" if whole else "cut short or of other sizes", "", "whole", whole),
    ]


def container_proofs(facts: StreamFacts) -> list[Proof]:
    """Return the proofs that boxes, chunks or packets have the form that plain players read."""
    if facts.mp4 is not None:
        return _mp4(facts.mp4)
    if facts.avi is not None:
        return _avi(facts.avi, facts.frames)
    return _packets(facts.coded) if isinstance(facts.coded, Mpeg1Stream) else []


def _mp4(mp4: Mp4File) -> list[Proof]:
    order = list(mp4.order)
    index_first = "moov" in order and "mdat" in order and order.index("moov") < order.index("mdat")
    kinds = [track.kind for track in mp4.tracks]
    tags = [track.coding for track in mp4.tracks if track.kind == "vide"]
    return [
        Proof("boxes", " ".join(order), "", "moov before mdat", index_first),
        _none("edit list", sum(track.edits for track in mp4.tracks), "entries"),
        Proof("streams", " ".join(kinds), "", "pictures first", kinds[:1] == ["vide"]),
        Proof("tag", " ".join(tags), "", "avc1 or hvc1", {*tags} <= {"avc1", "hvc1"}),
    ]


def _avi(avi: AviFile, frames: int) -> list[Proof]:
    # many players stop at the first chunk that is of no stream they know
    plain = avi.streams[0] == "vids" and not avi.strangers and len(avi.streams) <= 2
    shown = " ".join(avi.streams) + (f", and chunks {' '.join(avi.strangers)}" if avi.strangers else "")
    size = "right" if avi.size_field_right else "wrong"
    return [
        Proof("streams", shown, "", "pictures first, nothing else but one sound", plain),
        Proof("parts", avi.riff_parts, "", "1, without OpenDML", avi.riff_parts == 1 and not avi.open_dml),
        Proof("index", avi.index_entries, "entries", f"idx1 with at least {frames}",
              avi.index_entries >= frames > 0),
        Proof("frames in header", avi.frames, "", str(frames), avi.frames == frames),
        Proof("size in header", size, "", "the file's, less 8", avi.size_field_right),
    ]  # fmt: skip


def _packets(mpeg1: Mpeg1Stream) -> list[Proof]:
    shown = " ".join(f"{code:02X}" for code in mpeg1.streams)
    right = mpeg1.streams[:1] == (0xE0,) and len(mpeg1.streams) <= 2
    return [Proof("streams", shown, "", "pictures first (E0)", right)]
