"""The loop's steps from frame to frame, as a small drawing that follows the page's colours."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from markupsafe import Markup

_WIDE: Final = 900.0
_HIGH: Final = 170.0
_LEFT: Final = 4.0
_MOST_BARS: Final = 450


def steps_plot(steps: Sequence[float], inside: Collection[int], usual: float) -> Markup:
    """Return an SVG of one bar a step.

    Parameters
    ----------
    steps : sequence of float
        Step from frame i to frame i + 1, cyclic.
    inside : collection of int
        The steps that belong to the join.
    usual : float
        What the join is held to: drawn as a line across.

    Returns
    -------
    Markup
        The bars of many steps are joined, each as high as the highest of its own.
    """
    count = len(steps)
    top = max(max(steps, default=0.0), usual, 1e-9) * 1.08
    joined = max(-(-count // _MOST_BARS), 1)
    step = (_WIDE - 2 * _LEFT) / count

    def y(value: float) -> float:
        return _HIGH - 2 - value / top * (_HIGH - 22)

    bars = {False: "", True: ""}
    for first in range(0, count, joined):
        some = range(first, min(first + joined, count))
        x, tall = _LEFT + first * step, max(steps[i] for i in some)
        wide = max(len(some) * step - (0.6 if step > 2 else 0), 0.6)
        bars[any(i in inside for i in some)] += (
            f"M{x:.1f} {_HIGH - 2:.1f}V{y(tall):.1f}h{wide:.1f}V{_HIGH - 2:.1f}z"
        )
    largest = max((steps[i] for i in inside), default=0.0)
    words = f"Steps of {count} frames; inside the join at most {largest:.4f}, "
    words += f"95 of 100 elsewhere at most {usual:.4f}"
    return Markup(
        '<svg viewBox="0 0 {w} {h}" role="img" aria-label="{words}" preserveAspectRatio="none">'
        '<path d="{plain}" fill="var(--soft)"/><path d="{join}" fill="var(--copper)"/>'
        '<path d="M0 {line}H{w}" stroke="var(--ink)" stroke-dasharray="6 4" fill="none" '
        'vector-effect="non-scaling-stroke"/>'
        '<path id="cursor" data-left="{left}" data-step="{step}" d="M0 12V{h}" stroke="var(--copper)" '
        'stroke-width="2" vector-effect="non-scaling-stroke"/></svg>'
    ).format(
        w=f"{_WIDE:.0f}",
        h=f"{_HIGH:.0f}",
        words=words,
        plain=bars[False],
        join=bars[True],
        line=f"{y(usual):.1f}",
        left=f"{_LEFT:.1f}",
        step=f"{step:.4f}",
    )
