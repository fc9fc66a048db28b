"""A decoder or an encoder that is killed at its work is one line, and the old loop stays.

Every child of every command at five moments: ``python tests/bench/faults.py --part kills``.
"""

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

Bench = Callable[[str], ModuleType]
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="open files are told as Linux shows them")


@pytest.fixture(scope="module")
def ground(bench: Bench, clip: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    # of this size a pipe holds less than the loop: what decodes it is still at work when it is killed
    arguments = ["make", str(clip), "OUT/loop.mkv", "--player", "master-ffv1-mkv", "--raster", "320x240"]
    return bench("fault_runs").Ground(
        tmp_path_factory.mktemp("kills"), [*arguments, "--overwrite"], ["loop.mkv", "loop.json"]
    )


@pytest.mark.parametrize("role", ["decoder", "encoder"])
def test_a_killed_child_is_one_line(role: str, bench: Bench, ground: Any) -> None:
    kills = bench("fault_kills")
    children = kills.children_of(ground)
    number = max(i for i, child in enumerate(children) if child.role == role)
    child = children[number]
    assert child.calls >= 5
    outcomes = [
        kills.one_kill(ground, number, moment, child)
        for moment in range(0, child.calls - 1, child.calls // 4)
    ]
    assert len(outcomes) >= 4
    assert [o for o in outcomes if o.fault] == []
    # a stretch that was looked for by a jump is counted from the start instead, and the loop is right
    assert {(o.status, o.left) for o in outcomes} <= {(1, "old"), (2, "old"), (0, "new")}
    told = [o.line for o in outcomes if o.status == 1]
    assert told
    assert all("was ended" in line or "encoder stopped" in line for line in told)
    assert all("(status -9); start again" in line for line in told)


def test_a_full_disk_under_the_encoder_is_one_line(bench: Bench, ground: Any, tmp_path: Path) -> None:
    outcomes = list(bench("fault_disk").each_limit(ground, tmp_path, (0, 8, 10_000)))
    assert [o for o in outcomes if o.fault] == []
    assert [o.status for o in outcomes] == [1, 1, 0]
    for outcome in outcomes[:2]:
        assert outcome.left == "old"
        assert "File too large); free some space there" in outcome.line


def test_a_small_disk_is_one_line(bench: Bench, ground: Any) -> None:
    disk = bench("fault_disk")
    if not disk.may_mount():
        pytest.skip("only root may make a small disk")
    try:
        with disk.small_disk(ground.out, 8):
            pass
    except (OSError, subprocess.CalledProcessError) as error:
        pytest.skip(f"no small disk can be made here: {error}")
    outcomes = list(disk.each_small_disk(ground, [16]))
    assert [o for o in outcomes if o.fault] == []
    # the loop's disk fills up while it is written; the temporary one is asked for its room before
    assert [(o.status, o.left) for o in outcomes] == [(1, "old"), (2, "old")]
    assert "No space left on device; free some space" in outcomes[0].line
    assert re.search(r"MB of temporary disk, \d+ (bytes|kB) may be used; use a shorter", outcomes[1].line)
