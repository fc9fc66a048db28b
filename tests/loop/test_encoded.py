"""The drifting clip, looped, encoded, decoded by another program's library and read in a circle."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from ghostprep.loop import LoopPlan, ThumbnailStrip, mixed, plan_loop, quietest, search
from ghostprep.transfer import codes_to_light, luminance
from tests.measured import dip, join

Maker = Callable[..., list[np.ndarray]]
RATE = Fraction(25)


def encode(path: Path, frames: list[np.ndarray]) -> list[np.ndarray]:
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=RATE, options={"crf": "16", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = frames[0].shape[1], frames[0].shape[0], "yuv420p"
        for frame in frames:
            container.mux(stream.encode(av.VideoFrame.from_ndarray(frame, format="rgb24")))
        container.mux(stream.encode(None))
    with av.open(str(path)) as container:
        return [f.to_ndarray(format="rgb24") for f in container.decode(video=0)]


def light(frames: list[np.ndarray]) -> np.ndarray:
    return np.array([luminance(codes_to_light(f)).mean() for f in frames])


@pytest.fixture
def looped(sway: Maker) -> tuple[LoopPlan, list[np.ndarray], list[np.ndarray], float]:
    frames = sway(300, period_s=4.3, drift=0.6)
    strip = ThumbnailStrip()
    for frame in frames:
        strip.add(frame)
    best = search(strip, RATE, fetch=frames.__getitem__)[0]
    plan = plan_loop("search", 300, RATE, candidate=best)
    plan = plan.rotated(quietest(plan, strip))
    return plan, frames, [mixed(plan, mix, frames.__getitem__) for mix in plan.steps], best.double


def test_the_join_of_the_file_is_not_to_be_found(
    looped: tuple[LoopPlan, list[np.ndarray], list[np.ndarray], float], tmp_path: Path
) -> None:
    plan, frames, made, double = looped
    decoded = encode(tmp_path / "loop.mp4", made)
    assert len(decoded) == len(plan)
    proof = join(decoded, plan.join_steps)
    assert proof.passed, proof
    assert double <= 0.15
    assert float(dip(decoded, plan.blend_frames).value) >= 0.9
    # brightness against the source's own at the same moment; the codec's share is that of unmixed frames
    source, shown = light(frames), light(decoded)
    wanted = np.array([
        (1 - m.weight) * source[m.a] + m.weight * source[m.b if m.b is not None else m.a] for m in plan.steps
    ])  # fmt: skip
    ratio = shown / wanted
    assert np.abs(ratio / np.median(ratio) - 1).max() <= 0.01
    # no frame is doubled, dropped or black
    assert shown.min() > 0.5 * np.median(shown)
    for a, b in zip(made, [*made[1:], made[0]], strict=True):
        assert not np.array_equal(a, b)
