"""What a command asks stands on stderr, so that stdout carries the report alone."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from ghostprep.cli import group
from ghostprep.cli.scene_ask import _to_ask_again
from ghostprep.errors import InputError
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
    assert "[]" not in done.stderr  # what is usual where nothing is


@pytest.mark.parametrize(
    ("where", "asked"),
    [
        ("your answers, box.width", ["box.width"]),
        ("your answers, none.such", []),
    ],
)
def test_what_does_not_fit_is_asked_again_by_the_key_that_the_line_names(
    where: str, asked: list[str]
) -> None:
    found = [question.key for question in _to_ask_again(InputError("is wrong", where=where))]
    assert found == asked


@pytest.mark.parametrize(("key", "asked"), [("box", "box."), ("screen.centre", "lit.")])
def test_a_tables_name_asks_for_all_of_it(key: str, asked: str) -> None:
    found = [question.key for question in _to_ask_again(InputError("is wrong", where=f"your answers, {key}"))]
    assert len(found) > 1
    assert all(one.startswith(asked) for one in found)
