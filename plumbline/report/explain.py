"""What a kind of finding means: its rule, its source and its limits."""

from __future__ import annotations

import shutil
import sys
import textwrap

from .. import catalogue
from ..errors import PlumblineError

__all__ = ["explain", "kinds", "wrapped"]


def kinds() -> str:
    """All kinds of finding, a line each."""
    rows = catalogue.findings().values()
    wide = max(len(row.kind) for row in rows)
    return "\n".join(f"{row.kind:<{wide}}  {row.level:<6}  {row.title}" for row in rows)


def explain(kind: str) -> str:
    """The rule, source, limits and doubts of a kind of finding.

    Raises:
        PlumblineError: for a word that is no kind, with the nearest one.
    """
    rows = catalogue.findings()
    if kind not in rows:
        near = catalogue.nearest(kind, rows)
        hint = f" Did you mean '{near}'?" if near else " 'plumbline explain' lists them."
        raise PlumblineError(f"There is no finding called '{kind}'.{hint}")
    row = rows[kind]
    out = [
        f"{row.kind} ({row.level}): {row.title}",
        "",
        f"  Rule    It is said when {row.rule}",
        f"  Source  {row.source} ({row.mark})",
    ]
    if catalogue.sources(kind) != (row.source,):
        out += [f"  Code    {source}" for source in catalogue.sources(kind)]
    for name in row.limits:
        limit = catalogue.limits()[name]
        others = f"; others: {limit.others}" if limit.others else ""
        out.append(f"  Limit   {name}: {limit.shown}, {limit.meaning}. {limit.source} ({limit.mark}){others}. "
                   f"To set your own: limits: {{{name}: …}}")  # fmt: skip
    doubt = row.extra.get("doubt")
    if doubt and doubt != "none":
        out.append(f"  Doubt   {doubt}.")
    return "\n".join(wrapped(line, 10) for line in out)


def wrapped(line: str, indent: int) -> str:
    """A line broken to the width of the terminal, or to 100 columns in a file or a pipe."""
    wide = shutil.get_terminal_size().columns if sys.stdout.isatty() else 100
    return textwrap.fill(
        line, max(wide, 40), subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False,
        drop_whitespace=True, replace_whitespace=False,
    )  # fmt: skip
