"""What can hurt someone, said on every page; local rules and the makers' papers go first."""

from __future__ import annotations

from typing import Final

CAUTIONS: Final = (
    "Flashing light can cause seizures. Keep to loops that pass the flash proofs, and say so beside the box "
    "where others look at it.",
    "A lithium cell on its charger for months ages and can swell or burn. Follow the player's own papers on "
    "lasting use; where its cell can be taken out, take it out; never cover a swollen one.",
    "A player and lamps in a closed box grow warm. Leave vent holes low and high, and feel the box after an "
    "hour: too warm to hold is too warm.",
    "Use a mains adapter that is approved where you live and made for the current, out of the reach of "
    "children. Mains wiring is work for licensed hands.",
    "Cut sheet with eye protection and gloves; acrylic shatters and glass edges cut. Break all edges.",
    "Where local codes or the makers' instructions say otherwise, they are right.",
)
