"""What may be behind a figure, and what of both adds up at its edge: the words of --backing and --mix."""

from __future__ import annotations

import re
from typing import Final, Literal

BACKINGS: Final = ("auto", "green", "blue", "black", "white", "plate", "alpha", "none")
"""The backings that have a name; any colour besides."""

Mixed = Literal["auto", "light", "codes"]

COLOUR: Final = re.compile(r"#[0-9a-fA-F]{6}")
"""A colour as options take it, #rrggbb."""
