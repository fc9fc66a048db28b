"""``ghostprep plan``: the optics of a scene, before anything is glued."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Compute the optics of a scene, with findings, cut list and drawing.")
@click.argument("scene", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
@click.option("--strict", is_flag=True, help="Leave with status 1 if a fault is found.")
@click.option(
    "--drawing",
    type=click.Path(path_type=Path),
    help="Draw the box to scale, with sightlines and measures: .svg, .pdf or .png.",
)
@click.option(
    "--template", type=click.Path(path_type=Path), help="A .pdf of all parts at 1:1, to lay on the wood."
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    help="What the template is printed on; letter if the scene is in inches, else a4.",
)
@click.option("--solve", "solving", is_flag=True, help="Search for the best three layouts and write one.")
@click.option("--pick", type=click.IntRange(1, 3), default=1, show_default=True, help="Which one to write.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Where --solve writes it; SCENE with -solved in its name if left out.",
)
@click.option("--overwrite", is_flag=True, help="Replace files that exist.")
def command(
    *,
    scene: Path,
    as_json: bool,
    strict: bool,
    drawing: Path | None,
    template: Path | None,
    paper: str | None,
    solving: bool,
    pick: int,
    out: Path | None,
    overwrite: bool,
) -> None:
    """Compute geometry, sightlines and light of a SCENE file, and say what to change.

    \b
    Example:
      ghostprep plan hall.toml --drawing hall.pdf --template hall-parts.pdf
      ghostprep plan hall.toml --solve --out better.toml
    """
    from ghostprep.cli.plan_paper import OnPaper, unswept

    if not solving:
        click.get_current_context().with_resource(unswept())
    from ghostprep.cli.show import console, print_findings, print_json
    from ghostprep.scene import load_scene

    on_paper = OnPaper(drawing=drawing, template=template, paper=paper, overwrite=overwrite)
    loaded = load_scene(scene)
    if solving:
        from ghostprep.cli.plan_solve import print_solutions

        destination = out or scene.with_name(f"{scene.stem}-solved.toml")
        found = print_solutions(
            loaded, scene, out=destination, pick=pick, overwrite=overwrite, as_json=as_json
        )
        faults = min((s.faults for s in found), default=1)
        plan = found[min(pick, len(found)) - 1].plan if found else None
    else:
        from ghostprep.cli.plan_text import print_plan
        from ghostprep.optics import make_plan

        plan = make_plan(loaded)
        faults = plan.faults
        if as_json:
            print_findings(console(as_json=True), plan.findings)
            print_json(plan.as_dict())
        else:
            print_plan(console(), plan)
    if plan is not None:
        on_paper.write(plan, console(as_json=as_json))
    if strict and faults:
        raise click.exceptions.Exit(1)
