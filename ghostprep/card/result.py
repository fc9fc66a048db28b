"""What came of filling a card."""

from __future__ import annotations

from dataclasses import dataclass

from ghostprep.card.calls import ReadingWay
from ghostprep.card.plan import CardPlan
from ghostprep.card.records import Written
from ghostprep.finding import Finding


@dataclass(frozen=True, slots=True)
class CardResult:
    """What was put on the card.

    Attributes
    ----------
    plan : CardPlan
        As carried out.
    written : tuple of Written
        The new loops, in play order.
    listing : tuple of str
        The folder's entries in their order on the card.
    in_order : bool or None
        Whether all our loops stand there in play order; None where the system does not show the
        order of the entries.
    reading : {"direct", "uncached", "dropped", "cached"}
        The least sure way in which a loop was read back.
    undone : bool
        Whether an earlier run that was cut off was undone first.
    """

    plan: CardPlan
    written: tuple[Written, ...]
    listing: tuple[str, ...]
    in_order: bool | None
    reading: ReadingWay
    undone: bool

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The plan's findings and those of the work itself."""
        found = list(self.plan.findings)
        if self.reading == "cached":
            text = "this system reads back through its cache, so the comparison may not have reached the card"
            found.append(
                Finding("caution", "card", text, "Eject the card, plug it in again and play it once.")
            )
        if self.in_order is False:
            text = (
                "the folder's entries are not in play order; a player that goes by them plays another order"
            )
            found.append(Finding("caution", "card", text, "Use an empty folder or a freshly formatted card."))
        found.append(Finding("note", "card", "the card is written", "Eject it before you pull it out."))
        return tuple(found)

    def as_dict(self) -> dict[str, object]:
        """Return the result as it stands in a report."""
        report = self.plan.as_dict()
        report["loops"] = [
            {"loop": str(s.loop), "name": w.name, "bytes": w.bytes, "sha256": w.sha256}
            for s, w in zip(self.plan.steps, self.written, strict=True)
        ]
        report |= {"entries": list(self.listing), "in_order": self.in_order, "read_back": self.reading}
        report |= {"undone": self.undone, "findings": [f.as_dict() for f in self.findings]}
        return report
