"""One colour for one thing, on every drawing; each is told from its neighbours in grey print too."""

from typing import Final

INK: Final = "#20303c"
FAINT: Final = "#8496a3"
WOOD: Final = "#e6dccb"
INSIDE: Final = "#f7f7f5"
PANE: Final = "#1f8a8c"
SCREEN: Final = "#d98a00"
BODY: Final = "#87929b"
GHOST: Final = "#6a4fb3"
GHOST_PALE: Final = "#e9e4f6"
RAY: Final = "#7d68bf"
RAY_PALE: Final = "#b5a8d8"
BLACKED: Final = "#3a2a26"
LAMP: Final = "#b5502a"
LIT: Final = "#f4c542"
CORD: Final = "#5d6b75"
DIVIDER: Final = "#b9a27e"
THING: Final = "#9c6b4a"
HOLDER: Final = "#c3b7a2"
MIRROR: Final = "#4f7fb0"

DASHED: Final = (5.0, 3.0)
"""Where nothing stands: what is only seen, or lies above or below."""
