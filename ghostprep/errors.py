"""One family of errors: each says what is wrong, where, and what to do about it."""

from __future__ import annotations

from typing import ClassVar


def printable(text: str) -> str:
    r"""Return `text` as one line that a terminal shows as it is: what would steer it is written out.

    >>> printable("a\nb\x1b[31m.mp4")
    'a\\nb\\x1b[31m.mp4'
    """
    return "".join(c if c.isprintable() else _escaped(c) for c in text)


def _escaped(sign: str) -> str:
    r"""Return a sign that a terminal does not show, as bash, zsh and ksh read it between `$'` and `'`.

    >>> print(*map(_escaped, "\t\x1b\x85\u200e\udcff"))
    \t \x1b \u0085 \u200e \xff
    """
    code = ord(sign)
    if 0xDC80 <= code <= 0xDCFF:  # a byte of a name that is no UTF-8, as Python holds it (PEP 383)
        return f"\\x{code - 0xDC00:02x}"
    # to a shell \x85 is a byte, not the letter of that number
    return f"\\u{code:04x}" if 0x80 <= code <= 0xFF else repr(sign)[1:-1]


def reason(error: Exception) -> str:
    """Return what the system says of an error, without its number and the name of the file.

    >>> reason(FileNotFoundError(2, "No such file or directory", "a.mp4"))
    'No such file or directory'
    """
    return getattr(error, "strerror", None) or str(error)


class GhostprepError(Exception):
    """Base of every error that ghostprep raises on purpose.

    Parameters
    ----------
    what : str
        What is wrong, as a clause without a full stop.
    where : str, optional
        The file, key, option or time it is about. Shown first.
    remedy : str, optional
        What the reader can do about it.
    tool_line : str, optional
        The last line that a program we called printed; shown in brackets.

    Notes
    -----
    The message is always one line: control characters in names (a file may be
    called anything) are shown escaped.
    """

    exit_code: ClassVar[int] = 1

    def __init__(self, what: str, *, where: str = "", remedy: str = "", tool_line: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        self.tool_line = tool_line
        super().__init__(self.one_line())

    def one_line(self) -> str:
        """Return the whole message as one printable line."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.tool_line:
            text += f" ({self.tool_line.strip()})"
        if self.remedy:
            text += f"; {self.remedy}"
        return printable(text)

    def of(self, clip: str) -> GhostprepError:
        """Return the error as that of one clip among several: it names the clip.

        >>> print(InputError("is too short", where="clip").of("a.mp4"))
        a.mp4: is too short
        >>> print(InputError("is no loop", where="--pick").of("a.mp4"))
        a.mp4: --pick: is no loop
        """
        if clip in self.where:
            return self
        where = clip if self.where in ("", "clip") else f"{clip}: {self.where}"
        return type(self)(self.what, where=where, remedy=self.remedy, tool_line=self.tool_line)

    def __reduce__(self) -> tuple[object, ...]:
        """Let the error cross a process boundary with its parts."""
        return (_rebuild, (type(self), self.what, self.where, self.remedy, self.tool_line))


def _rebuild(
    kind: type[GhostprepError], what: str, where: str, remedy: str, tool_line: str
) -> GhostprepError:
    return kind(what, where=where, remedy=remedy, tool_line=tool_line)


class InputError(GhostprepError, ValueError):
    """What the user gave cannot be used (a file, a key, an option): exit status 2."""

    exit_code = 2


class JobError(GhostprepError, RuntimeError):
    """A job that was rightly asked for failed on the way: exit status 1."""

    exit_code = 1
