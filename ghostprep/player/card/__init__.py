"""The player's card: which drives there are, what is put where, and proof that it is there."""

from ghostprep.player.card.drives import Drive, list_drives
from ghostprep.player.card.fill import fill_card
from ghostprep.player.card.orders import CardOrder, CardRules
from ghostprep.player.card.plan import CardPlan, plan_card
from ghostprep.player.card.result import CardResult

__all__ = [
    "CardOrder",
    "CardPlan",
    "CardResult",
    "CardRules",
    "Drive",
    "fill_card",
    "list_drives",
    "plan_card",
]
