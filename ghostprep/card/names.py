"""Names on the card: what FAT, exFAT and small players take, made from any file name."""

from __future__ import annotations

import re
import unicodedata
from typing import Final, Literal

from ghostprep.system import why_windows_refuses

NameStyle = Literal["8.3", "long"]
"""``8.3``: eight characters, a dot, three; ``long``: up to 60 characters."""
LONGEST: Final = 60
"""Characters of a long name. FAT and exFAT store 255, but small players keep names in short buffers
(common practice, no source)."""
_NEVER_SHORT: Final = frozenset("+,;=[]. ")
# letters that do not come apart into a plain letter and a mark
_PLAIN_LETTERS: Final = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "œ": "oe", "Œ": "OE", "ł": "l", "Ł": "L", "ı": "i"}
)


def fold(name: str) -> str:
    """Return a name as a card compares it: FAT and exFAT keep case but do not tell it apart."""
    return unicodedata.normalize("NFC", name).casefold()


def card_name(stem: str, extension: str, number: int, *, digits: int = 2, names: NameStyle = "8.3") -> str:
    """Return the name of a loop on the card.

    Only letters without marks, digits, ``-`` and ``_`` are used: what else is legal depends on the
    code page that a player assumes.

    Parameters
    ----------
    stem : str
        Any file name, without its ending.
    extension : str
        The ending with its dot.
    number : int
        Place in the play order, 1 and up; it leads the name, so that order by name is play order too.
    digits : int
        Digits of the number, zero-padded.

    Returns
    -------
    str
        For which `why_illegal` has nothing to say, if it has none about `extension`.

    Examples
    --------
    >>> card_name("Käpt'n Öl (final)", ".mp4", 3)
    '03_KAPTN.MP4'
    >>> card_name("Käpt'n Öl (final)", ".mp4", 3, names="long")
    '03_Kaptn_Ol_final.mp4'
    """
    letters = unicodedata.normalize("NFKD", stem.translate(_PLAIN_LETTERS)).encode("ascii", "ignore").decode()
    plain = re.sub(r"[^A-Za-z0-9-]+", "_", letters.replace("'", "")).strip("_-") or "loop"
    whole = f"{number:0{digits}d}_{plain}"
    if names == "8.3":
        return whole[:8].rstrip("_-").upper() + extension.upper()
    return whole[: LONGEST - len(extension)].rstrip("_-") + extension


def why_illegal(name: str, names: NameStyle) -> str | None:
    """Return why `name` cannot stand on a card that every system and player shall read, or None.

    References
    ----------
    .. [1] Microsoft FAT32 File System Specification 1.03 (2000), "Short Directory Entries", "Long Directory
       Entries".
    .. [2] Microsoft, "exFAT file system specification", table 35; "Naming files, paths, and namespaces".
    """
    stem, dot, ending = name.rpartition(".")
    if not dot:
        stem, ending = name, ""
    if not stem or name.startswith(" "):
        return "starts with a dot or a blank"
    if why := why_windows_refuses(name):
        return why
    if len(name.encode("utf-16-le")) // 2 > 255:
        return "is longer than 255 characters"
    if names == "8.3":
        if len(stem) > 8 or len(ending) > 3:
            return "is longer than 8 characters, a dot and 3"
        if name != name.upper() or not name.isascii() or _NEVER_SHORT & set(stem + ending):
            return "holds more than capitals, digits and a few signs"
    return None
