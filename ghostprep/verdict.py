"""A measurement on the finished file, with its limit and its verdict."""

from __future__ import annotations

from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class Proof:
    """One measurement with its verdict.

    Attributes
    ----------
    name : str
        ``black``, ``join``, ``dip``, ``height``, ``upright``, ``flash``, ``limits`` ...
    value : float or str
        What was measured.
    unit : str
        Its unit; empty for a ratio.
    limit : str
        What it is held to, readable ("at most 1.0").
    passed : bool
    """

    name: str
    value: float | str
    unit: str
    limit: str
    passed: bool

    def as_dict(self) -> dict[str, object]:
        """Return the proof as it stands in a report."""
        return asdict(self)
