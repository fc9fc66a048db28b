"""A cloth of the figure as the clip shows it, and what it is taken for."""

from __future__ import annotations

from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class Swatch:
    """A cloth of the figure."""

    colour: str
    """``"#rrggbb"``, as the clip shows it."""
    part: float
    """Share of the figure that looks like it, 0..1."""
    through: float
    """Share of the backing that shows through it: 0 for solid cloth."""
    sure: bool
    """Whether nothing speaks for another answer, or somebody told."""

    def as_dict(self) -> dict[str, object]:
        """Return the cloth as it stands in a report."""
        return asdict(self)
