"""Makes the sample media: the last purser of the night ferry, at 1:24, with a lantern.

Run ``python sample_media/make_samples.py`` to make everything again beside this file, or
``--out FOLDER`` for another place. It needs numpy, opencv-python and imageio-ffmpeg, and about five minutes
on two cores. All is computed from fixed seeds; there is no photograph and no recording in it.

=====================  ===================================================================
purser_green.mp4       before green cloth: uneven light 0.8 to 1.2, spill 4 to 30 %, noise
purser_dark.mp4        before black cloth that the camera sees as codes 10 to 17, noise
purser_room.mp4        in the cluttered ticket hall, camera on a tripod, noise
purser_room_plate.jpg  the same hall without the purser
=====================  ===================================================================

1280x720, 30 frames a second, 12 s, H.264 yuv420p, BT.709. The purser sways with a period of
4.6 s that nearly, but never exactly, repeats. ``truth(index)`` gives what a perfect key would.
"""

from __future__ import annotations

import argparse
import functools
import multiprocessing
import subprocess
import sys
from pathlib import Path

import cv2
import imageio_ffmpeg
import numpy as np
import numpy.typing as npt

sys.path.insert(0, str(Path(__file__).parent))

from purser.figure import HEIGHT, WIDTH, figure_light
from purser.motion import FPS, FRAMES
from purser.room import room
from purser.stage import (
    Frame,
    dark_backing,
    film,
    green_backing,
    grounded,
    to_codes,
    with_spill,
)

NOISE = {"green": 2.5, "dark": 2.0, "room": 2.0}
CRF = {"green": 19, "dark": 19, "room": 19}


def truth(index: int) -> tuple[Frame, Frame]:
    """Return the purser in frame `index` without backing, spill and noise.

    Parameters
    ----------
    index : int
        Frame of any of the clips, 0 to 359.

    Returns
    -------
    figure : ndarray of uint8, (720, 1280, 3)
        sRGB codes of the figure premultiplied (in linear light) on black, RGB.
    alpha : ndarray of uint8, (720, 1280)
        Coverage, 0 to 255.
    """
    light, alpha = figure_light(index)
    return np.rint(to_codes(light)).astype(np.uint8), np.rint(alpha * 255).astype(np.uint8)


@functools.cache
def backing(kind: str) -> npt.NDArray[np.float32]:
    """Return what is behind the purser in a clip, linear (720, 1280, 3)."""
    return {"green": green_backing, "dark": dark_backing, "room": room}[kind]()


def filmed(index: int, kinds: tuple[str, ...]) -> list[bytes]:
    """Return frame `index` of each clip as raw bytes."""
    cv2.setNumThreads(1)
    light, alpha = figure_light(index)
    frames = []
    for number, kind in enumerate(kinds):
        behind = backing(kind)
        figure = with_spill(light, alpha, behind) if kind == "green" else light
        if kind == "room":
            behind = grounded(alpha, behind)
        seed = 1000 * (number + 1) + index
        frames.append(film(figure, alpha, behind, noise=NOISE[kind], seed=seed).tobytes())
    return frames


def encoder(path: Path, crf: float) -> subprocess.Popen[bytes]:
    """Start ffmpeg, to take raw frames and write `path`."""
    # raw frames carry no tags, and the encoder takes each frame's own over its options
    convert = (
        "scale=out_color_matrix=bt709:out_range=tv:flags=accurate_rnd+full_chroma_int,format=yuv420p,"
        "setparams=range=tv:color_primaries=bt709:color_trc=bt709:colorspace=bt709"
    )
    return subprocess.Popen(
        [
            *(imageio_ffmpeg.get_ffmpeg_exe(), "-y", "-loglevel", "error"),
            *("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{WIDTH}x{HEIGHT}", "-r", str(FPS), "-i", "-"),
            *("-vf", convert, "-c:v", "libx264", "-preset", "slow", "-crf", str(crf)),
            *("-movflags", "+faststart", "-fflags", "+bitexact", "-flags:v", "+bitexact", str(path)),
        ],
        stdin=subprocess.PIPE,
    )


def make_clips(folder: Path, kinds: tuple[str, ...], workers: int) -> None:
    """Film every clip; the purser is painted once for all of them."""
    writers = [encoder(folder / f"purser_{kind}.mp4", CRF[kind]) for kind in kinds]
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        work = functools.partial(filmed, kinds=kinds)
        for index, frames in enumerate(pool.imap(work, range(FRAMES))):
            for writer, frame in zip(writers, frames, strict=True):
                assert writer.stdin
                writer.stdin.write(frame)
            print(f"\rframe {index + 1} of {FRAMES}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for writer in writers:
        assert writer.stdin
        writer.stdin.close()
        if writer.wait():
            raise SystemExit("ffmpeg failed")


def write_plate(folder: Path) -> None:
    """Write the hall without the purser."""
    plate = np.rint(to_codes(backing("room"))).astype(np.uint8)
    cv2.imwrite(str(folder / "purser_room_plate.jpg"), plate[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 94])


def write_truth(folder: Path, workers: int) -> None:
    """Write figure and alpha of every frame as PNG files."""
    folder.mkdir(parents=True, exist_ok=True)
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        for index, (figure, alpha) in enumerate(pool.imap(truth, range(FRAMES))):
            cv2.imwrite(str(folder / f"figure_{index:03}.png"), figure[..., ::-1])
            cv2.imwrite(str(folder / f"alpha_{index:03}.png"), alpha)


def main() -> None:
    """Make what the command line asks for."""
    parser = argparse.ArgumentParser(description="Make the sample media again.")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="folder for the clips")
    parser.add_argument(
        "--truth", type=Path, metavar="FOLDER", help="write figure and alpha per frame instead"
    )
    parser.add_argument("--only", choices=sorted(CRF), action="append", help="make this clip only")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    if given.truth:
        write_truth(given.truth, given.workers)
        return
    given.out.mkdir(parents=True, exist_ok=True)
    write_plate(given.out)
    make_clips(given.out, tuple(given.only or CRF), given.workers)


if __name__ == "__main__":
    main()
