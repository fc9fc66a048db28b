"""A proof that does not pass is a fault, said once; what is green is right."""

import os
from pathlib import Path

import pytest

from ghostprep.finding import Finding
from ghostprep.verdict import Proof, summary, with_faults
from ghostprep.words import size_words, typed

GOOD = Proof("join", 0.8, "", "at most 1.0", True)
CAUTION = Finding("caution", "pane", "it is thick")


def failed(name: str, value: float | str = 1.5, unit: str = "") -> Proof:
    return Proof(name, value, unit, "at most 1", False)


@pytest.mark.parametrize(
    "name", ["join", "black", "height", "upright", "flash", "red flash", "size", "bit rate", "level"]
)
def test_a_proof_that_does_not_pass_is_a_fault_with_a_remedy(name: str) -> None:
    (fault,) = with_faults([GOOD, failed(name)], [])
    assert (fault.level, fault.subject) == ("fault", name)
    assert fault.text
    assert fault.remedy


def test_one_cause_is_one_fault() -> None:
    proofs = [failed(name) for name in ("black", "black near", "black far", "flash", "flash cd/m2")]
    assert [fault.subject for fault in with_faults(proofs, [])] == ["black", "flash"]


def test_what_a_meter_says_of_its_failure_is_not_said_again() -> None:
    own = Finding("fault", "height", "it stands 42 mm tall")
    assert with_faults([failed("height")], [own]) == (own,)
    weaker = Finding("caution", "join", "the clip does not loop")
    (fault,) = with_faults([failed("join")], [weaker])
    assert "jumps 1.5 times" in fault.text


def test_what_passes_adds_nothing() -> None:
    assert with_faults([GOOD], [CAUTION]) == (CAUTION,)


@pytest.mark.parametrize(
    ("proofs", "findings", "text", "level"),
    [
        ([GOOD, GOOD], [], "all 2 proofs passed", "good"),
        ([GOOD, GOOD], [CAUTION], "all 2 proofs passed; 1 caution", "caution"),
        (
            [GOOD, GOOD],
            [Finding("fault", "plate", "the whole room is in the loop"), CAUTION, CAUTION],
            "all 2 proofs passed; 1 fault; 2 cautions",
            "fault",
        ),
        ([GOOD, failed("dip")], [], "1 of 2 proofs FAILED (blend)", "fault"),
        (
            [GOOD, failed("black"), failed("black near")],
            [],
            "2 of 3 proofs FAILED (black)",
            "fault",
        ),
        ([], [], "no proofs and no findings", "good"),
        ([GOOD], [Finding("note", "scene", "defaults")], "1 proof passed", "good"),
    ],
)
def test_the_line_that_counts(proofs, findings, text: str, level: str) -> None:
    found = summary(proofs, findings)
    assert (found.text, found.level) == (text, level)


@pytest.mark.parametrize(
    ("proof", "text"),
    [
        (Proof("size", 828_900, "bytes", "", True), "829 kB"),
        (Proof("black near", 0.9532, "", "", True), "95.32 %"),
        (Proof("frames", 278, "", "", True), "278"),
        (Proof("frames", 27_800, "", "", True), "27,800"),
        (Proof("bit rate", 1000.4, "kbit/s", "", True), "1,000 kbit/s"),
        (Proof("bit rate", 999.6, "kbit/s", "", True), "1e+03 kbit/s"),
        (Proof("bit rate", -2500.5, "kbit/s", "", True), "-2,500 kbit/s"),
        (Proof("join", 0.81063, "", "", True), "0.811"),
        (Proof("height", 88.9, "mm", "", True), "88.9 mm"),
        (Proof("flash", 2.0, "a second", "", True), "2 a second"),
        (Proof("coding", "constrained-baseline", "", "", True), "constrained-baseline"),
    ],
)
def test_a_measurement_as_people_write_it(proof: Proof, text: str) -> None:
    assert proof.measured() == text


def test_a_height_in_the_builders_unit() -> None:
    assert Proof("height", 88.9, "mm", "", True).measured(lambda mm: f"{mm / 25.4:.1f} in") == "3.5 in"


def test_sizes() -> None:
    assert [size_words(n) for n in (0, 999, 1000, 999_400, 4_294_967_295)] == [
        "0 bytes",
        "999 bytes",
        "1 kB",
        "999 kB",
        "4.3 GB",
    ]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a b.mp4", "ghostprep card 'a b.mp4'"),
        ("it's.mp4", """ghostprep card 'it'"'"'s.mp4'"""),
        ("-loop.mp4", "ghostprep card ./-loop.mp4"),
        ("a\n'\\.mp4", "ghostprep card $'a\\n\\'\\\\.mp4'"),
        ("a\x85\u2028\U000e0001b.mp4", "ghostprep card $'a\\u0085\\u2028\\U000e0001b.mp4'"),
        (os.fsdecode(b"odd\xff\x80e\xc3.mp4"), "ghostprep card $'odd\\xff\\x80e\\xc3.mp4'"),
    ],
)
def test_a_command_as_the_shell_reads_it(name: str, text: str) -> None:
    import subprocess

    assert typed("card", Path(name)) == text
    read = subprocess.run(
        ["bash", "-c", f"printf '%s' {text.removeprefix('ghostprep card ')}"],
        capture_output=True,
        env=os.environ | {"LC_ALL": "C.UTF-8"},
        check=True,
    )
    assert os.fsdecode(read.stdout) == str(Path(name)).replace("-loop", "./-loop")
