"""Each room imports only its neighbours, and the command line starts light."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "ghostprep"
SHARED = {
    "arguments",
    "arrays",
    "backings",
    "black",
    "errors",
    "box",
    "channels",
    "joins",
    "deliver",
    "digest",
    "finding",
    "heap",
    "interrupts",
    "parallel",
    "progress",
    "provenance",
    "scratch",
    "system",
    "tables",
    "transfer",
    "verdict",
    "words",
}
MAY_IMPORT: dict[str, set[str]] = {
    "scene": set(),
    "optics": {"scene"},
    "clip": set(),
    "picture": set(),
    "loop": set(),
    "player": set(),
    "card": {"player"},
    "proof": set(),
    "paper": {"scene", "optics"},
    "effects": {"clip", "picture", "loop", "prepare"},
    "prepare": {"scene", "optics", "clip", "picture", "loop", "player", "proof"},
    "eye": {"scene", "optics", "clip", "picture", "proof", "paper", "prepare"},
    "chart": {"scene", "optics", "clip", "picture", "player", "eye", "prepare"},
    "library": {"scene", "optics", "prepare", "eye"},
    "cli": {
        "scene",
        "optics",
        "clip",
        "picture",
        "loop",
        "player",
        "card",
        "proof",
        "paper",
        "prepare",
        "eye",
        "chart",
    },
}


def imported_rooms(file: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("ghostprep."):
            found.add((node.module or "").split(".")[1])
        elif isinstance(node, ast.ImportFrom) and node.module == "ghostprep":
            found.update(alias.name for alias in node.names if alias.name != "__version__")
        elif isinstance(node, ast.Import):
            found.update(a.name.split(".")[1] for a in node.names if a.name.startswith("ghostprep."))
    return found


@pytest.mark.parametrize("room", MAY_IMPORT)
def test_a_room_imports_only_its_neighbours(room: str) -> None:
    files = [*(PACKAGE / room).rglob("*.py"), *PACKAGE.glob(f"{room}.py")]
    for file in files:
        strangers = imported_rooms(file) - SHARED - MAY_IMPORT[room] - {room}
        assert not strangers, f"{file.relative_to(PACKAGE)} imports {sorted(strangers)}"


def test_every_room_is_known() -> None:
    rooms = {p.name for p in PACKAGE.iterdir() if p.is_dir() and (p / "__init__.py").exists()}
    assert rooms <= set(MAY_IMPORT)


def test_no_two_rooms_have_a_public_class_of_one_name() -> None:
    places: dict[str, set[Path]] = {}
    for file in PACKAGE.rglob("*.py"):
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, set()).add(file)
    assert not {name for name, files in places.items() if len(files) > 1}


def test_importing_the_package_loads_nothing_heavy() -> None:
    heavy = {"cv2", "av", "moviepy", "matplotlib", "numpy", "pydantic", "click"}
    code = (
        "import sys\nimport ghostprep\n"
        f"print([n for n in sys.modules if n.startswith('ghostprep.') or n in {heavy}])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_help_loads_no_imaging_library() -> None:
    code = (
        "import sys\nfrom ghostprep.cli import group\nfrom ghostprep.cli.run import status_of\n"
        "assert status_of(group, ['--help']) == 0\n"
        "print(sorted({'av', 'cv2', 'moviepy', 'matplotlib', 'numpy', 'pydantic'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
