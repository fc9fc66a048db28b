"""How results look in the terminal: tables, findings, progress. Says nothing of its own."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING, Final

import click
from rich.console import Console
from rich.padding import Padding
from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as Bars
from rich.table import Table
from rich.text import Text

from ghostprep.errors import printable
from ghostprep.words import rate_words, seconds_words

if TYPE_CHECKING:
    from ghostprep.clip import ClipFacts
    from ghostprep.finding import Finding
    from ghostprep.progress import Progress
    from ghostprep.verdict import Proof

_EVEN: Final = 0.1
"""Share by which a clip's mean rate may differ from its nominal one: a clip that breaks off is not uneven."""
SUMMARY_STYLE: Final = {"good": "green", "caution": "yellow", "fault": "bold red"}
_LEVEL_STYLE: Final = {"fault": "bold red", "caution": "yellow", "note": "cyan"}


def console(*, as_json: bool = False) -> Console:
    """Return where people's text goes: stdout, or stderr when stdout carries JSON."""
    return Console(stderr=as_json, highlight=False, soft_wrap=False, emoji=False)


def print_json(report: object) -> None:
    """Print one JSON object on stdout, and nothing else; escaped where the console's letters are few."""
    few = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
    click.echo(json.dumps(report, indent=2, ensure_ascii=few, allow_nan=False))


def facts_table(title: str, rows: Sequence[tuple[str, str]]) -> Table:
    """Return a table of names and values; nothing in it is read as markup."""
    table = Table(title=title, title_justify="left", show_header=False, box=None, pad_edge=False)
    table.add_column(style="dim", no_wrap=True)
    table.add_column(overflow="fold")
    for name, value in rows:
        table.add_row(Text(name), Text(printable(value)))
    return table


def clip_words(facts: ClipFacts, lasts_s: float, turned: str = "") -> str:
    """Return what a clip is in a line: its name, size, how it is `turned`, its rate and length."""
    moves = "one picture" if facts.still else f"{_pace(facts, lasts_s)}, {seconds_words(lasts_s)}"
    return f"{facts.path.name}: {facts.size[0]}x{facts.size[1]}{turned}, {moves}"


def _pace(facts: ClipFacts, lasts_s: float) -> str:
    """Return the frames a second, and whether they come unevenly, as a GIF's drawings do."""
    mean = facts.frames / lasts_s if facts.frames and lasts_s > 0 else float(facts.rate)
    if abs(mean / float(facts.rate) - 1) <= _EVEN:
        return rate_words(facts.rate)
    return f"{rate_words(Fraction(mean).limit_denominator(1000))}, uneven"


def proofs_table(proofs: Sequence[Proof], units: str) -> Table:
    """Return the proofs with their limits and verdicts, lengths in the builder's unit."""
    from ghostprep.scene.lengths import format_length

    table = Table(title="Proofs, on the file as decoded", title_justify="left", box=None, pad_edge=False)
    for column in ("proof", "measured", "limit", "verdict"):
        table.add_column(column)
    for proof in proofs:
        verdict = Text("passed", "green") if proof.passed else Text("FAILED", "bold red")
        measured = Text(proof.measured(partial(format_length, units=units)))
        table.add_row(Text(proof.label), measured, Text(proof.limit), verdict)
    return table


def print_summary(to: Console, proofs: Sequence[Proof], findings: Sequence[Finding]) -> None:
    """Print the line that counts proofs, faults and cautions; green only if there is none."""
    from ghostprep.verdict import summary

    told = summary(proofs, findings)
    to.print(Text(told.text, SUMMARY_STYLE[told.level]))


def print_next(to: Console, *steps: tuple[str, str]) -> None:
    """Print what may be typed next: a command and what it is for, one a line."""
    if steps:
        to.print()
    for command, purpose in steps:
        line = Text("Next: ", "dim")
        line.append(command, "bold")
        line.append(f"  ({purpose})", "dim")
        to.print(line, soft_wrap=True)


def print_findings(to: Console, findings: Sequence[Finding]) -> None:
    """Print findings, the worst first, each with its remedy on the line below."""
    for finding in sorted(findings, key=lambda finding: finding.rank):
        line = Text(f"{finding.level}: ", _LEVEL_STYLE[finding.level])
        line.append(printable(f"{finding.subject}: {finding.text}"), "default")
        to.print(line)
        if finding.remedy:
            to.print(Padding(Text(printable(finding.remedy)), (0, 0, 0, 4)))


def print_line(to: Console, line: str) -> None:
    """Print one line, not wrapped, in which a name may stand: nothing in it is read as markup."""
    to.print(printable(line), markup=False, soft_wrap=True)


@contextlib.contextmanager
def progress_bars(to: Console) -> Iterator[Progress]:
    """Show one bar a stage, with the time left, while the block runs; silent where no terminal is."""
    bars = Bars(
        TextColumn("{task.description:<10}", markup=False),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        console=to,
        disable=not to.is_terminal,
    )
    stages: dict[str, int] = {}

    def note(stage: str, done: int, total: int | None) -> None:
        if stage not in stages:
            stages[stage] = bars.add_task(printable(stage), total=total)
        bars.update(stages[stage], completed=done, total=total)  # type: ignore[arg-type]

    with bars:
        yield note
