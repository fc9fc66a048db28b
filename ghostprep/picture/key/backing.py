"""What is behind the figure: its kind, its colour, and how sure we are."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal, get_args

Mix = Literal["light", "codes"]
Kind = Literal["green", "blue", "colour", "black", "white", "plate", "alpha", "none"]


@dataclass(frozen=True, slots=True)
class Backing:
    """The backing of a clip, as found or as told."""

    kind: Kind
    """One of green, blue, colour, black, white, plate, alpha, none."""
    colour: str | None
    """``"#rrggbb"``, the middle of its spread; None for a plate, alpha and none."""
    confidence: float
    """0..1; 1 if we were told."""
    reason: str
    """What was seen, one clause."""
    coverage: float = 0.0
    """Share of all pixels that are backing, 0..1."""
    moving_camera: bool = False
    """Whether the backing wanders through the picture."""
    mix: Mix | None = None
    """What of figure and backing added up at the figure's edge; None where nobody told, or none is asked."""

    def __post_init__(self) -> None:
        if self.kind not in get_args(Kind):
            raise ValueError(f"kind is {self.kind!r}, it must be one of {', '.join(get_args(Kind))}")
        if not (0 <= self.confidence <= 1 and 0 <= self.coverage <= 1):
            raise ValueError("confidence and coverage must lie in 0..1")

    @property
    def found(self) -> str:
        """What was seen, and what it was keyed as, in words."""
        return self.reason + (f"; mixed in {self.mix}" if self.mix else "")

    def as_dict(self) -> dict[str, object]:
        """Return the backing as it stands in a report."""
        return asdict(self)
