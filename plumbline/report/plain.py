"""What every report is made of: headings, points and the one plain table of the terminal, cautions, and numbers as JSON can hold them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import wraps
from typing import Any, ParamSpec

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from .. import __version__
from ..catalogue import cautions_at
from ..layout.model import Layout, Step

__all__ = [
    "about",
    "care",
    "cautions_of",
    "fields",
    "headed",
    "heading",
    "in_units",
    "plain_table",
    "point",
    "points",
    "view",
]

_P = ParamSpec("_P")

_SCALES = {
    "l_min": 60_000.0,
    "mm": 1000.0,
    "l": 1000.0,
    "kpa": 1e-3,
    "deg": math.degrees(1.0),
    **dict.fromkeys(("m_s", "m2", "m", "s", "h", "pa", "w"), 1.0),
}
"""What takes a number from SI to the unit that a key of JSON ends in; longer endings before those that they end in."""


def view(told: Callable[_P, Iterable[RenderableType]]) -> Callable[_P, Group]:
    """What tells headings, sentences and tables one after the other, as one thing to be put on the screen."""

    @wraps(told)
    def whole(*args: _P.args, **named: _P.kwargs) -> Group:
        return Group(*told(*args, **named))

    return whole


def heading(text: str) -> Text:
    """A heading, with a free line before it."""
    return Text(f"\n{text}", style="bold underline")


def headed(name: str, said: str, style: str) -> Text:
    """The first line of an output: the layout's name, and what is said of it."""
    return Text.assemble((f"{name}: ", "bold"), (said, style))


def point(text: str | Text, *, by: int = 2, style: str = "") -> Padding:
    """A text of its own, set in by so many columns."""
    return Padding(Text(text, style=style) if isinstance(text, str) else text, (0, 0, 0, by))


def points(texts: Iterable[str], *, by: int = 2, style: str = "") -> Iterator[Padding]:
    """Texts one below the other, set in."""
    return (point(text, by=by, style=style) for text in texts)


def plain_table(*columns: str, rows: Iterable[Iterable[str | Text]] = (), whole: bool = False) -> Table:
    """A table without lines; a column whose name begins with > is set to the right, and with `whole` is never broken. Names and cells may be
    a user's: no markup."""
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
    for row in rows:
        table.add_row(*(Text(cell) if isinstance(cell, str) else cell for cell in row))
    return table


def cautions_of(output: str, layout: Layout | None = None) -> Mapping[str, str]:
    """The cautions of an output's work, by hazard: what stands in the layout decides of a hose and of airlifts."""
    airlift = layout is not None and any(pump.airlift is not None for pump in layout.pumps.values())
    hose = layout is not None and layout.hose is not None
    return cautions_at(output, hose=hose, airlift=airlift or output == "airlift")


def care(output: str, layout: Layout | None = None, notes: Sequence[str] = ()) -> Iterator[RenderableType]:
    """Yield the heading, what else to heed, and the cautions."""
    yield heading("Care")
    yield from points((*notes, *cautions_of(output, layout).values()), style="dim")


def fields(of: object, *keys: str) -> dict[str, Any]:
    """Fields of a thing as JSON can hold them. Each of the keys, apart by spaces, names a field, and may end in the unit to tell its number
    in; in `key=path` the number is found along a path of fields instead, and is None where one on the way is None.

    >>> fields(0.03 + 0j, "real_mm", "turned=imag half_mm=real.real")
    {'real_mm': 30.0, 'turned': 0.0, 'half_mm': 30.0}
    """
    return in_units(
        {key: _found(of, key, path) for key, _, path in (one.partition("=") for one in " ".join(keys).split())}
    )


def _found(of: object, key: str, path: str) -> Any:
    value: Any = of
    for name in (path or (key if hasattr(of, key) else key.removesuffix(f"_{_unit(key)}"))).split("."):
        value = None if value is None else getattr(value, name)
    return value


def in_units(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values in SI as JSON can hold them, each in the unit that its key ends in, if any; so is what stands in lists and by names.

    >>> in_units({"flow_l_min": 0.001, "step": 3, "likely_mm": (0.01, float("inf")), "head_m": None})
    {'flow_l_min': 60.0, 'step': 3, 'likely_mm': [10.0, None], 'head_m': None}
    """
    return {key: _held(value, _SCALES.get(_unit(key))) for key, value in values.items()}


def _unit(key: str) -> str:
    return next((unit for unit in _SCALES if key.endswith(f"_{unit}")), "")


def _held(value: Any, scale: float | None) -> Any:
    """A value as JSON can hold it; a number is None where it has no end, and never −0; a step as it is told."""
    if isinstance(value, Step):
        return value.told
    if isinstance(value, float) or (scale is not None and isinstance(value, int)):
        return float(value * (scale or 1.0)) + 0.0 if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {name: _held(one, scale) for name, one in value.items()}
    return [_held(one, scale) for one in value] if isinstance(value, list | tuple) else value


def about(layout: Layout) -> dict[str, Any]:
    """What every object begins with: of which layout it tells, and who tells it."""
    return {"layout": layout.name, "plumbline": __version__}
