"""What to tell the builder about a join."""

from __future__ import annotations

from ghostprep.finding import Finding
from ghostprep.loop.candidate import GOOD, Candidate
from ghostprep.loop.measure import DOUBLE_LIMIT, JERK_LIMIT, SOFTENING_LIMIT


def loop_finding(best: Candidate | None) -> Finding | None:
    """Say that a clip does not loop, why, and what to do; None if it loops.

    Parameters
    ----------
    best : Candidate or None
        The best join that was found; None if the clip is too short for any.
    """
    remedy = "use --join there-and-back or --join fades, or take another stretch (--start, --end, --length)"
    if best is None:
        return Finding(
            "caution", "join", "the clip does not loop: it is too short, or cut into pieces", remedy
        )
    if best.score <= GOOD:
        return None
    worst = max(
        (best.step, f"the picture jumps {best.step:.1f} times as far as it moves by itself"),
        (best.jerk / JERK_LIMIT, f"its motion changes {best.jerk:.1f} times as suddenly as by itself"),
        (best.double / DOUBLE_LIMIT, f"two pictures show, {best.double:.1f} steps of its motion apart"),
        ((1 - best.dip) / SOFTENING_LIMIT, f"it is {100 * (1 - best.dip):.0f} % softer there"),
        (0.0, "its brightness wavers there"),
    )[1]
    return Finding(
        "caution",
        "join",
        f"the clip does not loop: its best join, frames {best.name}, scores {best.score:.2f} where 1 is good;"
        f" {worst}",
        remedy,
    )
