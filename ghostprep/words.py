"""Amounts and commands as people write them."""

from __future__ import annotations

import difflib
import os
import re
import shlex
import subprocess
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

from ghostprep.errors import printable


def size_words(count: float) -> str:
    """Return a number of bytes as people write it.

    >>> [size_words(n) for n in (1, 512, 828_900, 8_290_000, 4_294_967_295)]
    ['1 byte', '512 bytes', '829 kB', '8.3 MB', '4.3 GB']
    """
    for unit, per in (("GB", 1e9), ("MB", 1e6)):
        if count >= per * 0.9995:
            return f"{count / per:.1f} {unit}"
    return f"{count / 1e3:.0f} kB" if count >= 1000 else counted(int(count), "byte")


def counted(number: int, thing: str) -> str:
    """Return a number of things.

    >>> counted(1, "frame"), counted(1000, "frame")
    ('1 frame', '1,000 frames')
    """
    return f"{number:,} {thing}{'' if number == 1 else 's'}"


def rate_words(rate: Fraction) -> str:
    """Return a frame rate.

    >>> rate_words(Fraction(30000, 1001)), rate_words(Fraction(1))
    ('29.97 frames a second', '1 frame a second')
    """
    return f"{float(rate):.4g} frame{'' if rate == 1 else 's'} a second"


def seconds_words(seconds: float) -> str:
    """Return a length of time.

    >>> seconds_words(9.2667), seconds_words(90), seconds_words(3661)
    ('9.27 s', '1:30 min', '1:01:01 h')
    """
    if seconds < 60:
        return f"{seconds:.2f} s"
    minutes, left = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{left:02} h" if hours else f"{minutes}:{left:02} min"


def range_words(least: float, most: float) -> str:
    """Return a range as an option takes it, or the one number that it holds.

    >>> range_words(6, 10), range_words(8, 8)
    ('6-10', '8')
    """
    return f"{least:g}" if least == most else f"{least:g}-{most:g}"


def did_you_mean(name: str, known: Iterable[str], otherwise: str) -> str:
    """Return the remedy for a name that is not known: the nearest known one, or else what is given.

    >>> did_you_mean("widht", ["width", "depth"], "see the list")
    'did you mean width?'
    """
    near = difflib.get_close_matches(name.lower(), known, n=1, cutoff=0.5)
    return f"did you mean {near[0]}?" if near else otherwise


def typed(*words: str | Path) -> str:
    """Return a command of ours as it is typed, each name quoted as the shell needs it.

    >>> typed("card", Path("the loop.mp4"), "FOLDER")
    "ghostprep card 'the loop.mp4' FOLDER"
    """
    texts = ["ghostprep", *map(_argument, words)]
    return subprocess.list2cmdline(texts) if os.name == "nt" else " ".join(map(_quoted, texts))


def _argument(word: str | Path) -> str:
    # a file whose name looks like an option
    return f"./{word}" if isinstance(word, Path) and str(word).startswith("-") else str(word)


def _quoted(text: str) -> str:
    if text.isprintable():
        return shlex.quote(text)
    # control characters have no plain form; bash, zsh and ksh read this one
    return "$'" + printable(re.sub(r"(['\\])", r"\\\1", text)) + "'"
