"""The benches of faults, as modules, and a small clip."""

import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

BENCH = Path(__file__).parent.parent / "bench"


@pytest.fixture(scope="session")
def bench() -> Callable[[str], ModuleType]:
    """Return an importer of modules in tests/bench."""

    def load(name: str) -> ModuleType:
        sys.path.insert(0, str(BENCH))
        try:
            return __import__(name)
        finally:
            sys.path.remove(str(BENCH))

    return load


@pytest.fixture(scope="session")
def clip(bench: Callable[[str], ModuleType], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bar that sways before green: 96x72, 24 frames."""
    made: Path = bench("fault_grounds").small_clip(tmp_path_factory.mktemp("faults") / "clip.mp4")
    return made
