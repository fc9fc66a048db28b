"""What README tells a newcomer to type is run; what it names exists."""

import re
import shlex
from pathlib import Path

import click
import pytest

from ghostprep.cli import group
from ghostprep.cli.run import status_of

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", TEXT, re.DOTALL)
WALK = TEXT[TEXT.index("## From a bare box") : TEXT.index("## When something looks wrong")]
INLINE = sorted(set(re.findall(r"`([^`\n]+)`", TEXT)))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "sample_media").symlink_to(ROOT / "sample_media", target_is_directory=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_walk_word_by_word(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "card").mkdir()
    lines = [line for block in re.findall(r"```\n(.*?)```", WALK, re.DOTALL) for line in block.splitlines()]
    assert len(lines) >= 8
    for line in lines:
        # a folder stands for the card: this machine has none
        words = shlex.split(line.replace("/media/me/CARD", "card --any-folder"))
        assert words[0] == "ghostprep"
        assert status_of(group, words[1:]) == 0, f"{line}\n{capsys.readouterr().err}"
    written = {path.name for path in folder.iterdir()}
    assert {
        "hall.toml",
        "hall.pdf",
        "solved.toml",
        "parts.pdf",
        "chart.mp4",
        "purser.mp4",
        "purser.html",
    } <= written
    assert any((folder / "card").iterdir())


@pytest.mark.filterwarnings(
    "ignore:unclosed file:ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"
)
@pytest.mark.parametrize("code", [code for kind, code in BLOCKS if kind == "python"])
def test_the_scripts_run(code: str, folder: Path) -> None:
    exec(compile(code, "README.md", "exec"), {})


@pytest.mark.parametrize("words", [one for one in INLINE if one.startswith(("ghostprep ", "--"))])
def test_what_is_named_exists(words: str) -> None:
    first, *rest = shlex.split(words)
    context = click.Context(group)
    names = [rest[0]] if first == "ghostprep" else group.list_commands(context)
    commands = [command for name in names if (command := group.get_command(context, name))]
    assert commands, f"no command {names}"
    known = {
        flag for one in commands for param in one.params for flag in (*param.opts, *param.secondary_opts)
    }
    unknown = {part for part in (first, *rest) if part.startswith("--")} - known - {"--help"}
    assert not unknown, f"{words}: no option {unknown}"


@pytest.mark.parametrize("name", sorted(set(re.findall(r"\]\((sample_media/[^)]+)\)", TEXT))))
def test_pictures_are_there(name: str) -> None:
    assert (ROOT / name).stat().st_size > 1000


@pytest.mark.parametrize("name", sorted(set(re.findall(r"(tests/[\w/]+\.py)", TEXT))))
def test_the_programs_behind_the_figures_are_there(name: str) -> None:
    assert (ROOT / name).is_file()
