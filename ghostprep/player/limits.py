"""Proves from the written file alone that it stays within a profile's limits."""

from __future__ import annotations

from fractions import Fraction

from ghostprep.player.facts import StreamFacts
from ghostprep.player.limits_coding import coding_proofs, key_proofs
from ghostprep.player.limits_container import container_proofs
from ghostprep.player.measured import buffer_kbit, peak_kbps
from ghostprep.player.profile import Profile
from ghostprep.verdict import Proof
from ghostprep.words import size_words


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
    proofs += [*coding_proofs(facts, profile), *key_proofs(facts, profile)]
    proofs += container_proofs(facts)
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
    proofs = [
        Proof("size", facts.size_bytes, "bytes", f"at most {size_words(limit)}", facts.size_bytes <= limit)
    ]

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
