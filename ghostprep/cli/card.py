"""``ghostprep card``: loops go onto the player's card, checked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from ghostprep.cli import PATH, show
from ghostprep.errors import InputError
from ghostprep.provenance import digest_in, report_beside

if TYPE_CHECKING:
    from ghostprep.card import CardPlan, CardResult, Drive

_READ_BACK: Final = {
    "direct": "past the system's cache, SHA-256 equal",
    "uncached": "past the system's cache, SHA-256 equal",
    "dropped": "after the system dropped its cache, SHA-256 equal",
    "cached": "perhaps from the system's cache, SHA-256 equal",
}

_ENTRIES: Final = {True: "in play order", False: "NOT in play order", None: "their order cannot be read here"}


@click.command("card", epilog="Example: ghostprep card purser.mp4 lantern.mp4 /media/me/CARD")
@click.argument("loops_and_folder", nargs=-1, metavar="LOOP... FOLDER", type=PATH)
@click.option("--player", metavar="NAME", help="A profile's name or file.  [from the loop's report]")
@click.option("--replace", is_flag=True, help="Let the loops that we wrote there before make room.")
@click.option("--ledger/--no-ledger", default=True, help="Keep a list of our loops there.  [ledger]")
@click.option("--any-folder", is_flag=True, help="Also write to a folder that is on no card.")
@click.option("--dry-run", is_flag=True, help="Print the plan and change nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(
    *,
    loops_and_folder: tuple[Path, ...],
    player: str | None,
    replace: bool,
    ledger: bool,
    any_folder: bool,
    dry_run: bool,
    as_json: bool,
) -> None:
    """Put each LOOP, in this order, into FOLDER on the player's card.

    They are numbered in play order, copied, read back and compared, and only
    then given their names; files that others put there are never touched.
    Without loops and folder: lists the cards that are plugged in.
    """
    from ghostprep.card import CardOrder, fill_card, list_drives, plan_card, player_of

    if not loops_and_folder and (player or replace or any_folder or dry_run):
        raise click.UsageError("name the loops first and the card's folder last")
    if not loops_and_folder:
        _show_drives(list_drives(), as_json=as_json)
        return
    *loops, folder = loops_and_folder
    if not loops:
        raise _incomplete(folder, list_drives())
    told = [(loop, report_beside(loop)) for loop in loops]
    profile = player_of(told, player)
    order = CardOrder(
        loops=tuple(loops),
        folder=folder,
        player=profile,
        proven={loop.resolve(): sha for loop, report in told if (sha := digest_in(report))},
        replace=replace,
        ledger=ledger,
        any_folder=any_folder,
    )
    with show.progress_bars(show.console(as_json=as_json)) as progress:
        plan = plan_card(order, progress=progress)
        shown: CardPlan | CardResult = plan if dry_run else fill_card(plan, progress=progress)
    _show(shown, as_json=as_json)


def _incomplete(path: Path, drives: Sequence[Drive]) -> InputError:
    if path.is_dir():
        return InputError("no loop was named", where=str(path), remedy="name loops first, the folder last")
    seen = ", ".join(str(drive.mount) for drive in drives) or "none"
    return InputError(
        "no folder was named", where=str(path), remedy=f"name the card's folder last (cards seen: {seen})"
    )


def _show_drives(drives: Sequence[Drive], *, as_json: bool) -> None:
    if as_json:
        show.print_json({"drives": [drive.as_dict() for drive in drives]})
        return
    if not drives:
        click.echo(
            "No card and no USB drive is mounted. Plug one in, and open it once if your system asks for it."
        )
        return
    rows = [(str(drive.mount), _drive_words(drive)) for drive in drives]
    show.console().print(show.facts_table("Drives that can be taken out", rows))


def _drive_words(drive: Drive) -> str:
    told = f"{drive.file_system.kind} (by its {drive.file_system.told_by})"
    words = [told.replace("its system", "the system")]
    if drive.total_bytes is not None and drive.free_bytes is not None:
        words.append(f"{drive.free_bytes / 1e6:,.0f} of {drive.total_bytes / 1e6:,.0f} MB free")
    if not drive.writable:
        words.append("read-only")
    return ", ".join(words)


def _show(shown: CardPlan | CardResult, *, as_json: bool) -> None:
    """Print what would be written, or what was."""
    from ghostprep.card import CardResult

    to = show.console(as_json=as_json)
    if as_json:
        show.print_json(shown.as_dict())
        show.print_findings(to, shown.findings)
        return
    if isinstance(shown, CardResult):
        plan, title, removed = shown.plan, "Written, in play order", "removed"
        more = [("read back", _READ_BACK[shown.reading]), ("entries", _ENTRIES[shown.in_order])]
    else:
        plan, title, removed, more = shown, "Would be written, in play order", "to be removed", []
    rows = [("folder", str(plan.folder)), ("drive", _drive_words(plan.drive))]
    rows += [(removed, written.name) for written in plan.contents.leaves]
    to.print(show.facts_table("The card", rows + more))
    loops = [(step.name, f"{step.loop.name}, {step.bytes / 1000:,.0f} kB") for step in plan.steps]
    to.print(show.facts_table(title, loops))
    show.print_findings(to, shown.findings)
