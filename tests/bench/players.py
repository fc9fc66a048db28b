"""What each player's file costs and keeps: bytes, exact black, likeness to the master.

Run ``python tests/bench/players.py [--clip FILE] [--frames N] [--out FOLDER] [NAME ...]``. The clip is
keyed once, placed on each profile's usual raster and encoded by `RateControl`. *alone* is the same figure at
the same quantiser without anything done for black: the difference is what black costs. Beside it stands what is
usual: x264 at crf 20, or the coding's own default, from the same frames.

Black is counted on the decoded codes within 4 px of the figure and farther away; SSIM (Wang et al. 2004,
scikit-image with Gaussian weights) on luma inside the figure's box.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
from rich.console import Console
from rich.table import Table
from skimage.metrics import structural_similarity

from ghostprep.box import Box
from ghostprep.clip import glance, probe, read_frames, write_frames
from ghostprep.picture import learn_key
from ghostprep.player import Profile, all_profiles, load_profile
from ghostprep.player.attempt import Attempt
from ghostprep.player.control import RateControl
from ghostprep.player.guard import Guard, to_planes
from ghostprep.player.limits import check_limits
from ghostprep.player.measured import measured
from ghostprep.player.rate import choose_rate
from ghostprep.player.read import read_stream_facts
from ghostprep.proof.black import BlackProof

Frame = npt.NDArray[np.uint8]
CLIP = Path(__file__).parents[2] / "sample_media" / "purser_green.mp4"
USUAL = {
    "h264": ("-c:v", "libx264", "-crf", "20"),
    "hevc": ("-c:v", "libx265", "-x265-params", "log-level=error", "-crf", "23"),
    "mjpeg": ("-c:v", "mjpeg", "-q:v", "3"),
    "mpeg1": ("-c:v", "mpeg1video", "-q:v", "3"),
    "mpeg4": ("-c:v", "mpeg4", "-q:v", "3"),
}


@dataclass
class Kept:
    """What a file keeps of the frames that went into it."""

    size: int
    kbps: float
    near: float
    far: float
    likeness: float

    def cells(self) -> list[str]:
        return [
            f"{self.size / 1000:.0f}",
            f"{self.kbps:.0f}",
            f"{self.near:.1%}",
            f"{self.far:.2%}",
            f"{self.likeness:.4f}",
        ]


def keyed(clip: Path, raster: tuple[int, int], step: int, count: int) -> list[Frame]:
    """Key the clip and place the figure's box on the raster, every `step`-th frame."""
    facts = probe(clip)
    seen = glance(facts, 12, longest=640)
    key = learn_key([glimpse.frame for glimpse in seen], kind="auto")
    small = (seen[0].frame.shape[1], seen[0].frame.shape[0])
    whole = key.at(None, facts.size, small)
    mask = np.max([whole(glimpse.frame).codes.max(axis=-1) for glimpse in seen], axis=0) > 24
    x, y, w, h = cv2.boundingRect(mask.astype(np.uint8))
    scale = facts.size[0] / small[0]
    tall = h * scale * 1.06
    wide = max(tall * raster[0] / raster[1], w * scale * 1.06)
    tall = max(tall, wide * raster[1] / raster[0])
    left, top = (x + w / 2) * scale - wide / 2, (y + h / 2) * scale - tall / 2
    crop = Box(round(left), round(top), round(wide), round(tall)).within(facts.size)
    keyer = key.at(crop, facts.size, raster)
    with read_frames(facts, size=raster, crop=crop, stop=step * count, step=step) as stream:
        return [keyer(frame).codes for frame in stream]


def kept(path: Path, frames: list[Frame], profile: Profile, rate: Fraction) -> Kept:
    """Decode a file and measure it."""
    full = profile.colour.range == "full"
    black, likeness = BlackProof(full_range=full), []
    box = cv2.boundingRect(np.max([frame.max(axis=-1) for frame in frames], axis=0))
    x, y, w, h = box
    centred = profile.codec in ("mjpeg", "mpeg1")
    with read_frames(probe(path), pixels="i420") as stream:
        for number, (planes, frame) in enumerate(zip(stream, frames, strict=True)):
            black.add(planes, frame.any(axis=-1))
            if number % 5 == 0:
                truth = to_planes(frame, profile.colour, Guard(colour_px=0), centred=centred)
                pair = (plane[: frame.shape[0]][y : y + h, x : x + w] for plane in (planes, truth))
                likeness.append(ssim(*pair))
    shares = {proof.name: float(proof.value) for proof in black.proofs()}
    size = path.stat().st_size
    kbps = size * 8 * float(rate) / len(frames) / 1000
    return Kept(size, kbps, shares["black near"], shares["black far"], float(np.mean(likeness)))


def ssim(one: Frame, two: Frame) -> float:
    """SSIM as Wang et al. defined it."""
    value = structural_similarity(
        one, two, gaussian_weights=True, sigma=1.5, use_sample_covariance=False, data_range=255
    )
    return float(value)


@dataclass
class Found:
    """The best file that was found, and what it took.

    `alone` is the size in bytes of the same figure at the same quantiser without anything done for black.
    """

    kept: Kept
    alone: int | None
    attempt: Attempt
    tries: float
    broken: int


def best_file(path: Path, profile: Profile, frames: list[Frame], rate: Fraction) -> Found:
    """Search for the best file."""
    raster = (frames[0].shape[1], frames[0].shape[0])
    control = RateControl(profile, raster, rate, len(frames), loop=frames)
    tried, draft = (path.with_stem(f"{path.stem}-{name}") for name in ("tried", "draft"))
    attempt: Attempt | None = control.first()
    tries = 0.0
    best: Found | None = None
    while attempt is not None:
        target = draft if attempt.draft else tried
        shown = frames if attempt.part is None else frames[slice(*attempt.part)]
        with ExitStack() as stack:
            drafted: Iterator[Frame] = iter(())
            if attempt.from_draft:
                drafted = stack.enter_context(read_frames(probe(draft), pixels="i420"))
            write_frames(
                target,
                attempt.prepared(shown, drafted),
                size=raster,
                rate=rate,
                arguments=attempt.arguments,
                pixels=attempt.pixels,
            )
        tries += len(shown) / len(frames)
        seen = None if attempt.draft else kept(target, shown, profile, rate)
        made = measured(
            read_stream_facts(target),
            rate_kbps=profile.bits.rate_kbps,
            black_near=seen.near if seen else None,
            black_far=seen.far if seen else None,
            loop=len(frames) if attempt.part else None,
        )
        following = control.next(attempt, made)
        if seen is not None and control.is_best(attempt):
            alone = draft.stat().st_size if attempt.from_draft else None
            best = Found(seen, alone, attempt, 0, 0)
            tried.replace(path)
        attempt = following
    for left in (tried, draft):
        left.unlink(missing_ok=True)
    proofs = check_limits(read_stream_facts(path), profile, raster=raster, rate=rate, frames=len(frames))
    assert best is not None
    return replace(best, tries=tries, broken=sum(not proof.passed for proof in proofs))


def usual_file(path: Path, profile: Profile, frames: list[Frame], rate: Fraction) -> Kept:
    """Encode the same frames as most people would."""
    short = "tv" if profile.colour.range == "limited" else "pc"
    matrix = profile.colour.matrix
    filters = ("-vf", f"scale=out_color_matrix={matrix}:out_range={short},format=yuv420p")
    raster = (frames[0].shape[1], frames[0].shape[0])
    write_frames(path, frames, size=raster, rate=rate, arguments=(*filters, *USUAL[profile.codec]))
    return kept(path, frames, profile, rate)


def rows(names: list[str], clip: Path, count: int, folder: Path) -> Iterator[list[str]]:
    """Yield a table row for each profile."""
    profiles = [load_profile(name) for name in names] if names else all_profiles()
    for profile in profiles:
        if profile.codec == "ffv1":
            continue
        source = probe(clip).rate
        rate = choose_rate(profile, source, raster=profile.raster.usual)
        frames = keyed(clip, profile.raster.usual, max(1, round(source / rate)), count)
        best = best_file(folder / f"{profile.name}{profile.ending}", profile, frames, rate)
        usual = usual_file(folder / f"{profile.name}-usual.mkv", profile, frames, rate)
        limit = str(profile.bits.rate_kbps or "")
        yield [
            profile.name, f"{rate}", limit, *best.kept.cells(), *effort(best), str(best.broken),
            *usual.cells(),
        ]  # fmt: skip


def effort(found: Found) -> list[str]:
    """Return the cells that tell how a file was made."""
    one = found.attempt.setting
    rim = f"/{one.rim:g}/{one.share:.3f}/{one.hold:g}" if one.rim is not None else ""
    return [
        "" if found.alone is None else f"{found.alone / 1000:.0f}",
        f"{one.quality:g}{rim}",
        f"{found.tries:.1f}",
    ]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help="profiles; default: all")
    parser.add_argument("--clip", type=Path, default=CLIP)
    parser.add_argument("--frames", type=int, default=60)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    folder = asked.out or Path(tempfile.mkdtemp(prefix="ghostprep-players-"))
    folder.mkdir(parents=True, exist_ok=True)
    table = Table(title=f"{asked.clip.name}, {asked.frames} frames; files in {folder}")
    kinds = ["kB", "kbit/s", "near", "far", "SSIM"]
    for column in [
        "player",
        "rate",
        "limit",
        *kinds,
        "alone kB",
        "quality/rim/share/hold",
        "tries",
        "broken",
        *(f"usual {k}" for k in kinds),
    ]:
        table.add_column(column, justify="left" if column == "player" else "right")
    for row in rows(asked.names, asked.clip, asked.frames, folder):
        table.add_row(*row)
    Console(width=210).print(table)


if __name__ == "__main__":
    main()
