"""Peak memory of `make`, with all its children, on the longest and the largest clips.

Run by hand: ``python tests/bench/memory.py [--clip NAME ...] [--out FOLDER]``. The clips are made on the
spot: three hours by repeating packets, and a figure before green at 7680x4320.

What a decoder must hold is set by the coding's own rules: the pictures that later ones refer to. At
7680x4320 one picture of 4:2:0 takes 50 MB with 8 bits and 100 MB with 10, and HEVC's motion data 23 MB more.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import imageio_ffmpeg
from fault_grounds import small_clip
from rich.console import Console
from rich.table import Table
from whole_process import run

LIMIT_MB = 600
FIGURE = (
    *("-f", "lavfi", "-i", "color=0x28AA46:s=7680x4320:r=24:d=1.2"),
    *("-f", "lavfi", "-i", "mandelbrot=s=1200x2400:r=24", "-t", "1.2", "-filter_complex"),
)
MOVES = "[0][1]overlay=x='3240+400*sin(2*PI*t/0.6)':y=1500:shortest=1"
QUIET = "log-level=none"
LARGE = {
    "8k_h264.mp4": ("yuv420p", "-c:v", "libx264", "-preset", "ultrafast"),
    "8k_hevc.mp4": ("yuv420p", "-c:v", "libx265", "-preset", "ultrafast", "-x265-params", f"{QUIET}:ref=1:bframes=0"),
    "8k_hevc_10bit.mp4": (
        *("yuv420p10le", "-c:v", "libx265", "-preset", "ultrafast"),
        *("-x265-params", f"{QUIET}:ref=1:bframes=0"),
    ),
    "8k_hevc_10bit_4_references.mp4": (
        *("yuv420p10le", "-c:v", "libx265", "-preset", "ultrafast"),
        *("-x265-params", f"{QUIET}:ref=4:bframes=4"),
    ),
    "8k_av1.mp4": ("yuv420p", "-c:v", "libsvtav1", "-preset", "12"),
    "8k_av1_10bit.mp4": ("yuv420p10le", "-c:v", "libsvtav1", "-preset", "12"),
}  # fmt: skip
THREE_HOURS = "three_hours.mp4"


def made(name: str, folder: Path) -> Path:
    """Return a clip, made if it is not there yet."""
    path = folder / name
    if path.exists():
        return path
    if name == THREE_HOURS:
        lap = small_clip(folder / "lap.mp4")
        arguments = ("-stream_loop", "5399", "-i", str(lap), "-c", "copy")
    else:
        pixels, *coding = LARGE[name]
        arguments = (*FIGURE, f"{MOVES},format={pixels}", *coding)
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *arguments, str(path)]
    subprocess.run(command, check=True, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return path


def main() -> int:
    """Run by hand; exit status 1 if a clip took more than the limit."""
    names = [THREE_HOURS, *LARGE]
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--clip", choices=names, action="append", help="all if left out")
    parser.add_argument("--out", type=Path, help="where the clips and loops go")
    options = parser.parse_args()
    folder = options.out or Path(tempfile.mkdtemp(prefix="ghostprep-memory-"))
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["GHOSTPREP_CACHE"] = str(folder / "cache")
    table = Table(title=f"make, peak memory of the whole process tree; the limit is {LIMIT_MB} MB")
    for column in ("clip", "peak MB", "wall s", "processor s"):
        table.add_column(column, justify="left" if column == "clip" else "right")
    over = 0
    for name in options.clip or names:
        clip = made(name, folder)
        command = [sys.executable, "-c", "from ghostprep.cli import main; main()", "make", str(clip)]
        took = run([*command, str(folder / f"{clip.stem}_loop.mp4"), "--overwrite"], folder)
        over += took.peak_mb > LIMIT_MB
        table.add_row(name, f"{took.peak_mb:.0f}", f"{took.wall_s:.1f}", f"{took.cpu_s:.1f}")
    Console(width=100).print(table)
    sys.stdout.write(f"clips and loops are in {folder}\n")
    return int(over > 0)


if __name__ == "__main__":
    sys.exit(main())
