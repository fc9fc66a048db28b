"""Sequences of numbered pictures: a folder or a pattern."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Final

from ghostprep.errors import InputError

PICTURES: Final = frozenset(
    {
        *(".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff", ".bmp", ".tga", ".jp2", ".j2k", ".jxl"),
        *(".ppm", ".pgm", ".pbm", ".pam", ".qoi", ".sgi"),
    }
)
"""Endings of pictures."""

_COUNTER: Final = re.compile(r"%(0?)(\d*)d")
_NUMBERED: Final = re.compile(r"(.*?)(\d+)(\.[^.]+)")


def find_pattern(folder: Path) -> Path:
    """Return the pattern that the pictures in a folder are named by.

    Raises
    ------
    InputError
        There are no pictures, or their names have no number, or several sequences lie mixed.
    """
    where = str(folder)
    try:
        names = [
            p.name for p in folder.iterdir() if p.suffix.lower() in PICTURES and not p.name.startswith(".")
        ]
    except OSError as error:
        raise InputError(error.strerror or str(error), where=where) from None
    if not names:
        raise InputError(
            "is a folder with no pictures in it", where=where, remedy="name a clip, or a folder of pictures"
        )
    series: Counter[tuple[str, str]] = Counter()
    widths: dict[tuple[str, str], set[int]] = {}
    padded: set[tuple[str, str]] = set()
    for name in names:
        found = _NUMBERED.fullmatch(name)
        if not found:
            raise InputError(
                f"the picture {name} has no number", where=where, remedy="name them like frame_0001.png"
            )
        key = found[1], found[3]
        series[key] += 1
        widths.setdefault(key, set()).add(len(found[2]))
        if found[2].startswith("0") and len(found[2]) > 1:
            padded.add(key)
    if len(series) > 1:
        kinds = ", ".join(f"{a}#{b}" for a, b in sorted(series)[:3])
        raise InputError(
            f"holds several sequences ({kinds})", where=where, remedy="name one, like frame_%04d.png"
        )
    (prefix, suffix), _ = series.popitem()
    width = min(widths[prefix, suffix])
    counter = f"%0{width}d" if (prefix, suffix) in padded and width > 1 else "%d"
    return folder / f"{prefix.replace('%', '%%')}{counter}{suffix}"


def pattern_files(pattern: Path) -> tuple[int, int]:
    """Return the first number and how many pictures a pattern names.

    Raises
    ------
    InputError
        The pattern is none, no picture fits it, or a number is missing in between.
    """
    where = str(pattern)
    counters = list(_COUNTER.finditer(pattern.name.replace("%%", "\0\0")))
    if len(counters) != 1 or pattern.suffix.lower() not in PICTURES:
        raise InputError(
            "there is no such file, and it is no pattern of pictures",
            where=where,
            remedy="write one counter, like frame_%04d.png",
        )
    found = counters[0]
    width = int(found[2] or 1) if found[1] else 1
    before, after = (
        part.replace("%%", "%") for part in (pattern.name[: found.start()], pattern.name[found.end() :])
    )
    # what ffmpeg's counter prints: padded to the width, longer where the number is
    digits = re.compile(rf"{re.escape(before)}(\d{{{width},9}}){re.escape(after)}")
    numbers = sorted(
        int(m[1])
        for p in pattern.parent.iterdir()
        if (m := digits.fullmatch(p.name)) and (len(m[1]) == width or not m[1].startswith("0"))
    )
    if not numbers:
        raise InputError("no picture fits this pattern", where=where, remedy="check its name and counter")
    for expected, number in enumerate(numbers, start=numbers[0]):
        if number != expected:
            missing = f"{before}{expected:0{width}d}{after}"
            raise InputError(
                f"the picture {missing} is missing", where=where, remedy="render it again, or renumber"
            )
    return numbers[0], len(numbers)
