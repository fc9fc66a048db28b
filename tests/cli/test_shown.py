"""How lines and tables look: from the first column on, nothing wrapped that is copied, and no markup."""

from __future__ import annotations

import json

import pytest

from ghostprep.cli import show
from ghostprep.finding import Finding
from ghostprep.verdict import Proof

LONG = "a folder whose name is long " * 8


def told(capfd: pytest.CaptureFixture[str]) -> list[str]:
    return [line.rstrip() for line in capfd.readouterr().out.splitlines()]


@pytest.fixture(autouse=True)
def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)


def test_text_goes_to_stdout_and_beside_a_report_to_stderr(capfd: pytest.CaptureFixture[str]) -> None:
    show.console().print("words")
    assert capfd.readouterr() == ("words\n", "")
    show.console(as_json=True).print("words")
    assert capfd.readouterr() == ("", "words\n")


def test_names_stay_as_they_are_and_what_is_copied_is_not_wrapped(capfd: pytest.CaptureFixture[str]) -> None:
    to = show.console()
    show.print_line(to, f"{LONG}[red]:smile:.mp4")
    assert told(capfd) == [f"{LONG}[red]:smile:.mp4"]
    show.print_next(to, (f"ghostprep {LONG}", "look"))
    assert told(capfd) == ["", f"Next: ghostprep {LONG}  (look)"]
    show.print_next(to)
    assert told(capfd) == []
    to.print(":smile: 12 'a'")
    assert told(capfd) == [":smile: 12 'a'"]


def test_prose_is_wrapped_at_blanks_within_the_console(capfd: pytest.CaptureFixture[str]) -> None:
    show.print_findings(show.console(), [Finding("note", "pane", LONG, LONG)])
    lines = told(capfd)
    assert len(lines) > 4
    assert max(map(len, lines)) <= 60
    assert " ".join(" ".join(lines).split()) == f"note: pane: {LONG}{LONG}".strip()
    remedy = lines[next(n for n, line in enumerate(lines) if line.startswith(" ")) :]
    assert all(line.startswith("    a") or line[4:5].isalpha() for line in remedy)
    assert all(line[:4] == "    " != line[:5] for line in remedy)


def test_tables_begin_in_the_first_column_and_have_no_lines(capfd: pytest.CaptureFixture[str]) -> None:
    to = show.console()
    to.print(show.facts_table("The card", [("folder", "a [b]"), ("drive", LONG)]))
    lines = told(capfd)
    assert lines[:2] == ["The card", "folder  a [b]"]
    assert lines[2].startswith("drive   a folder")
    assert lines[3].startswith("        ")
    to.print(show.facts_table("", [("folder", "a")]))
    assert told(capfd) == ["folder  a"]
    to.print(show.proofs_table([Proof("join", 0.5, "", "at most 1", True)], "mm"))
    lines = told(capfd)
    assert lines[0] == "Proofs, on the file as decoded"
    assert lines[1].startswith("proof ")
    assert "jump at the join" in lines[2]


def test_a_report_is_set_in_by_two_and_holds_numbers_only(capfd: pytest.CaptureFixture[str]) -> None:
    show.print_json({"a": [1]})
    assert capfd.readouterr().out == '{\n  "a": [\n    1\n  ]\n}\n'
    with pytest.raises(ValueError, match="Out of range float"):
        show.print_json({"a": float("nan")})
    show.print_json({"a": "é"})
    assert json.loads(capfd.readouterr().out) == {"a": "é"}
