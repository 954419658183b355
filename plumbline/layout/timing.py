"""What the file says of time: timers, level switches, and vessels that are not as wide at every height."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from . import words
from .kinds import plain
from .model import Gutter, LevelSwitch, Mark, Timer, Vessel
from .nodes import Node, whole_point
from .values import Fields, Values

__all__ = ["read_areas", "read_runs", "read_switch"]

_RUNS = "so long on and off, {on: 15 min, off: 45 min}; windows, {from: 06:00, to: 18:00}; or no"
_AREAS = "an area, 2 m^2, or heights each with the area there, [[0 m, 0.2 m^2], [0.5 m, 1.1 m^2]]"
_HEIGHT = words.Key("length", "a height above the floor", "0.5 m", low=0.0)
_AREA = words.Key("area", "the free surface there", "1.1 m^2", low=0.0)
_CLOCK = re.compile(r"([01]?\d|2[0-4])(?:[:.h]([0-5]\d))?\s*(am|pm)?", re.IGNORECASE)
_NEVER = ("no", "never", "off", "false", "standby", "stand-by", "stands by")


def read_runs(node: Node, what: str, values: Values) -> Timer | None:
    """When something runs; None, and a fault, where it cannot be read."""
    faults = values.faults
    if node.text is not None:
        if plain(node.text) in _NEVER:
            return Timer()
        if plain(node.text) in ("yes", "always", "on", "true"):
            return None
        faults.add(node.mark, f"{what} runs '{node.text}'", _RUNS)
        return None
    if node.items is not None:
        windows = [read_runs(item, what, values) for item in node.items]
        whole = [window for timer in windows if timer is not None for window in timer.windows]
        if len(whole) < len(node.items) and all(timer is not None for timer in windows):
            found = f"{what} has a list of times that are not all windows"
            faults.add(node.mark, found, "windows, each {from: 06:00, to: 18:00}")
            return None
        return Timer(windows=tuple(sorted(whole))) if whole else None
    got = values.fields(node, words.RUNS, f"when {what} runs")
    if got is None:
        return None
    if "from" in got or "to" in got:
        return _window(node, got, what, values)
    on, off, after = got.numbers("on", "off", "after")
    if not ("on" in got and "off" in got):
        if got.complete:
            faults.add(node.mark, f"{what} does not say how long it is {'off' if 'on' in got else 'on'}", _RUNS)
        return None
    if on is None or off is None:
        return None
    return Timer(on, off, after or 0.0)


def _window(node: Node, got: Fields, what: str, values: Values) -> Timer | None:
    moments = []
    for word in ("from", "to"):
        if word not in got:
            values.faults.add(node.mark, f"a window of {what} without '{word}'", "both, {from: 06:00, to: 18:00}")
            return None
        text = (got[word].node.text or "").strip()
        moment = clock_of(text)
        if moment is None:
            values.faults.add(got[word].mark, f"'{word}' is {got[word].node.what}", "a time of day from 00:00 to 24:00")
            return None
        moments.append(moment)
    begin, end = moments
    if begin == end or max(moments) > 86400.0:
        values.faults.add(
            got["to"].mark, f"{what} never runs: it goes on and off at {got['to'].node.text}", "two times of day"
        )
        return None
    return Timer(windows=((begin, end),) if begin < end else ((0.0, end), (begin, 86400.0)))


def clock_of(text: str) -> float | None:
    """A time of day in seconds from midnight; None where a text is none.

    >>> clock_of("18:30"), clock_of("6am"), clock_of("12.15 pm"), clock_of("7"), clock_of("13 pm")
    (66600.0, 21600.0, 44100.0, None, None)
    """
    match = _CLOCK.fullmatch(text)
    if match is None or (match[2] is None and match[3] is None):
        return None
    hour = int(match[1])
    if match[3]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match[3].lower() == "pm" else 0)
    return 3600.0 * hour + 60.0 * int(match[2] or 0)


def read_switch(node: Node, pump: str, values: Values, vessels: Mapping[str, Vessel]) -> LevelSwitch | None:
    """A pump's float or level switch; None, and a fault, where it cannot be read or cannot work."""
    faults = values.faults
    got = values.fields(node, words.TABLES["switch"], f"the switch of pump '{pump}'")
    vessel, where = None if got is None else got.text("vessel"), f"the switch of pump '{pump}'"
    if got is None or vessel is None:
        return None
    if vessel not in vessels:
        faults.unknown(got["vessel"].mark, vessel, "vessel", vessels, where=f" for {where}", names=("vessel",))
        return None
    pair = next(
        (pair for pair in (("on above", "off below"), ("on below", "off above")) if pair[0] in got and pair[1] in got),
        None,
    )
    if pair is None or len([word for word in words.TABLES["switch"] if word in got]) != 3:
        expected = "'on above' and 'off below', to empty a vessel; or 'on below' and 'off above', to fill it"
        faults.add(node.mark, f"{where} is {node.what}", expected)
        return None
    (on, first), (off, second) = ((got[word].number, got[word]) for word in pair)
    if on is None or off is None:
        return None
    if (on > off) != (pair[0] == "on above"):
        found = f"{where} fights itself: '{pair[0]}' {first.node.text} and '{pair[1]}' {second.node.text}"
        way = "a lower" if pair[0] == "on above" else "a higher"
        faults.add(second.mark, found, f"{way} height to go off at", also=[first.mark])
        return None
    rim = vessels[vessel].rim
    if rim is not None and on > rim:
        found = f"{where} can never turn it on: '{vessel}' has its rim at {values.said(rim, 'length')}"
        faults.add(first.mark, found, "a height under the rim")
        return None
    return LevelSwitch(vessel, on, off, node.mark)


Areas = tuple[tuple[float, float], ...]


def read_areas(got: Fields, name: str, water: float, values: Values) -> tuple[float | None, Areas, Gutter | None]:
    """A vessel's free surface: one for all heights, or that at its depth of water with a table of heights [m] and areas [m²]; and what gutter it is."""
    if "gutter" not in got:
        return (*_table(got["area"].node, name, water, values), None) if "area" in got else (None, (), None)
    said = got["gutter"]
    if "area" in got:
        values.faults.add(
            said.mark,
            f"'{name}' has an area and is a gutter",
            "one of them; a gutter's area follows from its length and width",
            also=[got["area"].mark],
        )
    fields = values.fields(said.node, words.TABLES["gutter"], f"the gutter '{name}'", said.mark) or Fields()
    length, width, fall = fields.numbers("length", "width", "fall")
    if length is None or width is None:
        return None, (), None
    gutter = Gutter(length, width, fall or 0.0)
    whole = gutter.length * gutter.width
    return (_at_depth(gutter.areas, water) if gutter.areas else whole), gutter.areas, gutter


def _table(node: Node, name: str, water: float, values: Values) -> tuple[float | None, Areas]:
    faults = values.faults
    if node.is_nothing:
        return None, ()
    if node.items is None:
        key = words.Key("area", words.VESSEL["area"].says, "2 m^2", low=0.0, above=True)
        return values.number(node, key, "area"), ()
    points: list[tuple[float, float]] = []
    marks: list[Mark] = []
    for item in node.items:
        pair = whole_point(item)
        if len(pair) != 2:
            faults.add(item.mark, f"an area of '{name}' is {item.what}", "a height and an area, [0.5 m, 1.1 m^2]")
            return None, ()
        height, area = values.number(pair[0], _HEIGHT, "height"), values.number(pair[1], _AREA, "area")
        if height is None or area is None:
            return None, ()
        if points and height <= points[-1][0]:
            found = f"the areas of '{name}' are not sorted by height"
            faults.add(item.mark, found, "each height above the one before", also=marks[-1:])
            return None, ()
        points.append((height, area))
        marks.append(item.mark)
    if len(points) < 2 or not any(area > 0.0 for _, area in points):
        faults.add(node.mark, f"'{name}' has {'one area' if len(points) == 1 else 'no area'}", _AREAS)
        return None, ()
    return _at_depth(points, water), tuple(points)


def _at_depth(points: Sequence[tuple[float, float]], depth: float) -> float:
    """The area at a depth, by straight lines; as at the ends beyond them [m²]."""
    import numpy as np

    heights, areas = zip(*points, strict=True)
    return max(float(np.interp(depth, heights, areas)), 1e-6)
