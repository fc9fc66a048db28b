"""Names: whatever the loop is called, what stands on the card is legal."""

import re
import shutil
import string
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.card.names import LONGEST, card_name, fold, why_illegal

AWKWARD = [
    "CON",
    "nul",
    "LPT1",
    "com9.tar",
    "Käpt'n Öl",
    "ÅÆØß",
    "with  many   blanks ",
    "x" * 300,
    "../../etc/passwd",
    "..",
    "...",
    "",
    " ",
    "幽霊",
    "a\x00b\nc",
    'a"*/:<>?\\|b',
    "-",
    "🎃",
    "~1",
    "name.",
]


@pytest.mark.parametrize("stem", AWKWARD)
@pytest.mark.parametrize("names", ["8.3", "long"])
def test_awkward_names_become_legal(stem: str, names: str) -> None:
    name = card_name(stem, ".mp4", 7, names=names)
    assert why_illegal(name, names) is None
    assert re.fullmatch(r"07_[A-Za-z0-9_-]+\.(mp4|MP4)", name)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=400), st.integers(1, 99), st.sampled_from(["8.3", "long"]))
def test_any_name_becomes_legal(stem: str, number: int, names: str) -> None:
    name = card_name(stem, ".avi", number, names=names)
    assert why_illegal(name, names) is None
    assert name.startswith(f"{number:02d}_")
    assert len(name) <= (12 if names == "8.3" else LONGEST)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.text(min_size=1, max_size=40), min_size=2, max_size=20), st.sampled_from(["8.3", "long"]))
def test_order_by_name_is_play_order(stems: list[str], names: str) -> None:
    made = [card_name(stem, ".mp4", n, names=names) for n, stem in enumerate(stems, 1)]
    assert made == sorted(made, key=fold)
    assert len({fold(name) for name in made}) == len(made)


@pytest.mark.parametrize(
    ("stem", "short", "long"),
    [
        ("purser", "01_PURSE.MP4", "01_purser.mp4"),
        ("Nachtfähre Öl", "01_NACHT.MP4", "01_Nachtfahre_Ol.mp4"),
        ("Straße", "01_STRAS.MP4", "01_Strasse.mp4"),
        ("ab - c", "01_AB.MP4", "01_ab_-_c.mp4"),
        ("幽霊", "01_LOOP.MP4", "01_loop.mp4"),
    ],
)
def test_known_names(stem: str, short: str, long: str) -> None:
    # 8.3 leaves five characters after the number; a name never ends on a filler
    assert card_name(stem, ".mp4", 1) == short
    assert card_name(stem, ".mp4", 1, names="long") == long


# Microsoft FAT32 File System Specification 1.03, "Short Directory Entries"; "Naming files, paths, and
# namespaces"
@pytest.mark.parametrize(
    ("name", "names", "reason"),
    [
        ("CON.AVI", "8.3", "device name"),
        ("con", "long", "device name"),
        ("Aux.tar.gz", "long", "device name"),
        ("COM1.MP4", "8.3", "device name"),
        ("LPT9 .mp4", "long", "device name"),
        (".big", "8.3", "dot"),
        (" A.MP4", "8.3", "blank"),
        ("A.MP4 ", "long", "blank"),
        ("A.", "long", "dot"),
        ("..", "long", "dot"),
        ("a/b.mp4", "long", "holds"),
        ("a:b.avi", "long", "holds"),
        ("a\tb.avi", "long", "holds"),
        ("x" * 252 + ".mp4", "long", "255"),
        ("a.mp4", "8.3", "capitals"),
        *((f"A{sign}B.AVI", "8.3", "capitals") for sign in "+,;=[]"),
        ("A B.AVI", "8.3", "capitals"),
        ("Ä.AVI", "8.3", "capitals"),
        ("NINECHARS.AVI", "8.3", "8 characters"),
        ("A.JPEG", "8.3", "8 characters"),
        ("A.B.AVI", "8.3", "capitals"),
    ],
)
def test_illegal_names_are_told(name: str, names: str, reason: str) -> None:
    assert reason in (why_illegal(name, names) or "legal")


@pytest.mark.parametrize(
    ("name", "names"),
    [
        ("PRETTYBG.BIG", "8.3"),
        ("PICKLE.A", "8.3"),
        ("README", "8.3"),
        ("A$%'-_@~`!(){}^#&"[:8], "8.3"),
        ("a+b=c.avi", "long"),
        ("COM10.MP4", "8.3"),
        ("CONS.MP4", "8.3"),
        ("01_CON.MP4", "8.3"),
        ("x" * 251 + ".mp4", "long"),
        ("a.b.avi", "long"),
    ],
)
def test_legal_names_are_let_pass(name: str, names: str) -> None:
    assert why_illegal(name, names) is None


def test_folding_is_that_of_a_card() -> None:
    assert fold("01_Purser.MP4") == fold("01_PURSER.mp4")
    assert fold("Ä") == fold("A\u0308") == fold("ä")
    assert len({fold(c) for c in string.ascii_letters}) == 26


@pytest.mark.skipif(
    not all(map(shutil.which, ("mkfs.fat", "fsck.fat", "mcopy", "mdir"))),
    reason="dosfstools or mtools are not installed",
)
@pytest.mark.parametrize("bits", ["16", "32"])
def test_names_stand_on_a_volume_as_we_made_them(tmp_path: Path, bits: str) -> None:
    # mtools change a name that is not legal without a word, so what stands there tells
    def run(*command: object) -> str:
        return subprocess.run([*map(str, command)], check=True, capture_output=True, text=True).stdout

    volume, source = tmp_path / "card.img", tmp_path / "source"
    with volume.open("wb") as file:
        file.truncate(40 << 20)
    run("mkfs.fat", "-F", bits, "-s", "4" if bits == "16" else "1", volume)
    made = []
    for style in ("8.3", "long"):
        for stem in AWKWARD:
            made.append(card_name(stem, ".mp4", len(made) + 1, names=style))
            source.write_bytes(made[-1].encode())
            run("mcopy", "-D", "A", "-i", volume, source, f"::{made[-1]}")
    listed = [line.removeprefix("::/") for line in run("mdir", "-b", "-i", volume, "::").splitlines()]
    assert listed == made
    run("fsck.fat", "-n", volume)
