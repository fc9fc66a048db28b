"""Proves from the bit stream's own headers that a player can decode it."""

from __future__ import annotations

from fractions import Fraction

from ghostprep.player.encode.mpeg import SIMPLE_LEVELS, is_constrained
from ghostprep.player.facts import StreamFacts
from ghostprep.player.h264_level import LEVELS, fits_level, in_macroblocks, level_named
from ghostprep.player.parse.jpeg import JpegStream
from ghostprep.player.profile import Profile
from ghostprep.verdict import Proof


def coding_proofs(facts: StreamFacts, profile: Profile) -> list[Proof]:
    """Return the proofs on profile, level and tools of the coding; none for FFV1."""
    proofs: list[Proof] = []
    if facts.h264 is not None and profile.h264 is not None:
        proofs = _h264(facts, profile)
    elif facts.hevc is not None:
        proofs = _hevc(facts, profile)
    elif facts.mpeg1 is not None:
        proofs = _mpeg1(facts)
    elif facts.mpeg4 is not None:
        proofs = _mpeg4(facts, profile)
    elif facts.jpeg is not None:
        proofs = _jpeg(facts, facts.jpeg)
    if facts.full_range is not None:
        made = "full" if facts.full_range else "limited"
        proofs.append(Proof("range", made, "", profile.colour.range, made == profile.colour.range))
    return proofs


def key_proofs(facts: StreamFacts, profile: Profile) -> list[Proof]:
    """Return the proofs that the file starts on its own, often enough, and without B-frames."""
    if not any(facts.kinds):
        return []
    two_way = sum("B" in kind for kind in facts.kinds)
    proofs = [
        Proof("first frame", facts.kinds[0] or "none", "", "stands on its own", facts.keys[:1] == (0,)),
        Proof("B-frames", two_way, "", "none", two_way == 0),
    ]
    if facts.rate is not None and set(facts.kinds) != {"I"}:
        gaps = [b - a for a, b in zip(facts.keys, [*facts.keys[1:], facts.frames], strict=True)]
        longest = float(max(gaps, default=facts.frames) / facts.rate)
        limit = profile.key_s
        proofs.append(
            Proof("key frames", round(longest, 4), "s apart", f"at most {limit:g}", longest <= limit)
        )
    return proofs


def _tools(used: dict[str, bool]) -> Proof:
    names = [name for name, is_used in used.items() if is_used]
    return Proof("tools", ", ".join(names) or "none", "", "none beyond the plainest", not names)


def _h264(facts: StreamFacts, profile: Profile) -> list[Proof]:
    stream, limits = facts.h264, profile.h264
    if stream is None or limits is None or not stream.sequences or not stream.pictures:
        return [Proof("coding", "no parameter sets", "", "some", False)]
    sequence, picture = stream.sequences[0], stream.pictures[0]
    level = next((row for row in LEVELS if row.name == sequence.level), None)
    top = level_named(limits.level)
    mean = sum(facts.frame_bytes) * 8 * (facts.rate or 0) / max(facts.frames, 1)
    fits = (
        level is not None
        and level.idc <= top.idc
        and facts.rate is not None
        and fits_level(
            level,
            raster=facts.raster,
            rate=facts.rate,
            profile=sequence.profile,
            bit_rate=int(mean),
            references=max(sequence.references, 1),
        )
    )
    sets = len(stream.sequences) + len(stream.pictures)
    proofs = [
        Proof("coding", sequence.profile, "", limits.profile, sequence.profile == limits.profile),
        Proof("level", sequence.level, "", f"fits table A-1, at most {top.name}",
              fits),
        Proof("references", sequence.references, "", f"at most {limits.references}",
              sequence.references <= limits.references),
        Proof("samples", _samples(sequence.chroma, sequence.bit_depth), "", "4:2:0, 8 bit",
              (sequence.chroma, sequence.bit_depth) == (1, 8)),
        Proof("parameter sets", sets, "", "2, the same throughout", sets == 2),
        _closed(stream.instant, stream.kinds),
    ]  # fmt: skip
    plain = {"fields": not sequence.frames_only, "weighted prediction": picture.weighted,
             "slice groups": picture.slice_groups > 1, "redundant slices": picture.redundant}  # fmt: skip
    if limits.profile == "constrained-baseline":
        plain |= {"CABAC": picture.cabac}
    if limits.profile != "high":
        plain |= {"8x8 transform": picture.transform_8x8}
    proofs.append(_tools(plain))
    if profile.container == "h264-stream":
        bare = sum(
            not sets_there for key, sets_there in zip(stream.instant, stream.sets_before, strict=True) if key
        )
        proofs.append(Proof("key frames without parameter sets", bare, "", "none", bare == 0))
    return proofs


def _samples(chroma: int, depth: int) -> str:
    return f"{('4:0:0', '4:2:0', '4:2:2', '4:4:4')[chroma]}, {depth} bit"


def _closed(instant: list[bool], kinds: list[str]) -> Proof:
    """Prove that every picture that stands on its own closes the group before it (IDR)."""
    open_ones = sum(kind == "I" and not idr for kind, idr in zip(kinds, instant, strict=True))
    return Proof("open groups", open_ones, "", "none", open_ones == 0)


def _hevc(facts: StreamFacts, profile: Profile) -> list[Proof]:
    stream = facts.hevc
    assert stream is not None
    top = float(profile.level or "6.2")
    return [
        Proof("coding", stream.profile, "", "main", stream.profile == "main"),
        Proof("level", stream.level, "", f"at most {top:g}, main tier",
              float(stream.level) <= top and not stream.high_tier),
        Proof("samples", _samples(stream.chroma, stream.bit_depth), "", "4:2:0, 8 bit",
              (stream.chroma, stream.bit_depth) == (1, 8)),
        _closed(stream.instant, stream.kinds),
    ]  # fmt: skip


def _mpeg1(facts: StreamFacts) -> list[Proof]:
    mpeg1 = facts.mpeg1
    assert mpeg1 is not None
    within = is_constrained(mpeg1.raster, mpeg1.rate) and mpeg1.buffer_bits <= 20 * 16384
    open_ones = sum(not closed for closed in mpeg1.closed)
    stated = f"{mpeg1.raster[0]}x{mpeg1.raster[1]}, buffer {mpeg1.buffer_bits // 1000} kbit"
    return [
        Proof("coding", facts.codec, "", "mpeg1", facts.codec == "mpeg1"),
        Proof("constrained parameters", stated, "", "within ISO/IEC 11172-2", within),
        Proof("open groups", open_ones, "", "none", open_ones == 0),
    ]


def _mpeg4(facts: StreamFacts, profile: Profile) -> list[Proof]:
    stream = facts.mpeg4
    assert stream is not None
    across, down = in_macroblocks(facts.raster)
    rate = facts.rate or Fraction(0)
    kbps = float(sum(facts.frame_bytes) * 8 * rate / max(facts.frames, 1) / 1000)
    row = next((level for level in SIMPLE_LEVELS if level.name == stream.level), None)
    fits = (
        row is not None
        and across * down <= row.macroblocks
        and across * down * rate <= row.macroblocks_per_second
        and kbps <= row.kbps
        and (not profile.level or stream.level <= profile.level)
    )
    layer = stream.layer
    limit = f"fits annex N, at most {profile.level}" if profile.level else "fits annex N"
    return [
        Proof("coding", stream.profile, "", "simple", stream.profile == "simple"),
        Proof("level", stream.level or "not said", "", limit, fits),
        _tools(
            {
                "fields": layer is None or layer.interlaced,
                "quarter-pel motion": layer is None or layer.quarter_pel,
                "sprites": layer is None or layer.sprites,
            }
        ),
    ]


def _jpeg(facts: StreamFacts, stream: JpegStream) -> list[Proof]:
    shown = ", ".join(sorted({header.sampling for header in stream.headers}))
    whole = all(header.whole and header.raster == facts.raster for header in stream.headers)
    return [
        Proof("coding", facts.profile, "", "baseline", facts.profile == "baseline"),
        Proof("samples", shown, "", "4:2:0", shown == "4:2:0"),
        Proof("pictures", "whole" if whole else "cut short or of other sizes", "", "whole", whole),
    ]
