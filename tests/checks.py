"""The check of each layout of the project, done once for all tests of a process."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from plumbline import read_layout
from plumbline.check import CheckResult, check

__all__ = ["LAYOUTS", "checked"]

LAYOUTS = Path(__file__).parent.parent / "layouts"


@cache
def _checked(stem: str) -> CheckResult:
    return check(read_layout(LAYOUTS / f"{stem}.yaml"))


def checked(name: str | Path) -> CheckResult:
    """By its name, or by that of its file."""
    return _checked(Path(name).stem)
