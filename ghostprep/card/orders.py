"""What is asked for: which loops, where to, and what the player asks of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ghostprep.card.names import NameStyle
from ghostprep.player import Profile


@dataclass(frozen=True, slots=True)
class CardRules:
    """What the player asks of names and files.

    Attributes
    ----------
    names : {"8.3", "long"}
    endings : tuple of str
        File name endings that the player takes, each with its dot; empty: any.
    largest_bytes : int or None
        The largest file that the player takes.
    """

    names: NameStyle = "8.3"
    endings: tuple[str, ...] = ()
    largest_bytes: int | None = None

    def __post_init__(self) -> None:
        if self.names not in ("8.3", "long"):
            raise ValueError(f"names is {self.names!r}, it must be '8.3' or 'long'")
        for ending in self.endings:
            if not ending.startswith("."):
                raise ValueError(f"ending is {ending!r}, it must start with a dot")


@dataclass(frozen=True, slots=True)
class CardOrder:
    """What is asked for.

    Attributes
    ----------
    loops : tuple of Path
        In play order.
    folder : Path
        Where they shall stand: the card's mount point, or a folder under it.
    player : Profile or None
        The player that the card is for: each loop is read and held against its limits. None: not known.
    proven : mapping of Path to str
        SHA-256 of loops whose reports name it; a copy that differs is refused.
    replace : bool
        Whether the loops that we wrote before make room.
    ledger : bool
        Whether to keep a list of our loops on the card.
    any_folder : bool
        Whether `folder` may be elsewhere than on a card.
    """

    loops: tuple[Path, ...]
    folder: Path
    rules: CardRules = CardRules()
    player: Profile | None = None
    proven: Mapping[Path, str] = field(default_factory=dict)
    replace: bool = False
    ledger: bool = True
    any_folder: bool = False
