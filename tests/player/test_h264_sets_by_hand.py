"""H.264 parameter sets written bit by bit after ITU-T H.264 (08/2021), 7.3.2.1.1 and 7.3.2.2."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.player.parse.h264 import read_picture_set, read_sequence_set


def ue(k: int) -> str:
    return "0" * (len(f"{k + 1:b}") - 1) + f"{k + 1:b}"


def se(k: int) -> str:
    return ue(2 * k - 1 if k > 0 else -2 * k)


def unit(header: int, bits: str) -> bytes:
    """A NAL unit: stop bit, filled up, and emulation prevention (7.4.1)."""
    bits += "1"
    bits += "0" * (-len(bits) % 8)
    out, zeros = bytearray([header]), 0
    for i in range(0, len(bits), 8):
        byte = int(bits[i : i + 8], 2)
        if zeros >= 2 and byte <= 3:
            out.append(3)
            zeros = 0
        out.append(byte)
        zeros = zeros + 1 if byte == 0 else 0
    return bytes(out)


PLAIN = (66, 77, 88)
"""Profiles whose sets do not tell chroma and depth; all others that 7.3.2.1.1 names do."""
SEQUENCES = st.fixed_dictionaries(
    {
        "profile": st.sampled_from([*PLAIN, 100, 110, 122, 244, 44, 83, 86, 118, 128, 138, 139, 134, 135]),
        "chroma": st.sampled_from([0, 1, 2, 3]),
        "depth": st.integers(8, 14),
        "lists": st.lists(st.booleans(), min_size=12, max_size=12),
        "scaling": st.booleans(),
        "ends_early": st.booleans(),
        "order": st.sampled_from([0, 1, 2]),
        "cycle": st.lists(st.integers(-200, 200), max_size=5),
        "references": st.integers(0, 16),
        "blocks": st.tuples(st.integers(1, 130), st.integers(1, 130)),
        "frames_only": st.booleans(),
    }
)


def sequence_bits(s: dict) -> str:
    bits = f"{s['profile']:08b}" + "01000000" + f"{31:08b}" + ue(5)
    if s["profile"] not in PLAIN:
        bits += ue(s["chroma"]) + ("1" if s["chroma"] == 3 else "") + ue(s["depth"] - 8) + ue(0) + "0"
        bits += "1" if s["scaling"] else "0"
        if s["scaling"]:
            for i in range(12 if s["chroma"] == 3 else 8):
                bits += f"{s['lists'][i]:b}"
                if s["lists"][i]:
                    # a scale of 8 + d each time; the list ends early where the next one comes to 0
                    size = 16 if i < 6 else 64
                    bits += se(-8) if s["ends_early"] else se(1) + se(0) * (size - 1)
    bits += ue(4) + ue(s["order"])
    if s["order"] == 0:
        bits += ue(7)
    elif s["order"] == 1:
        bits += "0" + se(-3) + se(4) + ue(len(s["cycle"])) + "".join(map(se, s["cycle"]))
    across, down = s["blocks"]
    bits += ue(s["references"]) + "0" + ue(across - 1) + ue(down - 1)
    bits += "1" if s["frames_only"] else "01"
    return bits + "1" + "0" + "0"


@settings(deadline=None, max_examples=250)
@given(s=SEQUENCES)
def test_whatever_stands_in_a_sequence_set_is_read_or_passed_over(s: dict) -> None:
    found = read_sequence_set(unit(0x67, sequence_bits(s)))
    assert found == (s["references"], s["frames_only"])


@settings(deadline=None, max_examples=120)
@given(
    cabac=st.booleans(), weighted=st.booleans(), redundant=st.booleans(),
    high=st.sampled_from([None, False, True]),
    numbers=st.tuples(st.integers(0, 255), st.integers(0, 31), st.integers(0, 31), st.integers(0, 31)),
    deltas=st.tuples(*[st.integers(-12, 12)] * 3),
)  # fmt: skip
def test_picture_sets(cabac, weighted, redundant, high, numbers, deltas) -> None:
    own, sequence, first, second = numbers
    bits = ue(own) + ue(sequence) + f"{cabac:b}0" + ue(0) + ue(first) + ue(second) + f"{weighted:b}01"
    bits += "".join(map(se, deltas)) + "10" + f"{redundant:b}"
    if high is not None:
        bits += f"{high:b}" + "0" + se(-2)
    found = read_picture_set(unit(0x68, bits))
    assert (found.cabac, found.slice_groups, found.weighted) == (cabac, 1, weighted)
    assert (found.redundant, found.transform_8x8) == (redundant, bool(high))


def test_slice_groups_are_told() -> None:
    found = read_picture_set(unit(0x68, ue(0) + ue(0) + "10" + ue(2) + ue(0)))
    assert (found.slice_groups, found.cabac) == (3, True)
