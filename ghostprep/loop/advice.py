"""What to tell the builder about a join."""

from __future__ import annotations

from ghostprep.finding import Finding
from ghostprep.loop.candidate import GOOD, LoopCandidate
from ghostprep.loop.measure import DOUBLE_LIMIT, JERK_LIMIT, RIPPLE_LIMIT, SOFTENING_LIMIT


def loop_finding(best: LoopCandidate | None) -> Finding | None:
    """Say that a clip does not loop, why, and what to do; None if it loops.

    Parameters
    ----------
    best : LoopCandidate or None
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
        (best.step, f"the picture jumps {best.step:.1f} times as far as it moves from frame to frame"),
        (best.jerk / JERK_LIMIT, f"its motion changes {best.jerk:.1f} times as suddenly as elsewhere"),
        (best.double / DOUBLE_LIMIT, "two figures show at once, one beside the other"),
        ((1 - best.dip) / SOFTENING_LIMIT, f"the picture gets {100 * (1 - best.dip):.0f} % softer"),
        (best.ripple / RIPPLE_LIMIT, "its brightness wavers"),
    )[1]
    return Finding(
        "caution",
        "join",
        f"the clip does not loop by itself: where it does best, over frames {best.name}, at the join {worst}",
        remedy,
    )
