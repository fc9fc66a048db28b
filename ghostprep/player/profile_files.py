"""Finds and reads profile files: those that come with the tool, and the builder's own."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from ghostprep.errors import InputError, reason
from ghostprep.player.profile import Profile
from ghostprep.tables import keys_at
from ghostprep.words import did_you_mean

DEFAULT_NAME: Final = "h264-baseline-qvga"


def profile_names() -> list[str]:
    """Return the names of the profiles that come with the tool, sorted."""
    folder = resources.files("ghostprep.player") / "profiles"
    return sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml"))


def all_profiles() -> list[Profile]:
    """Return every profile that comes with the tool, by name."""
    return [load_profile(name) for name in profile_names()]


def load_profile(name: str | Path) -> Profile:
    """Read a profile.

    Parameters
    ----------
    name : str or Path
        A known profile's name, or the path of a profile file (ending in ``.toml``). A file
        may say ``extends = "NAME"`` and then gives only what differs from that profile;
        the name may also be that of another file beside it.

    Raises
    ------
    InputError
        No such profile or file, or a file with a key or value that cannot be used.

    Examples
    --------
    >>> load_profile("h264-baseline-qvga").h264.level
    '1.3'
    """
    return _checked(*_read(name, beside=Path(), seen=()))


def extend_profile(name: str | Path, own: Mapping[str, Any], *, where: str) -> Profile:
    """Return a profile with keys that differ from it, as a scene's ``[player]`` table gives them.

    Arguments and errors as for `load_profile`; `where` says in messages where the keys stand.
    """
    data, _ = _read(name, beside=Path(), seen=())
    return _checked(_merged(data, dict(own)), where)


def raster_refused(profile: Profile, raster: tuple[int, int]) -> tuple[str, str] | None:
    """Return that a player does not take a raster (width, height), and what to do; None where it does.

    >>> raster_refused(load_profile("h264-baseline-qvga"), (800, 480))[0]
    'does not take a raster of 800x480'
    """
    if profile.raster.takes(raster):
        return None
    others = [other.name for other in all_profiles() if other.raster.takes(raster)]
    remedy = f"it takes {profile.raster.in_words()}"
    if others:
        remedy += f"; profiles that take it: {', '.join(others)}"
    return f"does not take a raster of {raster[0]}x{raster[1]}", remedy


def _read(name: str | Path, *, beside: Path, seen: tuple[str, ...]) -> tuple[dict[str, Any], str]:
    """Return a profile's data, with what it extends filled in, and how to name it in a message."""
    if str(name).lower().endswith(".toml"):
        path = beside / Path(name).expanduser()
        try:
            text = path.read_text(encoding="utf-8")
        except OSError as wrong:
            raise InputError(reason(wrong), where=str(path), remedy=_KNOWN) from None
        except UnicodeDecodeError:
            raise InputError("is not a text file in UTF-8", where=str(path)) from None
        shown, beside, own_name = str(path), path.parent, path.stem
    else:
        known = profile_names()
        if name not in known:
            remedy = f"{did_you_mean(str(name), known, '')} {_KNOWN}".lstrip()
            raise InputError(f"no player profile is named {name!r}", remedy=remedy)
        text = (resources.files("ghostprep.player") / "profiles" / f"{name}.toml").read_text("utf-8")
        shown, own_name = f"profile {name}", str(name)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as wrong:
        raise InputError(f"is not TOML: {wrong}", where=shown) from None
    data.setdefault("name", own_name)
    base_name = data.pop("extends", None)
    if base_name is None:
        return data, shown
    if not isinstance(base_name, str) or shown in seen:
        what = "extends itself" if shown in seen else "extends must be a profile's name"
        raise InputError(what, where=shown)
    base, _ = _read(base_name, beside=beside, seen=(*seen, shown))
    return _merged(base, data), shown


_KNOWN: Final = "`ghostprep players` lists the known ones"


def _merged(base: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """Return `base` with `own` laid over it, table by table."""
    result = dict(base)
    for key, value in own.items():
        old = result.get(key)
        result[key] = _merged(old, value) if isinstance(old, dict) and isinstance(value, dict) else value
    return result


def _checked(data: dict[str, Any], shown: str) -> Profile:
    try:
        return Profile.model_validate(data)
    except ValidationError as wrong:
        raise _as_input_error(wrong, shown) from None


def _as_input_error(wrong: ValidationError, shown: str) -> InputError:
    """Turn the first thing that the model refused into one line."""
    first = wrong.errors(include_url=False)[0]
    key = ".".join(str(part) for part in first["loc"] if part != "__root__")
    if first["type"] == "extra_forbidden":
        # the file's own name is the profile's
        keys = [known for known in keys_at(Profile, first["loc"][:-1]) if known != "name"]
        remedy = did_you_mean(str(first["loc"][-1]), keys, f"the keys here are {', '.join(keys)}")
        return InputError(f"unknown key {key}", where=shown, remedy=remedy)
    if first["type"] == "missing":
        return InputError(f"{key} is missing", where=shown, remedy='add it, or start from extends = "NAME"')
    message = first["msg"].removeprefix("Value error, ")
    message = message[0].lower() + message[1:]
    return InputError(f"{key}: {message}" if key else message, where=shown)
