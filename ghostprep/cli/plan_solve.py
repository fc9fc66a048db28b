"""``ghostprep plan --solve``: the best layouts side by side, and one of them as a scene file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic_core import to_jsonable_python
from rich.table import Table
from rich.text import Text

from ghostprep.cli import show
from ghostprep.deliver import check_destination, write_text
from ghostprep.errors import InputError
from ghostprep.optics.advice.collect import faults_of
from ghostprep.optics.advice.words import LEAST_MM, Words
from ghostprep.optics.compare import measures_of, remaining_faults, trade_offs
from ghostprep.optics.layout import lay_out
from ghostprep.optics.solve import Solution, let_go, solve, value_at
from ghostprep.scene.starter import filled_text, solved_values
from ghostprep.words import counted

if TYPE_CHECKING:
    from rich.console import Console

    from ghostprep.scene import Scene


def print_solutions(
    scene: Scene, source: Path, *, free: tuple[str, ...], out: Path, pick: int, overwrite: bool, as_json: bool
) -> tuple[list[Solution], list[tuple[str, ...]]]:
    """Search, print the best three, and write the picked one as a scene file.

    Where every layout has a fault, what has to give is looked for and printed too.

    Returns
    -------
    list of Solution
    list of tuple of str
        The keys to set free of each way that leads to a layout without faults.
    """
    check_destination(out, overwrite=overwrite)
    found = solve(scene, free=free)
    to = show.console(as_json=as_json)
    words = Words(scene.units)
    if not found:
        to.print("No layout was found in which the player has room in this box.")
    else:
        _table(to, words, found)
        if pick > len(found):
            raise InputError(
                f"is {pick}, but {counted(len(found), 'layout')} could be found",
                where="--pick",
                remedy="name one of those above",
            )
        chosen = found[pick - 1]
        text = filled_text(solved_values(scene, chosen.scene), source.read_text(encoding="utf-8-sig"))
        write_text(out, text, overwrite=overwrite)
        to.print()
        show.print_line(to, f"Layout {pick} written to {out}")
    ways = let_go(scene, free) if not found or faults_of(found[0].plan) else None
    if ways is not None:
        _print_ways(to, words, scene, ways)
    if as_json:
        layouts, written = [s.plan.as_dict() for s in found], str(out) if found else None
        told = [_as_json(scene, *way) for way in ways or ()]
        show.print_json({"layouts": layouts, "written": written, "ways_out": told})
    return found, [keys for keys, _ in ways or ()]


def _as_json(scene: Scene, keys: tuple[str, ...], layout: Scene) -> dict[str, object]:
    """Return the keys to set free and what they change to, for a program."""
    changed = {key: value_at(layout, key) for key in keys if value_at(layout, key) != value_at(scene, key)}
    return {"free": keys, "changes": to_jsonable_python(changed)}


def _print_ways(
    to: Console, words: Words, scene: Scene, ways: Sequence[tuple[tuple[str, ...], Scene]]
) -> None:
    to.print("\nNo layout without faults keeps all that the scene file gives.")
    if not ways:
        to.print(
            "None was found either with another ground, figure or sway, in a larger box, or with the ghost "
            "nearer to a side wall: take out what else stands in the box, or take a smaller player."
        )
    for number, (keys, layout) in enumerate(ways):
        to.print("So is this one:" if number else "This one is without faults:")
        for key in keys:
            old, new = (_told(one, key, words) for one in (scene, layout))
            if old != new:
                show.print_line(to, f"    {key}  {new} instead of {old}")
        aside = float(lay_out(layout).ghost[0])
        if layout.ghost.at is None and abs(aside) > LEAST_MM:
            show.print_line(to, f"    its ghost stands {words.offset((aside, 0, 0))} of the middle")


def _told(scene: Scene, key: str, words: Words) -> str:
    """Return what a scene gives for a key, as its file would."""
    if key == "divider":
        return ", ".join(f"{words.point(d.start)} to {words.point(d.end)}" for d in scene.divider) or "none"
    if key == "doorways":
        doors = [words.size((d.width, d.height)) for one in scene.divider for d in one.doorways]
        return ", ".join(doors) or "none"
    value = value_at(scene, key)
    if value is None:
        return "what follows"
    if isinstance(value, tuple):
        return words.point(value)
    if isinstance(value, str) or key in {"pane.angle", "screen.swivel"}:
        return f"{value}" if isinstance(value, str) else f"{value:g} degrees"
    return words.real(value) if key == "ghost.figure" else words(value)


def free_keys(text: str | None) -> tuple[str, ...]:
    """Return the keys of ``--free``, which are parted by commas."""
    return tuple(key.strip() for key in (text or "").split(",") if key.strip())


def _table(to: Console, words: Words, found: list[Solution]) -> None:
    table = Table(title="Layouts, the best first", title_justify="left", box=None, pad_edge=False)
    table.add_column("")
    for number in range(1, len(found) + 1):
        table.add_column(str(number), overflow="fold")
    columns = [measures_of(s.plan, words) for s in found]
    for name in columns[0]:
        table.add_row(Text(name, "dim"), *(Text(column[name]) for column in columns))
    for name, lines in trade_offs([s.plan for s in found]).items():
        table.add_row(Text(name, "dim"), *(Text("; ".join(line) or "-") for line in lines))
    to.print(table)
    if faults := remaining_faults([s.plan for s in found]):
        to.print("\nFaults that remain")
        show.print_findings(to, faults)
