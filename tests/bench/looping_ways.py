"""The ways of looping that are compared, each as loop frames with what is known of its blend."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import imageio_ffmpeg
import numpy as np
from looping_clips import Clip, Frame
from moviepy import ImageSequenceClip
from moviepy.video.fx import MakeLoopable

from ghostprep.loop import LoopPlan, ThumbnailStrip, better_method, mixed, plan_loop, search
from ghostprep.loop.blend import Pair
from ghostprep.transfer import codes_to_light, luminance

BLEND_S = 0.4


@dataclass(frozen=True)
class Looped:
    """A loop; `sources` holds each frame's (first) source frame.

    `mixes` holds frame of the loop, source frames a and b, share of b; `moved`: whether motion was found.
    """

    frames: list[Frame]
    sources: Sequence[int]
    join_steps: tuple[int, ...]
    mixes: tuple[tuple[int, int, int, float], ...]
    moved: bool = False
    note: str = ""


def plain_cut(clip: Clip) -> Looped:
    """Play it again from the beginning."""
    return Looped(list(clip.frames), range(len(clip.frames)), (len(clip.frames) - 1,), ())


def _ends(clip: Clip, frames: Sequence[Frame]) -> Looped:
    n = round(BLEND_S * clip.rate)
    count = len(frames)
    steps = tuple(range(count - n - 1, count))
    mixes = tuple((count - n + i, len(clip.frames) - n + i, i, (i + 0.5) / n) for i in range(n))
    return Looped(list(frames), range(n, n + count), steps, mixes, note=f"{count} of {len(clip.frames) - n}")


def xfade(clip: Clip) -> Looped:
    """End into start with ffmpeg's xfade filter."""
    height, width = clip.frames[0].shape[:2]
    n = round(BLEND_S * clip.rate)
    offset = float((len(clip.frames) - 2 * n) / clip.rate)
    graph = (
        f"[0]split[a][b];[a]trim=start_frame={n},setpts=PTS-STARTPTS[body];[b]trim=end_frame={n},"
        f"setpts=PTS-STARTPTS[head];[body][head]xfade=transition=fade:duration={BLEND_S}:offset={offset}"
    )
    done = subprocess.run(
        [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-f", "rawvideo", "-pix_fmt", "rgb24",
         "-s", f"{width}x{height}", "-r", str(clip.rate), "-i", "-", "-filter_complex", graph,
         "-f", "rawvideo", "-pix_fmt", "rgb24", "-"],
        input=b"".join(f.tobytes() for f in clip.frames), capture_output=True, check=True,
    )  # fmt: skip
    return _ends(clip, list(np.frombuffer(done.stdout, np.uint8).reshape(-1, height, width, 3)))


def moviepy_loopable(clip: Clip) -> Looped:
    """End into start with moviepy's MakeLoopable."""
    made = ImageSequenceClip(list(clip.frames), fps=float(clip.rate)).with_effects([MakeLoopable(BLEND_S)])
    return _ends(clip, [np.asarray(f, np.uint8) for f in made.iter_frames(dtype="uint8")])


def _planned(clip: Clip, plan: LoopPlan, note: str) -> Looped:
    mixes = tuple((i, m.a, m.b, m.weight) for i, m in enumerate(plan.steps) if m.b is not None)
    frames = [mixed(plan, mix, clip.frames.__getitem__) for mix in plan.steps]
    return Looped(frames, [m.a for m in plan.steps], plan.join_steps, mixes, plan.method == "flow", note)


def _strip(clip: Clip) -> ThumbnailStrip:
    strip = ThumbnailStrip()
    for frame in clip.frames:
        strip.add(frame)
    return strip


def ours_ends(clip: Clip) -> Looped:
    """`--join ends`: end into start, mixed the better way."""
    plan = plan_loop("ends", len(clip.frames), clip.rate, crossfade_s=BLEND_S)
    plan, _ = better_method(plan, _strip(clip), clip.frames.__getitem__, clip.rate)
    return _planned(clip, plan, plan.method)


def ours(clip: Clip) -> Looped:
    """`--join search`: the best cut with the best blend."""
    found = search(_strip(clip), clip.rate, fetch=clip.frames.__getitem__)
    best = found[0]
    plan = plan_loop("search", len(clip.frames), clip.rate, candidate=best)
    verdict = "" if best.score <= 1 else ", does not loop"
    return _planned(clip, plan, f"{best.name} {best.method} {best.blend}, {best.score:.2f}{verdict}")


WAYS: dict[str, Callable[[Clip], Looped]] = {
    "plain cut": plain_cut,
    "ffmpeg xfade": xfade,
    "moviepy MakeLoopable": moviepy_loopable,
    "ours, ends": ours_ends,
    "ours, search": ours,
}


def double_image(clip: Clip, loop: Looped, usual: float) -> float:
    """Return the largest 4a(1-a)|A'-B'| of the blend, RMS of luminance in linear light, in usual steps."""
    worst = 0.0
    for _, a, b, share in loop.mixes:
        pair = Pair(clip.frames[a], clip.frames[b])
        grey = [luminance(codes_to_light(f)) for f in (pair.a, pair.b)]
        if loop.moved:
            *grey, share = pair.meet(grey[0], grey[1], share)  # noqa: PLW2901
        apart = float(np.sqrt(np.mean(np.square(grey[0] - grey[1]))))
        worst = max(worst, 4 * share * (1 - share) * apart)
    return worst / usual
