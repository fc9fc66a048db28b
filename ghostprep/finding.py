"""What the tool tells the builder: a sentence with its level, its figure and its remedy."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal, get_args

Level = Literal["fault", "caution", "note"]
"""The worst first."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One sentence to the builder.

    Attributes
    ----------
    level : {"fault", "caution", "note"}
        ``fault``: the ghost will not work like this; ``caution``: it will work, but
        worse than it could, or someone could be hurt; ``note``: good to know.
    subject : str
        What it is about, one or two trade words ("pane", "join", "figure").
    text : str
        What was found, with the figure behind it.
    remedy : str
        What to do; empty if nothing needs doing.
    """

    level: Level
    subject: str
    text: str
    remedy: str = ""

    def __post_init__(self) -> None:
        if self.level not in get_args(Level):
            raise ValueError(f"level is {self.level!r}, it must be one of {', '.join(get_args(Level))}")

    @property
    def rank(self) -> int:
        """0 for the worst level: findings are shown in this order."""
        return get_args(Level).index(self.level)

    def as_dict(self) -> dict[str, str]:
        """Return the finding as it stands in a report."""
        return asdict(self)
