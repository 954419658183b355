"""What every report is made of: the one plain table of the terminal, and numbers as JSON can hold them."""

from __future__ import annotations

import math

from rich.table import Table
from rich.text import Text

__all__ = ["finite", "plain_table"]


def plain_table(*columns: str, whole: bool = False) -> Table:
    """A table without lines; a column whose name begins with > is set to the right, and with `whole` is never broken. The names may be a
    user's: no markup."""
    table = Table(
        box=None, show_edge=False, pad_edge=False, padding=(0, 1, 0, 1), show_header=any(columns), header_style="dim"
    )
    for column in columns:
        right = column.startswith(">")
        table.add_column(
            Text(column.removeprefix(">")),
            justify="right" if right else "left",
            overflow="fold",
            no_wrap=right and whole,
        )
    return table


def finite(value: float | None) -> float | None:
    """A number as JSON can hold it: None where it is not known or has no end, and no −0."""
    return None if value is None or not math.isfinite(value) else float(value) + 0.0
