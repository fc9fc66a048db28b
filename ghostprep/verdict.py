"""A measurement on the finished file with its limit and its verdict, and what all of them come to."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Final, Literal

from ghostprep.finding import Finding
from ghostprep.words import counted, size_words


@dataclass(frozen=True, slots=True)
class Proof:
    """One measurement with its verdict.

    Attributes
    ----------
    name : str
        ``black``, ``join``, ``dip``, ``height``, ``upright``, ``flash``, ``limits`` ...
    value : float or str
        What was measured.
    unit : str
        Its unit; empty for a ratio.
    limit : str
        What it is held to, readable ("at most 1.0").
    """

    name: str
    value: float | str
    unit: str
    limit: str
    passed: bool

    def as_dict(self) -> dict[str, object]:
        """Return the proof as it stands in a report."""
        return asdict(self)

    @property
    def label(self) -> str:
        """What was measured, in a builder's words."""
        return _LABELS.get(self.name, self.name)

    def measured(self, length: Callable[[float], str] | None = None) -> str:
        """Return what was measured as people write it; `length` writes millimetres in the builder's unit."""
        value, unit = self.value, self.unit
        if isinstance(value, str):
            return f"{value} {unit}".strip()
        match unit:
            case "bytes":
                return size_words(value)
            case "mm":
                return length(value) if length is not None else f"{value:.1f} mm"
            case "" if self.name in _SHARES:
                return f"{100 * value:.4g} %"
        number = f"{value:,.0f}" if float(value).is_integer() or abs(value) >= 1000 else f"{value:.3g}"
        return f"{number} {unit}".strip()


_SHARES: Final = {"black", "black near", "black far", "dip"}

_LABELS: Final = {
    "black": "exactly black outside the figure",
    "black near": "exactly black close to the figure",
    "black far": "exactly black away from it",
    "join": "jump at the join, over its own motion",
    "dip": "sharpness in the blend",
    "upright": "figure as the eye sees it",
    "flash": "flashes",
    "red flash": "red flashes",
    "flash cd/m2": "flashes, by luminance (BT.1702)",
    "height": "height of the figure",
    "form": "coding and container",
    "first time": "time of the first frame",
    "rate": "frame rate",
    "size": "file size",
    "buffer": "decoder's buffer in use",
    "coding": "coding profile",
    "references": "earlier frames referred to",
    "samples": "colour samples",
    "open groups": "frame groups that need another",
    "tools": "coding tools",
    "range": "range of codes",
    "key frames": "longest way to the next key frame",
    "boxes": "order of the file's boxes",
    "streams": "streams",
    "tag": "codec tag",
}
"""What each proof is called where people read it; the others are called by their names."""

_SAYS: Final = {
    "join": (
        "at the join the picture jumps {} times as far as it moves by itself, and the eye catches that",
        "take another stretch (--start, --end, --length), or another --join: there-and-back or fades",
    ),
    "blend": (
        "where the join is blended the picture is only {} as sharp as elsewhere, and the eye catches that",
        "use a shorter --crossfade, or another --join: there-and-back or fades",
    ),
    "size": ("the file has {}", "make a shorter loop (--length), or fewer repeats (--repeat-for)"),
}
_BITS: Final = ("bit rate", "buffer", "busiest second", "largest frame")
_CAUSE: Final = {"black near": "black", "black far": "black", "flash cd/m2": "flash", "dip": "blend"}
"""What a proof's failure is told as: those that fail for one cause have one subject."""


def with_faults(proofs: Iterable[Proof], findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings with a fault for each proof that does not pass.

    A proof of which a fault tells already gets no second one, and what a fault tells is not told
    again as a caution on the same subject.
    """
    found = list(findings)
    for proof in proofs:
        subject = _CAUSE.get(proof.name, proof.name)
        if not proof.passed and not any(f.level == "fault" and f.subject == subject for f in found):
            found = [f for f in found if f.subject != subject]
            found.append(_fault(proof, subject))
    return tuple(found)


def _fault(proof: Proof, subject: str) -> Finding:
    text, remedy = _SAYS.get(subject, ("", ""))
    if subject == "size":
        text += f", the player takes {proof.limit}"
    if not text:
        text = f"{proof.label}: {proof.measured()}, the limit is {proof.limit}"
        remedy = (
            "make it again; if it stays so, please report it with what `ghostprep inspect` says of the clip"
        )
        if proof.name in _BITS:
            remedy = "use a smaller figure, a lower --fps, or a --player that takes more"
    return Finding("fault", subject, text.format(proof.measured()), remedy)


@dataclass(frozen=True, slots=True)
class Summary:
    """What proofs and findings come to."""

    text: str  # one line that counts them
    # ``good`` only if every proof passed and nothing worse than a note was found
    level: Literal["good", "caution", "fault"]


def summary(proofs: Sequence[Proof], findings: Iterable[Finding]) -> Summary:
    """Count proofs, faults and cautions in one line.

    >>> summary([Proof("join", 0.8, "", "at most 1.0", True)], [Finding("caution", "pane", "thick")])
    Summary(text='1 proof passed; 1 caution', level='caution')
    """
    levels = [finding.level for finding in findings]
    failed = [proof for proof in proofs if not proof.passed]
    names = ", ".join(dict.fromkeys(_CAUSE.get(proof.name, proof.name) for proof in failed))
    parts = []
    if failed:
        parts.append(f"{len(failed)} of {counted(len(proofs), 'proof')} FAILED ({names})")
    elif proofs:
        parts.append(f"{'all ' if len(proofs) > 1 else ''}{counted(len(proofs), 'proof')} passed")
    parts += [counted(levels.count(kind), kind) for kind in ("fault", "caution") if kind in levels]
    text = "; ".join(parts) or "no proofs and no findings"
    if failed or "fault" in levels:
        return Summary(text, "fault")
    return Summary(text, "caution" if "caution" in levels else "good")
