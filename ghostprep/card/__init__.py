"""The player's card: which drives there are, what is put where, and proof that it is there."""

from ghostprep.card.drives import Drive, list_drives
from ghostprep.card.fill import CardResult, fill_card
from ghostprep.card.loops import CardOrder, player_of
from ghostprep.card.plan import CardPlan, plan_card

__all__ = [
    "CardOrder",
    "CardPlan",
    "CardResult",
    "Drive",
    "fill_card",
    "list_drives",
    "plan_card",
    "player_of",
]
