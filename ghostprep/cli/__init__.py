"""The terminal: one file a command; it parses, calls and prints, and computes nothing.

Commands are loaded when they are called, so that ``--help`` needs no imaging library.
"""

from __future__ import annotations

import importlib
import os
from pathlib import Path
from typing import Final

import click

from ghostprep import __version__

PATH: Final = click.Path(path_type=Path)
COMMANDS: Final = {
    "scene": "Write a commented starter scene file.",
    "plan": "Compute the optics of a scene, with findings, cut list and drawing.",
    "inspect": "Say what a clip is: size, rate, backing, figure, best loops.",
    "make": "Turn a clip into the loop that the player plays.",
    "preview": "Show a loop as the eye will see it, on one page.",
    "chart": "Make a test loop for the real box, or take in what was seen.",
    "card": "Put loops on the player's card, checked.",
    "players": "List the player profiles.",
}
"""Each command (its file has its name) and its line in the help."""
# before NumPy and OpenCV are loaded: our matrices are small, and frames are worked on side by side already,
# so threads of their own would only wait for each other
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OPENCV_FOR_THREADS_NUM", "1")


class YesOrNo(click.types.BoolParamType):
    """A yes or a no; what click takes besides is taken too."""

    name = "yes|no"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> bool:
        """Return whether it is a yes."""
        try:
            return bool(super().convert(value, param, ctx))
        except click.BadParameter:
            self.fail(f"{str(value)!r} is neither yes nor no", param, ctx)


class _Rooms(click.Group):
    """A group that imports a command's file only when that command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        from ghostprep.heap import share_heap

        share_heap()
        module = importlib.import_module(f"ghostprep.cli.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_Rooms, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="ghostprep")
def group() -> None:
    """Get a moving ghost right in a miniature scene.

    A hidden screen, an angled clear pane, a loop that plays for months: plan the
    box before anything is glued, then make the loop, look at it, and put it on
    the player's card.

    \b
    Example:
      ghostprep make sample_media/purser_green.mp4 purser.mp4
    """


def main() -> None:
    """Run the command line and leave with its exit status."""
    from ghostprep.cli.run import run

    run(group)
