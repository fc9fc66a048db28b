"""A loop as the eye will see it: one page, or one still picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ghostprep.deliver import check_destination, whole_file, write_text
from ghostprep.errors import InputError, printable
from ghostprep.eye.join import FileRun, Join, find_join
from ghostprep.eye.loop import (
    Watched,
    open_loop,
    rate_words,
    read_report,
    watch,
)
from ghostprep.eye.page import PageContents, build_page
from ghostprep.eye.page.sheets import data_address, encode
from ghostprep.eye.photo import PhotoScenery, photo_scenery
from ghostprep.eye.setting import Backdrop, find_setting
from ghostprep.eye.stage import stage_of
from ghostprep.eye.view import EyeView
from ghostprep.eye.window import near_window, whole_window
from ghostprep.finding import Finding
from ghostprep.paper.drawing import drawing_svg
from ghostprep.progress import Progress, silent
from ghostprep.scene import format_length
from ghostprep.verdict import Proof, with_faults
from ghostprep.words import typed

STILL_PX: Final = 800
"""Height of a still picture."""

_STILL_ENDINGS: Final = {".png", ".webp"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What a preview was asked to be.

    Attributes
    ----------
    photo : Path or None
        The builder's own photograph of the box.
    corners : sequence of four (x, y) or None
        Where the opening's corners lie in the photograph; None: looked for.
    """

    loop: Path
    scene: Path | None = None
    photo: Path | None = None
    corners: Sequence[tuple[float, float]] | None = None
    overwrite: bool = False

    def __post_init__(self) -> None:
        if self.corners is not None and self.photo is None:
            raise InputError("belongs to a photograph", where="--corners", remedy="add --photo")


@dataclass(frozen=True, slots=True)
class Shown:
    """What was written.

    Attributes
    ----------
    assumed : str
        What was taken for want of a scene.
    findings : tuple of Finding
        The faults, and what is wrong with the report; the page shows all findings.
    """

    path: Path
    bytes: int
    frames: int
    assumed: str
    findings: tuple[Finding, ...]

    def as_dict(self) -> dict[str, object]:
        """Return this as one JSON object."""
        return {
            "file": str(self.path),
            "bytes": self.bytes,
            "frames": self.frames,
            "assumed": self.assumed,
            "findings": [finding.as_dict() for finding in self.findings],
        }


def write_page(ask: Ask, out: Path | None, progress: Progress = silent) -> Shown:
    """Write the preview page of a loop.

    Parameters
    ----------
    out : Path or None
        None: the loop's name with the ending ``.html``, beside it.

    Raises
    ------
    InputError
        The loop, scene, photograph or destination cannot be used.
    JobError
        The decoder failed or the page could not be written.
    """
    facts = open_loop(ask.loop)
    out = out or ask.loop.with_suffix(".html")
    check_destination(out, overwrite=ask.overwrite)
    report, trouble = read_report(ask.loop)
    setting = find_setting(ask.loop, facts.size, ask.scene, report, trouble=trouble)
    watched = watch(ask.loop, report, setting, facts, progress)
    contents = _contents(ask, report, setting, watched, trouble=trouble)
    write_text(out, build_page(contents), overwrite=ask.overwrite)
    faults = tuple(f for f in contents.findings if f.level == "fault" or f.subject == "report")
    return Shown(out, out.stat().st_size, watched.frames, setting.assumed, faults)


def write_still(ask: Ask, out: Path, progress: Progress = silent) -> Shown:
    """Write one picture of a loop as the eye will see it: the moment with the most light.

    Raises
    ------
    InputError
        As `write_page`; also if `out` ends in neither ``.png`` nor ``.webp``.
    """
    if out.suffix.lower() not in _STILL_ENDINGS:
        raise InputError("is no picture that can be written", where=str(out), remedy="end it in .png")
    check_destination(out, overwrite=ask.overwrite)
    facts = open_loop(ask.loop)
    report, trouble = read_report(ask.loop)
    setting = find_setting(ask.loop, facts.size, ask.scene, report, trouble=trouble)
    photo = _photo(ask, setting)
    watched = watch(ask.loop, report, setting, facts, progress)
    stage = stage_of(setting.plan, card=photo is None, folders=setting.folders)
    view = EyeView(stage, near_window(setting.plan, whole_window(setting.plan, STILL_PX)), photo=photo)
    picture = encode(view.show(watched.best), out.suffix.lower(), 92)
    with whole_file(out, overwrite=ask.overwrite) as part:
        part.write_bytes(picture)
    findings = (*_of_report(trouble), *stage.remarks, *watched.findings)
    return Shown(out, len(picture), watched.frames, setting.assumed, findings)


def _photo(ask: Ask, setting: Backdrop) -> PhotoScenery | None:
    return None if ask.photo is None else photo_scenery(setting.plan, ask.photo, ask.corners)


def _of_report(trouble: str) -> list[Finding]:
    """Return what is wrong with the report beside the loop as a caution."""
    if not trouble:
        return []
    return [Finding("caution", "report", trouble, "make the loop again, or name its scene: --scene FILE")]


def _contents(
    ask: Ask, report: Mapping[str, Any], setting: Backdrop, watched: Watched, *, trouble: str
) -> PageContents:
    facts, plan, every = watched.facts, setting.plan, watched.every
    stage = stage_of(plan, folders=setting.folders)
    join = find_join(report, watched.steps)
    usual = watched.usual(join.steps)
    told = _proofs(report)
    proofs = told or watched.proofs
    findings = [*_of_report(trouble), *(_findings(report) or watched.findings)]
    if not setting.assumed:
        known = {(f.subject, f.text) for f in findings}
        findings += [f for f in (*plan.findings, *stage.remarks) if (f.subject, f.text) not in known]
    findings = list(with_faults(proofs, findings))
    thinned = "" if every == 1 else f" Every {every}. frame is shown here."
    ghosts = [part for part in watched.parts if part.name]
    return PageContents(
        name=printable(ask.loop.name),
        title=plan.scene.title,
        facts=f"{facts.size[0]}x{facts.size[1]} at {rate_words(facts.rate)}, "
        f"{_length(report, watched)}.{thinned}",
        rate=float(facts.rate / every),
        raster=facts.size,
        mirrored=setting.orientation.mirrored,
        quarter_turns=setting.orientation.quarter_turns,
        sheets=watched.sheets,
        lit=watched.lit,
        steps=watched.steps,
        join=join,
        every=every,
        ghosts=_starts(ghosts, every),
        usual=usual,
        join_words=_join_words(join, watched, usual, several=bool(ghosts)),
        stage=stage,
        photo=_photo(ask, setting),
        scale=f"1:{plan.figure.scale:.4g}",
        assumed=setting.assumed,
        optics=_optics_words(setting),
        mount=_mount_words(setting),
        may_play=all(proof.passed for proof in (*watched.proofs, *proofs) if "flash" in proof.name),
        proofs=proofs,
        proofs_from="As make measured them on the file as decoded."
        if told
        else "No report of this very file lies beside it; this was measured on the file now.",
        findings=findings,
        drawing=_drawing(setting),
        next_steps=_next_steps(ask, setting),
    )


def _length(report: Mapping[str, Any], watched: Watched) -> str:
    """Return how long the file is, and how much of it the page shows, in words."""
    rate, count = watched.facts.rate, watched.frames
    ghosts = [part for part in watched.parts if part.name]
    whole = report["output"].get("frames") if report else None
    if ghosts:
        each = "its ghost" if len(ghosts) == 1 else f"each of its {len(ghosts)} ghosts"
        length = f"{float(whole / rate):.0f} s long; " if isinstance(whole, int) else ""
        return f"{length}{each} is shown once, without the dark between them"
    repeats = f", {whole} with its repeats" if isinstance(whole, int) and whole > count else ""
    return f"{count} frame{'s' * (count != 1)}{repeats}, {float(count / rate):.2f} s"


def _starts(ghosts: Sequence[FileRun], every: int) -> list[tuple[str, int]]:
    """Return where each of several ghosts begins among the page's frames."""
    starts, at = [], 0
    for part in ghosts:
        starts.append((part.name, at // every))
        at += part.stop - part.first
    return starts


def _join_words(join: Join, watched: Watched, usual: float, *, several: bool) -> str:
    if several:
        return "Each ghost comes out of the dark and goes back into it: there is no join to be seen."
    largest = max(watched.steps[step] for step in join.steps)
    ratio = largest / max(usual, 1e-4)
    at = (join.last + 1) % watched.frames
    where = "at the file's end" if at == 0 else f"at {float(at / watched.facts.rate):.2f} s, frame {at}"
    verdict = (
        "The eye will not find it."
        if ratio <= 1
        else "The eye may catch it; --join search looks for a better one."
    )
    return (
        f"It lies {where}. The largest step inside the join is {largest:.4f}, "
        f"95 of 100 steps elsewhere are at most {usual:.4f}: {ratio:.2f} times the clip's own "
        f"motion. {verdict}"
    )


def _drawing(setting: Backdrop) -> str:
    """Return the plan's drawing as a ``data:`` address; empty where no scene was given."""
    if setting.assumed:
        return ""
    return data_address(drawing_svg(setting.plan).encode(), "image/svg+xml")


def _optics_words(setting: Backdrop) -> str:
    plan = setting.plan
    light, doubling = plan.light, plan.doubling
    return (
        f"from the middle the pane reflects {light.reflectance:.1%} of the screen's light and lets "
        f"{light.transmittance:.1%} of the scenery's through; its second face sends an image "
        f"{format_length(doubling.offset_mm, plan.scene.units)} beside the first, "
        f"{doubling.ratio:.0%} as bright."
    )


def _mount_words(setting: Backdrop) -> str:
    turns = setting.orientation.quarter_turns * 90
    how = []
    if setting.orientation.mirrored:
        how.append("mirrored, since the pane mirrors it back")
    if turns:
        how.append(f"turned {turns} degrees clockwise, as the player hangs")
    if setting.plan.mount.keystone_px > 0.5 and not setting.assumed:
        how.append("bent a little, since the screen does not stand square to the ghost")
    return f"The raster is {'; '.join(how)}." if how else "The raster is upright, as it is seen."


def _next_steps(ask: Ask, setting: Backdrop) -> list[tuple[str, str]]:
    loop = ask.loop
    scene: list[str | Path] = ["--scene", setting.scene] if setting.scene else []
    steps = []
    if setting.assumed:
        own = typed("preview", loop, "--scene", "FILE", "--overwrite")
        steps.append(("To see it in your own box:", own))
    if ask.photo is None:
        over = typed("preview", loop, *scene, "--photo", "box.jpg", "--overwrite")
        steps.append(("To see it over a photograph of the box:", over))
    steps.append(("To put it on the player's card:", typed("card", loop, "FOLDER")))
    chart = typed("chart", *(scene or ["--scene", "FILE"]))
    steps.append(("To hold the real box against a chart first:", chart))
    return steps


def _list(report: Mapping[str, Any], name: str) -> list[Any]:
    told = report.get(name)
    return told if isinstance(told, list) else []


def _proofs(report: Mapping[str, Any]) -> tuple[Proof, ...]:
    found = []
    for told in _list(report, "proofs"):
        try:
            found.append(
                Proof(
                    str(told["name"]),
                    told["value"] if isinstance(told["value"], str) else float(told["value"]),
                    str(told["unit"]),
                    str(told["limit"]),
                    bool(told["passed"]),
                )
            )
        except (KeyError, TypeError, ValueError):
            return ()  # not a report of ours
    return tuple(found)


def _findings(report: Mapping[str, Any]) -> list[Finding]:
    found = []
    for told in _list(report, "findings"):
        try:
            found.append(
                Finding(told["level"], str(told["subject"]), str(told["text"]), str(told.get("remedy", "")))
            )
        except (KeyError, TypeError, ValueError, AttributeError):
            return []
    return found
