"""What ``ghostprep make`` prints."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from ghostprep.cli import show
from ghostprep.words import counted, rate_words, seconds_words, size_words, typed

if TYPE_CHECKING:
    from ghostprep.loop import LoopPlan, Schedule
    from ghostprep.prepare.batch import Outcome
    from ghostprep.prepare.report import Result, Take


def has_fault(result: Result) -> bool:
    """Return whether a finding of the run is a fault."""
    return any(finding.level == "fault" for finding in result.findings)


def show_result(result: Result, *, every_proof: bool, as_json: bool) -> None:
    """Print what was made: the report on stdout with `as_json`, for people otherwise."""
    to = show.console(as_json=as_json)
    if as_json:
        show.print_json(result.as_dict())
        show.print_findings(to, result.findings)
        return
    rows = [row for take in result.takes for row in _clip_rows(take)]
    if result.schedule is None:
        rows += _loop_rows(result.takes[0])
    to.print(show.facts_table("", rows + _file_rows(result, every_proof=every_proof)))
    if result.schedule is not None:
        to.print()
        least, most = (f"{float(n / result.schedule.rate):.1f}" for n in result.schedule.intervals)
        between = f"{least} s" if least == most else f"{least} to {most} s"
        show.print_line(
            to, f"The appearances, {between} from the beginning of one to the beginning of the next"
        )
        to.print(_schedule_table(result.schedule, [take.facts.path.name for take in result.takes]))
    if every_proof:
        to.print()
        to.print(show.proofs_table(result.proofs, result.units))
    to.print()
    show.print_summary(to, result.proofs, result.findings)
    show.print_findings(to, result.findings)
    show.print_next(to, *_next_steps([result]))


def show_outcomes(outcomes: Sequence[Outcome], *, every_proof: bool) -> None:
    """Print what became of each of many clips, two lines and its findings each."""
    to = show.console()
    made = [one.result for one in outcomes if one.result is not None]
    for result in made:
        show.print_line(to, f"{result.takes[0].facts.path.name}: {result.output.path}, {_length(result)}")
        if every_proof:
            to.print(show.proofs_table(result.proofs, result.units))
        show.print_summary(to, result.proofs, result.findings)
        show.print_findings(to, [f for f in result.findings if f.level != "note"])
        to.print()
    show.print_next(to, *_next_steps(made))


def _clip_rows(take: Take) -> list[tuple[str, str]]:
    backing = take.backing
    return [
        ("clip", show.clip_words(take.facts, take.lasts_s)),
        ("backing", f"{backing.kind}: {backing.found}"),
    ]


def _loop_rows(take: Take) -> list[tuple[str, str]]:
    first, last = take.source_frames
    lasts = seconds_words(float(len(take.plan) / take.rate))
    still = first == last
    source = "of the one picture" if still else f"from frames {first} to {last} of the clip"
    join = join_words(take.plan)
    if still and take.plan.join == "none":
        drifts = "it drifts slowly, and comes back to where it began"
        join = drifts if take.plan.drift else "none is needed: the picture stands still"
    return [("loop", f"{lasts} ({counted(len(take.plan), 'frame')}), {source}"), ("join", join)]


def join_words(plan: LoopPlan) -> str:
    """Return how the end of a loop meets its start."""
    over = f"over {counted(plan.blend, 'frame')}"
    match plan.join:
        case "there-and-back":
            return "there and back: it turns at both ends"
        case "fades":
            return f"out of the dark and back into it, {over} each"
        case "none":
            return "none: the end is followed by the start as it is"
    if plan.blend_frames and not plan.blend:
        slowed = counted(len(plan.blend_frames), "step")
        return f"a cut from the last frame to the first, slowed by one frame over {slowed}"
    if not plan.blend:
        return "a plain cut from the last frame to the first"
    return f"the end is blended into the start {over}" + (
        ", each moved towards the other" if plan.method == "flow" else ""
    )


def _file_rows(result: Result, *, every_proof: bool) -> list[tuple[str, str]]:
    output = result.output
    raster = f"{output.raster[0]}x{output.raster[1]}"
    about = f"{raster}, {rate_words(output.rate)}, {size_words(output.bytes)}, for {output.player}"
    rows = [("file", f"{output.path}: {about}")]
    once = len(result.takes[0].plan)
    if result.schedule is None and output.frames > once:
        rows.append(("repeats", f"{output.frames // once:,} in the file, {_length(result)} together"))
    if every_proof:
        rows.append(("coding", f"{output.codec} {output.profile} {output.level}".strip()))
    return rows


def _length(result: Result) -> str:
    return seconds_words(float(result.output.frames / result.output.rate))


def _schedule_table(schedule: Schedule, names: Sequence[str]) -> Table:
    """Return when which ghost appears, with a line that shows its place in the file."""
    table = Table(box=None, pad_edge=False)
    for column in ("from", "to", "ghost"):
        table.add_column(column, justify="left" if column == "ghost" else "right", no_wrap=True)
    table.add_column()  # in a narrow terminal this is cut off, before any word is
    width = 40
    for one in schedule.appearances:
        begin, end = (round(frame * width / schedule.frames) for frame in (one.start, one.stop))
        bar = "." * begin + "#" * max(end - begin, 1)
        seconds = [f"{float(frame / schedule.rate):.1f} s" for frame in (one.start, one.stop)]
        table.add_row(*seconds, Text(names[one.ghost]), Text(bar.ljust(width, ".")[:width]))
    return table


def _next_steps(made: Sequence[Result]) -> list[tuple[str, str]]:
    """Return what to type next: look at the loop, and, if nothing is wrong with it, put it on the card."""
    if not made:
        return []
    loops: list[Path] = [result.output.path for result in made]
    steps = [(typed("preview", loops[0]), "see it as the eye will")]
    wrong = any(map(has_fault, made))
    if not wrong and not any(result.output.codec == "ffv1" for result in made):
        steps.append((typed("card", *loops, "FOLDER"), "put it on the player's card"))
    return steps
