"""What a clip is, without making anything of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from ghostprep.arguments import checked
from ghostprep.clip import probe
from ghostprep.finding import Finding
from ghostprep.loop import LoopCandidate, loop_finding
from ghostprep.loop.ways import STILL_S
from ghostprep.prepare.begin import begun
from ghostprep.prepare.choose import FEWEST, rank
from ghostprep.prepare.figure import FigureExtent
from ghostprep.prepare.learn import learn
from ghostprep.prepare.recipe import USUAL, Recipe
from ghostprep.prepare.remarks import figure_findings, pictures_findings
from ghostprep.prepare.setup import choose_output_rate, set_up
from ghostprep.prepare.survey import Survey, survey
from ghostprep.progress import Progress, silent

_STILL: Final = Finding(
    "note",
    "still",
    f"the clip is one picture: it becomes a loop of {STILL_S:g} s in which it drifts slowly",
    "say how far with --drift, and how long with --length",
)


@dataclass(frozen=True, slots=True)
class Inspection:
    """What was seen in a clip.

    Attributes
    ----------
    seen : Survey
    figure : FigureExtent or None
        Over all of the part looked at.
    loops : tuple of LoopCandidate
        Best first; in ticks of `seen`, whose `named` tells the clip's frames.
    findings : tuple of Finding
    """

    seen: Survey
    figure: FigureExtent | None
    loops: tuple[LoopCandidate, ...]
    findings: tuple[Finding, ...]

    def as_dict(self) -> dict[str, object]:
        """Return what was seen as plain values."""
        figure = self.figure
        return {
            "source": self.seen.facts.as_dict(),
            "backing": self.seen.key.backing.as_dict(),
            "figure": None
            if figure is None
            else {"box": str(figure.reach), "height_px": round(figure.height, 1)},
            "cloths": [cloth.as_dict() for cloth in self.seen.key.cloths],
            "loops": [self._told(loop) for loop in self.loops],
            "findings": [finding.as_dict() for finding in self.findings],
        }

    def _told(self, loop: LoopCandidate) -> dict[str, object]:
        """Return a loop as `make` reports it: first and last in the clip's frames, lengths in the loop's."""
        first, last = int(self.seen.source[loop.first]), int(self.seen.source[loop.last])
        return loop.as_dict() | {"name": self.seen.named(loop), "first": first, "last": last}


@checked
def inspect(clip: Path | str, recipe: Recipe = USUAL, progress: Progress = silent) -> Inspection:
    """Look at a clip: what is behind the figure, where it is, how it could loop.

    Parameters
    ----------
    clip : Path or str
        A clip, or numbered pictures as ``walk_%04d.png``.
    recipe : Recipe
        Of which ``start``, ``end``, ``length``, ``backing``, ``plate``, ``mix``, ``solid``, ``sheer`` and
        ``cache`` count, and ``scene``, ``raster``, ``player`` and ``fps``, which say at which rate `make`
        would look for loops.
    progress : callable

    Raises
    ------
    InputError
        The clip cannot be used.
    """
    facts = probe(clip, recipe.fps)
    rate = choose_output_rate(recipe, set_up(recipe), facts)
    with begun(facts, recipe) as footage:
        key = learn(footage, recipe, progress)
        seen = survey(footage, key, rate, progress)
        figure = seen.body(0, len(seen.source) - 1)
        loops = rank(seen, recipe)
    join: Finding | None = None
    if len(seen.source) == 1:
        join = _STILL
    elif len(seen.source) >= FEWEST:
        join = loop_finding(loops[0], seen.named(loops[0])) if loops else loop_finding(None)
    findings = [
        *key.remarks,
        *figure_findings(seen, figure),
        *pictures_findings(facts, recipe),
        *([join] if join else []),
    ]
    return Inspection(seen, figure, tuple(loops), tuple(findings))
