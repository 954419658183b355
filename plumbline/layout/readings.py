"""What was read on a visit: litres and seconds, depths, heads in a clear hose, a pump's power, valves as found, pipe as cleaned."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from .. import catalogue
from ..units import COMMON, NotAQuantity, Units, quantity
from . import words
from .faults import Faults, listed
from .model import Line, Part, Pump, Reading, ReadingKind, Vessel
from .nodes import Node
from .values import Fields, Values

__all__ = ["bucket_sigma", "limit_to_sigma", "measure_for", "place_readings", "read_readings"]

_KINDS: Mapping[str, tuple[str, ReadingKind]] = {
    "caught": ("at", "flow"),
    "head": ("at", "head"),
    "opening": ("at", "opening"),
    "depth": ("vessel", "depth"),
    "power": ("pump", "power"),
    "cleaned": ("line", "cleaned"),
}
"""For each word of what was read: the word of where, and the kind of reading."""

_PLACES = ("at", "vessel", "pump", "line")
_EXPECTED = (
    "one thing read at one place: 'at' with 'caught', 'head' or 'opening', 'vessel' with 'depth', 'pump' with 'power', or "
    "'line' with 'cleaned'"
)

_GALLON = COMMON["m^3"]["gal"]
_MEASURES = {
    "L": ((0.010, "10 L"), (0.001, "1 L"), (0.0001, "0.1 L")),
    "gal": ((2.0 * _GALLON, "2 gal"), (_GALLON / 4.0, "1 qt"), (_GALLON / 32.0, "4 fl oz")),
}
"""What water is caught in, bucket, jug and cup: what each holds [m³], and its name."""


def limit_to_sigma(limit: float) -> float:
    """The standard deviation of what is as likely anywhere up to a limit (JCGM 100:2008, 4.3.7, from memory)."""
    return limit / math.sqrt(3.0)


def measure_for(flow: float, units: Units) -> tuple[float, str]:
    """What a flow [m³/s] is timed into: of bucket, jug and cup the one that it fills in as near a minute as may be, as its volume [m³]
    and its name (common practice, no source).

    >>> [measure_for(litres / 60000.0, Units())[1] for litres in (25.0, 1.0, 0.07)]
    ['10 L', '1 L', '0.1 L']
    """
    measures = _MEASURES["gal" if units.volume == "gal" else "L"]
    return min(measures, key=lambda one: abs(math.log(one[0] / max(60.0 * flow, 1e-9))))


def bucket_sigma(litres: float, seconds: float) -> float:
    """How far a flow timed into a bucket is out: (σ/Q)² = (bucket² + (splash/V)² + (stopwatch/t)²)/3.

    Parameters:
        litres: V, caught [m³].
        seconds: t, the time [s].

    Returns:
        The standard deviation [m³/s]; where nothing was caught, that of what was missed.

    >>> f"{bucket_sigma(0.010, 42.0) / (0.010 / 42.0):.1%}"
    '2.0%'

    Reference: JCGM 100:2008, 5.1.2 and 4.3.7 (from memory); the limits of catalogue/readings.yaml.
    """
    limit = {name: row.value for name, row in catalogue.readings().items()}
    volume = math.hypot(limit["bucket"] * litres, limit["splash"])
    return limit_to_sigma(math.hypot(volume / seconds, limit["stopwatch"] * litres / seconds**2))


def read_readings(node: Node | None, values: Values) -> tuple[Reading, ...]:
    """Read a block of readings; their places are looked up later."""
    items = None if node is None else values.items(node, "'readings'", "a list of readings, each after '- '")
    return tuple(one for item in items or () if (one := _reading(item, values)) is not None)


def _reading(node: Node, values: Values) -> Reading | None:
    fields = values.fields(node, words.READING, "the reading")
    if fields is None or not fields.complete:
        return None
    said = [word for word in _KINDS if word in fields]
    wheres = [word for word in _PLACES if word in fields]
    if len(said) != 1 or wheres != [_KINDS[said[0]][0]]:
        values.faults.add(
            node.mark,
            f"a reading with {listed([repr(w) for w in (*wheres, *said)], 'and') or 'nothing in it'}",
            _EXPECTED,
        )
        return None
    word, where = said[0], fields[wheres[0]].text
    reading = _caught(fields, values) if word == "caught" else _number(word, fields, values)
    return None if reading is None or where is None else replace(reading, where=where, mark=fields[wheres[0]].mark)


def _caught(fields: Fields, values: Values) -> Reading | None:
    node, expected = fields["caught"].node, "litres and the time they took, for instance 10 L in 42 s"
    found = re.fullmatch(r"(.+?)\s+in\s+(.+)", (node.text or "").strip()[:80])
    try:
        if found is None:
            raise NotAQuantity(f"'caught' is {node.what}")
        litres, seconds = quantity(found[1], "volume"), quantity(found[2], "time")
    except NotAQuantity as error:
        values.faults.add(node.mark, str(error), expected)
        return None
    if litres < 0.0 or not 0.0 < seconds <= 86400.0:
        what = f"{found[1]} were caught" if litres < 0.0 else f"it took {found[2]}"
        values.faults.add(node.mark, what, "nothing or more, in a time above 0 and up to a day")
        return None
    flow, share = litres / seconds, _doubt(fields, values, "ratio")
    sigma = bucket_sigma(litres, seconds) if share is None else max(limit_to_sigma(share * flow), 1e-9)
    return Reading("flow", "", flow, sigma, node.mark, litres=litres)


def _number(word: str, fields: Fields, values: Values) -> Reading | None:
    value, kind = fields[word].number, _KINDS[word][1]
    if value is None:
        return None
    limit = {name: row.value for name, row in catalogue.readings().items()}
    usual = {"head": limit["head"], "depth": limit["depth"], "power": limit["power"] * value}.get(kind, 0.0)
    own = _doubt(fields, values, "length" if kind in ("head", "depth") else "ratio")
    if own is not None and kind == "power":
        own *= value
    return Reading(kind, "", value, max(limit_to_sigma(usual if own is None else own), 1e-9), fields[word].mark)


def _doubt(fields: Fields, values: Values, takes: str) -> float | None:
    """What the file says of how far a reading may be out."""
    key = words.Key(takes, words.READING["give or take"].says, "", low=0.0, above=True)
    return values.number(fields["give or take"].node, key, "give or take") if "give or take" in fields else None


# ---------------------------------------------------------------------- where they were read


def place_readings(
    said: Collection[Reading],
    lines: Mapping[str, Line],
    vessels: Mapping[str, Vessel],
    pumps: Mapping[str, Pump],
    faults: Faults,
) -> tuple[Reading, ...]:
    """Find the places of readings. One that is not there, or where such a thing cannot be read, is a fault."""
    finder = _Finder(lines, vessels, pumps, faults)
    return tuple(one for reading in said if (one := finder.placed(reading)) is not None)


@dataclass(frozen=True)
class _Finder:
    lines: Mapping[str, Line]
    vessels: Mapping[str, Vessel]
    pumps: Mapping[str, Pump]
    faults: Faults

    def placed(self, reading: Reading) -> Reading | None:
        if reading.what == "depth":
            return self.named(reading, "vessel", self.vessels)
        if reading.what == "power":
            return self.pump(reading)
        if reading.what == "cleaned":
            return self.named(reading, "line", self.lines)
        place = self.place(reading)
        return None if place is None else self.at(replace(reading, line=place[0], step=place[1]))

    def named(self, reading: Reading, what: str, names: Collection[str]) -> Reading | None:
        if reading.where not in names:
            self.faults.unknown(reading.mark, reading.where, what, names)
            return None
        place: dict[str, Any] = {what: reading.where}
        return replace(reading, **place)

    def pump(self, reading: Reading) -> Reading | None:
        found = self.named(reading, "pump", self.pumps)
        # The power of an airlift's air pump is worked out where the file states none.
        if found is not None and not self.pumps[found.pump].power and self.pumps[found.pump].airlift is None:
            self.faults.add(
                reading.mark,
                f"pump '{found.pump}' has no power in the layout to hold the reading against",
                "'power' in its group, as on its plate",
                also=[self.pumps[found.pump].mark],
            )
            return None
        return found

    def place(self, reading: Reading) -> tuple[str, int] | None:
        """The line and the step of a place: 0 for its start, −1 for its end."""
        where = reading.where
        line, _, last = where.rpartition(".")
        if line in self.lines and (last in ("from", "to") or last.isdecimal()):
            step = {"from": 0, "to": -1, "0": 0}.get(last)
            step = self.counted(reading, self.lines[line], last) if step is None else step
            return None if step is None else (line, step)
        named = {part.id: (name, part.step) for name, one in self.lines.items() for part in one.parts if part.id}
        ends = [(name, end, step) for name, one in self.lines.items() for end, step in ((one.start, 0), (one.end, -1))]
        named |= {end.name or "": (name, step) for name, end, step in ends if end.kind == "cap"}
        if where in named:
            return named[where]
        known = [*named, *(f"{name}.{side}" for name in self.lines for side in ("from", "to"))]
        many = "an end of a line, 'LINE.to', a step of it, 'LINE.3', or the name of a fitting"
        self.faults.unknown(reading.mark, where, "place", known, expected=many if len(known) > 14 else "")
        return None

    def counted(self, reading: Reading, line: Line, number: str) -> int | None:
        """A step by its number in the file: of one that stands for several of the walk, the last."""
        steps = {str(part.step): part.step for part in line.parts}
        if (step := steps.get(str(int(number)))) is None:
            last = max(steps.values())
            expected = f"a step from 1 to {last}" if last else "its ends, since it has no steps"
            self.faults.add(reading.mark, f"line '{line.name}' has no step {int(number)}", expected)
        return step

    def at(self, reading: Reading) -> Reading | None:
        line = self.lines[reading.line]
        parts = {part.step: part for part in line.parts}
        if reading.what == "flow":
            return self.end(reading, line)
        if reading.what == "opening":
            return self.valve(reading, parts.get(reading.step))
        return reading

    def end(self, reading: Reading, line: Line) -> Reading | None:
        """Water is caught where a line lets it out."""
        end = line.start if reading.step == 0 else line.end
        also = [end.mark]
        if reading.step > 0:
            found, also = f"'{reading.where}' is no end of a line: a bucket does not get at it", []
        elif end.kind not in ("open air", "vessel"):
            shut = {"cap": "a cap", "plug": "a plug", "draw": "a stated draw"}.get(end.kind, f"{end.kind} '{end.name}'")
            found = f"nothing runs out at '{reading.where}': it ends in {shut}"
        elif reading.step == 0 and end.kind == "vessel":
            found = f"water goes in at '{reading.where}', and none runs out to be caught"
        else:
            return reading
        self.faults.add(reading.mark, found, "an end that runs out in open air or in a vessel", also=also)
        return None

    def valve(self, reading: Reading, part: Part | None) -> Reading | None:
        row = None if part is None or part.is_pipe else catalogue.fittings()[part.kind]
        if row is None or row.opening is None:
            what = "an end" if part is None else f"a {part.called}"
            self.faults.add(reading.mark, f"'{reading.where}' is {what}, and has no opening", "a valve")
            return None
        return reading
