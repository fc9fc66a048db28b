"""From what limit on an answer changes the scene file, and what is told where it does not."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from ghostprep.chart.draw import draw_chart, glow_contrast
from ghostprep.chart.layout import STEPS
from ghostprep.chart.questions import questions_about, signs_text
from ghostprep.chart.seen import Corrected, Seen, corrections_for
from ghostprep.chart.write import write_chart
from ghostprep.cli.chart import command
from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.player.read import read_stream_facts
from ghostprep.scene import load_scene

SCENE = """
units = "cm"
[box]
width = 15
height = 13
depth = 20
[screen]
top = "up"
raster = [320, 240]
active = [4.896, 3.672]
{screen}
[player]
profile = "{profile}"
"""


def written(folder: Path, screen: str = "", profile: str = "mjpeg-avi-qvga") -> Path:
    path = folder / "scene.toml"
    path.write_text(SCENE.format(screen=screen, profile=profile), encoding="utf-8")
    return path


def changes(found: Corrected) -> dict[str, object]:
    return {one.key: one.after for one in found.corrections}


@pytest.mark.parametrize("step", [1, 4, 9])
@pytest.mark.parametrize(("factor", "changed"), [(0.94, True), (0.96, False), (1.04, False), (1.06, True)])
def test_the_contrast_is_corrected_where_it_is_off_by_a_twentieth(
    step: int, factor: float, changed: bool, tmp_path: Path
) -> None:
    seen = glow_contrast(step)
    path = written(tmp_path, f"contrast = {seen / factor:.4f}")
    wanted = {"screen.contrast": pytest.approx(seen, rel=0.005)} if changed else {}
    assert changes(corrections_for(path, Seen(glow_step=step))) == wanted


@pytest.mark.parametrize(("given", "after"), [(300, glow_contrast(1)), (5000, None)])
def test_a_black_that_cannot_be_told_from_the_dark_is_as_dark_as_the_first_step_at_least(
    given: float, after: float | None, tmp_path: Path
) -> None:
    found = changes(corrections_for(written(tmp_path, f"contrast = {given}"), Seen(glow_step=0)))
    assert found == ({} if after is None else {"screen.contrast": pytest.approx(after, rel=0.005)})


@pytest.mark.parametrize(
    ("factor", "answer"),
    [(0.69, "refused"), (0.71, "taken"), (0.995, "taken"), (0.997, "same"), (1.003, "same"), (1.005, "taken"),
     (1.29, "taken"), (1.31, "refused")],
)  # fmt: skip
def test_a_ruler_is_believed_within_three_tenths_and_kept_within_four_thousandths(
    factor: float, answer: str, tmp_path: Path
) -> None:
    path = written(tmp_path)
    drawn = draw_chart(make_plan(load_scene(path))).up.length
    seen = Seen(up_mm=drawn * factor)
    if answer == "refused":
        with pytest.raises(InputError, match="--up: is"):
            corrections_for(path, seen)
        return
    after = {"screen.active": pytest.approx([4.896, 3.672 * factor], abs=5e-4)} if answer == "taken" else {}
    assert changes(corrections_for(path, seen)) == after


@pytest.mark.parametrize(("sign", "lies"), [("turned-right", True), ("mirrored-turned-left", True),
                                            ("upside-down", False), ("mirrored", False)])  # fmt: skip
def test_of_a_picture_on_its_side_the_ruler_that_was_to_stand_is_the_lying_one(
    sign: str, lies: bool, tmp_path: Path
) -> None:
    path = written(tmp_path)
    chart = draw_chart(make_plan(load_scene(path)))
    lying, standing = chart.across.length, chart.up.length
    if lies:
        lying, standing = standing, lying
    true = changes(corrections_for(path, Seen(sign=sign, across_mm=lying, up_mm=standing)))
    assert "screen.active" not in true
    # whichever way it is seen, what was drawn along the raster's width stays along it
    longer = changes(corrections_for(path, Seen(sign=sign, across_mm=lying * 1.05, up_mm=standing)))
    wide, high = (1, 1.05) if lies else (1.05, 1)
    assert longer["screen.active"] == pytest.approx([4.896 * wide, 3.672 * high], abs=5e-4)


def test_an_answer_that_cannot_be_right_is_asked_for_again_at_once(tmp_path: Path) -> None:
    path = written(tmp_path)
    chart = draw_chart(make_plan(load_scene(path)))
    typed = ["9", "2", "1 mm", f"{chart.up.length:g} mm", f"{chart.across.length:g} mm", *[""] * 4, "y"]
    asked = CliRunner().invoke(command, ["--scene", str(path), "--seen"], input="\n".join(typed) + "\n")
    assert asked.exit_code == 0, asked.output
    assert f"--across: is 0.1 cm, the chart's ruler is drawn {chart.up.length / 10:g} cm long" in asked.output
    assert asked.output.count("Length of the lying ruler") == 2
    assert load_scene(path).screen.top != "up"


@pytest.mark.parametrize(
    ("body", "after"),
    [("[6, 5, 0.9]", None), ("[5, 3.8, 0.9]", [5.0, 3.892, 0.9]), ("[5, 3.9, 0.9]", None)],
)
def test_a_body_that_the_file_gives_grows_with_its_lit_area(
    body: str, after: list[float] | None, tmp_path: Path
) -> None:
    path = written(tmp_path, f"body = {body}")
    drawn = draw_chart(make_plan(load_scene(path))).up.length
    found = changes(corrections_for(path, Seen(up_mm=drawn * 1.06)))
    assert found.pop("screen.active") == pytest.approx([4.896, 3.892], abs=1e-3)
    assert found == ({} if after is None else {"screen.body": pytest.approx(after, abs=1e-3)})
    # where it is left out it follows by itself
    bare = written(tmp_path)
    assert set(changes(corrections_for(bare, Seen(up_mm=drawn * 1.06)))) == {"screen.active"}


@pytest.mark.parametrize(
    ("step", "level", "words"),
    [(0, "caution", "every step"), (1, None, ""), (2, "note", "step 2 (code 5)"),
     (5, "note", "step 5 (code 13)"), (6, "caution", "step 6 (code 16)"), (9, "caution", "step 9 (code 34)")],
)  # fmt: skip
def test_lost_steps_are_told_by_number_and_code(
    step: int, level: str | None, words: str, tmp_path: Path
) -> None:
    found = corrections_for(written(tmp_path), Seen(last_step=step)).findings
    assert [f.level for f in found] == ([] if level is None else [level])
    assert all(words in f.text for f in found)


@pytest.mark.parametrize(("shows", "findings"), [(True, []), (False, ["raster"]), (None, [])])
def test_only_a_picture_that_is_known_to_be_cut_is_told(
    shows: bool | None, findings: list[str], tmp_path: Path
) -> None:
    found = corrections_for(written(tmp_path), Seen(whole=shows))
    assert [f.subject for f in found.findings] == findings
    assert found.corrections == ()


def test_a_question_that_was_answered_is_not_asked_again(tmp_path: Path) -> None:
    (asked,) = corrections_for(written(tmp_path), Seen(last_step=4)).findings
    (answered,) = corrections_for(written(tmp_path), Seen(last_step=4, range_shows=False)).findings
    assert asked.remedy == f"{answered.remedy}; answer the question about the window R"


def test_steps_answers_run_from_none_to_all() -> None:
    assert Seen(last_step=len(STEPS), glow_step=len(STEPS)).last_step == 9
    assert Seen(last_step=0, glow_step=0).glow_step == 0
    for name in ("last_step", "glow_step"):
        for value in (-1, len(STEPS) + 1):
            with pytest.raises(InputError, match=f"is {value}, it must be in 0"):
                Seen(**{name: value})


@pytest.mark.parametrize(("profile", "has_range"), [("mjpeg-avi-qvga", True), ("h264-baseline-qvga", True)])
def test_questions_tell_the_rulers_in_the_builders_unit(
    profile: str, has_range: bool, tmp_path: Path
) -> None:
    path = written(tmp_path, profile=profile)
    asked, chart = questions_about(path), draw_chart(make_plan(load_scene(path)))
    assert (asked.units, asked.has_range) == ("cm", has_range)
    assert asked.across == f"{chart.across.length / 10:g} cm"
    assert asked.up == f"{chart.up.length / 10:g} cm"


def test_the_signs_stand_in_two_rows_of_four_as_they_are_seen() -> None:
    rows = signs_text().split("\n")
    assert [rows[k].split() for k in (0, 7)] == [["1", "2", "3", "4"], ["5", "6", "7", "8"]]
    upright = [row[:10] for row in rows[1:6]]
    assert upright == ["##########", "##        ", "######    ", "##        ", "##        "]
    down = [row[28:38] for row in rows[1:6]]
    assert down == [row[::-1] for row in upright[::-1]]
    assert [row[:10] for row in rows[8:13]] == [row[::-1] for row in upright]
    # a turn to the right brings its stem to the top
    assert rows[1][14:24] == "##########"


def test_a_chart_lasts_four_seconds_at_the_players_rate(tmp_path: Path) -> None:
    told = []
    made = write_chart(
        written(tmp_path), tmp_path / "c.avi", progress=lambda what, n, of: told.append((what, n, of))
    )
    facts = read_stream_facts(made.path)
    assert made.frames == facts.frames == round(4 * made.rate)
    assert 24 <= made.rate <= 26
    assert made.bytes == made.path.stat().st_size
    assert told[:2] == [("chart", 1, made.frames), ("chart", 2, made.frames)]
    assert max(n for _, n, _ in told) == made.frames
    assert made.length(10) == "1 cm"


@pytest.mark.parametrize("option", ["--range-shows", "--whole"])
def test_what_is_neither_yes_nor_no_is_refused_in_plain_words(tmp_path: Path, option: str) -> None:
    scene = str(written(tmp_path))
    done = CliRunner().invoke(command, ["--scene", scene, option, "maybe"])
    assert done.exit_code == 2
    assert done.stderr.rstrip().endswith("'maybe' is neither yes nor no")
    assert CliRunner().invoke(command, ["--scene", scene, option, "No"]).exit_code == 0
