"""What is written down on the card: which loops are ours, and how far a run has come."""

from __future__ import annotations

from typing import Annotated, Final, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

LEDGER: Final = "GHOSTPRP.LST"
"""The list of the loops that were put into the folder it stands in."""
JOURNAL: Final = "JOURNAL.JSN"
"""In the work folder: which moves a run is making."""
LARGEST: Final = 1 << 20
"""Bytes of either file: what comes from a card may be anything."""


def _plain(name: str) -> str:
    # a record may have been changed by anyone: it must never lead out of its folder
    if not name or name in (".", "..") or any(c in "/\\:" or c < " " for c in name):
        raise ValueError("is no plain file name")
    return name


PlainName = Annotated[str, Field(max_length=255), AfterValidator(_plain)]
Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Written(_Record):
    """A loop on the card as it was written: its name there, and whose copy it is."""

    name: PlainName
    bytes: Annotated[int, Field(ge=0)]
    sha256: Digest
    loop: str = ""


class Ledger(_Record):
    """The loops that we wrote into a folder, in play order."""

    written_by: str = "ghostprep"
    loops: tuple[Written, ...] = ()


class Move(_Record):
    """A file that has one name in the work folder and another in the player's folder."""

    work_name: PlainName
    name: PlainName
    bytes: Annotated[int, Field(ge=0)]
    sha256: Digest


class Journal(_Record):
    """What a run moves: `aside` from the player's folder to the work folder, then `placed` the other way."""

    aside: tuple[Move, ...] = ()
    placed: tuple[Move, ...] = ()


Record = TypeVar("Record", Ledger, Journal)


def to_bytes(record: Ledger | Journal) -> bytes:
    """Return a record as it is written."""
    return record.model_dump_json(indent=1).encode() + b"\n"


def read_record(kind: type[Record], data: bytes | None) -> Record | None:
    """Return a ledger or journal, or None if it is not one of ours."""
    try:
        return kind.model_validate_json(data or b"")
    except ValidationError:
        return None
