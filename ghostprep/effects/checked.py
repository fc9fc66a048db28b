"""What all our effects have in common."""

from __future__ import annotations

from moviepy import Effect

from ghostprep.arguments import check_settings


class CheckedEffect(Effect):  # type: ignore[misc]  # moviepy has no types
    """A moviepy effect whose settings are held to their types when it is made."""

    def __post_init__(self) -> None:
        """Refuse settings of another type."""
        check_settings(self, lambda name: f"{type(self).__name__}.{name}")
