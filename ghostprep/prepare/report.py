"""What a run of `make` did, as it is written beside the loop."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from ghostprep import __version__
from ghostprep.clip import ClipFacts
from ghostprep.finding import Finding
from ghostprep.loop import LoopPlan, Schedule
from ghostprep.picture import Backing
from ghostprep.player import Profile
from ghostprep.prepare.recipe import Recipe, plain
from ghostprep.verdict import Proof


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """The file that was written."""

    path: Path
    frames: int  # all in the file, repeats included
    raster: tuple[int, int]
    rate: Fraction
    bytes: int
    sha256: str
    # codec, profile and level of the coding: as read from the file
    codec: str
    profile: str
    level: str
    player: str  # name of the player's profile

    def as_dict(self) -> dict[str, object]:
        """Return the output as it stands in a report."""
        return {
            "name": self.path.name,
            "frames": self.frames,
            "raster": list(self.raster),
            "rate": plain(self.rate),
            "seconds": round(float(self.frames / self.rate), 6),
            "bytes": self.bytes,
            "sha256": self.sha256,
            "codec": self.codec,
            "profile": self.profile,
            "level": self.level,
            "player": self.player,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """One clip's part in the file."""

    facts: ClipFacts
    lasts_s: float  # the whole clip
    sha256: str  # of the clip; empty where it is not one file
    backing: Backing
    plan: LoopPlan
    rate: Fraction
    source_frames: tuple[int, int]  # first and last of the loop
    score: float

    def as_dict(self) -> dict[str, object]:
        """Return source, backing and loop as they stand in a report."""
        facts, plan = self.facts, self.plan
        return {
            "source": {
                "name": facts.path.name,
                "sha256": self.sha256,
                "size": list(facts.size),
                "rate": plain(facts.rate),
                "frames": facts.frames,
                "rotation": facts.rotation,
                "range": facts.range,
            },
            "backing": self.backing.as_dict(),
            "loop": {
                "first": self.source_frames[0],
                "last": self.source_frames[1],
                "frames": len(plan),
                "seconds": round(float(len(plan) / self.rate), 6),
                "join": plan.join,
                "method": plan.method,
                "crossfade": round(float(plan.blend / self.rate), 6),
                "blend": plan.blend,
                "score": round(self.score, 4) if math.isfinite(self.score) else None,
                "join_steps": list(plan.join_steps),
                "blend_frames": list(plan.blend_frames),
            },
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """All that a run of `make` did.

    Attributes
    ----------
    recipe : Recipe
        As resolved: what was chosen stands where the option was left out.
    scene : dict or None
        The scene in mm, defaults filled in.
    player : Profile
        All that the player takes, the scene's own keys and a builder's own file included.
    units : {"mm", "cm", "in"}
        In which the builder reads lengths.
    takes : tuple of Take
        The clips that went into the file; one, unless several ghosts appear in turn.
    schedule : Schedule or None
        When each of several ghosts appears.
    output : Output
    proofs : tuple of Proof
    findings : tuple of Finding
    """

    recipe: Recipe
    scene: dict[str, Any] | None
    player: Profile
    units: str
    takes: tuple[Take, ...]
    schedule: Schedule | None
    output: Output
    proofs: tuple[Proof, ...]
    findings: tuple[Finding, ...]

    def as_dict(self) -> dict[str, object]:
        """Return the report; with several ghosts, the first stands in its place and all in ``ghosts``."""
        report: dict[str, object] = {
            "tool": __version__,
            "recipe": self.recipe.as_dict(),
            "scene": self.scene,
            "player": self.player.as_dict(),
            **self.takes[0].as_dict(),
            "output": self.output.as_dict(),
            "proofs": [proof.as_dict() for proof in self.proofs],
            "findings": [finding.as_dict() for finding in self.findings],
        }
        if self.schedule is not None:
            report["ghosts"] = [take.as_dict() for take in self.takes]
            report["schedule"] = self.schedule.as_dict()
        return report

    def as_json(self) -> str:
        """Return the report's text."""
        return json.dumps(self.as_dict(), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
