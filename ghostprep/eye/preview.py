"""A loop as the eye will see it: one page, or one still picture."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from ghostprep.arrays import Frame
from ghostprep.deliver import check_destination, whole_file, write_text
from ghostprep.errors import InputError, printable
from ghostprep.eye.backdrop import Backdrop, find_backdrop
from ghostprep.eye.page.page import PageContents, build_page, page_rows
from ghostprep.eye.page.sheets import data_address, encode
from ghostprep.eye.photo import PhotoScenery, photo_scenery
from ghostprep.eye.report import Join, find_join, read_report
from ghostprep.eye.stage import Stage, stage_of
from ghostprep.eye.view import EyeView
from ghostprep.eye.watch import Watched, open_loop, watch
from ghostprep.eye.window import near_window, whole_window
from ghostprep.finding import Finding
from ghostprep.optics import Plan
from ghostprep.paper.drawing import drawing_svg
from ghostprep.progress import Progress, silent
from ghostprep.provenance import value_in
from ghostprep.scene import format_length
from ghostprep.verdict import Proof, with_faults
from ghostprep.words import typed

_T = TypeVar("_T")
STILL_PX: Final = 800
"""Height of a still picture."""
STILL_ENDINGS: Final = {".png", ".webp"}
PAGE_ENDINGS: Final = {".html", ".htm"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """What a preview was asked to be."""

    loop: Path
    scene: Path | None = None
    photo: Path | None = None
    """The builder's own photograph of the box."""
    corners: Sequence[tuple[float, float]] | None = None
    """Where the opening's corners lie in the photograph; None: looked for."""
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

    Without `out` it has the loop's name with the ending ``.html``, and lies beside it.

    Raises
    ------
    InputError
        The loop, scene, photograph or destination cannot be used; also if `out` ends in neither ``.html``
        nor ``.htm``.
    JobError
        The decoder failed or the page could not be written.
    """
    out = out or ask.loop.parent / f"{ask.loop.stem}.html"
    if out.suffix.lower() not in PAGE_ENDINGS:
        raise InputError("is no page that a browser opens", where=str(out), remedy="end it in .html")
    look = _looked_at(ask, out, progress)
    contents = _contents(ask, look)
    write_text(out, build_page(contents), overwrite=ask.overwrite)
    faults = tuple(f for f in contents.findings if f.level == "fault" or f.subject == "report")
    return Shown(out, out.stat().st_size, look.watched.frames, look.setting.assumed, faults)


def write_still(ask: Ask, out: Path, progress: Progress = silent) -> Shown:
    """Write one picture of a loop as the eye will see it: the moment with the most light.

    Raises
    ------
    InputError
        As `write_page`; also if `out` ends in neither ``.png`` nor ``.webp``.
    """
    if out.suffix.lower() not in STILL_ENDINGS:
        raise InputError("is no picture that can be written", where=str(out), remedy="end it in .png")
    look = _looked_at(ask, out, progress)
    stage = stage_of(look.setting.plan, card=look.photo is None, folders=look.setting.folders)
    picture = encode(_still(look, stage, STILL_PX), out.suffix.lower(), 92)
    with whole_file(out, overwrite=ask.overwrite) as part:
        part.write_bytes(picture)
    findings = (*look.troubles, *stage.remarks, *look.watched.findings)
    return Shown(out, len(picture), look.watched.frames, look.setting.assumed, findings)


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """A loop that was asked for, decoded, with the scene that it is shown in."""

    report: Mapping[str, Any]
    setting: Backdrop
    photo: PhotoScenery | None
    watched: Watched
    troubles: tuple[Finding, ...]
    """What is wrong with the report beside the loop."""


def _looked_at(ask: Ask, out: Path, progress: Progress) -> _Look:
    facts = open_loop(ask.loop)
    check_destination(out, overwrite=ask.overwrite)
    report, trouble = read_report(ask.loop)
    setting = find_backdrop(ask.loop, facts.size, ask.scene, report, trouble=trouble)
    photo = None if ask.photo is None else photo_scenery(setting.plan, ask.photo, ask.corners)
    remedy = "make the loop again, or name its scene: --scene FILE"
    troubles = (Finding("caution", "report", trouble, remedy),) if trouble else ()
    watched = watch(ask.loop, report, setting, facts, progress)
    if setting.assumed and ask.photo is None:
        setting = find_backdrop(ask.loop, facts.size, ask.scene, report, trouble=trouble, lit=watched.lit)
    return _Look(report, setting, photo, watched, troubles)


def _still(look: _Look, stage: Stage, rows: int) -> Frame:
    """Return the moment with the most light as the middle eye sees it, `rows` high."""
    plan = look.setting.plan
    window = near_window(plan, whole_window(plan, rows))
    return EyeView(stage, window, plan.layout.eye, look.photo).show(look.watched.best)


def _contents(ask: Ask, look: _Look) -> PageContents:
    report, setting, watched = look.report, look.setting, look.watched
    facts, plan, every = watched.facts, setting.plan, watched.every
    stage = stage_of(plan, folders=setting.folders)
    join = find_join(report, watched.steps)
    reported = _list_in(report, "proofs", _proof)
    proofs = reported or watched.proofs
    findings = [*look.troubles, *(_list_in(report, "findings", _finding) or watched.findings)]
    if not setting.assumed:
        known = {(f.subject, f.text) for f in findings}
        findings += [f for f in (*plan.findings, *stage.remarks) if (f.subject, f.text) not in known]
    thinned = "" if every == 1 else f" Every {every}. frame is shown here."
    size = f"{facts.size[0]}x{facts.size[1]} at {float(facts.rate):.4g} fps"
    drawing = "" if setting.assumed else data_address(drawing_svg(plan).encode(), "image/svg+xml")
    told_by = "As make measured them on the file as decoded."
    measured = "No report of this very file lies beside it; this was measured on the file now."
    texts = {
        "name": printable(ask.loop.name),
        "title": plan.scene.title or "A ghost in a box",
        "facts": f"{size}, {_length(report, watched)}.{thinned}",
        "join_words": _join_words(join, watched),
        "assumed": setting.assumed,
        "optics": _optics_words(plan),
        "mount": _mount_words(setting),
        "proofs_from": told_by if reported else measured,
        "drawing": drawing,
        # half as fine as the view: it takes a quarter of the time, and only those without scripts see it
        "still": data_address(encode(_still(look, stage, page_rows(plan) // 2), ".webp", 90), "image/webp"),
        "still_command": typed("preview", ask.loop, *_scene_option(setting), "--still", "still.png"),
    }
    return PageContents(
        stage=stage,
        watched=watched,
        orientation=setting.orientation,
        join=join,
        photo=look.photo,
        may_play=all(proof.passed for proof in (*watched.proofs, *proofs) if "flash" in proof.name),
        proofs=proofs,
        findings=list(with_faults(proofs, findings)),
        texts=texts,
        next_steps=_next_steps(ask, setting),
    )


def _length(report: Mapping[str, Any], watched: Watched) -> str:
    """Return how long the file is, and how much of it the page shows, in words."""
    rate, count = watched.facts.rate, watched.frames
    ghosts = watched.ghosts
    whole = value_in(report, "output", "frames", kind=int)
    if ghosts:
        each = "its ghost" if len(ghosts) == 1 else f"each of its {len(ghosts)} ghosts"
        length = f"{float(whole / rate):.0f} s long; " if whole else ""
        return f"{length}{each} is shown once, without the dark between them"
    repeats = f", {whole} with its repeats" if whole and whole > count else ""
    return f"{count} frame{'s' * (count != 1)}{repeats}, {float(count / rate):.2f} s"


def _join_words(join: Join, watched: Watched) -> str:
    if watched.ghosts:
        return "Each ghost comes out of the dark and goes back into it: there is no join to be seen."
    usual = watched.usual(join.steps)
    largest = max(watched.steps[step] for step in join.steps)
    ratio = largest / max(usual, 1e-4)
    at = (join.last + 1) % watched.frames
    where = "at the file's end" if at == 0 else f"at {float(at / watched.facts.rate):.2f} s, frame {at}"
    verdict = "The eye may catch it; --join search looks for a better one."
    verdict = "The eye will not find it." if ratio <= 1 else verdict
    return (
        f"It lies {where}. The largest step inside the join is {largest:.4f}, "
        f"95 of 100 steps elsewhere are at most {usual:.4f}: {ratio:.2f} times the clip's own "
        f"motion. {verdict}"
    )


def _optics_words(plan: Plan) -> str:
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
    if setting.plan.mount.bent and not setting.assumed:
        how.append("bent a little, since the screen does not stand square to the ghost")
    return f"The raster is {'; '.join(how)}." if how else "The raster is upright, as it is seen."


def _next_steps(ask: Ask, setting: Backdrop) -> list[tuple[str, str]]:
    loop = ask.loop
    scene = _scene_option(setting)
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


def _scene_option(setting: Backdrop) -> list[str | Path]:
    return ["--scene", setting.scene] if setting.scene else []


def _list_in(report: Mapping[str, Any], name: str, read: Callable[[Mapping[str, Any]], _T]) -> tuple[_T, ...]:
    """Return a list of a report; nothing where it is none of ours."""
    try:
        return tuple(read(one) for one in value_in(report, name, kind=list) or ())
    except (KeyError, TypeError, ValueError, AttributeError):
        return ()


def _proof(one: Mapping[str, Any]) -> Proof:
    value = one["value"] if isinstance(one["value"], str) else float(one["value"])
    return Proof(str(one["name"]), value, str(one["unit"]), str(one["limit"]), bool(one["passed"]))


def _finding(one: Mapping[str, Any]) -> Finding:
    return Finding(one["level"], str(one["subject"]), str(one["text"]), str(one.get("remedy", "")))
