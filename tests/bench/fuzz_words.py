"""Scene files and command lines as nobody should write them, for Hypothesis to draw from."""

from __future__ import annotations

import re

import click
from hypothesis import strategies as st

from ghostprep.cli import COMMANDS, group
from ghostprep.scene.starter import starter_text

_HALVES = re.compile("[\ud800-\udc7f\udd00-\udfff]")
ODD_NUMBERS = (
    "0", "-0", "-1", "1", "0.5", "1e308", "-1e308", "1e-308", "nan", "-nan", "inf", "-inf", "9" * 400, "1_000", "0x1f",
    "0b1", "2147483648", "-9223372036854775809", "1e999", "0.1e", "1.", ".5", "+5", "90", "89.9999999", "45", "1/0", "1/3",
)  # fmt: skip
ODD_TEXTS = (
    "", " ", "\t", "x" * 5000, "left", "LEFT", "a\x00b", "\x1b[31mred\x1b[0m", "a\nb", "\u202egnp.exe", "日本", "é", "\U0001f47b",
    "\ud800", "[bold]", "[/]", ":ghost:", "%s%n", "{0}", "$(id)", "`id`", "'", '"', "\\", "../..", "-", "--", "-x", "--no-such",
    "3 1/2 in", "85 mm", "1.7 km", "1:24", "1:0", "1:1e9", "24:1", "#28aa46", "#xyz", "http://127.0.0.1/a.mp4", "concat:a|b",
    "pipe:0", "file:a", "320x240", "0x0", "99999x99999", "320x240+1+1", "320X240-1-1", "00:00:01", "1:99:99", "5-2", "2-5", "A",
    "3-9", "auto", "none", "30000/1001", "1/0", "True", "[]", "{}", "null",
)  # fmt: skip
NAMES = (
    "clip.mp4",
    "scene.toml",
    "scene.toml",
    "scene.toml",
    "bad.toml",
    "text.mp4",
    "missing.mp4",
    "folder",
    "",
    ".",
    "no/such.mp4",
)
WRITTEN = ("out.mp4", "out.mkv", "out.svg", "out.pdf", "out.png", "out.html", "out.toml", "out", "no/out.mp4", "folder",
           "clip.mp4", "o\nut.mp4", "日本.mp4", "-out.mp4", "x" * 300 + ".mp4", "out.json")  # fmt: skip

numbers = st.one_of(
    st.sampled_from(ODD_NUMBERS),
    st.integers(-(10**20), 10**20).map(str),
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
)
texts = st.one_of(st.sampled_from(ODD_TEXTS), st.text(max_size=12))


def toml_text(text: str) -> str:
    """Return a TOML string, not always a right one."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


leaves = st.one_of(
    numbers, texts.map(toml_text), st.sampled_from(["true", "false", "1979-05-27", "07:32:00"])
)
values = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4).map(lambda parts: "[" + ", ".join(parts) + "]"),
        st.lists(st.tuples(st.sampled_from(["a", "width", "at", "lumens"]), inner), max_size=3).map(
            lambda pairs: "{ " + ", ".join(f"{key} = {value}" for key, value in pairs) + " }"
        ),
    ),
    max_leaves=8,
)
deep = st.integers(1, 5000).map(lambda depth: "[" * depth + "]" * depth)
LINES = tuple(line for line in starter_text().splitlines() if line and not line.startswith("#"))
KEYED = tuple(number for number, line in enumerate(LINES) if "=" in line)


@st.composite
def _meant(draw: st.DrawFn, line: str) -> str:
    """Draw a line with another number in the place of each of its own."""
    key, _, value = line.partition("=")
    near = st.floats(0.3, 3).map(lambda factor: round(factor, 3))

    def other(found: re.Match[str]) -> str:
        sign = draw(st.sampled_from(["", "", "", "-"]))
        return f"{sign}{round(float(found[0]) * draw(near) + draw(st.sampled_from([0, 0, 1])), 3):g}"

    return f"{key}={re.sub(r'[0-9]+([.][0-9]+)?', other, value)}"


@st.composite
def scenes(draw: st.DrawFn) -> str:
    """Draw a scene file: the starter file with one to four changes."""
    lines = list(LINES)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.integers(0, 9)):
            case 0:
                del lines[at]
            case 1:
                lines.insert(at, draw(st.sampled_from(lines)))
            case 2:
                lines.insert(at, draw(texts) + " = " + draw(values))
            case 3:
                lines[at] = draw(texts)
            case 4:
                keyed = draw(st.sampled_from(KEYED))
                lines[min(keyed, len(lines) - 1)] = LINES[keyed].split("=")[0] + "= " + draw(deep)
            case 5 | 6:
                keyed = draw(st.sampled_from(KEYED))
                lines[min(keyed, len(lines) - 1)] = LINES[keyed].split("=")[0] + "= " + draw(values)
            case _:
                # what could be meant: these reach the optics
                keyed = draw(st.sampled_from(KEYED))
                lines[min(keyed, len(lines) - 1)] = draw(_meant(LINES[keyed]))
        if not lines:
            return ""
    return "\n".join(lines)


def option_values(option: click.Parameter) -> st.SearchStrategy[str]:
    """Return what an option might be given: now and then something that it takes."""
    pools: list[st.SearchStrategy[str]] = [numbers, texts]
    if isinstance(option.type, click.Choice):
        pools += [st.sampled_from([str(choice) for choice in option.type.choices])] * 2
    if isinstance(option.type, click.Path):
        written = option.name in {"out", "out_file", "drawing", "template", "still", "file"}
        pools = [st.sampled_from(WRITTEN if written else NAMES)] * 3 + [
            texts.filter(lambda text: "/" not in text)
        ]
    if option.name == "player":
        pools.append(st.sampled_from(["mjpeg-avi-qvga", "master-ffv1-mkv", "bad.toml", "scene.toml"]))
    if option.name in {"start", "end", "length", "crossfade", "fps", "gain", "edge", "turn", "reflections"}:
        pools.append(st.sampled_from(["0", "0.5", "1", "2", "90", "0.2-1", "12"]))
    return st.one_of(pools)


MEANT = {
    "--raster": ["96x72", "16x16", "1x1", "320x240", "97x71"], "--reflections": ["0", "1", "2", "3", "99"],
    "--turn": ["0", "90", "180", "270", "-90", "45"], "--start": ["0", "0.5", "0.999", "1"],
    "--end": ["0.1", "0.5", "1", "9"], "--length": ["0.3", "0.2-0.5", "0.9", "2", "1-1"],
    "--join": ["search", "ends", "there-and-back", "fades", "none"],
    "--pick": ["best", "A", "B", "Z", "0-5", "3-11", "5-5"], "--crossfade": ["0", "0.1", "0.5", "2"],
    "--backing": ["auto", "green", "blue", "black", "white", "plate", "alpha", "none", "#28aa46", "#ffffff"],
    "--plate": ["clip.mp4", "text.mp4"], "--crop": ["auto", "none", "40x40+10+10", "1x1+0+0", "96x72+0+0", "500x2+0+0"],
    "--tint": ["#ff8800", "#000000"], "--gain": ["auto", "0", "0.1", "3", "1000"], "--edge": ["auto", "0", "3", "99"],
    "--fps": ["12", "24000/1001", "1", "240", "7.5"], "--repeat-for": ["0.1", "3", "10"], "--sound": ["none", "keep"],
    "--player": ["mjpeg-avi-qvga", "master-ffv1-mkv", "h264-baseline-qvga"],
}  # fmt: skip
"""What a builder could mean: these reach the work itself."""


@st.composite
def meant_makes(draw: st.DrawFn) -> list[str]:
    """Draw a `make` or an `inspect` of the clip with options that could be meant."""
    name = draw(st.sampled_from(["make", "make", "make", "inspect"]))
    command = group.get_command(click.Context(group), name)
    assert command is not None
    known = sorted(MEANT.keys() & {option.opts[0] for option in command.params})
    arguments = [
        name,
        "clip.mp4",
        *(["out.mkv", "--player", "master-ffv1-mkv", "--raster", "96x72"] if name == "make" else []),
    ]
    for option in draw(st.lists(st.sampled_from(known), max_size=4, unique=True)):
        arguments += [option, draw(st.sampled_from(MEANT[option]))]
    return arguments + (["--calm"] if name == "make" and draw(st.booleans()) else [])


@st.composite
def command_lines(draw: st.DrawFn, *, without: frozenset[str] = frozenset()) -> list[str]:
    """Draw the arguments of any command."""
    name = draw(st.sampled_from([command for command in COMMANDS if command not in without]))
    command = group.get_command(click.Context(group), name)
    assert command is not None
    arguments = [name]
    for option in draw(st.lists(st.sampled_from(command.params), max_size=4)):
        if isinstance(option, click.Option):
            arguments.append(option.opts[0])
            if not option.is_flag:
                arguments.append(draw(option_values(option)))
    for option in command.params:
        if isinstance(option, click.Argument):
            count = (
                draw(st.integers(0, 3))
                if option.nargs == -1
                else draw(st.integers(0, 2) if not option.required else st.just(1))
            )
            places = st.sampled_from(("clip.mp4", "scene.toml") * 10 + NAMES + WRITTEN)
            arguments += [
                draw(st.one_of(places, places, texts.filter(lambda text: "/" not in text)))
                for _ in range(count)
            ]
    if name == "preview":
        arguments.append("--no-open")
    # no system passes NUL on, and of halves of characters only those that stand for bytes
    return [_HALVES.sub("\udcff", text.replace("\0", "")) for text in arguments]
