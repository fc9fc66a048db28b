"""The loops to be put on the card, which player they are made for, and whether they are what it takes."""

from __future__ import annotations

import os
import stat
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from ghostprep.card.names import fold
from ghostprep.card.records import Written
from ghostprep.digest import sha256_of
from ghostprep.errors import InputError, JobError, reason
from ghostprep.finding import Finding
from ghostprep.player import Profile, load_profile
from ghostprep.player.limits import check_limits
from ghostprep.player.read import has_pictures, read_stream_facts
from ghostprep.provenance import value_in

_AGAIN = "make it again with ghostprep make --player"


@dataclass(frozen=True, slots=True)
class CardOrder:
    """What is asked for."""

    loops: tuple[Path, ...]  # in play order
    folder: Path  # where they shall stand: the card's mount point, or a folder under it
    # the player that the card is for: each loop is read and held against its limits. None: not known
    player: Profile | None = None
    # SHA-256 of loops whose reports name it; a copy that differs is refused
    proven: Mapping[Path, str] = field(default_factory=dict)
    replace: bool = False  # whether the loops that we wrote before make room
    ledger: bool = True  # whether to keep a list of our loops on the card
    any_folder: bool = False  # whether `folder` may be elsewhere than on a card


def player_of(loops: Sequence[tuple[Path, Mapping[str, Any]]], named: str | None) -> Profile | None:
    """Return the card's player; InputError: it is not known, or the loops are for different players.

    Told by `named` (a profile's name or file), else by the report beside each loop (empty where there is
    none); None where neither tells.
    """
    if named is not None:
        return load_profile(named)
    found: tuple[Path, Profile] | None = None
    for loop, report in loops:
        profile = _profile_in(report)
        if profile is None:
            continue
        if found is not None and found[1] != profile:
            first, other = found
            what = f"the player {profile.name}, but {first} for {other.name}"
            if profile.name == other.name:
                what = f"a player with other limits than {first}, both called {profile.name}"
            raise InputError(f"is made for {what}", where=str(loop), remedy="give --player NAME")
        found = loop, profile
    return found[1] if found else None


def _profile_in(report: Mapping[str, Any]) -> Profile | None:
    """Return the profile that stands in a report, whole or by its name; None if there is none."""
    if (whole := value_in(report, "player", kind=dict)) is not None:
        try:
            return Profile.model_validate({key: value for key, value in whole.items() if key != "ending"})
        except ValidationError:
            return None  # not as we write it
    name = value_in(report, "recipe", "player", kind=str)
    return load_profile(name) if name is not None else None


def look_at_loops(loops: Sequence[Path], profile: Profile | None) -> tuple[Finding, ...]:
    """Return what to tell the builder of loops; InputError: one is not what the player takes."""
    if profile is None:
        for loop in loops:
            if not has_pictures(loop):
                what, remedy = "holds no moving picture that can be read", "name a finished loop"
                raise InputError(what, where=str(loop), remedy=remedy)
        text = "no report tells for which player the loops are made: whether it takes them was not checked"
        remedy = "name it with --player, or put the loops' reports (NAME.json) beside them"
        return (Finding("caution", "player", text, remedy),)
    for loop in loops:
        _refuse_what_is_not_taken(loop, profile)
    return ()


def _refuse_what_is_not_taken(loop: Path, profile: Profile) -> None:
    endings = profile.endings
    no = partial(InputError, where=str(loop), remedy=f"{_AGAIN} {profile.name}")
    if loop.suffix.lower() not in endings:
        raise no(f"the player takes {' or '.join(endings)} files")
    try:
        facts = read_stream_facts(loop)
    except JobError as error:
        raise no(f"is no loop that can be read: {error.what}") from None
    rate = facts.rate or profile.rate.largest
    proofs = check_limits(facts, profile, raster=facts.raster, rate=rate, frames=facts.frames)
    broken = [proof for proof in proofs if not proof.passed]
    if broken:
        one = broken[0]
        # these two are held to the file's own, since nobody asked for others
        words = {"raster": profile.raster.in_words(), "rate": profile.rate.in_words()}
        more = f" (and {len(broken) - 1} more)" if len(broken) > 1 else ""
        beyond = f"is beyond the player {profile.name}: its {one.label} is {one.measured()}"
        raise no(f"{beyond}, it takes {words.get(one.name, one.limit)}{more}")


@dataclass(frozen=True, slots=True)
class LoopFile:
    """A loop: its real path and its size."""

    path: Path
    bytes: int


def check_loops(loops: Sequence[Path]) -> tuple[LoopFile, ...]:
    """Return the loops with their sizes, in the order given.

    Raises
    ------
    InputError
        There are none, one is missing, empty, unreadable or no regular file, or two have one name
        (capitals are not told apart).
    """
    if not loops:
        raise InputError("no loop was named", remedy="name one or more files before the folder")
    seen: dict[str, Path] = {}
    sources = []
    for loop in loops:
        no = partial(InputError, where=str(loop))
        try:
            facts = loop.stat()
        except FileNotFoundError:
            raise no("does not exist", remedy="check the name") from None
        except (OSError, ValueError) as error:
            raise no(f"cannot be read: {reason(error)}") from error
        if not stat.S_ISREG(facts.st_mode):
            raise no("is not a regular file", remedy="name a finished loop")
        if not facts.st_size:
            raise no("is empty", remedy="make it again")
        if not os.access(loop, os.R_OK):
            raise no("may not be read", remedy="change its permissions")
        if (folded := fold(loop.name)) in seen:
            raise no(f"has the same name as {seen[folded]}", remedy="rename one of them")
        seen[folded] = loop
        sources.append(LoopFile(loop.resolve(), facts.st_size))
    return tuple(sources)


def refuse_twice(sources: Sequence[LoopFile], stays: Sequence[Written]) -> None:
    """Refuse a loop that is named twice, under whatever names, or stays on the card from an earlier run."""
    sizes = Counter([*(source.bytes for source in sources), *(written.bytes for written in stays)])
    known = {
        written.sha256: (
            f"stands on the card already as {written.name}",
            "leave it out, or add --replace to have the new ones alone",
        )
        for written in stays
    }
    for source in sources:
        if sizes[source.bytes] == 1:
            continue
        digest = sha256_of(source.path)
        if digest in known:
            what, remedy = known[digest]
            raise InputError(what, where=str(source.path), remedy=remedy)
        known[digest] = f"is the same loop as {source.path}", "leave one of them out"
