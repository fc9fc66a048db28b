"""``ghostprep preview``: a loop as the eye will see it, on one page."""

from __future__ import annotations

import re
from pathlib import Path

import click

from ghostprep.cli import PATH
from ghostprep.cli.options import ReadBy


def _corners(text: str) -> tuple[tuple[float, float], ...]:
    """Read four ``X,Y`` in pixels."""
    number = r"(\d{1,6}(?:\.\d{1,3})?)"
    found = re.fullmatch(r"\s+".join([f"{number},{number}"] * 4), text.strip())
    if not found:
        raise ValueError(f"{text!r} is not four corners: write 100,80 900,80 900,1200 100,1200")
    numbers = [float(text) for text in found.groups()]
    return tuple(zip(numbers[::2], numbers[1::2], strict=True))


@click.command(short_help="Show a loop as the eye will see it, on one page.")
@click.argument("loop", type=PATH)
@click.option("--scene", type=PATH, help="Scene file.  [the one the loop was made for]")
@click.option("--photo", type=PATH, help="A photograph of your box, from the front.")
@click.option(
    "--corners",
    type=ReadBy(_corners, '"X,Y X,Y X,Y X,Y"'),
    help="Where the opening's corners lie in the photograph, px, clockwise from the top left.  [looked for]",
)
@click.option("--out", type=PATH, help="The page's file.  [LOOP with .html]")
@click.option("--still", type=PATH, help="Write one picture (.png) instead of the page.")
@click.option("--no-open", is_flag=True, help="Do not open the page.")
@click.option("--overwrite", is_flag=True, help="Replace the file if ghostprep wrote it.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(
    loop: Path,
    *,
    scene: Path | None,
    photo: Path | None,
    corners: tuple[tuple[float, float], ...] | None,
    out: Path | None,
    still: Path | None,
    no_open: bool,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Show LOOP through the scene's pane and light, with its join, proofs and findings.

    The page is one file and asks nothing of any other computer. Without a scene an
    ordinary box is assumed, and the page says so.

    \b
    Examples:
      ghostprep preview purser.mp4 --scene scene.toml
      ghostprep preview purser.mp4 --photo box.jpg --out box.html
      ghostprep preview purser.mp4 --still purser.png
    """
    from ghostprep.cli import show
    from ghostprep.errors import printable
    from ghostprep.eye.preview import Ask, write_page, write_still
    from ghostprep.words import size_words, typed

    if still is not None and out is not None:
        raise click.UsageError("--still writes a picture and --out a page: give one of the two")
    ask = Ask(loop=loop, scene=scene, photo=photo, corners=corners, overwrite=overwrite)
    to = show.console(as_json=as_json)
    with show.progress_bars(to) as progress:
        shown = write_page(ask, out, progress) if still is None else write_still(ask, still, progress)
    if as_json:
        show.print_json(shown.as_dict())
    show.print_findings(to, shown.findings)
    if shown.assumed:
        to.print(printable(shown.assumed), markup=False)
    show.print_line(to, f"{shown.path} written, {size_words(shown.bytes)}")
    if not as_json and not shown.findings:
        show.print_next(to, (typed("card", loop, "FOLDER"), "put the loop on the player's card"))
    if still is None and not no_open:
        click.launch(shown.path.absolute().as_uri())
