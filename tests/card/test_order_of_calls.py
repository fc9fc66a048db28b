"""Nothing counts before it is on the card: what must be flushed before what is renamed or removed."""

from __future__ import annotations

import pytest

from ghostprep.card import CardOrder, fill_card, plan_card
from ghostprep.card.names import why_illegal
from ghostprep.card.records import JOURNAL
from ghostprep.card.work_folder import new_name


def test_flush_comes_before_rename_and_rename_before_the_journal_goes(card, watched) -> None:
    plan = plan_card(CardOrder(tuple(card.loops), card.folder))
    fill_card(plan, calls=watched)
    calls = [name for name, _ in watched.made]
    named = [f"{name} {words}" for name, words in watched.made]
    starts = [number for number, text in enumerate(named) if text.startswith("create N00")]
    for start in starts:  # each copy is flushed before its file is closed
        closed = calls.index("close", start)
        assert "flush" in calls[start:closed]
    moved = [number for number, text in enumerate(named) if text.startswith(f"rename {new_name(0)}")]
    stands = named.index(f"rename JOURNAL.NEW {JOURNAL}")
    gone = named.index(f"remove {JOURNAL}")
    # the journal stands on the card, in both folders, before the first move
    assert calls[stands + 1 : stands + 3] == ["flush_folder", "flush_folder"]
    assert stands < moved[0] < gone
    # the moves are on the card before the journal goes, and that it is gone before anything else goes
    assert calls[gone - 2 : gone] == ["flush_folder", "flush_folder"]
    assert calls[gone + 1] == "flush_folder"
    last_move = max(number for number, text in enumerate(named) if text.startswith("rename N"))
    assert last_move < gone - 2


@pytest.mark.parametrize("sign", "+,;=[] ")
def test_each_sign_that_a_short_name_may_not_hold_is_refused_alone(sign: str) -> None:
    """Microsoft FAT32 File System Specification 1.03, "Short Directory Entries"; a long name may hold it."""
    assert why_illegal(f"01A{sign}B.MP4", "8.3") == "holds more than capitals, digits and a few signs"
    assert why_illegal(f"01A{sign}B.MP4", "long") is None
    assert why_illegal("01A-B_C.MP4", "8.3") is None
