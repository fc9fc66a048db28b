"""All findings of a plan, in the order of the work: geometry, sight, light, room, safety."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ghostprep.finding import Finding
from ghostprep.optics.advice import geometry, light, room, safety, sight

if TYPE_CHECKING:
    from ghostprep.optics.plan import Plan


def collect_findings(plan: Plan) -> tuple[Finding, ...]:
    """Return every finding of a plan."""
    return (
        *geometry.findings(plan),
        *sight.findings(plan),
        *light.findings(plan),
        *room.findings(plan),
        *safety.findings(plan),
    )
