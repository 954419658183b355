"""Plumbline checks the plumbing of a small aquaponic system.

>>> import plumbline
>>> layout = plumbline.read_layout("layouts/courtyard.yaml")  # doctest: +SKIP
>>> plumbline.check(layout).verdict  # doctest: +SKIP
'ok'
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .check import CheckResult, check
    from .errors import LayoutError, PlumblineError, SolveError
    from .layout import read_layout
    from .layout.model import Layout

__all__ = [
    "CheckResult", "Layout", "LayoutError", "PlumblineError", "SolveError", "__version__", "check", "read_layout",
]  # fmt: skip

__version__ = "0.1.0"

_HOMES = {
    "CheckResult": "check", "check": "check", "LayoutError": "errors", "PlumblineError": "errors",
    "SolveError": "errors", "read_layout": "layout", "Layout": "layout.model",
}  # fmt: skip


def __getattr__(name: str) -> Any:
    """Import the public names when they are first asked for, so that starting is quick."""
    if name not in _HOMES:
        raise AttributeError(f"module 'plumbline' has no attribute '{name}'")
    import importlib

    value = getattr(importlib.import_module(f".{_HOMES[name]}", __name__), name)
    globals()[name] = value
    return value
