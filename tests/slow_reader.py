"""Reads the layouts of the water cases into the slow model: a small part of the language, with nothing of the program's own
reader.

What it takes: numbers in m, mm, m^2, L, L/min, L/h, L/day, min, h, s; pipe as {bore, roughness}; every fitting and end with
a stated K (a fitting without one loses nothing here, so the cases state all that matter); water of 998 kg/m³ and
1.002e-3 Pa s. A tee's own K is 0.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import yaml
from slow_water import (
    DENSITY,
    Check,
    Crest,
    Device,
    End,
    G,
    Holes,
    Loss,
    Part,
    Pump,
    Run,
    Shutter,
    System,
    Vessel,
    Way,
    clock,
    float_switch,
    float_valve,
    timer,
)

_UNITS = {
    "m": 1.0,
    "mm": 1e-3,
    "cm": 1e-2,
    "m^2": 1.0,
    "L": 1e-3,
    "L/min": 1e-3 / 60,
    "L/h": 1e-3 / 3600,
    "L/day": 1e-3 / 86400,
    "s": 1.0,
    "min": 60.0,
    "h": 3600.0,
    "bar": 1e5 / (DENSITY * G),
}
_AXES = {"up": 2, "down": 2, "east": 0, "west": 0, "north": 1, "south": 1}
_SIGNS = {"up": 1, "down": -1, "east": 1, "west": -1, "north": 1, "south": -1}


def number(said: Any) -> float:
    """A number with its unit, in SI (pressures in metres of water).

    >>> round(number("20 L/min"), 7)
    0.0003333
    """
    if isinstance(said, int | float):
        return float(said)
    value, unit = re.fullmatch(r"(-?[\d.e-]+) ?(.*)", said).groups()  # type: ignore[union-attr]
    return float(value) * (_UNITS[unit] if unit else 1.0)


def _moment(said: Any) -> float:
    """A clock time as seconds of the day. YAML reads 06:00 bare as base 60, so it is quoted."""
    hours, minutes = str(said).split(":")
    return int(hours) * 3600 + int(minutes) * 60


@dataclass
class _Node:
    """A point of a line at which something else joins, or its end."""

    end: End
    z: float


class _Reader:
    def __init__(self, text: str, airy: Sequence[str], primed: Sequence[str], vented: Sequence[str]) -> None:
        self.file = yaml.load(text, Loader=yaml.BaseLoader)  # all words: "on" is no truth value
        self.airy, self.primed = airy, primed
        self.vessels: dict[str, Vessel] = {}
        self.draws: dict[str, float] = {}
        self.ways: list[Way] = []
        self.devices: list[Device] = []
        self.pumps: dict[str, Pump] = {}
        self.heights: dict[str, float] = {}
        self.tees: dict[str, float] = {}  # half of each tee's K
        self.vents: set[str] = set(vented)

    def read(self) -> System:
        for name, said in self.file.get("vessels", {}).items():
            area = said.get("area")
            table = [[number(x) for x in row] for row in area] if isinstance(area, list) else None
            base = number(said["base"])
            self.vessels[name] = Vessel(
                base,
                table or number(area if area is not None else 1.0),
                base + number(said["water"]),
                number(said["rim"]) if "rim" in said else float("inf"),
                held=area is None,
                draws=number(said.get("loses", 0.0)),
            )
        for name, said in self.file.get("pumps", {}).items():
            self.pumps[name] = Pump([(number(q), number(h)) for q, h in said["curve"]])
            self._turned([self.pumps[name]], said)
        pending = dict(self.file["lines"])
        while pending:
            ready = [n for n, line in pending.items() if self._start_known(line["from"]) or self._end_known(line["to"])]
            if not ready:
                raise ValueError(f"no height for {list(pending)}")
            for name in ready:
                self._line(name, pending.pop(name))
        self._branches()
        self._vent()
        places = {e.at for w in self.ways for e in (w.first, w.second) if e.kind == "place"}
        return System(self.vessels, self.ways, tuple(sorted(places)), self.draws, self.devices)

    def _start_known(self, said: Any) -> bool:
        if isinstance(said, str):
            return said in self.vessels or said in self.pumps or said in self.heights
        return (
            "supply" in said
            or "vessel" in said
            or said.get("tee") in self.heights
            or "pump" in said
            or "height" in said
        )

    def _end_known(self, said: Any) -> bool:
        return isinstance(said, Mapping) and "height" in said

    # -- ends

    def _first(
        self, name: str, said: Any, heading: Sequence[float], bore: float
    ) -> tuple[End, float, list[Part], dict]:
        if isinstance(said, str):
            said = {"vessel": said} if said in self.vessels else {"pump": said} if said in self.pumps else {"tee": said}
        if "pump" in said:
            pump = self.file["pumps"][said["pump"]]
            vessel = pump["in"]
            z = self.vessels[vessel].floor + number(pump.get("height", 0.0))
            return End("intake", vessel, z, bore, 0.0), z, [self.pumps[said["pump"]]], {}
        if "tee" in said:
            return End("place", said["tee"]), self.heights[said["tee"]], [], {}
        if "supply" in said or "draws" in said:
            place = f"{name}.from"
            self.draws[place] = -number(said["supply"]) if "supply" in said else number(said["draws"])
            return End("place", place), number(said["height"]), [], {}
        floor, k = self.vessels[said["vessel"]].floor, number(said.get("K", 0.5))
        if "siphon" in said:
            crest = floor + number(said["siphon"])
            more = {"crest": crest, "breaks": floor + number(said["breaks"]), "primed": name in self.primed}
            return End("siphon", said["vessel"], bore=bore, enters=k), crest, [], more
        if "standpipe" in said:
            z = floor + number(said["standpipe"])
            return End("standpipe", said["vessel"], z, bore, k, k), z, [], {}
        z = floor + number(said.get("overflow", said.get("height", 0.0)))
        kind = "floor" if abs(heading[2]) > 0.7 else "wall"
        return End(kind, said["vessel"], z, bore, k, k), z, [], {}

    def _last(self, name: str, said: Any, z: float, heading: Sequence[float], bore: float) -> End | None:
        if isinstance(said, str):
            if said in ("plug", "cap") or said.startswith("cap "):
                return None
            said = (
                {"vessel": said}
                if said in self.vessels
                else {"open air": True}
                if said == "open air"
                else {"tee": said}
            )
        if "cap" in said or "plug" in said:
            return None
        if "open air" in said:
            return End("air", "", z, bore, leaves=number(said.get("K", 1.0)))
        if "tee" in said:
            self.heights.setdefault(said["tee"], z)
            return End("place", said["tee"])
        if "draws" in said:
            self.draws[f"{name}.to"] = number(said["draws"])
            return End("place", f"{name}.to")
        k = number(said.get("K", 1.0))
        kind = "drowned" if abs(heading[2]) > 0.7 else "wall"
        return End(kind, said["vessel"], z, bore, k, k)

    # -- a line

    def _line(self, name: str, said: Mapping[str, Any]) -> None:
        to = said["to"]
        if isinstance(to, Mapping) and "float valve" in to:
            vessel = self.vessels[to["vessel"]]
            full = vessel.floor + number(to["float valve"])
            self.devices.append(float_valve(vessel, to["vessel"], full, number(said["from"]["supply"])))
            return
        pipe = said.get("pipe", {"bore": "50 mm"})
        bore, rough = number(pipe["bore"]), number(pipe.get("roughness", "0.0015 mm"))
        steps = [self._step(step) for step in said["route"]]
        runs = [d for kind, d, _ in steps if kind == "run"]
        if not self._start_known(said["from"]):
            end = said["to"]
            known = number(end["height"]) + (self.vessels[end["vessel"]].floor if "vessel" in end else 0.0)
            start_z = known - sum(d[2] for d in runs)
            self.heights[said["from"] if isinstance(said["from"], str) else said["from"]["tee"]] = start_z
        first_heading = _unit(runs[0]) if runs else (1.0, 0.0, 0.0)
        first, z, parts, more = self._first(name, said["from"], first_heading, bore)
        start: End = first
        piece, top = 1, max([z, *(_heights(z, runs))])

        def close(end: End) -> None:
            nonlocal start, parts, piece, more
            self.ways.append(Way(f"{name} {piece}", start, end, parts, **more))
            piece, start, parts, more = piece + 1, End(end.kind, end.at), [], {}

        for kind, d, details in steps:
            if kind == "run":
                length = sum(x * x for x in d) ** 0.5
                holes = number(details.get("holes", details.get("drippers", 0))) if details else 0
                if holes:
                    z = self._bar(name, d, details, int(holes), z, (bore, rough), start, parts, close)
                    start, parts = End("place", f"{name} hole {int(holes)}"), [Run(length / holes / 2, bore, rough)]
                    continue
                z += d[2]
                parts.append(Run(length, bore, rough))
                if name in self.airy and z == top and d[2] > 0:
                    parts.append(Crest(z))
            elif kind in ("tee", "wye"):
                tee = details["id"]
                self.heights.setdefault(tee, z)
                half = [Loss(number(details.get("K", 0.0)) / 2, bore)]
                self.tees[tee] = number(details.get("K", 0.0)) / 2
                parts += half
                close(End("place", tee))
                parts += half
            else:
                if "valve" in kind and ("runs" in details or "switch" in details or "opening" in details):
                    valve = Shutter(str(details.get("opening", "open")) not in ("shut", "0", "0 %", "False"))
                    parts.append(valve)
                    self._turned([valve], details)
                if kind in ("check valve", "foot valve"):
                    parts.append(Check())
                if "K" in details:
                    parts.append(Loss(number(details["K"]), bore))
        end = self._last(name, to, z, _unit(runs[-1]) if runs else (1.0, 0.0, 0.0), bore)
        if end is None:  # nothing passes
            self.ways.append(Way(f"{name} {piece}", start, End("air", "", z), [Shutter(open=False)], **more))
            return
        if (
            end.kind == "air"
            and start.kind == "place"
            and to == "open air"
            and len(steps) == 1
            and z > self.heights[start.at]
        ):
            self.vents.add(start.at)
        self.ways.append(Way(f"{name} {piece}", start, end, parts, **more))

    def _bar(self, name, d, details, holes, z, pipe, start, parts, close) -> float:
        """Holes along a run, each an inner place with a way out; the pieces before, between and half a gap behind them."""
        length = sum(x * x for x in d) ** 0.5
        gap = length / holes
        if "dripper" in details:
            hole = Holes(number(details["dripper"]), number(details.get("at", "1 bar")))
        else:
            diameter = number(details["hole"])
            hole = Holes(0.62 * 3.141592653589793 / 4 * diameter**2 * (2 * G) ** 0.5, 1.0)
        vessel = details.get("in")
        parts.append(Run(gap / 2, *pipe))
        for n in range(1, holes + 1):
            z += d[2] / holes / (2 if n == 1 else 1)
            place = f"{name} hole {n}"
            if n > 1:
                self.ways.append(
                    Way(f"{name} gap {n}", End("place", f"{name} hole {n - 1}"), End("place", place), [Run(gap, *pipe)])
                )
            else:
                close(End("place", place))
            out = End("drowned", vessel, z, 0.05, leaves=0.0) if vessel else End("air", "", z, 0.05, leaves=0.0)
            self.ways.append(Way(f"{name} jet {n}", End("place", place), out, [hole]))
        return z + d[2] / holes / 2

    def _step(self, step: Any) -> tuple[str, tuple[float, float, float], dict]:
        if isinstance(step, str):
            return step, (0, 0, 0), {}
        keys = set(step)
        if keys <= {*_AXES, "pipe"}:
            return "run", _displacement(step), {}
        ((kind, details),) = step.items()
        if kind in ("drip line", "spray bar", "hose"):
            return "run", _displacement(details), dict(details)
        if not isinstance(details, Mapping):
            first = {"tee": "id", "wye": "id", "cap": "id", "ball valve": "opening", "gate valve": "opening"}
            details = {first.get(kind, "K"): details}
        return kind, (0, 0, 0), dict(details)

    # -- what turns, what takes air

    def _turned(self, things: list, said: Mapping[str, Any]) -> None:
        runs, switch = said.get("runs"), said.get("switch")
        if isinstance(runs, Mapping) and "on" in runs:
            self.devices.append(timer(things, number(runs["on"]), number(runs["off"])))
        elif runs:
            windows = runs if isinstance(runs, list) else [runs]
            self.devices.append(clock(things, [(_moment(w["from"]), _moment(w["to"])) for w in windows]))
        if switch:
            floor = self.vessels[switch["vessel"]].floor
            above = "on above" in switch
            low = floor + number(switch["off below" if above else "on below"])
            high = floor + number(switch["on above" if above else "off above"])
            self.devices.append(float_switch(things, switch["vessel"], low, high, on_above=above))

    def _branches(self) -> None:
        """Half of a tee's K in the leg of each line that begins or ends at it, on that leg's own speed."""
        for name, said in self.file["lines"].items():
            ways = [way for way in self.ways if way.name.rpartition(" ")[0] == name]
            bore = number(said["pipe"]["bore"]) if ways else 0.0
            if ways and ways[0].first.at in self.tees:
                ways[0].parts = [Loss(self.tees[ways[0].first.at], bore), *ways[0].parts]
            if ways and ways[-1].second.at in self.tees:
                ways[-1].parts = [*ways[-1].parts, Loss(self.tees[ways[-1].second.at], bore)]

    def _vent(self) -> None:
        """At a tee from which a pipe stands up open, every other leg takes air at the tee's height."""
        for way in self.ways:
            if (
                way.second.kind == "air"
                and way.first.at in self.vents
                and way.second.height > self.heights[way.first.at]
            ):
                continue
            parts = list(way.parts)
            if way.first.kind == "place" and way.first.at in self.vents:
                parts.insert(0, Crest(self.heights[way.first.at]))
            if way.second.kind == "place" and way.second.at in self.vents:
                parts.append(Crest(self.heights[way.second.at]))
            way.parts = parts


def _displacement(said: Mapping[str, Any]) -> tuple[float, float, float]:
    d = [0.0, 0.0, 0.0]
    for word, axis in _AXES.items():
        if word in said:
            d[axis] += _SIGNS[word] * number(said[word])
    return d[0], d[1], d[2]


def _unit(d: Sequence[float]) -> tuple[float, float, float]:
    size = sum(x * x for x in d) ** 0.5 or 1.0
    return d[0] / size, d[1] / size, d[2] / size


def _heights(z: float, runs: Sequence[Sequence[float]]) -> list[float]:
    out = []
    for d in runs:
        z += d[2]
        out.append(z)
    return out


def slow_system(
    text: str, *, airy: Sequence[str] = (), primed: Sequence[str] = (), vented: Sequence[str] = ()
) -> System:
    """The slow model of a layout.

    Parameters:
        text: the layout, in the part of the language told above.
        airy: lines whose highest point takes air though nothing there is open.
        vented: tees that air gets to, other than by a pipe that stands up open.
        primed: lines from a siphon that runs full to begin with.
    """
    return _Reader(text, airy, primed, vented).read()


def by_end(system: System, flows: Mapping[str, float]) -> dict[str, float]:
    """Flows by "line.from" and "line.to", signed along the line, of the first and the last piece of each line; holes aside."""
    out: dict[str, float] = {}
    for way in system.ways:
        line, _, piece = way.name.rpartition(" ")
        if line.endswith((" hole", " gap", " jet")):
            continue
        if piece == "1":
            out[f"{line}.from"] = flows[way.name]
        out[f"{line}.to"] = flows[way.name]
    return out
