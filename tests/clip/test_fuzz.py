"""A small sample of the run over damaged clips in tests/bench/fuzz_clips.py."""

import importlib.util
import sys
from pathlib import Path

BENCH = Path(__file__).parent.parent / "bench" / "fuzz_clips.py"


def test_damaged_clips_give_a_result_or_one_line(tmp_path: Path) -> None:
    spec = importlib.util.spec_from_file_location("fuzz_clips", BENCH)
    assert spec is not None
    assert spec.loader is not None
    bench = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = bench  # dataclasses look their module up
    try:
        spec.loader.exec_module(bench)
        outcomes = [outcome for outcome, _ in bench.run(40, 20, tmp_path)]
    finally:
        del sys.modules[spec.name]
    assert len(outcomes) == 40
    assert [o for o in outcomes if o.fault] == []
    # damage that hurt nothing, or everything, would be a fuzz of nothing
    kinds = {o.kind for o in outcomes}
    assert {"refused", "damaged"} <= kinds
    assert max(o.seconds for o in outcomes) < 30
