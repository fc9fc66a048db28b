"""``ghostprep players``: in words, and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from ghostprep.cli.players import command
from ghostprep.cli.run import status_of
from ghostprep.player import profile_names


def test_the_list_names_every_profile_in_words() -> None:
    done = CliRunner().invoke(command, [])
    assert done.exit_code == 0
    assert all(name in done.output for name in profile_names())
    assert "microcontroller boards with a small screen" in done.output


def test_one_profile_with_its_reasons() -> None:
    done = CliRunner().invoke(command, ["mjpeg-avi-qvga"])
    assert done.exit_code == 0
    text = " ".join(done.output.split())
    assert "whole numbers, 10 to 24" in text
    assert "29.97 would play as 29" in text
    assert "at most 20480 bytes" in text


def test_json_is_the_profile_and_nothing_else() -> None:
    done = CliRunner().invoke(command, ["h264-baseline-qvga", "--json"])
    profile = json.loads(done.stdout)
    assert profile["h264"] == {"profile": "constrained-baseline", "level": "1.3", "references": 1}
    assert profile["rate"]["largest"] == "30"
    every = json.loads(CliRunner().invoke(command, ["--json"]).stdout)
    assert [one["name"] for one in every["players"]] == profile_names()


def test_a_builders_own_file(tmp_path: Path) -> None:
    own = tmp_path / "hall.toml"
    own.write_text('extends = "mjpeg-es"\ntitle = "the board in [the hall]"\n', encoding="utf-8")
    done = CliRunner().invoke(command, [str(own)])
    assert done.exit_code == 0
    assert "the board in [the hall]" in done.output


def test_an_unknown_name_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert status_of(command, ["h264-baselin"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "did you mean h264-baseline-qvga?" in said
