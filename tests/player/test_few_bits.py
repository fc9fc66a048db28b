"""Where the player's bits do not suffice for black beside the figure, that is said with its figures."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from ghostprep.player import extend_profile
from ghostprep.prepare.encode import Encoded, encode
from ghostprep.prepare.render import Reel
from ghostprep.prepare.setup import Setup

RATE = Fraction(30)


@pytest.fixture
def encoded(tmp_path: Path, make_lantern: Callable[..., Any]) -> Callable[[int], Encoded]:
    """Encode a swaying lantern for a player of so many kbit/s."""

    def make(kbps: int) -> Encoded:
        frames = list(make_lantern((320, 240), 24, size=0.3))
        profile = extend_profile(
            "h264-baseline-qvga", {"bits": {"rate_kbps": kbps, "buffer_kbit": 2000}}, where="test"
        )
        reel = Reel(frames=frames, rate=RATE, keyed=True, as_shot=lambda _: None)
        setup = cast("Setup", SimpleNamespace(profile=profile, raster=(320, 240)))
        return encode(tmp_path / "once.mp4", reel, setup, lambda *_: None)

    return make


def test_too_few_bits_are_named(encoded: Callable[[int], Encoded], tmp_path: Path) -> None:
    made = encoded(220)
    assert made.black is not None
    near, _ = made.black.shares()
    assert near < 0.95
    (finding,) = made.findings
    assert (finding.level, finding.subject) == ("caution", "black")
    said = re.search(r"(\d+)% of the pixels .* about (\d+) kbit/s, and the player takes 220", finding.text)
    assert said is not None
    assert int(said[1]) == round(100 * near)
    assert "as large" in finding.remedy
    assert [path.name for path in tmp_path.iterdir()] == ["once.mp4"]
    # the figure that is named is right within a tenth: with so many bits black holds
    enough = encoded(round(int(said[2]) * 1.1))
    assert enough.black is not None
    assert enough.black.shares()[0] >= 0.95
    assert enough.findings == ()
