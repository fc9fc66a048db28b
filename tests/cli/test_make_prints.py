"""What `make` prints of one result and of many, and which name it takes for what; nothing is made here."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from ghostprep.cli import group
from ghostprep.cli.run import status_of
from ghostprep.errors import GhostprepError, InputError, JobError
from ghostprep.finding import Finding
from ghostprep.loop import Appearance, Blend, LoopPlan, Schedule
from ghostprep.picture import Backing
from ghostprep.prepare.batch import Outcome
from ghostprep.verdict import Proof

JUMPS = Finding("fault", "join", "jumps")
UNEVEN = Finding("note", "backing", "uneven")
PLAN = LoopPlan(
    tuple(Blend(a) for a in range(10, 85)), first=10, last=84, blend=0, method="cut", join="search"
)
TURNS = Schedule(
    (Appearance(0, 5, 35), Appearance(1, 55, 155), Appearance(0, 195, 225)), 300, Fraction(10), seed=0
)


def made(*findings: Finding, schedule: Schedule | None = None) -> Any:
    takes = tuple(
        SimpleNamespace(
            facts=SimpleNamespace(
                path=Path(name), size=(640, 360), rate=Fraction(25), frames=None, still=False
            ),
            lasts_s=12.0,
            backing=Backing("green", "#30a050", 1.0, "an even green", mix="light"),
            plan=PLAN, rate=Fraction(25), source_frames=(10, 84),
        ) for name in ("purser.mp4", "lantern.mp4")[: 2 if schedule else 1]
    )  # fmt: skip
    output = SimpleNamespace(
        path=Path("loop.mp4"), raster=(320, 240), rate=Fraction(25), bytes=828_900, frames=75,
        player="a panel", codec="h264", profile="baseline", level="1.3",
    )  # fmt: skip
    proofs = (Proof("join", 0.8, "", "at most 1", True), Proof("black", 1.0, "", "at least 1", True))
    return SimpleNamespace(
        takes=takes, output=output, schedule=schedule, findings=findings, proofs=proofs, units="mm",
        as_dict=lambda: {"frames": 75},
    )  # fmt: skip


class Kitchen:
    """Stands in for the three ways to make, and keeps what each was asked for."""

    def __init__(self) -> None:
        self.result: Any = made()
        self.outcomes: list[Outcome] = []
        self.asked: dict[str, Any] = {}

    def make(self, clip: Path, out: Path | None, *_: object) -> Any:
        self.asked = {"clip": clip, "out": out}
        return self.result

    def make_all(self, clips: tuple[Path, ...], folder: Path, *_: object, **__: object) -> list[Outcome]:
        self.asked = {"clips": clips, "folder": folder}
        return self.outcomes

    def appear(
        self, clips: tuple[Path, ...], out: Path | None, _: object, every: Any, *, seed: int, **__: object
    ) -> Any:
        self.asked = {"clips": clips, "out": out, "every": every, "seed": seed}
        return self.result


@pytest.fixture
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Kitchen:
    it = Kitchen()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "120")
    for name, instead in (
        ("make.make", it.make),
        ("batch.make_all", it.make_all),
        ("appear.make_appearances", it.appear),
    ):
        monkeypatch.setattr(f"ghostprep.prepare.{name}", instead)
    for name in ("a", "b", "c"):
        (tmp_path / name).touch()
    return it


def lines(arguments: list[str], capfd: pytest.CaptureFixture[str], status: int = 0) -> list[str]:
    assert status_of(group, ["make", *arguments]) == status
    return [line.rstrip() for line in capfd.readouterr().out.splitlines()]


def test_one_clip_tells_its_loop_and_several_that_take_turns_tell_when(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str]
) -> None:
    alone = lines(["a"], capfd)
    heads = [line.split(" ")[0] for line in alone if line]
    assert heads == ["clip", "backing", "loop", "join", "file", "all", "Next:", "Next:"]
    assert not any("appearances" in line for line in alone)
    kitchen.result = made(schedule=TURNS)
    turns = lines(["a", "b", "--appear", "5-14", "--out", "o", "--repeat-for", "30"], capfd)
    heads = [line.split(" ")[0] for line in turns if line]
    assert heads[:6] == ["clip", "backing", "clip", "backing", "file", "The"]
    # from 0.5 to 5.5, 19.5 and, over the file's end, 30.5
    assert "The appearances, 5.0 to 14.0 s from" in " ".join(turns)
    assert kitchen.asked == {"clips": (Path("a"), Path("b")), "out": Path("o"), "every": (5, 14), "seed": 0}
    table = [line for line in turns if line.endswith(".")]
    assert [line.split()[4] for line in table] == ["purser.mp4", "lantern.mp4", "purser.mp4"]
    # the seconds stand below each other from the right, the names from the left
    assert len({line.index(" s ") for line in table}) == 1
    assert len({line.index(line.split()[4]) for line in table}) == 1


def test_each_appearance_stands_on_one_line_of_a_narrow_terminal(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "62")
    kitchen.result = made(schedule=TURNS)
    turns = lines(["a", "b", "--appear", "5-14", "--out", "o", "--repeat-for", "30"], capfd)
    start = next(n for n, line in enumerate(turns) if line.split()[:2] == ["from", "to"])
    table = turns[start + 1 : start + 4]
    words = [("0.5 s", "purser.mp4"), ("5.5 s", "lantern.mp4"), ("19.5 s", "purser.mp4")]
    for line, (begin, name) in zip(table, words, strict=True):
        assert line.strip().startswith(begin)
        assert f"  {name}" in line
        assert "#" in line


def test_turns_at_equal_distances_are_told_by_one_number(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str]
) -> None:
    kitchen.result = made(
        schedule=Schedule((Appearance(0, 5, 35), Appearance(1, 155, 185)), 300, Fraction(10), 0)
    )
    said = " ".join(lines(["a", "--appear", "15", "--seed", "7", "--repeat-for", "30"], capfd))
    assert "The appearances, 15.0 s from the beginning" in said
    assert kitchen.asked["seed"] == 7


@pytest.mark.parametrize(
    ("names", "clip", "out"),
    [(["a"], "a", None), (["a", "o"], "a", "o"), (["a", "--out", "o"], "a", "o")],
)
def test_the_second_name_is_the_file_to_write(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str], names: list[str], clip: str, out: str | None
) -> None:
    lines(names, capfd)
    assert kitchen.asked == {"clip": Path(clip), "out": None if out is None else Path(out)}


@pytest.mark.parametrize("names", [["a", "b", "c"], ["a", "b", "c", "d"], ["a", "b", "--out", "o"]])
def test_several_clips_say_how_they_go_together(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str], names: list[str]
) -> None:
    assert status_of(group, ["make", *names]) == 2
    assert capfd.readouterr().err.startswith("ghostprep: several clips go with --out-dir FOLDER or")
    assert kitchen.asked == {}


def test_the_last_of_several_clips_that_appear_must_be_there(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str]
) -> None:
    turns = ["--appear", "5", "--repeat-for", "30"]
    lines(["a", "b", *turns], capfd)
    lines(["away", *turns], capfd)  # alone it is no file to write: what is wrong with it says its reader
    lines(["a", "away", "--out", "o", *turns], capfd)
    assert lines(["a", "away", *turns], capfd, status=2) == []


@pytest.mark.parametrize("strict", [False, True])
def test_strict_minds_faults_only(kitchen: Kitchen, capfd: pytest.CaptureFixture[str], strict: bool) -> None:
    more = ["--strict"] if strict else []
    for findings, status in (((), 0), ((UNEVEN,), 0), ((UNEVEN, JUMPS), int(strict))):
        kitchen.result = made(*findings)
        lines(["a", *more], capfd, status=status)
        kitchen.outcomes = [outcome(), outcome(*findings)]
        lines(["a", "b", "--out-dir", ".", *more], capfd, status=status)


def outcome(*findings: Finding, error: GhostprepError | None = None) -> Outcome:
    return Outcome(Path("in/a"), None if error else made(*findings), error)


def test_many_clips_leave_with_the_worst_status_and_name_each_error_once(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str]
) -> None:
    job, wrong = JobError("the disk is full", where="loop.mp4"), InputError("is no clip", where="a")
    for errors, status in (([job], 1), ([job, wrong], 2), ([wrong, job], 2)):
        kitchen.outcomes = [outcome(), *(outcome(error=error) for error in errors)]
        assert status_of(group, ["make", "a", "b", "--out-dir", ".", "--strict"]) == status
        out, err = capfd.readouterr()
        assert err.splitlines() == [f"ghostprep: {error.one_line()}" for error in errors]
        assert out.startswith("purser.mp4: loop.mp4, 3.00 s\nall 2 proofs passed\n")
    assert status_of(group, ["make", "a", "b", "--out-dir", ".", "--json"]) == 2
    out, err = capfd.readouterr()
    assert json.loads(out) == {
        "loops": [
            {"clip": "a", "error": None, "report": {"frames": 75}},
            {"clip": "a", "error": wrong.one_line()},
            {"clip": "a", "error": job.one_line()},
        ]
    }
    assert err.count("ghostprep: ") == 2


def test_many_clips_tell_no_notes_and_every_proof_only_if_asked(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str]
) -> None:
    kitchen.outcomes = [outcome(UNEVEN, JUMPS)]
    short = "\n".join(lines(["a", "--out-dir", "."], capfd))
    assert "fault: join: jumps" in short
    assert "uneven" not in short
    assert "exactly black" not in short
    assert "exactly black" in "\n".join(lines(["a", "--out-dir", ".", "--all"], capfd))


def test_a_report_goes_to_stdout_and_findings_beside_it(
    kitchen: Kitchen, capfd: pytest.CaptureFixture[str]
) -> None:
    kitchen.result = made(JUMPS)
    assert status_of(group, ["make", "a", "--json"]) == 0
    out, err = capfd.readouterr()
    assert json.loads(out) == {"frames": 75}
    assert err == "fault: join: jumps\n"
