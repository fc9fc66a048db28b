"""Writes the chart of a scene as a loop that its player takes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Final

from ghostprep import __version__
from ghostprep.arrays import Frame
from ghostprep.chart.draw import LOOP_S, draw_chart, to_planes
from ghostprep.chart.layout import STEPS
from ghostprep.deliver import check_destination, whole_files
from ghostprep.digest import sha256_of
from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.player import Profile
from ghostprep.player.attempt import Attempt
from ghostprep.player.control import RateControl
from ghostprep.player.measured import measured
from ghostprep.player.rate import choose_rate
from ghostprep.player.read import StreamFacts
from ghostprep.prepare.carry_out import carry_out
from ghostprep.prepare.player_of import profile_of
from ghostprep.progress import Progress, silent
from ghostprep.scene import format_length, load_scene

_RATE: Final = Fraction(25)
"""Frames a second, where the player takes them."""


@dataclass(frozen=True, slots=True)
class ChartFile:
    """A chart as written."""

    path: Path
    profile: str
    raster: tuple[int, int]
    rate: Fraction
    frames: int
    bytes: int
    across_mm: float
    up_mm: float
    """Lengths of the two rulers on the ghost plane."""
    units: str
    """Of the scene file: mm, cm or in."""

    def length(self, length_mm: float) -> str:
        """Return a length in the scene's own unit."""
        return format_length(length_mm, self.units)

    def as_dict(self) -> dict[str, object]:
        """Return this as one JSON object."""
        return {
            "file": str(self.path),
            "profile": self.profile,
            "raster": list(self.raster),
            "rate": float(self.rate),
            "frames": self.frames,
            "bytes": self.bytes,
            "ruler_across": self.across_mm,
            "ruler_up": self.up_mm,
            "steps": list(STEPS),
        }


def write_chart(
    scene: Path, out: Path | None, *, overwrite: bool = False, progress: Progress = silent
) -> ChartFile:
    """Write the chart of a scene, and a report beside it.

    Without `out` it is ``chart`` with the player's own ending, in the current folder.

    Raises
    ------
    InputError
        The scene or the destination cannot be used, or the player takes no such raster.
    JobError
        The encoder failed.
    """
    plan = make_plan(load_scene(scene))
    profile, raster = profile_of(plan.scene), plan.scene.screen.raster
    ending = profile.endings
    out = Path(f"chart{ending[0]}") if out is None else out
    if out.suffix.lower() not in ending:
        raise InputError(
            f"the player takes {profile.container}", where=str(out), remedy=f"end the name in {ending[0]}"
        )
    both = out, out.with_suffix(".json")
    check_destination(*both, overwrite=overwrite)
    rate = choose_rate(profile, _RATE)
    chart, count = draw_chart(plan), round(LOOP_S * rate)
    control = RateControl(profile, raster, rate, count, keyed=False)
    full_range = profile.colour.range == "full"

    def frames() -> Iterator[Frame]:
        for number in range(count):
            progress("chart", number + 1, count)
            yield chart.frame(number, count)

    def write(attempt: Attempt) -> StreamFacts:
        # converted here: what makes a loop's near black exactly black would spoil the chart's grey steps
        shown: Iterator[Frame] = frames()
        if attempt.pixels == "i420":
            shown = (to_planes(frame, chart, full_range=full_range) for frame in frames())
        return carry_out(attempt, part, shown, raster=raster, rate=rate)

    with whole_files(both, overwrite=overwrite) as (part, report):
        attempt: Attempt | None = control.first()
        last = attempt
        while attempt is not None:
            last = attempt
            attempt = control.next(attempt, measured(write(attempt), rate_kbps=profile.bits.rate_kbps))
        if control.best != last:
            write(control.best)
        made = ChartFile(
            out,
            profile.name,
            raster,
            rate,
            count,
            part.stat().st_size,
            chart.across.length,
            chart.up.length,
            plan.scene.units,
        )
        report.write_text(_report(made, profile, sha256_of(part)), encoding="utf-8", newline="\n")
    return made


def _report(made: ChartFile, profile: Profile, sha256: str) -> str:
    """Return what is written beside the chart: what `card` wants to know of it, and that it is ours."""
    about = {
        "tool": __version__,
        "recipe": {"player": profile.name},
        "player": profile.as_dict(),
        "chart": {**made.as_dict(), "file": made.path.name},
        "output": {"name": made.path.name, "frames": made.frames, "bytes": made.bytes, "sha256": sha256},
    }
    return json.dumps(about, indent=2) + "\n"
