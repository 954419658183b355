"""A wish from a file, or from the words of a command."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import cast

from ..errors import PlumblineError
from ..layout import read_layout, words
from ..layout.faults import Faults
from ..layout.model import Layout, Mark
from ..layout.nodes import Node, units_of
from ..layout.source import read_source
from ..layout.values import Fields, Values
from ..units import COMMON, DIMENSIONS, Dimension, Units
from ..water import air_pressure
from .oxygen import WARMEST
from .wish import BedKind, Wish

__all__ = ["Asked", "read_wish", "wish_text"]

OWN = {
    "put in at": "start weight",
    "harvest at": "harvest weight",
    "growing time": "growing time",
    "feed conversion": "feed conversion",
    "protein": "protein",
}
"""The words of a wish that stand in place of rows of the catalogue."""


@dataclass(frozen=True)
class Asked:
    """A wish, the units to answer it in, the layout where the file holds one too, and what was `taken` from that layout.
    `said` are all its words with their values, SI."""

    wish: Wish
    units: Units
    layout: Layout | None = None
    taken: tuple[str, ...] = ()
    said: Mapping[str, float | str] = field(default_factory=dict)


def read_wish(path: str | os.PathLike[str] | None, said: Mapping[str, str]) -> Asked:
    """Read a wish from a file and from options, which go before the file.

    Parameters:
        path: of a file with a `wish`, which may be a whole layout; None for options alone.
        said: texts by the words of a wish, `water` and `altitude`.

    Raises:
        LayoutError: with all that is wrong in the file.
        PlumblineError: for an option that cannot be read, or a file without a wish where no option says one.
    """
    got: dict[str, float | str] = {}
    layout: Layout | None = None
    units = units_of(Node(Mark(1, 1), items=tuple(Node(Mark(1, 1), text=text) for text in said.values())))
    if path is not None:
        got, units, layout = _from_file(path)
    for word, text in said.items():
        got[word] = _option(word, text)
    taken = []
    if layout is not None:
        plants = sum(v.area or 0.0 for v in layout.vessels.values() if v.holds == "plants")
        fish = sum((v.area or 0.0) * v.water for v in layout.vessels.values() if v.holds == "fish")
        if "leafy" not in got and "fruiting" not in got and plants > 0.0:
            got["leafy"] = plants
            taken.append("the area of the vessels that hold plants, as beds of leafy plants")
        if "tank" not in got and fish > 0.0:
            got["tank"] = fish
            taken.append("the water of the vessels that hold fish")
        if "water" not in got and layout.water.temperature is not None:
            got["water"] = layout.water.temperature
        if "altitude" not in got:
            got["altitude"] = layout.altitude
    return Asked(_wish(got), units, layout, tuple(taken), got)


_WRITTEN: Mapping[str, str] = {
    "mass rate": "kg/month",
    "area": "m^2",
    "volume": "L",
    "mass": "g",
    "time": "days",
    "flow": "L/h",
}
"""The units that a wish is written in."""


def wish_text(said: Mapping[str, float | str]) -> str:
    """Write a wish as a file says it.

    Parameters:
        said: values by the words of a wish, SI; other words are left out.

    >>> wish_text({"leafy": 6.0, "beds": "raft", "water": 24.0})
    '{leafy: 6 m^2, beds: raft}'
    """
    parts = []
    for word, value in said.items():
        if word not in words.WISH:
            continue
        takes = words.WISH[word].takes
        if isinstance(value, str):
            shown = value
        elif takes in _WRITTEN:
            unit = _WRITTEN[takes]
            shown = f"{value / COMMON[DIMENSIONS[cast(Dimension, takes)][0]][unit]:.9g} {unit}"
        else:
            shown = f"{value:.9g}"
        parts.append(f"{word}: {shown}")
    return f"{{{', '.join(parts)}}}"


def _wish(got: Mapping[str, float | str]) -> Wish:
    """A wish of all that was said.

    Raises:
        PlumblineError: where the water is warmer than the air's oxygen in it is known.
    """

    def number(word: str, other: float) -> float:
        return float(got.get(word, other))

    altitude = number("altitude", 0.0)
    fish, tank = got.get("fish"), got.get("tank")
    celsius = number("water", 24.0)
    if not 0.0 <= celsius <= WARMEST:
        raise PlumblineError(
            f"Water of {celsius:g} °C is none that fish live in: a size is worked out from 0 to {WARMEST:g} °C, for instance at 24 degC."
        )
    return Wish(
        fish=None if fish is None else float(fish),
        leafy=number("leafy", 0.0),
        fruiting=number("fruiting", 0.0),
        beds=cast(BedKind, got.get("beds", "raft")),
        tank=None if tank is None else float(tank),
        celsius=celsius,
        pressure=air_pressure(altitude),
        air=got.get("oxygen from", "air stones") == "air stones",
        drippers=int(number("drippers", 0.0)),
        dripper=number("dripper", 0.0),
        own={row: float(got[word]) for word, row in OWN.items() if word in got},
    )


def _from_file(path: str | os.PathLike[str]) -> tuple[dict[str, float | str], Units, Layout | None]:
    """What a file's wish says, with the water's temperature and the altitude; and the layout, where it holds one too."""
    _, tree, faults = read_source(path)
    top = {key.text or "": value for key, value in tree.pairs or ()}
    # Of a whole layout what is wrong anywhere in it is told first.
    layout = read_layout(path) if top.keys() & {"vessels", "pumps", "lines"} else None
    values, node = Values(faults, units_of(tree)), top.get("wish")
    got: dict[str, float | str | None] = {}
    if layout is None:
        table = {word: words.LAYOUT[word] for word in ("name", "water", "altitude", "wish")}
        fields = values.fields(tree, table, "the file")
        if fields is None:
            faults.fail()
        if "wish" not in fields and fields.complete:
            example = f"a wish, for instance wish: {words.LAYOUT['wish'].example}"
            faults.add(tree.mark, "the file has no 'wish'", example)
        if "water" in fields:
            got["water"] = values.number(fields["water"].node, words.WATER["temperature"], "water")
        got["altitude"] = fields.number("altitude")
    if node is not None and not node.is_nothing:
        got |= {word: said.value for word, said in (values.fields(node, words.WISH, "the wish") or Fields()).items()}
    faults.stop()
    return {word: value for word, value in got.items() if value is not None}, values.units, layout


def _option(word: str, text: str) -> float | str:
    """Read an option's text as the file would."""
    key = {**words.WISH, "water": words.WATER["temperature"], "altitude": words.LAYOUT["altitude"]}[word]
    faults, mark = Faults(""), Mark(1, 1)
    value = Values(faults, Units()).field(Node(mark, text=text), key, word, mark).value
    if value is None:
        wrong = faults.found[0]
        raise PlumblineError(f"--{word.replace(' ', '-')}: {wrong.found}; expected {wrong.expected}.")
    return value
