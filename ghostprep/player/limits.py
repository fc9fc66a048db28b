"""Proves from the written file alone that it stays within a profile's limits."""

from __future__ import annotations

from fractions import Fraction

from ghostprep.player.buffer import buffer_kbit, peak_kbps
from ghostprep.player.facts import StreamFacts
from ghostprep.player.h264_level import fits_level, level_named
from ghostprep.player.profile import Profile
from ghostprep.verdict import Proof


def check_limits(
    facts: StreamFacts, profile: Profile, *, raster: tuple[int, int], rate: Fraction, frames: int
) -> list[Proof]:
    """Hold a file against a profile.

    Parameters
    ----------
    facts : StreamFacts
        Parsed from the file.
    profile : Profile
    raster : (int, int)
        Width and height that were asked for.
    rate : Fraction
        Frames a second that were asked for.
    frames : int
        Frames that were handed to the encoder.

    Returns
    -------
    list of Proof
        One for each limit that matters for this profile.
    """
    proofs = [*_shape(facts, profile, raster, rate, frames), *_data(facts, profile)]
    if facts.h264 is not None and profile.h264 is not None:
        proofs += _h264(facts, profile)
    if facts.mp4 is not None:
        order = list(facts.mp4.order)
        first = "moov" in order and "mdat" in order and order.index("moov") < order.index("mdat")
        edits = sum(len(track.edits) for track in facts.mp4.tracks)
        proofs.append(Proof("boxes", " ".join(order), "", "moov before mdat", first))
        proofs.append(Proof("edit list", edits, "entries", "none", edits == 0))
    return proofs


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
        fits = facts.rate == rate and profile.rate.takes(facts.rate)
        proofs.append(Proof("rate", str(facts.rate), "frames/s", str(rate), fits and facts.even))
    start = float(facts.first_time)
    proofs.append(Proof("first time", start, "s", "0", start == 0 and facts.keys[:1] == (0,)))
    return proofs


def _data(facts: StreamFacts, profile: Profile) -> list[Proof]:
    bits, sizes = profile.bits, facts.frame_bytes
    limit = profile.largest_bytes
    proofs = [Proof("size", facts.size_bytes, "bytes", f"at most {limit}", facts.size_bytes <= limit)]

    def at_most(name: str, value: float, unit: str, most: float | None) -> None:
        if most is not None:
            proofs.append(Proof(name, round(value, 3), unit, f"at most {most:g}", value <= most))

    if facts.rate is not None and bits.rate_kbps:
        mean = float(sum(sizes) * 8 * facts.rate / max(len(sizes), 1) / 1000)
        at_most("bit rate", mean, "kbit/s", bits.rate_kbps)
        if bits.buffer_kbit:
            at_most("buffer", buffer_kbit(sizes, facts.rate, bits.rate_kbps), "kbit", bits.buffer_kbit)
        else:
            at_most("busiest second", peak_kbps(sizes, facts.rate), "kbit/s", bits.rate_kbps)
    at_most("largest frame", max(sizes, default=0), "bytes", bits.frame_bytes)
    if facts.avi is not None:
        at_most("header", facts.avi.header_bytes, "bytes", bits.header_bytes)
    return proofs


def _h264(facts: StreamFacts, profile: Profile) -> list[Proof]:
    stream, limits = facts.h264, profile.h264
    if stream is None or limits is None:
        return []
    sequence, picture = stream.sequences[0], stream.pictures[0]
    level = level_named(sequence.level)
    top = level_named(limits.level)
    fits = facts.rate is not None and fits_level(
        level,
        raster=facts.raster,
        rate=facts.rate,
        profile=sequence.profile,
        references=max(sequence.references, 1),
    )
    two_way = sum("B" in kind for kind in stream.kinds)
    gaps = [b - a for a, b in zip(facts.keys, [*facts.keys[1:], facts.frames], strict=True)]
    longest = float(max(gaps, default=0) / facts.rate) if facts.rate else 0.0
    keys_ok = longest <= profile.key_s and len(stream.sequences) == len(stream.pictures) == 1
    plain = not (picture.cabac or picture.weighted or picture.transform_8x8) and sequence.frames_only
    proofs = [
        Proof("coding", sequence.profile, "", limits.profile, sequence.profile == limits.profile),
        Proof("level", sequence.level, "", f"at most {top.name}", fits and level.idc <= top.idc),
        Proof("references", sequence.references, "", f"at most {limits.references}",
              sequence.references <= limits.references),
        Proof("B-frames", two_way, "", "none", two_way == 0),
        Proof("key frames", round(longest, 4), "s", f"at most {profile.key_s:g}", keys_ok),
    ]  # fmt: skip
    if limits.profile == "constrained-baseline":
        tools = [
            name
            for name, used in (
                ("CABAC", picture.cabac),
                ("weighted prediction", picture.weighted),
                ("8x8 transform", picture.transform_8x8),
                ("fields", not sequence.frames_only),
            )
            if used
        ]
        proofs.append(Proof("tools", ", ".join(tools) or "none", "", "none beyond the plainest", plain))
    return proofs
