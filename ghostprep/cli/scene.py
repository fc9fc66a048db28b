"""``ghostprep scene``: a commented scene file to start from."""

from __future__ import annotations

from pathlib import Path

import click

from ghostprep.cli import PATH


@click.command(short_help="Write a commented starter scene file.")
@click.argument("file", type=PATH, default=Path("scene.toml"), required=False)
@click.option("--ask", "asking", is_flag=True, help="Ask for the measures one by one.")
@click.option("--keys", is_flag=True, help="Explain every key of a scene file, and write nothing.")
@click.option("--overwrite", is_flag=True, help="Replace FILE if it is as ghostprep wrote it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(file: Path, asking: bool, keys: bool, overwrite: bool, as_json: bool) -> None:
    """Write a commented scene file (FILE, or scene.toml) to fill in.

    \b
    Example:
      ghostprep scene hall.toml
    """
    from ghostprep.cli import show
    from ghostprep.deliver import check_destination, write_text
    from ghostprep.scene.starter import starter_text
    from ghostprep.words import typed

    if keys and (asking or overwrite):
        raise click.UsageError("--keys writes nothing: --ask and --overwrite do not go with it")
    if keys:
        _show_keys(as_json=as_json)
        return
    check_destination(file, overwrite=overwrite)
    if asking:
        from ghostprep.cli.scene_ask import ask_measures

        text = ask_measures()
    else:
        text = starter_text()
    write_text(file, text, overwrite=overwrite)
    if as_json:
        show.print_json({"scene": str(file)})
    else:
        to = show.console()
        show.print_line(
            to, f"{file} written" + ("" if asking else "; change its numbers to those of your box")
        )
        show.print_next(to, (typed("plan", file), "compute the optics"))


def _show_keys(*, as_json: bool) -> None:
    """Print what each key means, what may stand there, and what is taken where it is left out."""
    from dataclasses import asdict

    from rich.table import Table
    from rich.text import Text

    from ghostprep.cli import show
    from ghostprep.scene.keys import all_keys

    if as_json:
        show.print_json({"keys": [asdict(key) for key in all_keys()]})
        return
    table = Table(box=None, pad_edge=False)
    for head in ("key", "value", "default", "meaning"):
        table.add_column(head, no_wrap=head == "key")
    for key in all_keys():
        # a key in brackets is no markup
        table.add_row(*map(Text, (key.path, key.kind, key.default, key.text)))
    to = show.console()
    to.print(table)
    to.print('A number is in the file\'s units; a text carries its own: "3 1/2 in", "85 mm", "1.7 m".')
