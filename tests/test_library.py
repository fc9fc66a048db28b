"""The commands as functions of a script."""

import inspect
import json
from pathlib import Path

import pytest

import ghostprep
from ghostprep.cli import group
from ghostprep.cli.run import status_of

SCENE = Path(__file__).parents[1] / "sample_media" / "scene.toml"


def test_every_public_name_is_there_and_documented() -> None:
    for name in ghostprep.__all__:
        assert getattr(ghostprep, name).__doc__, name
    assert set(ghostprep.__all__) <= set(dir(ghostprep))


@pytest.mark.parametrize("name", ["Finding", "Inspection", "Plan", "Profile", "Proof", "Result", "Shown"])
def test_help_shows_the_attributes(name: str) -> None:
    assert "Attributes\n----------" in (inspect.getdoc(getattr(ghostprep, name)) or "")


def test_another_name_is_said_to_be_missing() -> None:
    with pytest.raises(AttributeError, match="no attribute 'mkae'"):
        ghostprep.mkae  # noqa: B018


def test_a_script_makes_the_same_file_as_the_command(
    green_clip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stages: set[str] = set()
    texts = {"length": "0.9-1.1", "gain": "1.2", "tint": "#ffd0a0"}
    result = ghostprep.make(
        str(green_clip),
        tmp_path / "script.mp4",
        ghostprep.Recipe.read(**texts),
        progress=lambda stage, done, total: stages.add(stage),
    )
    assert capsys.readouterr() == ("", "")
    assert "render" in stages
    options = [part for name, text in texts.items() for part in (f"--{name}", text)]
    assert status_of(group, ["make", str(green_clip), str(tmp_path / "command.mp4"), *options]) == 0
    capsys.readouterr()
    assert (tmp_path / "script.mp4").read_bytes() == (tmp_path / "command.mp4").read_bytes()
    told = json.loads((tmp_path / "script.json").read_text(encoding="utf-8"))
    assert told["output"]["sha256"] == result.output.sha256


def test_the_loop_is_shown_by_a_page_or_a_picture(green_clip: Path, tmp_path: Path) -> None:
    ghostprep.make(green_clip, tmp_path / "loop.mp4", ghostprep.Recipe(length=(0.9, 1.1)))
    page = ghostprep.preview(tmp_path / "loop.mp4", scene=SCENE)
    assert page.path == tmp_path / "loop.html"
    still = ghostprep.preview(tmp_path / "loop.mp4", tmp_path / "seen.png", scene=SCENE)
    assert still.path.read_bytes().startswith(b"\x89PNG")


def test_a_clip_is_inspected_as_by_the_command(green_clip: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seen = ghostprep.inspect(green_clip)
    assert status_of(group, ["inspect", str(green_clip), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["backing"] == seen.as_dict()["backing"]
    assert said["loops"] == json.loads(json.dumps(seen.as_dict()["loops"]))


def test_a_scene_is_planned_from_its_file_and_from_itself() -> None:
    scene = ghostprep.load_scene(SCENE)
    assert ghostprep.plan(scene).as_dict() == ghostprep.plan(str(SCENE)).as_dict()


def test_a_plan_says_that_the_player_does_not_take_the_screen_and_which_do(tmp_path: Path) -> None:
    scene = tmp_path / "wide.toml"
    written = SCENE.read_text(encoding="utf-8")
    scene.write_text(written.replace("raster = [320, 240]", "raster = [800, 480]"), encoding="utf-8")
    assert scene.read_text(encoding="utf-8") != written
    (fault,) = [f for f in ghostprep.plan(scene).findings if "raster" in f.text]
    assert (fault.level, fault.subject) == ("fault", "player")
    assert fault.text == "h264-baseline-qvga (player.profile) does not take a raster of 800x480"
    assert "profiles that take it: " in fault.remedy
    named = fault.remedy.rpartition(": ")[2].split(", ")[0]
    scene.write_text(scene.read_text(encoding="utf-8").replace("h264-baseline-qvga", named), encoding="utf-8")
    assert not [f for f in ghostprep.plan(scene).findings if "raster" in f.text]
    scene.write_text(written.replace("h264-baseline-qvga", "h265"), encoding="utf-8")
    with pytest.raises(ghostprep.InputError, match="no player profile is named 'h265'"):
        ghostprep.plan(scene)


def test_a_profile_of_ones_own_lies_beside_the_scene(tmp_path: Path) -> None:
    scene = tmp_path / "hall.toml"
    written = SCENE.read_text(encoding="utf-8").replace("h264-baseline-qvga", "mine.toml")
    scene.write_text(written, encoding="utf-8")
    with pytest.raises(ghostprep.InputError, match=r"mine\.toml: No such file"):
        ghostprep.plan(scene)
    own = 'extends = "h264-baseline-qvga"\n[raster]\nusual = [160, 120]\nlargest = [160, 120]\n'
    (tmp_path / "mine.toml").write_text(own, encoding="utf-8")
    (fault,) = [f for f in ghostprep.plan(scene).findings if "raster" in f.text]
    assert fault.text.startswith("mine (player.profile) does not take")


def test_the_players_are_those_of_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert status_of(group, ["players", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert sorted(one["name"] for one in said["players"]) == sorted(p.name for p in ghostprep.players())


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        ({"lenght": "8"}, "lenght: there is no such option; did you mean length"),
        ({"length": "soon"}, "length: 'soon' is not a time"),
        ({"turn": "45"}, "--turn: is 45, it must be 0, 90, 180 or 270"),
        ({"join": "none", "crossfade": "1"}, "--crossfade: is overruled"),
    ],
)
def test_an_option_is_refused_as_on_the_command_line(texts: dict[str, str], message: str) -> None:
    with pytest.raises(ghostprep.InputError, match=message):
        ghostprep.Recipe.read(**texts)


def test_a_number_is_read_as_if_it_were_written() -> None:
    numbers = {"start": 1.5, "length": 4, "turn": 90, "gain": 1.2, "fps": 29.97, "repeat_for": 600, "edge": 4}
    recipe = ghostprep.Recipe.read(**numbers, calm=True)
    assert recipe == ghostprep.Recipe.read(**{name: str(n) for name, n in numbers.items()}, calm=True)
    assert recipe.length == (4.0, 4.0)


def test_errors_are_of_one_family(tmp_path: Path) -> None:
    with pytest.raises(ghostprep.GhostprepError, match="there is no such file"):
        ghostprep.make(tmp_path / "none.mp4", tmp_path / "out.mp4")
