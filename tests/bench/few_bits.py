"""What to give up where a player's bits do not suffice for black beside a large figure that moves much.

Run ``python tests/bench/few_bits.py [--clip FILE] [--frames N] [--player NAME] [--out FOLDER]``. The keyed figure is
made to sway and turn; then it is encoded as it is, at half the frame rate, smaller, and with more bits.
"""

from __future__ import annotations

import argparse
import math
import tempfile
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
from players import CLIP, Frame, best_file, effort, keyed
from rich.console import Console
from rich.table import Table

from ghostprep.clip import probe
from ghostprep.player import Profile, extend_profile, load_profile
from ghostprep.player.rate import choose_rate


def lively(frames: list[Frame], size: float, rate: float) -> list[Frame]:
    """Return the frames swaying by 12 px and turning by 10 degrees, about once in half a second."""
    made = []
    for number, frame in enumerate(frames):
        height, width = frame.shape[:2]
        at = 2 * math.pi * number / rate
        matrix = cv2.getRotationMatrix2D((width / 2, height / 2), 10 * math.sin(2 * at), size)
        matrix[:, 2] += 12 * np.array([math.sin(3 * at), math.cos(2 * at)])
        made.append(np.asarray(cv2.warpAffine(frame, matrix, (width, height)), np.uint8))
    return made


def richer(profile: Profile, times: float) -> Profile:
    """Return the profile with more bits, and a level that has them."""
    bits = {"rate_kbps": round((profile.bits.rate_kbps or 0) * times)}
    level = {"level": "2"} if profile.h264 and profile.h264.level == "1.3" else {}
    return extend_profile(profile.name, {"bits": bits, "h264": level}, where="bench")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clip", type=Path, default=CLIP)
    parser.add_argument("--frames", type=int, default=60)
    parser.add_argument("--player", default="h264-baseline-qvga")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    folder = asked.out or Path(tempfile.mkdtemp(prefix="ghostprep-few-bits-"))
    folder.mkdir(parents=True, exist_ok=True)
    profile = load_profile(asked.player)
    source = probe(asked.clip).rate
    rate = choose_rate(profile, source, raster=profile.raster.usual)
    frames = keyed(asked.clip, profile.raster.usual, max(1, round(source / rate)), asked.frames)
    table = Table(title=f"{asked.clip.name}, made to sway; {profile.name}; files in {folder}")
    kinds = ["kB", "kbit/s", "near", "far", "SSIM"]
    for column in [
        "given up",
        "frames/s",
        *kinds,
        "alone kB",
        "quality/rim/share/hold",
        "tries",
        "broken",
    ]:
        table.add_column(column, justify="left" if column == "given up" else "right")
    cases: list[tuple[str, Profile, float, int]] = [("nothing", profile, 1.0, 1)]
    cases += [("half the frame rate", profile, 1.0, 2), ("a third of the size", profile, 2 / 3, 1)]
    cases += [
        ("half of the size", profile, 0.5, 1),
        ("a player of twice the bits", richer(profile, 2), 1.0, 1),
    ]
    for name, taker, size, step in cases:
        shown = lively(frames, size, float(rate))[::step]
        found = best_file(
            folder / f"{name.replace(' ', '-')}{profile.ending}", taker, shown, Fraction(rate, step)
        )
        table.add_row(name, f"{float(rate / step):g}", *found.kept.cells(), *effort(found), str(found.broken))
    Console(width=150).print(table)


if __name__ == "__main__":
    main()
