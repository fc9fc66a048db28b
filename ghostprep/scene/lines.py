"""On which line of a TOML file a key stands.

The standard reader gives values without places; errors to a builder need the line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

_HEADER: Final = re.compile(r"\s*\[\[?\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_NAME: Final = r"(?:[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')"
_KEY: Final = re.compile(rf"\s*({_NAME}(?:\s*\.\s*{_NAME})*)\s*=")
_PASSED: Final = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}'
    r'|(?P<open>"""|\'\'\').*|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*'
)
"""What holds no bracket that counts: a comment, or a string, whole or as far as it stands in its line."""


@dataclass(frozen=True, slots=True)
class KeyLines:
    """Where each key of a file stands."""

    file: str = ""
    """The file's name, as given."""
    lines: Mapping[tuple[str, ...], int] = field(default_factory=dict)
    """Line (first line is 1) of each table and key."""

    def where(self, *path: str | int) -> str:
        """Return "FILE, line N, KEY" for a key; its table's line if the key itself is not written.

        A number in the path is the place in a list of tables, from 0: ("thing", 1, "size").
        """
        names = tuple(str(p) for p in path)
        shown = _shown(path)
        for length in range(len(names), 0, -1):
            if line := self.lines.get(names[:length]):
                return ", ".join(part for part in (self.file, f"line {line}", shown) if part)
        return ", ".join(part for part in (self.file, shown) if part)


def find_lines(text: str, file: str) -> KeyLines:
    """Find the line of every table and key in a TOML text that the reader has accepted."""
    found: dict[tuple[str, ...], int] = {}
    counted: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    depth, quote = 0, ""
    for number, line in enumerate(text.splitlines(), 1):
        if quote:
            _, closed, line = line.partition(quote)  # noqa: PLW2901
            quote = "" if closed else quote
        elif depth == 0:
            if header := _HEADER.match(line):
                table = _split(header[1])
                found.setdefault(table, number)
                if line.lstrip().startswith("[["):
                    place = counted[table] = counted.get(table, -1) + 1
                    table = (*table, str(place))
                    found[table] = number
                continue
            if key := _KEY.match(line):
                path = (*table, *_split(key[1]))
                found[path] = number
                for length in range(len(table) + 1, len(path)):
                    found.setdefault(path[:length], number)
        quote = quote or next((m["open"] for m in _PASSED.finditer(line) if m["open"]), "")
        bare = _PASSED.sub("", line)
        depth += sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}")
    return KeyLines(file, found)


def _shown(path: tuple[str | int, ...]) -> str:
    """Return a path as people write it: "thing 2.size"; a number alone belongs to the name before it."""
    text = ""
    for place, part in enumerate(path):
        if isinstance(part, int):
            # the last number is a value's place in a list, which the message itself tells
            text += f" {part + 1}" if place < len(path) - 1 else ""
        else:
            text += f".{part}" if text else part
    return text


def _split(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))
