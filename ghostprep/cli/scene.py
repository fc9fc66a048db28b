"""``ghostprep scene``: a commented scene file to start from."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Write a commented starter scene file.")
@click.argument("file", type=click.Path(path_type=Path), default=Path("scene.toml"), required=False)
@click.option("--ask", "asking", is_flag=True, help="Ask for the measures one by one.")
@click.option("--overwrite", is_flag=True, help="Replace FILE if it is as ghostprep wrote it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(file: Path, asking: bool, overwrite: bool, as_json: bool) -> None:
    """Write a commented scene file (FILE, or scene.toml) to fill in.

    \b
    Example:
      ghostprep scene hall.toml
    """
    from ghostprep.cli.show import console, print_json, print_line, print_next
    from ghostprep.deliver import check_destination, write_text
    from ghostprep.scene.starter import starter_text
    from ghostprep.words import typed

    check_destination(file, overwrite=overwrite)
    if asking:
        from ghostprep.cli.scene_ask import ask_measures

        text = ask_measures()
    else:
        text = starter_text()
    write_text(file, text, overwrite=overwrite)
    if as_json:
        print_json({"scene": str(file)})
    else:
        to = console()
        print_line(to, f"{file} written" + ("" if asking else "; change its numbers to those of your box"))
        print_next(to, (typed("plan", file), "compute the optics"))
