"""`preview`: what it writes, says and opens, and how corners are read; no page is made here."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ghostprep.cli import group
from ghostprep.cli.preview import _corners
from ghostprep.cli.run import status_of
from ghostprep.eye.preview import Ask, Shown
from ghostprep.finding import Finding

PIXELS = st.integers(0, 999_999_000).map(lambda thousandths: thousandths / 1000)


@given(st.lists(st.tuples(PIXELS, PIXELS), min_size=1, max_size=6))
def test_four_corners_and_no_other_number_are_read_as_written(corners: list[tuple[float, float]]) -> None:
    text = "  ".join(f"{x:.3f},{y:.3f}" for x, y in corners)
    if len(corners) == 4:
        assert _corners(text) == tuple(corners)
    else:
        with pytest.raises(ValueError, match="is not four corners"):
            _corners(text)


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> dict[str, Any]:
    """What stands in for the page's room says, and what it was asked."""
    told: dict[str, Any] = {"findings": (), "assumed": "", "opened": []}

    def writer(kind: str) -> Any:
        def write(ask: Ask, out: Path | None, _: object) -> Shown:
            told["asked"] = (kind, ask, out)
            return Shown(out or Path("l.html"), 1234, 75, told["assumed"], told["findings"])

        return write

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("ghostprep.eye.preview.write_page", writer("page"))
    monkeypatch.setattr("ghostprep.eye.preview.write_still", writer("still"))
    monkeypatch.setattr("click.launch", told["opened"].append)
    return told


@pytest.mark.parametrize(
    ("more", "kind", "out", "opens"),
    [
        ([], "page", None, "l.html"),
        (["--no-open"], "page", None, None),
        (["--out", "box.html"], "page", "box.html", "box.html"),
        (["--still", "box.png"], "still", "box.png", None),
        (["--still", "box.png", "--no-open"], "still", "box.png", None),
    ],
)
def test_a_page_is_opened_unless_told_otherwise_and_a_picture_is_not(
    shown: dict[str, Any], more: list[str], kind: str, out: str | None, opens: str | None, tmp_path: Path
) -> None:
    assert status_of(group, ["preview", "l.mp4", *more]) == 0
    assert shown["asked"] == (kind, Ask(loop=Path("l.mp4")), None if out is None else Path(out))
    assert shown["opened"] == ([] if opens is None else [(tmp_path / opens).as_uri()])


def test_a_page_and_a_picture_at_once_are_refused(
    shown: dict[str, Any], capfd: pytest.CaptureFixture[str]
) -> None:
    assert status_of(group, ["preview", "l.mp4", "--out", "a.html", "--still", "a.png"]) == 2
    assert "give one of the two" in capfd.readouterr().err
    assert "asked" not in shown


def test_the_card_comes_next_only_if_nothing_was_found(
    shown: dict[str, Any], capfd: pytest.CaptureFixture[str]
) -> None:
    status_of(group, ["preview", "l.mp4"])
    assert capfd.readouterr().out.splitlines() == [
        "l.html written, 1 kB", "", "Next: ghostprep card l.mp4 FOLDER  (put the loop on the player's card)",
    ]  # fmt: skip
    shown |= {"findings": (Finding("fault", "join", "jumps"),), "assumed": "an ordinary box [bold]"}
    status_of(group, ["preview", "l.mp4"])
    assert capfd.readouterr().out.splitlines() == [
        "fault: join: jumps", "an ordinary box [bold]", "l.html written, 1 kB",
    ]  # fmt: skip
    for findings in (shown["findings"], ()):
        shown["findings"] = findings
        status_of(group, ["preview", "l.mp4", "--json"])
        out, err = capfd.readouterr()
        assert json.loads(out)["findings"] == [finding.as_dict() for finding in findings]
        assert "Next" not in err
