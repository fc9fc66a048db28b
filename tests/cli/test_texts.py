"""What the commands say, word by word: tables, what comes next, findings, a plan's own figures."""

from __future__ import annotations

import io
import json
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from ghostprep.cli import make_text, plan_text, show
from ghostprep.finding import Finding
from ghostprep.loop import LoopCandidate, plan_loop
from ghostprep.optics import make_plan
from ghostprep.optics.room import towards
from ghostprep.picture import Backing
from ghostprep.scene import load_scene, parse_scene
from ghostprep.verdict import Proof

SAMPLE = Path(__file__).parents[2] / "sample_media" / "scene.toml"


def paper(**settings: Any) -> Console:
    """A console 100 wide that keeps what is printed."""
    return Console(file=io.StringIO(), width=100, highlight=False, **settings)


def printed(to: Console) -> str:
    return to.file.getvalue()  # type: ignore[attr-defined, no-any-return]


class Loop:
    """So much of a plan as a text needs."""

    def __init__(
        self, frames: int, join: str, blend: int = 0, method: str = "cut", drift: float = 0.02
    ) -> None:
        self.join, self.blend, self.method, self._frames = join, blend, method, frames
        self.drift, self.blend_frames = drift, tuple(range(blend))

    def __len__(self) -> int:
        return self._frames


@pytest.mark.parametrize(
    ("join", "blend", "method", "words"),
    [
        ("there-and-back", 0, "cut", "there and back: it turns at both ends"),
        ("fades", 12, "cut", "out of the dark and back into it, over 12 frames each"),
        ("none", 0, "cut", "none: the end is followed by the start as it is"),
        ("search", 0, "cut", "a plain cut from the last frame to the first"),
        ("ends", 1, "blend", "the end is blended into the start over 1 frame"),
        (
            "search",
            9,
            "flow",
            "the end is blended into the start over 9 frames, each moved towards the other",
        ),
    ],
)
def test_how_a_loop_is_joined(join: str, blend: int, method: str, words: str) -> None:
    assert make_text.join_words(Loop(75, join, blend, method)) == words  # type: ignore[arg-type]


def test_a_slowed_cut_is_told() -> None:
    plan = plan_loop("search", 60, Fraction(25), candidate=LoopCandidate(0, 59, 0, "cut", 0.9, slow=5))
    assert (
        make_text.join_words(plan)
        == "a cut from the last frame to the first, slowed by one frame over 5 steps"
    )


def take(first: int = 10, last: int = 84, join: str = "search", drift: float = 0.02) -> Any:
    facts = SimpleNamespace(
        path=Path("in/purser.mp4"), size=(640, 360), rate=Fraction(25), frames=300, still=False
    )
    backing = Backing("green", "#30a050", 1.0, "an even green", mix="light")
    loop = Loop(75, join, drift=drift)
    return SimpleNamespace(
        facts=facts, lasts_s=12.0, backing=backing, plan=loop, rate=Fraction(25), source_frames=(first, last)
    )


def result(
    *, frames: int = 75, codec: str = "h264", findings: tuple[Finding, ...] = (), taken: Any = None
) -> Any:
    output = SimpleNamespace(
        path=Path("out/loop.mp4"), raster=(320, 240), rate=Fraction(25), bytes=828_900, frames=frames,
        player="a panel", codec=codec, profile="baseline", level="",
    )  # fmt: skip
    return SimpleNamespace(
        takes=[take()], output=output, schedule=None, findings=findings, proofs=(), units="mm"
    )


@pytest.mark.parametrize(
    ("rate", "frames", "pace"),
    [
        (Fraction(25), 300, "25 frames a second"),
        (Fraction(25), 280, "25 frames a second"),  # breaks off
        (Fraction(25), None, "25 frames a second"),  # not counted
        (Fraction(100), 126, "10.5 frames a second, uneven"),  # a GIF, its shortest drawing shown for .01 s
    ],
)
def test_a_clip_whose_frames_come_unevenly_is_told_by_how_many_it_has(
    rate: Fraction, frames: int | None, pace: str
) -> None:
    clip = take()
    clip.facts.rate, clip.facts.frames = rate, frames
    assert show.clip_words(clip.facts, 12.0) == f"purser.mp4: 640x360, {pace}, 12.00 s"


def test_the_rows_of_a_clip_its_loop_and_its_file() -> None:
    assert make_text._clip_rows(take()) == [
        ("clip", "purser.mp4: 640x360, 25 frames a second, 12.00 s"),
        ("backing", "green: an even green; mixed in light"),
    ]
    assert make_text._loop_rows(take()) == [
        ("loop", "3.00 s (75 frames), from frames 10 to 84 of the clip"),
        ("join", "a plain cut from the last frame to the first"),
    ]
    still = make_text._loop_rows(take(0, 0, "none"))
    assert still[0][1] == "3.00 s (75 frames), of the one picture"
    assert still[1][1].startswith("it drifts slowly")
    stands = make_text._loop_rows(take(0, 0, "none", drift=0.0))
    assert stands[1][1] == "none is needed: the picture stands still"
    assert make_text._loop_rows(take(0, 0, "fades"))[1][1].startswith("out of the dark")
    assert make_text._loop_rows(take(0, 9, "none"))[1][1].startswith("none")
    about = "out/loop.mp4: 320x240, 25 frames a second, 829 kB, for a panel"
    assert make_text._file_rows(result(), every_proof=False) == [("file", about)]
    assert make_text._file_rows(result(frames=45_000), every_proof=True)[1:] == [
        ("repeats", "600 in the file, 30:00 min together"),
        ("coding", "h264 baseline"),
    ]
    appearing = result(frames=45_000)
    appearing.schedule = object()
    assert make_text._file_rows(appearing, every_proof=False) == [("file", about)]


def test_the_schedule_shows_each_ghosts_place_in_the_file() -> None:
    """400 frames at 10 a second on a line of 40 signs: a sign each second."""
    seen = [(0, 40, 0), (105, 200, 1), (399, 400, 0)]
    appearances = [SimpleNamespace(start=a, stop=b, ghost=ghost) for a, b, ghost in seen]
    schedule: Any = SimpleNamespace(appearances=appearances, frames=400, rate=Fraction(10))
    to = paper()
    to.print(make_text._schedule_table(schedule, ["a.mp4", "b.mp4"]))
    rows = [line.split() for line in printed(to).splitlines()[1:]]
    assert [row[:5] for row in rows] == [
        ["0.0", "s", "4.0", "s", "a.mp4"], ["10.5", "s", "20.0", "s", "b.mp4"],
        ["39.9", "s", "40.0", "s", "a.mp4"],
    ]  # fmt: skip
    assert [row[5] for row in rows] == ["####" + 36 * ".", 10 * "." + 10 * "#" + 20 * ".", 40 * "."]


def test_what_comes_next_is_to_look_and_then_the_card_if_nothing_is_wrong() -> None:
    look, card = "ghostprep preview out/loop.mp4", "ghostprep card out/loop.mp4 out/loop.mp4 FOLDER"

    def commands(*made: Any) -> list[str]:
        return [command for command, _ in make_text._next_steps(made)]

    fault, caution = (Finding(level, "join", "jumps") for level in ("fault", "caution"))  # type: ignore[arg-type]
    assert commands() == []
    assert commands(result(findings=(caution,)), result()) == [look, card]
    assert commands(result(), result(findings=(caution, fault))) == [look]
    assert commands(result(), result(codec="ffv1")) == [look]


def test_findings_come_worst_first_with_their_remedies_set_in() -> None:
    to = paper()
    show.print_findings(
        to,
        [
            Finding("note", "backing", "uneven"),
            Finding("caution", "pane", "thick [bold]", "a thinner one"),
            Finding("fault", "join", "jumps\x1b[31m"),
        ],
    )
    assert [line.rstrip() for line in printed(to).splitlines()] == [
        "fault: join: jumps\\x1b[31m", "caution: pane: thick [bold]", "    a thinner one",
        "note: backing: uneven",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("passed", "findings", "colour"),
    [(True, (), "\x1b[32m"), (True, (Finding("caution", "a", "b"),), "\x1b[33m"), (False, (), "\x1b[1;31m")],
)  # fmt: skip
def test_only_a_summary_without_faults_and_cautions_is_green(
    passed: bool, findings: tuple[Finding, ...], colour: str
) -> None:
    to = paper(force_terminal=True, color_system="standard")
    show.print_summary(to, [Proof("join", 0.8, "", "at most 1", passed)], findings)
    assert printed(to).startswith(colour)


def test_proofs_are_told_with_limit_and_verdict_in_the_builders_unit() -> None:
    to = paper()
    proofs = [Proof("join", 0.8, "", "at most 1", True), Proof("height", 25.4, "mm", "25 to 26", False)]
    to.print(show.proofs_table(proofs, "in"))
    lines = printed(to).splitlines()
    assert lines[0].strip() == "Proofs, on the file as decoded"
    assert lines[1].split() == ["proof", "measured", "limit", "verdict"]
    assert "passed" in lines[2]
    assert "FAILED" in lines[3]
    assert "1 in" in lines[3]


def test_a_report_is_one_object_escaped_where_letters_are_few(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for encoding, shown in (("utf-8", "ü"), ("UTF8", "ü"), ("ascii", "\\u00fc"), (None, "\\u00fc")):
        monkeypatch.setattr(show.sys, "stdout", Wrapped(encoding))
        show.print_json({"name": "ü"})
        monkeypatch.undo()
        out = capsys.readouterr().out
        assert shown in out
        assert json.loads(out) == {"name": "ü"}
        assert out.startswith('{\n  "name"')


class Wrapped:
    """The true stdout, said to have another encoding."""

    def __init__(self, encoding: str | None) -> None:
        import sys

        self._true, self.encoding = sys.stdout, encoding

    def __getattr__(self, name: str) -> Any:
        return getattr(self._true, name)


def test_bars_show_on_a_terminal_only_and_know_no_end_before_it_is_told() -> None:
    silent, shown = paper(), paper(force_terminal=True, color_system=None)
    for to in (silent, shown):
        with show.progress_bars(to) as note:
            note("survey", 3, None)
            note("survey", 30, 60)
            note("key", 1, 4)
    assert printed(silent) == ""
    assert "survey" in printed(shown)
    assert " 50 %" in printed(shown)
    assert " 25 %" in printed(shown)


@pytest.mark.parametrize("title", ["", "The night ferry"])
def test_a_plan_is_told_in_its_own_figures(title: str) -> None:
    found = make_plan(load_scene(SAMPLE))
    scene = found.scene.model_copy(update={"title": title})
    to = paper()
    plan_text.print_plan(to, make_plan(scene))
    lines = printed(to).splitlines()
    assert (lines[0] == title) is bool(title)
    heads = [
        line.strip()
        for line in lines
        if line.strip() in {"Ghost", "Pane", "Light", "Room", "Scale", "To cut"}
    ]
    assert heads[:4] == ["Ghost", "Pane", "Light", "Room"]
    assert heads[-1] == "To cut"
    told = " ".join(" ".join(lines).split())
    corners = found.layout.image.corners()
    wide, high = np.ptp(corners[:, 0]), np.ptp(corners[:, 1])
    for words in (
        f"{wide:.1f}".rstrip("0").rstrip(".") + " mm wide",
        f"{high:.1f}".rstrip("0").rstrip(".") + " mm high",
        f"{100 * found.light.reflectance:.1f} % of the screen's light",
        f"{100 * found.light.transmittance:.1f} % of the scenery's light",
        f"{100 * found.light.black_glow:.1f} % of the scenery",
        f"{found.light.contrast:.1f}: where the ghost is white",
        f"{100 * found.doubling.ratio:.0f} % as bright",
        f"{found.layout.angle_deg:.1f} degrees to the opening",
        f"1:{found.figure.scale:.4g} where the ghost stands",
        "Safety; your local codes and licensed trades come first",
    ):
        assert words in told, words
    before, after = told.split("Safety; your local codes")
    assert "caution: safety" not in before
    assert ": safety:" in after


def test_a_screen_that_stands_square_bends_nothing() -> None:
    assert plan_text._keystone(0.049).startswith("none")
    assert plan_text._keystone(0.051).startswith("0.1 px")
    assert [towards(way) for way in ("up", "down", "left")] == ["up", "down", "to the left"]


def test_what_is_to_be_cut_is_listed_with_doorways_mirrors_and_the_players_way_out() -> None:
    scene = """
scale = "1:24"
[box]
width = 150
height = 130
depth = 260
[viewer]
distance = 600
height = 60
sway = [80, 0]
[screen]
raster = [320, 240]
active = [40, 30]
top = "up"
centre = [-60, 60, 100]
[pane]
through = [-20, 60, 140]
size = [60, 60]
[shelf]
depth = 400
[[divider]]
from = [0, 200]
to = [75, 200]
thickness = 3
doorways = [{ at = 40, width = 30, height = 80, sill = 2 }]
[[mirror]]
from = [-75, 255]
to = [-25, 255]
sill = 30
[[mirror]]
from = [25, 255]
to = [75, 255]
height = 70
"""
    found = make_plan(parse_scene(scene))
    rows = dict(plan_text._cut_list(found))
    assert rows["pane"].startswith("60 mm x 60 mm x ")
    assert rows["divider 1"].startswith(
        "75 mm x 130 mm x 3 mm; doorway 30 mm x 80 mm, its middle at 40 mm, sill 2"
    )
    assert rows["mirror 1"] == "50 mm x 100 mm, front-faced"
    assert rows["mirror 2"] == "50 mm x 70 mm, front-faced"
    assert found.room.out in rows["holder"]
    assert [name for name in rows if name.startswith("trim")] == [trim.name for trim in found.sight.trims()]
    room = dict(plan_text._room(found))
    assert room["shelf"].endswith("needed, 400 mm there")
    assert ("back wall" in room) == (found.sight.behind_back_mm < 0)
