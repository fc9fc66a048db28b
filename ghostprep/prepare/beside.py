"""The report that lies beside a loop, as far as it can be read."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

_LARGEST: Final = 20_000_000
"""Bytes; no report of ours comes near it, and nothing larger is worth the memory."""


def report_beside(loop: Path) -> Mapping[str, Any]:
    """Return the report that `make` wrote beside a loop; empty where there is none that can be read.

    Whether it is about this very file is for the caller to check, by ``output.sha256``.
    """
    try:
        path = loop.with_suffix(".json")
        if path.stat().st_size > _LARGEST:
            return {}
        report = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return report if isinstance(report, dict) else {}
