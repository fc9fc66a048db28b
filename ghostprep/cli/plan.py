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
@click.option(
    "--free",
    metavar="KEYS",
    help="What --solve may change though SCENE gives it: screen.wall,pane.angle,divider,doorways, ...",
)
@click.option("--pick", type=click.IntRange(1, 3), help="With --solve, which layout to write.  [1]")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="With --solve, the scene file to write.  [SCENE with -solved in its name]",
)
@click.option("--overwrite", is_flag=True, help="Replace files that ghostprep wrote.")
def command(
    *,
    scene: Path,
    as_json: bool,
    strict: bool,
    drawing: Path | None,
    template: Path | None,
    paper: str | None,
    solving: bool,
    free: str | None,
    pick: int | None,
    out: Path | None,
    overwrite: bool,
) -> None:
    """Compute geometry, sightlines and light of a SCENE file, and say what to change.

    --solve keeps what SCENE gives and looks for the rest; name in --free what it may change all the same.

    \b
    Example:
      ghostprep plan hall.toml --drawing hall.pdf --template hall-parts.pdf
      ghostprep plan hall.toml --solve --free screen.wall,screen.centre,screen.top --out better.toml
    """
    from ghostprep.cli.plan_paper import OnPaper, unswept

    for option, given in (("--free", free), ("--pick", pick), ("--out", out)):
        if given is not None and not solving:
            raise click.UsageError(f"{option} belongs to --solve")
    if not solving:
        click.get_current_context().with_resource(unswept())
    from ghostprep.cli.show import console, print_findings, print_json
    from ghostprep.scene import load_scene

    written = scene
    on_paper = OnPaper(drawing=drawing, template=template, paper=paper, overwrite=overwrite)
    loaded = load_scene(scene)
    if solving:
        from ghostprep.cli.plan_solve import free_keys, print_solutions

        written = out or scene.with_name(f"{scene.stem}-solved.toml")
        found = print_solutions(
            loaded,
            scene,
            free=free_keys(free),
            out=written,
            pick=pick or 1,
            overwrite=overwrite,
            as_json=as_json,
        )
        faults = min((s.faults for s in found), default=1)
        plan = found[(pick or 1) - 1].plan if found else None
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
        if not as_json:
            _print_next(written, solved=solving, faults=faults, template=template)
    if strict and faults:
        raise click.exceptions.Exit(1)


def _print_next(scene: Path, *, solved: bool, faults: int, template: Path | None) -> None:
    from ghostprep.cli.show import console, print_next
    from ghostprep.words import typed

    if solved:
        steps = [(typed("plan", scene), "see this layout whole")]
    elif faults:
        steps = [(typed("plan", scene, "--solve"), "search for layouts without these faults")]
    else:
        steps = [(typed("make", "CLIP", "--scene", scene), "make the loop for this box")]
        if template is None:
            parts = scene.with_name(f"{scene.stem}-parts.pdf")
            steps.insert(
                0, (typed("plan", scene, "--template", parts), "the parts at 1:1, to lay on the wood")
            )
    print_next(console(), *steps)
