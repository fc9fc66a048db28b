"""A folder to work in, with a clip whose name has a blank in it."""

from pathlib import Path

import pytest


@pytest.fixture
def here(clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "120")
    (tmp_path / "my clip.mp4").write_bytes(clip.read_bytes())
    return tmp_path
