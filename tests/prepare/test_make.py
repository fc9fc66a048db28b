"""The main job on real files, read again by a second decoder (PyAV)."""

import json
import subprocess
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import imageio_ffmpeg
import numpy as np
import pytest

from ghostprep.clip import write_frames
from ghostprep.errors import InputError
from ghostprep.prepare.appear import make_appearances
from ghostprep.prepare.batch import make_all
from ghostprep.prepare.make import make
from ghostprep.prepare.recipe import Recipe

ORIENTATIONS = [(reflections, turn) for reflections in (0, 1) for turn in (0, 90, 180, 270)]


def proofs_of(result) -> dict[str, object]:
    return {proof.name: proof for proof in result.proofs}


def test_a_clip_becomes_a_loop_that_the_second_decoder_agrees_on(green_clip: Path, tmp_path: Path) -> None:
    out = tmp_path / "loop.mp4"
    result = make(green_clip, out, Recipe(length=(1.0, 2.0)))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["loop.json", "loop.mp4"]
    report = json.loads((tmp_path / "loop.json").read_text("utf-8"))
    assert report["backing"]["kind"] == "green"
    assert all(proof.passed for proof in result.proofs), [p for p in result.proofs if not p.passed]
    with av.open(out) as container:
        stream = container.streams.video[0]
        packets = [p for p in container.demux(stream) if p.size]
        assert packets[0].pts == 0
        assert packets[0].is_keyframe
        assert all(p.pts == p.dts for p in packets)  # no B-frames: decoded in the order shown
        assert (stream.width, stream.height) == (320, 240) == tuple(report["output"]["raster"])
        assert stream.average_rate == Fraction(report["output"]["rate"])
        assert stream.profile == "Constrained Baseline"
        assert len(container.streams) == 1
    with av.open(out) as container:
        frames = [frame.to_ndarray(format="yuv420p") for frame in container.decode(video=0)]
    assert len(frames) == report["output"]["frames"] == report["loop"]["frames"]
    corner = np.array([frame[:40, :40] for frame in frames])
    assert (corner == 16).mean() > 0.999  # luma of black in limited range


def test_a_letter_that_sways_once_a_second_loops_in_whole_seconds(green_clip: Path, tmp_path: Path) -> None:
    result = make(green_clip, tmp_path / "loop.mp4", Recipe(length=(0.9, 2.1)))
    assert len(result.takes[0].plan) % 30 in {0, 1, 29}
    assert result.takes[0].plan.blend <= 6
    assert proofs_of(result)["join"].value <= 1.0


@pytest.mark.parametrize(("reflections", "turn"), ORIENTATIONS)
def test_the_letter_reads_upright_through_every_mount(
    green_clip: Path, tmp_path: Path, reflections: int, turn: int
) -> None:
    recipe = Recipe(
        reflections=reflections,
        turn=turn,
        player="master-ffv1-mkv",
        raster=(160, 120),
        end=Fraction(1, 3),
        join="none",
    )
    result = make(green_clip, tmp_path / "loop.mkv", recipe)
    assert proofs_of(result)["upright"].passed
    with av.open(tmp_path / "loop.mkv") as container:
        raster = next(container.decode(video=0)).to_ndarray(format="rgb24")
    # the player is turned clockwise in its holder, then the pane mirrors what its screen shows
    seen = np.rot90(raster, -turn // 90)
    if reflections % 2:
        seen = seen[:, ::-1]
    lit = seen.max(axis=2) > 60
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    letter = lit[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    height, width = letter.shape
    assert letter[:, : width // 8].mean() > 0.9  # the stem of the F stands at the left
    assert letter[: height // 12].mean() > 0.8  # its bar lies on top
    assert letter[-height // 4 :, width // 2 :].mean() < 0.05  # nothing at the lower right
    assert height > width


@pytest.mark.parametrize(
    ("player", "ending"), [("h264-main-720p", "mp4"), ("mjpeg-avi-qvga", "avi"), ("master-ffv1-mkv", "mkv")]
)
def test_other_players_get_what_they_take(green_clip: Path, tmp_path: Path, player: str, ending: str) -> None:
    out = tmp_path / f"loop.{ending}"
    result = make(green_clip, out, Recipe(player=player, end=Fraction(3, 2)))
    failed = [p for p in result.proofs if not p.passed]
    assert not failed
    with av.open(out) as container:
        assert sum(1 for _ in container.decode(video=0)) == result.output.frames


def test_a_figure_of_nearly_the_backings_hue_is_not_taken_for_a_dark_one(tmp_path: Path) -> None:
    """Orange before yellow: what it has of yellow is its own, and it needs no --gain."""
    frames = []
    for i in range(20):
        frame = np.full((120, 160, 3), (255, 220, 0), np.uint8)
        frame[20:110, 60 + i : 100 + i] = (250, 160, 40)
        frames.append(frame)
    clip = tmp_path / "orange.mkv"
    write_frames(clip, frames, size=(160, 120), rate=Fraction(25), arguments=("-c:v", "ffv1"))
    result = make(clip, tmp_path / "loop.mp4", Recipe(join="there-and-back"))
    assert result.recipe.gain == pytest.approx(1, abs=0.1)


@pytest.mark.parametrize("rate", ["24000/1001", "25", "30000/1001", "60"])
def test_frame_counts_are_exact_at_every_rate(
    make_letter_clip: Callable[..., Path], tmp_path: Path, rate: str
) -> None:
    clip = make_letter_clip(tmp_path / "clip.mp4", frames=61, rate=Fraction(rate))
    result = make(
        clip, tmp_path / "loop.mkv", Recipe(player="master-ffv1-mkv", join="none", raster=(160, 120))
    )
    assert result.output.frames == 61
    assert result.output.rate == Fraction(rate)
    back = make(
        clip,
        tmp_path / "back.mkv",
        Recipe(player="master-ffv1-mkv", join="there-and-back", raster=(160, 120)),
    )
    assert back.output.frames == 2 * 61 - 2


def test_the_clip_itself_and_a_wrong_ending_are_refused(green_clip: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is the clip itself"):
        make(green_clip, green_clip, Recipe(overwrite=True))
    with pytest.raises(InputError, match=r"the ending is \.avi, the player takes \.mp4"):
        make(green_clip, tmp_path / "loop.avi", Recipe())
    assert list(tmp_path.iterdir()) == []


def test_repeats_are_the_same_packets_again(green_clip: Path, tmp_path: Path) -> None:
    recipe = Recipe(length=(0.9, 1.1))
    one = make(green_clip, tmp_path / "one.mp4", recipe)
    many = make(green_clip, tmp_path / "many.mp4", replace(recipe, repeat_for=Fraction(10)))

    def packets(path: Path) -> list[bytes]:
        with av.open(path) as container:
            return [bytes(packet) for packet in container.demux(video=0) if packet.size]

    once, copies = packets(one.output.path), packets(many.output.path)
    count = len(copies) // len(once)
    assert count == 10 * 30 // len(once)
    assert copies == once * count
    assert many.output.frames == len(copies)
    assert all(proof.passed for proof in many.proofs)


def test_sound_is_kept_exactly_as_long_as_the_picture(
    make_letter_clip: Callable[..., Path], tmp_path: Path
) -> None:
    silent = make_letter_clip(tmp_path / "silent.mp4", frames=90)
    clip, out = tmp_path / "clip.mp4", tmp_path / "loop.mp4"
    tone = ["-f", "lavfi", "-i", "sine=frequency=440:sample_rate=48000:duration=3"]
    ffmpeg = imageio_ffmpeg.get_ffmpeg_exe()
    subprocess.run(
        [ffmpeg, "-v", "error", "-i", silent, *tone, "-c:v", "copy", "-c:a", "aac", clip], check=True
    )
    result = make(
        clip, out, Recipe(sound="keep", length=(0.9, 2.1), player="h264-main-720p", raster=(320, 240))
    )
    with av.open(out) as container:
        heard = np.concatenate([frame.to_ndarray() for frame in container.decode(audio=0)], axis=1)
        seconds = float(result.output.frames / result.output.rate)
    rate = 44100
    assert abs(heard.shape[1] / rate - seconds) < 0.03  # an AAC packet has 1024 samples
    spectrum = np.abs(np.fft.rfft(heard[0][: int(rate * 0.8)]))
    assert np.argmax(spectrum) / 0.8 == pytest.approx(440, abs=3)
    with pytest.raises(InputError, match="has no sound"):
        make(silent, tmp_path / "no.mp4", Recipe(sound="keep"))


def test_ghosts_appear_in_turn_from_exact_black(
    make_letter_clip: Callable[..., Path], tmp_path: Path
) -> None:
    clips = [make_letter_clip(tmp_path / f"{name}.mp4", frames=40) for name in "ab"]
    recipe = Recipe(repeat_for=Fraction(16), player="master-ffv1-mkv", raster=(160, 120))
    result = make_appearances(clips, tmp_path / "turns.mkv", recipe, (3.0, 5.0), seed=4)
    assert result.schedule is not None
    order = [one.ghost for one in result.schedule.appearances]
    assert all(a != b for a, b in zip(order, [*order[1:], order[0]], strict=True))
    with av.open(tmp_path / "turns.mkv") as container:
        lit = [frame.to_ndarray(format="rgb24").max() > 0 for frame in container.decode(video=0)]
    assert len(lit) == result.schedule.frames == result.output.frames
    for shown, planned in zip(lit, result.schedule, strict=True):
        assert not (shown and planned is None)


@pytest.mark.parametrize(("join", "each"), [("search", "fades"), ("none", "none"), ("fades", "fades")])
def test_a_ghost_that_comes_and_goes_is_not_searched_for_a_join(
    join: str,
    each: str,
    make_letter_clip: Callable[..., Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def prepared(clip: object, recipe: Recipe, *_: object) -> object:
        raise InputError(f"prepared with {recipe.join}")

    monkeypatch.setattr("ghostprep.prepare.appear.prepare_ghost", prepared)
    clip = make_letter_clip(tmp_path / "a.mp4", frames=10)
    recipe = Recipe(repeat_for=Fraction(16), player="master-ffv1-mkv", raster=(160, 120), join=join)
    with pytest.raises(InputError, match=f"prepared with {each}$"):
        make_appearances([clip], tmp_path / "turns.mkv", recipe, (3.0, 5.0))


def test_bare_pictures_which_tell_no_rate_are_repeated(
    make_letter_clip: Callable[..., Path], tmp_path: Path
) -> None:
    clip = make_letter_clip(tmp_path / "a.mp4", frames=20)
    recipe = Recipe(player="mjpeg-es", join="none", repeat_for=Fraction(4))
    result = make(clip, tmp_path / "many.mjpeg", recipe)
    once = len(result.takes[0].plan)
    assert result.output.frames == once * int(4 / (once / result.output.rate)) > once


def test_one_bad_clip_does_not_stop_a_batch(make_letter_clip: Callable[..., Path], tmp_path: Path) -> None:
    good = make_letter_clip(tmp_path / "good.mp4", frames=20)
    bad = tmp_path / "bad.mp4"
    bad.write_bytes(b"no film")
    folder = tmp_path / "out"
    folder.mkdir()
    recipe = Recipe(player="master-ffv1-mkv", raster=(160, 120), join="none")
    outcomes = make_all([bad, good], folder, recipe)
    assert [one.error is None for one in outcomes] == [False, True]
    assert sorted(path.name for path in folder.iterdir()) == ["good_loop.json", "good_loop.mkv"]
    with pytest.raises(InputError, match=r"two clips would both become good_loop\.mkv"):
        make_all([good, good], folder, recipe)


def test_a_batch_that_is_interrupted_begins_no_further_clip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[str] = []

    def work(clip: Path, *_: object) -> None:
        begun.append(clip.name)
        if clip.name == "a":
            raise KeyboardInterrupt
        time.sleep(0.3)

    monkeypatch.setattr("ghostprep.prepare.batch.make", work)
    monkeypatch.setattr("os.cpu_count", lambda: 2)  # one clip at a time
    with pytest.raises(KeyboardInterrupt):
        make_all([tmp_path / name for name in "abcd"], tmp_path, Recipe())
    # the second may have begun before the first was given up
    assert begun in (["a"], ["a", "b"])


def test_ghosts_in_turn_get_the_silence_that_their_player_needs(
    make_letter_clip: Callable[..., Path], tmp_path: Path
) -> None:
    clip = make_letter_clip(tmp_path / "a.mp4", frames=40)
    own = tmp_path / "loud.toml"
    own.write_text(
        'extends = "h264-main-720p"\ntitle = "wants sound"\nsound = "aac"\nsilence_needed = true\n', "utf-8"
    )
    recipe = Recipe(repeat_for=Fraction(8), player=str(own), raster=(160, 120))
    result = make_appearances([clip], tmp_path / "turns.mp4", recipe, (3.0, 5.0))
    with av.open(tmp_path / "turns.mp4") as container:
        heard = np.concatenate([frame.to_ndarray() for frame in container.decode(audio=0)], axis=1)
    assert abs(heard.shape[1] / 44100 - float(result.output.frames / result.output.rate)) < 0.05
    assert np.abs(heard).max() < 1e-3
