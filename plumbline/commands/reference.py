"""Commands that tell what the words mean."""

from __future__ import annotations

import argparse

__all__ = ["WORK"]


def _explain(chosen: argparse.Namespace) -> int:
    from ..report.explain import explain, kinds

    print(explain(" ".join(chosen.word)) if chosen.word else kinds())
    return 0


def _names(chosen: argparse.Namespace) -> int:
    from ..report.explain import listing

    print(listing(chosen.what))
    return 0


def _schema(chosen: argparse.Namespace) -> int:
    import json

    from ..layout.schema import layout_schema

    print(json.dumps(layout_schema(), ensure_ascii=False, indent=2))
    return 0


WORK = {"explain": _explain, "names": _names, "schema": _schema}
"""What does the work of each."""
