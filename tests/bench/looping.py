"""Loops clips in several ways, encodes each loop, and scores the join in the decoded file, read cyclically.

Run by hand: ``python tests/bench/looping.py [--out FOLDER]``. Prints one table, and writes for every clip a
picture of the frames around the join, one row a way.

step    proof `join`: largest step in the join over the 95th percentile elsewhere
median  the same step over the median elsewhere; in brackets the largest elsewhere
double  largest double image in the blend, in median steps (from the frames that are mixed)
dip     proof `dip`: lowest sharpness in the blend over the median elsewhere
ripple  largest distance of a blended frame's brightness from that of the frames which it mixes, %
jerk    largest change of speed in the join over the 95th percentile elsewhere
time    processor seconds to make the loop, without coding
"""

from __future__ import annotations

import argparse
import subprocess
import tempfile
import time
from pathlib import Path

import av
import cv2
import imageio_ffmpeg
import numpy as np
from looping_clips import Clip, Frame, clips
from looping_ways import WAYS, Looped, double_image
from rich.console import Console
from rich.table import Table

from ghostprep.proof.join import DipMeter, JoinMeter
from ghostprep.transfer import codes_to_light, luminance

AROUND = 6


def coded(frames: list[Frame], clip: Clip, path: Path) -> list[Frame]:
    """Encode with x264, and decode with another reader."""
    height, width = frames[0].shape[:2]
    subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgb24",
         "-s", f"{width}x{height}", "-r", str(clip.rate), "-i", "-", "-vf", "scale=out_color_matrix=bt709",
         "-c:v", "libx264", "-crf", "16", "-preset", "fast", "-pix_fmt", "yuv420p", "-colorspace", "bt709",
         str(path)],
        input=b"".join(np.ascontiguousarray(f).tobytes() for f in frames), check=True,
    )  # fmt: skip
    with av.open(str(path)) as container:
        decoded = [f.to_ndarray(format="rgb24") for f in container.decode(video=0)]
    assert len(decoded) == len(frames), f"{len(decoded)} frames decoded, {len(frames)} made"
    return decoded


def scores(clip: Clip, loop: Looped, decoded: list[Frame]) -> list[str]:
    """Return a row of the table."""
    inside = sorted({*loop.join_steps, len(decoded) - 1})
    join, dip = JoinMeter(inside), DipMeter([m[0] for m in loop.mixes])
    for frame in decoded:
        join.add(frame)
        dip.add(frame)
    steps = np.asarray(join.steps)
    elsewhere = np.delete(steps, inside)
    usual = max(float(np.median(elsewhere)), 1e-4)
    grey = np.stack([luminance(codes_to_light(f)).ravel() for f in decoded])
    speed = np.roll(grey, -1, axis=0) - grey
    jerks = np.sqrt(np.mean(np.square(speed - np.roll(speed, 1, axis=0)), axis=1))
    near = sorted({(i + k) % len(decoded) for i in inside for k in (0, 1)})
    level = np.array([luminance(codes_to_light(f)).mean() for f in clip.frames])
    mixed = {i: (1 - w) * level[a] + w * level[b] for i, a, b, w in loop.mixes}
    # what the codec does to the brightness of all frames is not the blend's doing
    coding = np.median([grey[i].mean() / level[a] for i, a in enumerate(loop.sources) if i not in mixed])
    ripples = [abs(grey[i].mean() / (coding * wanted) - 1) for i, wanted in mixed.items() if wanted > 0]
    return [
        f"{join.proof().value:.2f}",
        f"{steps[inside].max() / usual:.2f} ({elsewhere.max() / usual:.2f})",
        f"{double_image(clip, loop, usual):.2f}",
        f"{dip.proof().value:.2f}",
        f"{100 * max(ripples, default=0.0):.1f}",
        f"{jerks[near].max() / max(float(np.quantile(np.delete(jerks, near), 0.95)), 1e-4):.2f}",
    ]


def around_join(loop: Looped, decoded: list[Frame]) -> Frame:
    """Return a row of the frames around the middle of the join."""
    middle = loop.join_steps[len(loop.join_steps) // 2]
    every = max(1, len(loop.join_steps) // (2 * AROUND))
    row = [decoded[(middle + every * k) % len(decoded)] for k in range(-AROUND + 1, AROUND + 1)]
    return np.hstack([cv2.resize(f, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for f in row])


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, help="folder for the pictures and loops; default a temporary one")
    out = parser.parse_args().out or Path(tempfile.mkdtemp(prefix="looping-"))
    out.mkdir(parents=True, exist_ok=True)
    table = Table(
        "clip", "way", "frames", "step", "median", "double", "dip", "ripple %", "jerk", "time s", ""
    )
    for clip in clips():
        rows = []
        for name, way in WAYS.items():
            begin = time.process_time()
            loop = way(clip)
            took = time.process_time() - begin
            stem = f"{clip.name} - {name}".replace(",", "").replace(" ", "_")
            decoded = coded(loop.frames, clip, out / f"{stem}.mp4")
            rows.append(around_join(loop, decoded))
            table.add_row(
                clip.name, name, str(len(decoded)), *scores(clip, loop, decoded), f"{took:.1f}", loop.note
            )
        table.add_section()
        picture = cv2.cvtColor(np.vstack(rows), cv2.COLOR_RGB2BGR)
        cv2.imwrite(str(out / f"{clip.name}.png".replace(" ", "_").replace(",", "")), picture)
    console = Console(width=170)
    console.print(table)
    console.print(f"pictures and loops: {out}")


if __name__ == "__main__":
    main()
