"""All that is measured in boxes drawn at odd measures, beside figures that are kept.

As with the whole plans that are kept, what is right is held elsewhere; here nothing changes unnoticed.
After a change on purpose:

    python -m tests.optics.test_drawn
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.optics.drawn import WALLS, measured
from tests.optics.test_reference import differences, rounded

KEPT = Path(__file__).parent / "reference" / "drawn.json"
SEEDS = range(48)


@pytest.mark.parametrize("wall", WALLS)
def test_drawn_boxes_measure_what_they_measured(wall: str) -> None:
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    for seed in SEEDS[WALLS.index(wall) :: 4]:
        assert differences(kept[seed], rounded(measured(seed)), str(seed))[:5] == []


if __name__ == "__main__":
    lines = ",\n".join(json.dumps(rounded(measured(seed)), separators=(",", ":")) for seed in SEEDS)
    KEPT.write_text(f"[{lines}]\n", encoding="utf-8", newline="\n")
