"""``ghostprep plan``: the optics of a scene, before anything is glued."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(short_help="Compute the optics of a scene, with findings, cut list and drawing.")
@click.argument("scene", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
@click.option("--strict", is_flag=True, help="Leave with status 1 if a fault is found.")
def command(scene: Path, as_json: bool, strict: bool) -> None:
    """Compute geometry, sightlines and light of a SCENE file, and say what to change.

    \b
    Example:
      ghostprep plan hall.toml
    """
    from ghostprep.cli.plan_text import print_plan
    from ghostprep.cli.show import console, print_findings, print_json
    from ghostprep.optics import make_plan
    from ghostprep.scene import load_scene

    plan = make_plan(load_scene(scene))
    to = console(as_json=as_json)
    if as_json:
        print_findings(to, plan.findings)
        print_json(plan.as_dict())
    else:
        print_plan(to, plan)
    if strict and plan.faults:
        raise click.exceptions.Exit(1)
