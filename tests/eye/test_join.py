"""What of a file is shown, and where its join lies, from reports as `make` writes them."""

import pytest

from ghostprep.eye.report import FileRun, find_join, parts_of

FLAT = [0.1] * 40


def report(**tables: object) -> dict[str, object]:
    return {"output": {"frames": 40}, "loop": {"frames": 40}, **tables}


def test_the_join_lies_where_the_report_says() -> None:
    steps = list(FLAT)
    steps[13] = 0.3
    join = find_join(report(loop={"frames": 40, "join_steps": [12, 13, 14, 30]}), steps)
    assert (join.first, join.last) == (12, 14)
    assert join.steps == (12, 13, 14, 30, 39)  # what goes across the file's end is looked at too


def test_a_join_across_the_files_end_is_one_run() -> None:
    join = find_join(report(loop={"frames": 40, "join_steps": [38, 39, 0, 1]}), FLAT)
    assert (join.first, join.last) == (38, 1)


@pytest.mark.parametrize("told", [None, [], "x", [99, -1], ["a"], {"b": 1}])
def test_without_a_word_it_is_the_files_end(told: object) -> None:
    join = find_join(report(loop={"frames": 40, "join_steps": told}), FLAT)
    assert (join.steps, join.first, join.last) == ((39,), 39, 39)


def test_a_file_of_joins_only_ends() -> None:
    join = find_join(report(loop={"frames": 40, "join_steps": list(range(40))}), FLAT)
    assert (join.last - join.first) % 40 == 39


def test_each_ghost_is_shown_once_with_its_name() -> None:
    appearances = [
        {"ghost": 1, "start": 10, "stop": 30},
        {"ghost": 0, "start": 60, "stop": 80},
        {"ghost": 1, "start": 100, "stop": 120},
    ]
    several = report(
        schedule={"appearances": appearances}, ghosts=[{"source": {"name": "a.mp4"}}, {"source": {}}]
    )
    assert parts_of(several) == [FileRun(4, 36, "ghost 2"), FileRun(54, 86, "a.mp4")]
    assert parts_of({"schedule": {"appearances": [{"ghost": "x"}]}}) == []


def test_one_repeat_is_enough() -> None:
    assert parts_of({"output": {"frames": 40}, "loop": {"frames": 10}}) == [FileRun(0, 10)]
    assert parts_of({"output": {"frames": 41}, "loop": {"frames": 10}}) == []
    assert parts_of({}) == []
