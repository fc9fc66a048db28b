"""``ghostprep players``: the known player profiles, and what each takes and why."""

from __future__ import annotations

import click


@click.command(short_help="List the player profiles.")
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object on stdout.")
def command(name: str | None, as_json: bool) -> None:
    """List the player profiles, or show the limits of one and why they are there.

    NAME is a profile's name or the path of your own profile file (.toml).

    \b
    Example:
      ghostprep players h264-baseline-qvga
    """
    from ghostprep.cli import show
    from ghostprep.errors import printable
    from ghostprep.player import all_profiles, load_profile
    from ghostprep.player.words import limits_in_words
    from ghostprep.words import typed

    if name is None:
        profiles = all_profiles()
        if as_json:
            show.print_json({"players": [profile.as_dict() for profile in profiles]})
            return
        show.console().print(show.facts_table("Player profiles", [(p.name, p.title) for p in profiles]))
        show.print_next(show.console(), (typed("players", "NAME"), "what one of them takes, and why"))
        return
    profile = load_profile(name)
    if as_json:
        show.print_json(profile.as_dict())
        return
    to = show.console()
    to.print(printable(f"{profile.name}: {profile.title}"), markup=False, style="bold")
    if profile.about:
        to.print(printable(profile.about), markup=False)
    to.print()
    rows: list[tuple[str, str]] = []
    for limit in limits_in_words(profile):
        rows.append((limit.name, limit.text))
        if limit.why:
            rows.append(("", f"  {limit.why}"))
    to.print(show.facts_table("", rows))
    show.print_next(to, (typed("make", "CLIP", "--player", name), "make a loop for it"))
