"""The bench of odd commands, as a module, with a folder to run them in."""

import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

BENCH = Path(__file__).parent.parent / "bench"


@pytest.fixture(scope="session")
def bench() -> ModuleType:
    sys.path.insert(0, str(BENCH))
    try:
        return __import__("fuzz_commands")
    finally:
        sys.path.remove(str(BENCH))


@pytest.fixture(scope="module")
def yard(bench: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Any:
    return bench.Yard(tmp_path_factory.mktemp("fuzz"))
