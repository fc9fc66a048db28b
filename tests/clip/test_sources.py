"""Stills, sequences, several streams, damage; and what is refused, each in one line."""

import os
import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from ghostprep.clip import probe, read_frames
from ghostprep.clip.source import pattern_around
from ghostprep.errors import InputError, JobError

X264 = ("-c:v", "libx264", "-preset", "ultrafast", "-crf", "10", "-pix_fmt", "yuv420p")


def numbers(path: Path, card: Any, **settings: Any) -> list[int]:
    with read_frames(probe(path), **settings) as frames:
        return [card.number(f) for f in frames]


def save_pictures(folder: Path, names: list[str], card: Any) -> None:
    folder.mkdir(exist_ok=True)
    for i, name in enumerate(names):
        Image.fromarray(card.frame(i)).save(folder / name, quality=97) if name.endswith(
            "jpg"
        ) else Image.fromarray(card.frame(i)).save(folder / name)


@pytest.mark.parametrize("suffix", ["png", "jpg", "bmp", "tif", "webp", "ppm"])
def test_stills(suffix: str, card: Any, tmp_path: Path) -> None:
    path = tmp_path / f"100% {suffix} %03d.{suffix}"
    Image.fromarray(card.frame(5)).save(path, **({"lossless": True} if suffix == "webp" else {}))
    facts = probe(path)
    assert (facts.still, facts.frames, facts.duration_s, facts.size) == (True, 1, None, (128, 96))
    with read_frames(facts) as frames:
        (got,) = list(frames)
    assert np.abs(card.colours(got) - card.patches.reshape(8, 3)).max() <= (4 if suffix == "jpg" else 0)


@pytest.mark.parametrize(
    ("names", "pattern"),
    [
        ([f"shot_{i:04d}.png" for i in range(7, 19)], "shot_%04d.png"),
        ([f"{i}.png" for i in range(1, 13)], "%d.png"),
        ([f"a%b_{i:02d}.jpg" for i in range(95, 107)], "a%%b_%02d.jpg"),
    ],
)
def test_sequences_by_folder_and_by_pattern(
    names: list[str], pattern: str, card: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "render 50%d"
    save_pictures(folder, names, card)
    (folder / "notes.txt").write_text("not a picture")
    for path in (folder, folder / pattern):
        facts = probe(path)
        assert (facts.frames, facts.rate, facts.still, facts.size) == (12, 25, False, (128, 96))
        with read_frames(facts) as frames:
            assert [card.number(f) for f in frames] == list(range(12))
        assert frames.times == [Fraction(i, 25) for i in range(12)]
        assert numbers(path, card, start=3, stop=9, step=2) == [3, 5, 7]


def test_numbered_pictures_are_as_many_a_second_as_is_said(card: Any, tmp_path: Path) -> None:
    save_pictures(tmp_path / "walk", [f"w_{i}.png" for i in range(4)], card)
    facts = probe(tmp_path / "walk", Fraction(30000, 1001))
    assert (facts.rate, facts.frames) == (Fraction(30000, 1001), 4)
    with read_frames(facts) as frames:
        assert [card.number(f) for f in frames] == list(range(4))
    assert frames.times == [Fraction(1001 * i, 30000) for i in range(4)]


@pytest.mark.parametrize(
    ("names", "what"),
    [
        ([], "no pictures in it"),
        (["a_1.png", "a_2.png", "a_4.png"], "a_3.png is missing"),
        (
            ["front.png"],
            "without numbered pictures: front.png has no number; name a clip or a picture itself",
        ),
        (["a_1.png", "b_1.png"], "holds several sequences .*; name one, like .*a_%d.png"),
        (["a_01.png", "a_02.png", "x.png"], "holds x.png beside .*; name only these: .*folder/a_%02d.png"),
        ([f"{a}_1.png" for a in "dcba"], "(a_#.png, b_#.png, c_#.png)"),
    ],
)
def test_folders_that_are_no_sequence(names: list[str], what: str, card: Any, tmp_path: Path) -> None:
    save_pictures(tmp_path / "folder", names, card)
    with pytest.raises(InputError, match=what):
        probe(tmp_path / "folder")


@pytest.mark.parametrize(
    ("names", "one", "pattern"),
    [
        (["w_0003.png", "w_0004.png"], "w_0004.png", "w_%04d.png"),
        (["w_9.jpg", "w_10.jpg"], "w_9.jpg", "w_%d.jpg"),
        (["100%_09.png", "100%_10.png"], "100%_10.png", "100%%_%02d.png"),
        (["w_0.png"], "w_0.png", None),
        (["w_1.png", "w_3.png"], "w_1.png", None),
        (["w_1.png", "w_2.jpg"], "w_1.png", None),
        (["front.png"], "front.png", None),
        (["take1.mp4", "take2.mp4"], "take1.mp4", None),
    ],
)
def test_a_picture_may_be_one_of_several(
    names: list[str], one: str, pattern: str | None, tmp_path: Path
) -> None:
    for name in names:
        (tmp_path / name).touch()
    assert pattern_around(tmp_path / one) == (tmp_path / pattern if pattern else None)


@pytest.mark.parametrize("name", ["walk_*.png", "walk_000?.png"])
def test_a_pattern_of_the_shell_is_no_pattern_of_pictures(name: str, tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match="no such file; name numbered pictures by a counter, like frame_%04d"
    ):
        probe(tmp_path / name)


def test_the_largest_picture_is_taken(
    card: Any, encode: Callable[..., Path], ffmpeg: Any, tmp_path: Path
) -> None:
    big = encode("big.mp4", *X264, frames=card.frames(5))
    path = tmp_path / "two.mkv"
    ffmpeg(
        *("-f", "lavfi", "-i", "color=red:s=32x32:d=0.2", "-i", big, "-f", "lavfi", "-i", "sine=d=0.2"),
        *("-map", "0", "-map", "1", "-map", "2", *X264, "-c:a", "aac", path),
    )
    facts = probe(path)
    assert (facts.size, facts.stream, facts.sound) == ((128, 96), 1, True)
    assert numbers(path, card) == list(range(5))


AV1 = ("-c:v", "libaom-av1", "-cpu-used", "8", "-crf", "20")


def test_of_a_moving_avif_the_track_is_taken_and_not_its_first_picture(
    card: Any, encode: Callable[..., Path], tmp_path: Path
) -> None:
    """Such a file holds its first picture twice: as an item, for who shows stills, and in its track."""
    path = encode("moves.avif", *AV1, frames=card.frames(6))
    facts = probe(path)
    assert (facts.still, facts.size) == (False, (128, 96))
    assert numbers(path, card) == list(range(6))
    alone = probe(encode("one.avif", *AV1, frames=card.frames(1)))
    assert (alone.still, alone.rate, alone.last_s) == (True, 25, Fraction(1, 25))


def test_a_gif_of_one_picture_is_a_still_however_long_it_is_shown(card: Any, tmp_path: Path) -> None:
    path = tmp_path / "one.gif"
    Image.fromarray(card.frame(3)).save(path, duration=3000)
    facts = probe(path)
    assert (facts.still, facts.rate, facts.last_s) == (True, 25, Fraction(1, 25))


def test_alpha_that_is_kept_apart_is_refused(ffmpeg: Any, tmp_path: Path) -> None:
    path = tmp_path / "alpha.avif"
    ffmpeg(
        *("-f", "lavfi", "-i", "color=red:s=64x48:d=0.1", "-f", "lavfi", "-i", "color=gray:s=64x48:d=0.1"),
        *("-filter_complex", "[0]format=yuv420p[picture];[1]format=gray[alpha]"),
        *("-map", "[picture]", "-map", "[alpha]", "-frames:v", "1", *AV1, path),
    )
    with pytest.raises(InputError, match=r"keeps its alpha in a picture of its own.*; export it as PNG"):
        probe(path)


def test_cover_art_is_no_moving_picture(
    card: Any, encode: Callable[..., Path], ffmpeg: Any, tmp_path: Path
) -> None:
    cover = tmp_path / "cover.png"
    Image.new("RGB", (600, 600), "red").save(cover)
    clip = encode("clip.mp4", *X264, frames=card.frames(4))
    path = tmp_path / "covered.mp4"
    ffmpeg(
        "-i",
        cover,
        "-i",
        clip,
        "-map",
        "1",
        "-map",
        "0",
        "-c",
        "copy",
        "-disposition:v:1",
        "attached_pic",
        path,
    )
    assert probe(path).size == (128, 96)
    assert numbers(path, card) == [0, 1, 2, 3]
    song = tmp_path / "song.m4a"
    ffmpeg(
        *("-i", cover, "-f", "lavfi", "-i", "sine=d=0.5", "-map", "1", "-map", "0"),
        *("-c:v", "copy", "-c:a", "aac", "-disposition:v", "attached_pic", song),
    )
    with pytest.raises(InputError, match="holds sound and no moving picture"):
        probe(song)


@pytest.mark.parametrize(
    ("name", "least"), [("cut.mp4", 20), ("cut.mkv", 20), ("cut.avi", 8), ("cut.ts", 20)]
)
def test_a_damaged_end_is_used_up_to_the_damage(
    name: str, least: int, card: Any, encode: Callable[..., Path]
) -> None:
    flags = ("-movflags", "+faststart") if name.endswith("mp4") else ()
    codec = ("-c:v", "mpeg4", "-q:v", "2") if name.endswith("avi") else X264
    path = encode(name, *codec, "-g", "10", *flags, frames=card.frames(60))
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * 0.6)])
    with read_frames(probe(path)) as frames:
        seen = [card.number(f) for f in frames]
    assert len(seen) >= least
    assert len(seen) < 60
    assert seen == list(range(len(seen)))
    if not name.endswith("ts"):  # a transport stream has no end that could be missed
        assert frames.damage is not None
        assert "\n" not in frames.damage


def test_damage_in_the_middle_is_told_and_survived(card: Any, encode: Callable[..., Path]) -> None:
    path = encode("clip.mp4", *X264, "-g", "10", frames=card.frames(60))
    data = bytearray(path.read_bytes())
    middle = data.index(b"mdat") + 4 + (len(data) - data.index(b"mdat")) // 2
    data[middle : middle + 60] = bytes(60)
    path.write_bytes(data)
    with read_frames(probe(path)) as frames:
        seen = [card.number(f) for f in frames]
    assert seen[-1] == 59
    assert frames.damage is not None
    assert "complaint" in frames.damage


def refused(path: Path, match: str) -> None:
    with pytest.raises(InputError, match=match) as caught:
        probe(path)
    assert str(caught.value).isprintable()


def test_refused_in_one_line(tmp_path: Path, encode: Callable[..., Path], card: Any) -> None:
    def made(name: str, content: bytes) -> Path:
        path = tmp_path / name
        path.write_bytes(content)
        return path

    refused(tmp_path / "missing.mp4", "there is no such file")
    refused(tmp_path / "missing_%04d.mp4", "no pattern of pictures")
    refused(tmp_path / "missing_%04d.png", "no picture fits")
    refused(made("empty.mp4", b""), "is empty")
    refused(made("text.mp4", b"Dear diary,\nnothing moves here.\n" * 40), "not a clip that can be read")
    clip = encode("clip.mp4", *X264, frames=card.frames(3))
    refused(made("head.mp4", clip.read_bytes()[:40]), "not a clip that can be read")
    refused(made("cut.mp4", clip.read_bytes()[:-300]), "not a clip that can be read")
    refused(made("zeros.mkv", bytes(5000)), "not a clip that can be read")
    refused(made("a\nb\x1b[31m.mp4", b"text"), r"a\\nb\\x1b")


def test_playlists_and_scripts_are_refused(
    tmp_path: Path, encode: Callable[..., Path], card: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """None of them may make ffmpeg open the clip that they name."""
    clip = encode("clip.mp4", *X264, frames=card.frames(3))
    lists = {
        "list.m3u8": f"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n{clip}\n#EXT-X-ENDLIST\n",
        "list.mp4": f"#EXTM3U\n#EXTINF:1,\n{clip}\n",
        "script.txt": f"ffconcat version 1.0\nfile '{clip}'\n",
        "old.txt": f"file '{clip}'\n",
        "dash.mpd": '<?xml version="1.0"?>\n<MPD xmlns="urn:mpeg:dash:schema:mpd:2011"></MPD>',
        "page.smil": "<smil></smil>",
    }
    for name, content in lists.items():
        path = tmp_path / name
        path.write_text(content)
        refused(path, "is a playlist that names other files")
    # those that the first look does not know are stopped by the list of formats that may be opened
    monkeypatch.setattr("ghostprep.clip.source._PLAYLIST", re.compile(b"(?!)"))
    for name in lists:
        refused(tmp_path / name, "not a clip that can be read")
    hidden = tmp_path / "hidden.sdp"
    hidden.write_text("v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=video 9 RTP/AVP 96\n")
    refused(hidden, "not a clip that can be read")


@pytest.mark.skipif(os.name != "posix", reason="device files and FIFOs are POSIX")
def test_devices_and_pipes_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "fifo.mp4")
    refused(tmp_path / "fifo.mp4", "is not a regular file")
    refused(Path("/dev/zero"), "is not a regular file")


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may read everything")
def test_no_permission(tmp_path: Path) -> None:
    path = tmp_path / "locked.mp4"
    path.write_bytes(b"x")
    path.chmod(0)
    refused(path, "Permission denied")


def test_no_permission_told_by_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "locked.mp4"
    path.write_bytes(b"x")

    def forbid(*_: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "open", forbid)
    refused(path, "Permission denied; check its permissions")


def test_pictures_larger_than_memory_is_kept_for(tmp_path: Path, ffmpeg: Any) -> None:
    path = tmp_path / "huge.png"
    ffmpeg(
        "-f", "lavfi", "-i", "color=black:s=12000x9000:d=0.04", "-frames:v", "1", "-pix_fmt", "monob", path
    )
    refused(path, "12000x9000, more than")


@pytest.mark.parametrize(
    "name",
    [
        "-y.mp4",
        "-i",
        "http:x.mp4",
        "concat:a|b.mp4",
        "pipe:0.mp4",
        "a'b\"c;$(x)`.mp4",
        "日本 ünï.mp4",
        "[0:v]=,.mp4",
    ],
)
def test_names_are_only_names(
    name: str, card: Any, encode: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if os.name == "nt" and set(name) & set('<>:"|?*'):
        pytest.skip("no such names on Windows")
    clip = encode("clip.mp4", *X264, frames=card.frames(3))
    clip.rename(tmp_path / name)
    monkeypatch.chdir(tmp_path)
    assert numbers(Path(name), card) == [0, 1, 2]


def test_encrypted_clips_are_refused(card: Any, encode: Callable[..., Path]) -> None:
    clip = encode("clip.mp4", *X264, frames=card.frames(10))
    locked = clip.with_name("locked.mp4")
    data = clip.read_bytes()
    at = data.rindex(b"avc1")  # the sample entry; ISO/IEC 14496-12 names a protected one encv
    locked.write_bytes(data[:at] + b"encv" + data[at + 4 :])
    refused(locked, "encrypted")


@pytest.mark.parametrize("flags", ["", "+faststart", "frag_keyframe+empty_moov"])
def test_clips_encrypted_by_the_common_scheme_are_refused(
    flags: str, card: Any, encode: Callable[..., Path], ffmpeg: Any, tmp_path: Path
) -> None:
    """ISO/IEC 23001-7, as ffmpeg's muxer writes it; its demuxer shows such a track as if it were clear."""
    clip, locked = encode("clip.mp4", *X264, frames=card.frames(10)), tmp_path / "locked.mp4"
    key = ("-encryption_key", "76a6c65c5ea762046bd749a2e632ccbb")
    scheme = ("-encryption_scheme", "cenc-aes-ctr", "-encryption_kid", "a7e61c373e219033c21091fa607bf3b8")
    ffmpeg("-i", clip, "-c", "copy", *scheme, *key, *(("-movflags", flags) if flags else ()), locked)
    refused(locked, "is encrypted; bring a clip without copy protection")


@pytest.mark.parametrize("offset", ["0", "500"])
def test_pictures_that_change_their_size_on_the_way(
    offset: str, card: Any, encode: Callable[..., Path], tmp_path: Path
) -> None:
    """All of it comes at the first size; a part that has to be counted is refused, never miscounted."""
    first = encode("a.ts", *X264, frames=card.frames(10))
    wider = np.pad(card.frame(), ((0, 0), (0, 64), (0, 0)))
    second = encode("b.ts", *X264, "-output_ts_offset", offset, frames=[wider] * 10)
    path = tmp_path / "both.ts"
    path.write_bytes(first.read_bytes() + second.read_bytes())
    facts = probe(path)
    with read_frames(facts) as frames:
        seen = list(frames)
    assert frames.times == [Fraction(i, 25) for i in range(20)]  # though the second clock starts elsewhere
    assert {f.shape for f in seen} == {(96, 128, 3)}
    assert frames.damage is not None
    assert numbers(path, card, start=2, stop=6) == [2, 3, 4, 5]
    with (
        read_frames(facts, start=2) as frames,
        pytest.raises(JobError, match="change their size or kind after frame"),
    ):
        list(frames)
