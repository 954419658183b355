"""Commands that tell what the words mean."""

from __future__ import annotations

import argparse

from .options import Commands

__all__ = ["add_to"]


def add_to(commands: Commands) -> None:
    """Add these commands to the parser."""
    explain = commands.add_parser(
        "explain", help="what a word means: a kind of finding, or any word of the language and of the output"
    )
    explain.add_argument(
        "word",
        metavar="WORD",
        nargs="*",
        help="for instance dead-leg, sleeve or globe valve; left out, lists the kinds of finding",
    )
    explain.set_defaults(work=_explain)

    names = commands.add_parser(
        "names",
        help="the words a layout may use: pipes, fittings, materials, rods, limits, codes, fouling, causes, readings",
    )
    names.add_argument(
        "what", choices=("pipes", "fittings", "materials", "rods", "limits", "codes", "fouling", "causes", "readings")
    )
    names.set_defaults(work=_names)

    schema = commands.add_parser("schema", help="the JSON schema of layout files, for editors")
    schema.set_defaults(work=_schema)


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
