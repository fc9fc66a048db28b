"""How long work tells what it has done; whoever shows it decides how."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Called as work goes on: which stage, how much is done, of how much (None: not known)."""

    def __call__(self, stage: str, done: int, total: int | None) -> None:
        """Take note of one step."""


def silent(stage: str, done: int, total: int | None) -> None:
    """Take note of nothing: the default wherever a `Progress` is taken."""
