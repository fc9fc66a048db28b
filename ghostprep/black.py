"""When black counts as black: one limit for the encoder that aims at it and for the proof that holds it."""

from __future__ import annotations

from typing import Final

NEUTRAL: Final = 128
"""Code of both chroma planes where there is no colour: "achromatic" in ITU-R BT.709 (item from memory)."""

NEAR_PX: Final = 4
"""Codecs work in blocks: this far from the figure its residue is expected, farther away it is not."""

LEAST_NEAR: Final = 0.95
"""Share of the pixels that near to the figure that must decode to black exactly; x264 alone keeps a third."""

BLOCK_PX: Final = 16
"""A macroblock of JPEG 4:2:0 and of MPEG-1 and -4: an error in one coefficient reaches all through it."""

LEAST_NEAR_BLOCKS: Final = 0.5
"""The same share for those codings, in which no block can be given more bits than its neighbours."""

LEAST_FAR: Final = 0.999
"""Share of the pixels farther away; x264 at crf 18 to 23 keeps this much."""

LIT_CODE: Final = 24
"""A decoded pixel is the figure's from this code up (nearly 1 % of white's light); residue stays under it."""
