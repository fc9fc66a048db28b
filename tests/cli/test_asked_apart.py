"""What a command asks stands on stderr, so that stdout carries the report alone."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from ghostprep.cli import group
from ghostprep.scene.starter import starter_text


@pytest.mark.parametrize(
    ("arguments", "typed"),
    [
        (["scene", "mine.toml", "--ask", "--json"], "wide\n" + 60 * "\n"),
        (["chart", "--scene", "hall.toml", "--seen", "--json"], "9\n" + 7 * "\n"),
    ],
)
def test_questions_leave_stdout_to_the_report(
    arguments: list[str], typed: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "hall.toml").write_text(starter_text(), encoding="utf-8")
    done = CliRunner().invoke(group, arguments, input=typed)
    assert done.exit_code == 0, done.output
    assert isinstance(json.loads(done.stdout), dict)
    assert "?" in done.stderr or "Which" in done.stderr
