"""What was seen of the chart, and what that corrects in the scene file."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from tomlkit.exceptions import TOMLKitError

from ghostprep.chart.draw import draw_chart, glow_contrast
from ghostprep.chart.layout import STEPS
from ghostprep.deliver import whole_file
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.optics import Plan, make_plan
from ghostprep.optics.planning import mount_of
from ghostprep.picture.place import Orientation
from ghostprep.prepare.player_of import profile_of
from ghostprep.scene import MM_PER, format_length, load_scene, parse_scene
from ghostprep.scene.model import TOPS
from ghostprep.scene.starter import filled_text

SIGNS: Final[Mapping[str, Orientation]] = {
    "upright": Orientation(False, 0),
    "turned-right": Orientation(False, 1),
    "upside-down": Orientation(False, 2),
    "turned-left": Orientation(False, 3),
    "mirrored": Orientation(True, 0),
    "mirrored-turned-right": Orientation(True, 1),
    "mirrored-upside-down": Orientation(True, 2),
    "mirrored-turned-left": Orientation(True, 3),
}
"""How the sign may be seen: mirrored left to right first, then turned."""
_RULER_WITHIN: Final = 0.3
"""A ruler that is this far off was misread, or the wrong screen is in the scene."""
_MARK: Final = "\ufeff"
"""The byte order mark that some editors put before UTF-8."""
_SAME: Final = 0.004
"""Differences of pitch under this cannot be read off a ruler."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What was seen of the chart; None: not looked at."""

    sign: str | None = None
    """One of `SIGNS`."""
    across_mm: float | None = None
    up_mm: float | None = None
    """Length of the ruler that is seen lying, and of the one seen standing, measured with a real one."""
    last_step: int | None = None
    """Lowest number among the steps that can be told from black; 0: none can."""
    glow_step: int | None = None
    """The step that is as much brighter than the chart's black as that black is brighter than the dark around
    it; 0: the chart's black cannot be told from the dark."""
    range_shows: bool | None = None
    """Whether a square is seen in the window R."""
    whole: bool | None = None
    """Whether all four edges of the picture have their bright line."""

    def __post_init__(self) -> None:
        if self.sign is not None and self.sign not in SIGNS:
            raise InputError(f"is {self.sign!r}, it must be one of {', '.join(SIGNS)}", where="--sign")
        for name, value in (("--last-step", self.last_step), ("--glow-step", self.glow_step)):
            if value is not None and not 0 <= value <= len(STEPS):
                raise InputError(f"is {value}, it must be in 0..{len(STEPS)}", where=name)

    @property
    def lies(self) -> bool:
        """Whether the picture is seen on its side, so that the ruler that was to stand is the lying one."""
        return self.sign is not None and SIGNS[self.sign].quarter_turns % 2 == 1


@dataclass(frozen=True, slots=True)
class Correction:
    """One key of the scene file that changes."""

    key: str
    """Dotted."""
    before: object
    after: object
    """In the file's own units."""


@dataclass(frozen=True, slots=True)
class Corrected:
    """What the answers came to."""

    path: Path
    """The scene file."""
    corrections: tuple[Correction, ...]
    findings: tuple[Finding, ...]
    text: str
    """The corrected scene file, with its own line ends and byte order mark."""

    def write(self) -> Path:
        """Write the corrected scene file; return where the old one is kept, beside it under a free name."""
        stem, ending = self.path.stem, self.path.suffix
        names = (f"{stem}.old{ending}" if n == 1 else f"{stem}.old{n}{ending}" for n in itertools.count(1))
        old = next(place for name in names if not os.path.lexists(place := self.path.with_name(name)))
        for place, data in ((old, self.path.read_bytes()), (self.path, self.text.encode())):
            with whole_file(place, overwrite=place is self.path, theirs=True) as part:
                part.write_bytes(data)
        return old

    def as_dict(self) -> dict[str, object]:
        """Return this as one JSON object."""
        return {
            "corrections": [{"key": c.key, "before": c.before, "after": c.after} for c in self.corrections],
            "findings": [finding.as_dict() for finding in self.findings],
        }


def corrections_for(path: Path, seen: Seen) -> Corrected:
    """Return what was seen as corrections of a scene file that keep its comments; nothing is written.

    Raises
    ------
    InputError
        The file cannot be used, or an answer cannot be right.
    """
    plan = make_plan(load_scene(path))
    found = [fix for look in (_mount, _pitch, _black, _range) for fix in look(plan, seen)]
    findings = _lost_steps(seen)
    if seen.whole is False:
        findings.append(
            Finding(
                "caution",
                "raster",
                "the player cuts or scales the picture: not all of its outermost pixels are seen",
                "look for a setting like 'original size' on the player, or measure the part that is seen and "
                "give it as screen.active and screen.raster",
            )
        )
    try:
        text = path.read_bytes().decode()
        mark = _MARK if text.startswith(_MARK) else ""
        text = filled_text({fix.key: fix.after for fix in found}, text.removeprefix(_MARK))
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise InputError(f"cannot be read again: {error}", where=str(path)) from None
    parse_scene(text, str(path))  # what we write must be readable
    return Corrected(path, tuple(found), tuple(findings), mark + text)


def _mount(plan: Plan, seen: Seen) -> Iterator[Correction]:
    """Find the mount under which the chart, made for the mount of the file, looks as it was seen."""
    if seen.sign in {None, "upright"}:
        return
    assert seen.sign is not None
    screen = plan.scene.screen
    made_for = Orientation(plan.mount.mirrored, plan.mount.quarter_turns)
    letter = np.arange(4, dtype=np.uint8).reshape(2, 2)  # no two of its eight flips and turns are alike
    wanted = SIGNS[seen.sign].apply(letter)
    raster = made_for.apply(letter)
    for mirrored in (screen.mirrored, not screen.mirrored):
        for top in TOPS[screen.wall]:
            other = screen.model_copy(update={"top": top, "mirrored": mirrored})
            mount = mount_of(plan.scene.model_copy(update={"screen": other}))
            if (Orientation(mount.mirrored, mount.quarter_turns).undo(raster) == wanted).all():
                if top != screen.top:
                    yield Correction("screen.top", screen.top, top)
                if mirrored != screen.mirrored:
                    yield Correction("screen.mirrored", screen.mirrored, mirrored)
                return
    raise InputError(
        f"no mount on the wall {screen.wall!r} shows the sign {seen.sign}",
        where="--sign",
        remedy="check the screen's wall in the scene file",
    )


def _pitch(plan: Plan, seen: Seen) -> Iterator[Correction]:
    chart, scene = draw_chart(plan), plan.scene
    active = list(scene.screen.active)
    lying = plan.mount.quarter_turns % 2  # then the chart's width lies along the raster's height
    rulers = [(chart.across.length, lying), (chart.up.length, 1 - lying)]
    if seen.lies:
        rulers.reverse()
    answers = ("--across", seen.across_mm), ("--up", seen.up_mm)
    for (option, measured), (drawn, axis) in zip(answers, rulers, strict=True):
        if measured is None:
            continue
        factor = measured / drawn
        if not 1 - _RULER_WITHIN < factor < 1 + _RULER_WITHIN:
            raise InputError(
                f"is {format_length(measured, scene.units)}, the chart's ruler is drawn "
                f"{format_length(drawn, scene.units)} long",
                where=option,
                remedy="measure from the first to the last tick; if it is right, check screen.active",
            )
        if abs(factor - 1) > _SAME:
            active[axis] *= factor
    if active == list(scene.screen.active):
        return
    sizes: list[tuple[str, tuple[float, ...], list[float]]] = [("screen.active", scene.screen.active, active)]
    if "body" in scene.screen.model_fields_set:
        # the player's outside stays at least as large as its lit area, where the file gives it
        body = scene.screen.body
        sizes.append(("screen.body", body, [max(body[0], active[0]), max(body[1], active[1]), body[2]]))
    per = MM_PER[scene.units]
    for key, old, new in sizes:
        if list(old) != new:
            yield Correction(key, *([round(v / per, 3) for v in size] for size in (old, new)))


def _black(plan: Plan, seen: Seen) -> Iterator[Correction]:
    """Turn the glow of the screen's black into its contrast."""
    if seen.glow_step is None:
        return
    screen = plan.scene.screen
    contrast = float(f"{glow_contrast(max(seen.glow_step, 1)):.3g}")
    if seen.glow_step == 0:
        contrast = max(screen.contrast, contrast)
    if abs(contrast / screen.contrast - 1) > 0.05:
        yield Correction("screen.contrast", screen.contrast, contrast)


def _lost_steps(seen: Seen) -> list[Finding]:
    """Name the steps near black that the screen does not show."""
    if seen.last_step in {None, 1}:
        return []
    assert seen.last_step is not None
    last = f"step {seen.last_step} (code {STEPS[seen.last_step - 1]})" if seen.last_step else "every step"
    return [
        Finding(
            "note" if 0 < seen.last_step <= 5 else "caution",
            "black",
            f"what is darker than {last} is lost on this screen",
            "raise --gain if dark parts of the figure vanish"
            + ("; answer the question about the window R" if seen.range_shows is None else ""),
        )
    ]


def _range(plan: Plan, seen: Seen) -> Iterator[Correction]:
    """Tell from the window R whether the player keeps to the range that its profile says."""
    if seen.range_shows is None:
        return
    now = profile_of(plan.scene).colour.range
    # limited: the window is blacker than black and shows only where the range is ignored;
    # full: it is dark grey and vanishes only where black is taken to be 16
    right = now if seen.range_shows == (now == "full") else ("full" if now == "limited" else "limited")
    if right != now:
        yield Correction("player.colour.range", now, right)
