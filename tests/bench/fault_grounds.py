"""The commands that write files, each with a small job to do."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
from fault_runs import Ground

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.clip import write_frames

RASTER = (96, 72)
SCENE = """
scale = "1:24"
[box]
width = 76
height = 190
depth = 260
[screen]
wall = "left"
centre = [-32, 70, 150]
raster = [96, 72]
active = [40.8, 30.6]
[ghost]
at = [0, 70, 182]
figure = "1.2 m"
[player]
profile = "master-ffv1-mkv"
"""


def small_clip(path: Path, frames: int = 24, size: tuple[int, int] = RASTER) -> Path:
    """Encode a bright bar that sways before green, twice in the clip."""

    def shown() -> Iterator[npt.NDArray[np.uint8]]:
        rng, (width, height) = np.random.default_rng(3), size
        for n in range(frames):
            at = width / 2 + width / 10 * np.sin(4 * np.pi * n / frames)
            frame = np.full((height, width, 3), (40, 170, 70), np.uint8)
            corner = round((at - width / 12) * 8), height
            cv2.rectangle(
                frame, corner, (round((at + width / 12) * 8), height * 7), (225, 200, 170), -1, cv2.LINE_AA, 3
            )
            yield np.clip(frame + rng.normal(0, 1.5, frame.shape), 0, 255).astype(np.uint8)

    coding = ("-c:v", "libx264", "-preset", "veryfast", "-crf", "14", "-pix_fmt", "yuv420p")
    write_frames(path, shown(), size=size, rate=Fraction(12), arguments=coding)
    return path


def grounds(root: Path) -> Mapping[str, Ground]:
    """Return a ground for each command, with what it needs made."""
    root.mkdir(parents=True, exist_ok=True)
    clip, scene, loop = small_clip(root / "clip.mp4"), root / "scene.toml", root / "kept.mkv"
    scene.write_text(SCENE, encoding="utf-8")
    player = ["--player", "master-ffv1-mkv", "--raster", "96x72"]
    if status_of(group, ["make", str(clip), str(loop), *player, "--overwrite", "--json"]):
        raise RuntimeError("no loop to preview could be made")
    json.loads(loop.with_suffix(".json").read_text(encoding="utf-8"))
    jobs = {
        "make": (["make", clip, "OUT/loop.mkv", *player], ["loop.mkv", "loop.json"]),
        "make h264": (["make", clip, "OUT/loop.mp4"], ["loop.mp4", "loop.json"]),
        "preview": (["preview", loop, "--no-open", "--out", "OUT/page.html"], ["page.html"]),
        "preview --still": (["preview", loop, "--still", "OUT/still.png"], ["still.png"]),
        "chart": (["chart", "OUT/chart.mkv", "--scene", scene], ["chart.mkv", "chart.json"]),
        "plan --drawing svg": (["plan", scene, "--drawing", "OUT/plan.svg"], ["plan.svg"]),
        "plan --drawing pdf": (["plan", scene, "--drawing", "OUT/plan.pdf"], ["plan.pdf"]),
        "plan --drawing png": (["plan", scene, "--drawing", "OUT/plan.png"], ["plan.png"]),
        "plan --template": (["plan", scene, "--template", "OUT/parts.pdf"], ["parts.pdf"]),
        "scene": (["scene", "OUT/scene.toml"], ["scene.toml"]),
    }
    return {
        name: Ground(root / name.replace(" ", "_"), [*map(str, arguments), "--overwrite"], outputs)
        for name, (arguments, outputs) in jobs.items()
    }
