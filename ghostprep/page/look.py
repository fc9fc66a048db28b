"""One colour for one thing, on every drawing."""

from typing import Final

INK: Final = "#20303c"
FAINT: Final = "#8496a3"
WOOD: Final = "#e6dccb"
PANE: Final = "#1f8a8c"
SCREEN: Final = "#d98a00"
BODY: Final = "#87929b"
GHOST: Final = "#6a4fb3"
GHOST_PALE: Final = "#e9e4f6"
RAY: Final = "#8f7cc9"
RAY_PALE: Final = "#cfc6e6"
BLACKED: Final = "#3a2a26"
