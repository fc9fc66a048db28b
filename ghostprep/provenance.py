"""Which files we wrote ourselves: no other is ever replaced.

A loop is known by the report beside it, which names its SHA-256. Every other file that we write says so
itself: its last line (in a PNG, a text chunk) holds the SHA-256 of the rest, as a comment of its format.
Whoever changes such a file makes it their own.
"""

from __future__ import annotations

import hashlib
import json
import re
import struct
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

T = TypeVar("T")
_SIGN: Final = "as ghostprep wrote it, SHA-256 "
_COMMENT: Final = {
    ".html": ("<!-- ", " -->"),
    ".svg": ("<!-- ", " -->"),
    ".toml": ("# ", ""),
    ".pdf": ("% ", ""),
    ".webp": ("", ""),
}
_LAST_LINE: Final = re.compile(rb"(?:<!-- |# |% |)" + _SIGN.encode() + rb"([0-9a-f]{64})(?: -->|)\n\Z")
_PNG_END: Final = b"\x00\x00\x00\x00IEND\xaeB`\x82"
_PNG_TEXT: Final = 4 + 4 + len(f"Comment\0{_SIGN}") + 64 + 4
"""Bytes of the chunk in which a PNG says that it is ours: length, name, text, check sum."""
_LARGEST: Final = 20_000_000
"""Bytes; no report of ours comes near it, and nothing larger is worth the memory."""


def report_beside(loop: Path) -> Mapping[str, Any]:
    """Return the report that lies beside a loop; empty where there is none that can be read.

    Whether it is about this very file is for the caller to check, by `digest_in`.
    """
    try:
        path = loop.with_suffix(".json")
        if path.stat().st_size > _LARGEST:
            return {}
        report = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return report if isinstance(report, dict) else {}


def value_in(report: object, *path: str, kind: type[T]) -> T | None:
    """Return what a report says under some keys, one in the other; None if nothing, or of another kind."""
    for key in path:
        report = report.get(key) if isinstance(report, Mapping) else None
    return report if isinstance(report, kind) else None


def digest_in(report: Mapping[str, Any]) -> str | None:
    """Return the SHA-256 of the file that a report is about; None if it names none."""
    return value_in(report, "output", "sha256", kind=str)


def sign(path: Path, ending: str) -> None:
    """Make a file of ours say that it is, where its format (by `ending`) has room for that."""
    if ending == ".png":
        data = path.read_bytes()
        if data.endswith(_PNG_END):
            text = b"tEXtComment\0" + _SIGN.encode() + hashlib.sha256(data).hexdigest().encode()
            chunk = struct.pack(">I", len(text) - 4) + text + struct.pack(">I", zlib.crc32(text))
            path.write_bytes(data.removesuffix(_PNG_END) + chunk + _PNG_END)
    elif ending in _COMMENT:
        before, after = _COMMENT[ending]
        data = path.read_bytes()
        data = _LAST_LINE.sub(b"", data)  # of the file that this one was made from
        data += b"" if not data or data.endswith(b"\n") else b"\n"
        digest = hashlib.sha256(data).hexdigest()
        path.write_bytes(data + f"{before}{_SIGN}{digest}{after}\n".encode())


def is_ours(path: Path) -> bool:
    """Return whether we wrote a file and nobody has changed it since; an empty one has nothing to lose.

    Raises
    ------
    OSError
        It cannot be read.
    """
    if path.suffix.lower() == ".json":
        return path.stat().st_size == 0 or digest_in(report_beside(path)) is not None
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        size = file.tell()
        file.seek(max(size - 300, 0))
        tail = file.read()
    if size == 0 or digest == digest_in(report_beside(path)):
        return True
    if _SIGN.encode() not in tail:
        return False
    data = path.read_bytes()
    if data.endswith(_PNG_END):
        told = data[-len(_PNG_END) - 68 : -len(_PNG_END) - 4]
        rest = data[: -len(_PNG_END) - _PNG_TEXT] + _PNG_END
        return hashlib.sha256(rest).hexdigest().encode() == told
    found = _LAST_LINE.search(data)
    return found is not None and hashlib.sha256(data[: found.start()]).hexdigest().encode() == found[1]
