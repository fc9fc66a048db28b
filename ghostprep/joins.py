"""How a loop's end may meet its start: the words of ``--join``."""

from __future__ import annotations

from typing import Literal

How = Literal["search", "ends", "there-and-back", "fades", "none"]
