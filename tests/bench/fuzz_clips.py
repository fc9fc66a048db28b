"""Feeds damaged clips to the reader: nothing but a result or a one-line refusal may come of any.

Run by hand: ``python tests/bench/fuzz_clips.py [--cases N] [--seed S] [--out FOLDER]``.
Clips of ten kinds are made on the spot and damaged in their heads and bodies; each is probed,
glanced at and read. A case fails on any exception but the project's own, on a message of more
than one line, on a time over the limit, on a process or a file left behind.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import psutil
from rich.console import Console
from rich.table import Table

from ghostprep.clip import glance, probe, read_frames
from ghostprep.errors import InputError, JobError

LIMIT_S = 60.0
FRAMES_MAX = 400
SOURCE = ("-f", "lavfi", "-i", "testsrc2=s=96x64:r=10:d=2")
SOUND = ("-f", "lavfi", "-i", "sine=d=2")
CLIPS: dict[str, tuple[str, ...]] = {
    "clip.mp4": (*SOURCE, *SOUND, "-c:v", "libx264", "-g", "6", "-movflags", "+faststart"),
    "clip.mov": (*SOURCE, "-c:v", "prores_ks", "-profile:v", "4444", "-pix_fmt", "yuva444p10le"),
    "clip.mkv": (*SOURCE, *SOUND, "-c:v", "libx265", "-x265-params", "log-level=none", "-c:a", "aac"),
    "clip.webm": (*SOURCE, "-c:v", "libvpx-vp9", "-cpu-used", "8", "-pix_fmt", "yuva420p"),
    "clip.avi": (*SOURCE, *SOUND, "-c:v", "mjpeg", "-q:v", "3"),
    "clip.ts": (*SOURCE, *SOUND, "-c:v", "mpeg2video", "-q:v", "3"),
    "clip.mpg": (*SOURCE, *SOUND, "-c:v", "mpeg1video", "-r", "25", "-q:v", "3"),
    "clip.gif": SOURCE,
    "clip.webp": (*SOURCE, "-c:v", "libwebp_anim", "-q:v", "60"),
    "clip.png": (*SOURCE, "-frames:v", "1", "-update", "1"),
}  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """What came of one case; `fault` is empty if all was well."""

    name: str
    kind: str
    seconds: float
    fault: str = ""


def make_clips(folder: Path) -> dict[str, bytes]:
    """Encode one small clip a container."""
    made = {}
    for name, arguments in CLIPS.items():
        path = folder / name
        command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *arguments, str(path)]
        subprocess.run(command, check=True, stdin=subprocess.DEVNULL)
        made[name] = path.read_bytes()
        path.unlink()
    return made


def damaged(data: bytes, rng: np.random.Generator) -> bytes:
    """Return the data with one to three kinds of damage."""
    out = bytearray(data)
    for _ in range(int(rng.integers(1, 4))):
        # a third of all damage is done where containers keep their sizes, counts and offsets
        reach = min(len(out), 700) if rng.random() < 0.35 else len(out)
        at = int(rng.integers(0, max(reach, 1)))
        length = int(rng.integers(1, 1 + min(64, max(len(out) - at, 1))))
        match int(rng.integers(0, 7)):
            case 0:
                out[at : at + length] = rng.bytes(length)
            case 1:
                out[at : at + 1] = bytes([out[at] ^ (1 << int(rng.integers(0, 8)))]) if out else b""
            case 2:
                out[at : at + 4] = [b"\xff\xff\xff\xff", b"\0\0\0\0", b"\x7f\xff\xff\xff", b"\0\0\0\1"][
                    int(rng.integers(0, 4))
                ]
            case 3:
                del out[at : at + length]
            case 4:
                out[at:at] = rng.bytes(length)
            case 5:
                out[at:at] = out[at : at + int(rng.integers(1, 3000))]
            case _:
                del out[int(rng.integers(1, max(len(out), 2))) :]
    return bytes(out)


def try_clip(path: Path) -> str:
    """Probe, glance, read; return what kind of outcome it was."""
    facts = probe(path)
    glance(facts, 4, longest=64)
    with read_frames(facts, size=(48, 32), stop=FRAMES_MAX) as frames:
        count = sum(1 for _ in frames)
    return "damaged" if frames.damage else "whole" if count else "empty"


def run_case(path: Path) -> Outcome:
    """Run one case and judge it."""
    begun = time.monotonic()
    fault = ""
    try:
        kind = try_clip(path)
    except (InputError, JobError) as error:
        kind = "refused" if isinstance(error, InputError) else "failed"
        if not str(error).isprintable() or not str(error):
            fault = f"message {str(error)!r}"
    except Exception as error:
        kind, fault = "crash", f"{type(error).__name__}: {error}"
    seconds = time.monotonic() - begun
    if seconds > LIMIT_S:
        fault = fault or f"took {seconds:.0f} s"
    left = [p.pid for p in psutil.Process().children(recursive=True) if "ffmpeg" in p.name()]
    if left:
        fault = fault or f"left processes {left}"
    strangers = sorted(p.name for p in path.parent.iterdir() if p != path)
    if strangers:
        fault = fault or f"left files {strangers}"
    return Outcome(path.name, kind, seconds, fault)


def run(cases: int, seed: int, folder: Path) -> Iterator[tuple[Outcome, bytes]]:
    """Run so many cases, in turn over the containers."""
    clips = make_clips(folder)
    names = list(clips)
    for i in range(cases):
        name = names[i % len(names)]
        data = damaged(clips[name], np.random.default_rng([seed, i]))
        path = folder / name
        path.write_bytes(data)
        try:
            yield run_case(path), data
        finally:
            path.unlink()


def main() -> int:
    """Run by hand; exit status 1 if a case failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, help="where to keep the clips of failed cases")
    options = parser.parse_args()
    kept = options.out or Path(tempfile.mkdtemp(prefix="ghostprep-fuzz-"))
    kept.mkdir(parents=True, exist_ok=True)
    outcomes: list[Outcome] = []
    with tempfile.TemporaryDirectory(prefix="ghostprep-fuzz-") as folder:
        for i, (outcome, data) in enumerate(run(options.cases, options.seed, Path(folder))):
            outcomes.append(outcome)
            if outcome.fault:
                place = kept / f"case-{options.seed}-{i}-{outcome.name}"
                place.write_bytes(data)
                sys.stderr.write(f"{place}: {outcome.fault}\n")
    print_table(outcomes)
    sys.stdout.write(f"failed cases are kept in {kept}\n")
    return int(any(o.fault for o in outcomes))


def print_table(outcomes: list[Outcome]) -> None:
    """Print what came of the cases, a row a container."""
    table = Table(title=f"{len(outcomes)} damaged clips")
    kinds = ("whole", "damaged", "empty", "refused", "failed", "crash")
    for column in ("clip", "cases", *kinds, "longest s", "faults"):
        table.add_column(column, justify="left" if column == "clip" else "right")
    for name in CLIPS:
        own = [o for o in outcomes if o.name == name]
        counts = Counter(o.kind for o in own)
        longest = max((o.seconds for o in own), default=0.0)
        faults = sum(bool(o.fault) for o in own)
        table.add_row(name, str(len(own)), *(str(counts[k]) for k in kinds), f"{longest:.1f}", str(faults))
    Console(width=110).print(table)


if __name__ == "__main__":
    sys.exit(main())
