"""The player's card: which drives there are, what is put where, and proof that it is there."""

from ghostprep.card.drives import Drive as Drive
from ghostprep.card.drives import list_drives as list_drives
from ghostprep.card.fill import CardResult as CardResult
from ghostprep.card.fill import fill_card as fill_card
from ghostprep.card.loops import CardOrder as CardOrder
from ghostprep.card.loops import player_of as player_of
from ghostprep.card.plan import CardPlan as CardPlan
from ghostprep.card.plan import plan_card as plan_card
