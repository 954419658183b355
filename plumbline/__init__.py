"""Plumbline checks the plumbing of a small aquaponic system.

import plumbline

layout = plumbline.read_layout("layouts/courtyard.yaml")
print(plumbline.check(layout).verdict)
"""

from __future__ import annotations

# Imported here, and not when first asked for: the function `check` and the module of that name share one attribute,
# and only an import of the module before the name is bound leaves the function there.
try:
    from .check import CheckResult, check
    from .errors import LayoutError, PlumblineError, SolveError
    from .layout import read_layout
    from .layout.model import Layout
except KeyboardInterrupt:
    # Most of a program's first second goes by here, and whoever stops it then gets no traceback either.
    raise SystemExit(130) from None

__all__ = [
    "CheckResult",
    "Layout",
    "LayoutError",
    "PlumblineError",
    "SolveError",
    "__version__",
    "check",
    "read_layout",
]

__version__ = "0.1.0"
