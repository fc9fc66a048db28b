"""Where one unit ends and the next begins, and names that a shell must not change."""

from __future__ import annotations

import subprocess
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.black import BLOCK_PX, LEAST_FAR, LEAST_NEAR, LEAST_NEAR_BLOCKS, LIT_CODE, NEAR_PX
from ghostprep.words import counted, rate_words, seconds_words, size_words, typed


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (0, "0 bytes"), (999, "999 bytes"), (1000, "1 kB"), (1500, "2 kB"), (999_400, "999 kB"),
        (999_600, "1.0 MB"), (1_000_000, "1.0 MB"), (999_400_000, "999.4 MB"), (999_600_000, "1.0 GB"),
        (12_345_000_000, "12.3 GB"),
    ],
)  # fmt: skip
def test_a_number_of_bytes(count: int, words: str) -> None:
    assert size_words(count) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0.00 s"), (59.99, "59.99 s"), (60, "1:00 min"), (61.4, "1:01 min"), (3599.4, "59:59 min"),
        (3599.6, "1:00:00 h"), (3600, "1:00:00 h"), (7325, "2:02:05 h"),
    ],
)  # fmt: skip
def test_a_length_of_time(seconds: float, words: str) -> None:
    assert seconds_words(seconds) == words


@given(seconds=st.integers(60, 200_000))
def test_a_length_of_time_reads_back(seconds: int) -> None:
    parts = [int(part) for part in seconds_words(seconds).split()[0].split(":")]
    assert sum(part * 60**n for n, part in enumerate(reversed(parts))) == seconds
    assert all(part < 60 for part in parts[1:])


def test_rates_and_numbers() -> None:
    assert [rate_words(Fraction(n, d)) for n, d in ((24000, 1001), (25, 1), (120, 1))] == [
        "23.98 frames a second",
        "25 frames a second",
        "120 frames a second",
    ]
    assert [counted(n, "loop") for n in (0, 1, 2, 1234567)] == [
        "0 loops",
        "1 loop",
        "2 loops",
        "1,234,567 loops",
    ]


@pytest.mark.parametrize(
    "name", ["plain.mp4", "two words.mp4", "it's.mp4", "tab\there.mp4", "a\nb.mp4", "back\\\x01slash'.mp4",
             "\x7f\x80ü.mp4", "caf\udce9.mp4", "-o.mp4", "$HOME.mp4"],
)  # fmt: skip
def test_a_command_that_is_pasted_names_the_same_file(name: str) -> None:
    command = typed("card", Path(name))
    told = subprocess.run(
        ["bash", "-c", "printf '%s' " + command.removeprefix("ghostprep card ")],
        capture_output=True,
        check=True,
        env={"LC_ALL": "C.UTF-8", "PATH": "/usr/bin:/bin"},
    ).stdout
    asked = name.encode("utf-8", "surrogateescape")
    assert told == (b"./" + asked if name.startswith("-") else asked)


def test_what_counts_as_black_is_what_reports_promise() -> None:
    """Measured of x264 at crf 18 to 23; a macroblock is 16 pixels wide (ISO/IEC 14496-2)."""
    assert (BLOCK_PX, NEAR_PX, LIT_CODE) == (16, 4, 24)
    assert (LEAST_NEAR, LEAST_NEAR_BLOCKS, LEAST_FAR) == (0.95, 0.5, 0.999)
    # nearly 1 % of white's light, by the curve of sRGB
    assert pytest.approx(0.01, rel=0.15) == ((LIT_CODE / 255 + 0.055) / 1.055) ** 2.4
