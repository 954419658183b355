"""Layouts built by hand for tests: a line from headings and lengths, without the language or its reader."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from plumbline.hydraulics.flows import Flows, StretchFlow
from plumbline.layout.model import (
    Access,
    End,
    Layout,
    Leg,
    Line,
    Mark,
    Part,
    Pipe,
    Pump,
    Rod,
    Stretch,
    Tee,
    Units,
    Vector,
    Vessel,
    Water,
)
from plumbline.layout.vectors import angle_between, negative

MARK = Mark(1, 1)
PIPE = Pipe("26", 0.026, 1.5e-6)
HEADINGS: dict[str, Vector] = {
    "up": (0, 0, 1),
    "down": (0, 0, -1),
    "north": (0, 1, 0),
    "south": (0, -1, 0),
    "east": (1, 0, 0),
    "west": (-1, 0, 0),
}
LIMITS = {
    "dead leg": 6.0,
    "dead leg flow": 0.01,
    "self-cleansing speed": 0.3,
    "self-cleansing shear": 0.32,
    "scour speed": 0.7,
    "scour shear": 0.867,
    "water age": 7200.0,
    "flush gain": 0.1,
    "settling speed": 0.017,
    "level drop": 0.05,
    "arm reach": 0.6,
    "hand room": 0.4572,
    "sharp bend": math.radians(45),
    "turning between accesses": math.radians(135),
    "low point depth": 0.01,
    "hump height": 0.01,
    "clear speed for air": 1.0,
    "escape speed for air": 0.3,
    "tank current": 0.15,
    "swimming": 1.0,
}


def rod(
    length: float = 4.0, bend: float = 22.5, turns: float = 45.0, bores: tuple[float, float] = (0.02, 0.055)
) -> Rod:
    """A rod with its angles in degrees."""
    return Rod("brush", length, math.radians(bend), math.radians(turns), *bores)


def heading(word: str | Sequence[float]) -> Vector:
    """A unit vector from "east", "east north" or three numbers."""
    if isinstance(word, str):
        word = [sum(HEADINGS[w][n] for w in word.split()) for n in range(3)]
    size = math.hypot(*word)
    return (word[0] / size, word[1] / size, word[2] / size)


def walk(name: str, start: str, route: Sequence[Any], end: str, *, at: Vector = (0, 0, 0), pipe: Pipe = PIPE) -> Line:
    """Walk a line. A run is ("east", 1.2) or ("east", 1.2, pipe), a fitting a word or (word, {field: value});
    an end is "vessel tank", "tee t1", "cap c2", "plug", "open air", "pump lift"."""
    steps = [step if isinstance(step, tuple) else (step, {}) for step in route]
    runs = [heading(step[0]) if isinstance(step[1], (int, float)) else None for step in steps]
    place, along, size, parts = tuple(map(float, at)), 0.0, pipe, []
    for n, step in enumerate(steps):
        before = next((h for h in reversed(runs[:n]) if h), None)
        after = next((h for h in runs[n:] if h), None) or before
        before = before or after
        if runs[n]:
            h, length = runs[n], float(step[1])
            size = step[2] if len(step) > 2 else pipe
            far = tuple(p + length * x for p, x in zip(place, h, strict=True))
            parts.append(Part("run", n + 1, place, far, h, h, 0.0, length, along, size, size, MARK))
            place, along = far, along + length
        else:
            details = dict(step[1])
            if "faces" in details:
                details["faces"] = heading(details["faces"])
            turn = angle_between(before, after)
            parts.append(
                Part(step[0], n + 1, place, place, before, after, turn, 0.0, along, size, size, MARK, **details)
            )
    return Line(
        name,
        _end(start, at, negative(parts[0].heading_in)),
        tuple(parts),
        _end(end, place, parts[-1].heading_out),
        along,
        MARK,
    )


def _end(said: str, place: Vector, out: Vector) -> End:
    kind = "open air" if said == "open air" else said.split(maxsplit=1)[0]
    return End(kind, tuple(map(float, place)), out, MARK, said.removeprefix(kind).strip() or None)  # type: ignore[arg-type]


def layout(*lines: Line, rods: Sequence[Rod] = (), limits: Mapping[str, float] | None = None, **more: Any) -> Layout:
    """Put lines together: tees from the steps' ids, accesses at caps and unions, stretches in between.

    `vessel_access` names line ends ("riser.to") where a hand reaches a vessel's port.
    """
    by_name = {line.name: line for line in lines}
    tees = {part.id: _tee(part, line, lines) for line in lines for part in line.parts if part.kind in ("tee", "wye")}
    reachable = more.pop("vessel_access", ())
    accesses = [access for line in lines for access in _accesses(line, reachable)]
    named = {access.id for access in accesses}
    stretches = [s for line in lines for s in _stretches(line, named | set(tees))]
    ends = [end for line in lines for end in (line.start, line.end)]
    vessels = {end.name: Vessel(end.name, 0.0, 0.5, MARK) for end in ends if end.kind == "vessel"}
    pumps = {end.name: Pump(end.name, ((0, 3), (1e-3, 0)), MARK, vessel="tank") for end in ends if end.kind == "pump"}
    if pumps:
        vessels.setdefault("tank", Vessel("tank", 0.0, 0.5, MARK))
    suction = {end.name for line in lines for end in [line.end] if end.kind == "pump"}
    pumps = {name: replace(pump, vessel=None) if name in suction else pump for name, pump in pumps.items()}
    return Layout(
        name="test",
        path="test.yaml",
        text="",
        water=Water(998.0, 1e-3),
        vessels=vessels,
        pumps=pumps,
        lines=by_name,
        tees=tees,
        accesses=tuple(accesses),
        stretches=tuple(stretches),
        rods=tuple(rods),
        limits={**LIMITS, **(limits or {})},
        units=Units(),
        **more,
    )


def _tee(part: Part, host: Line, lines: Sequence[Line]) -> Tee:
    legs = [
        Leg(host.name, "before", negative(part.heading_in), part.pipe),
        Leg(host.name, "after", part.heading_out, part.pipe),
    ]
    for line in lines:
        if line.start.kind == "tee" and line.start.name == part.id:
            legs.append(Leg(line.name, "from", negative(line.start.heading), line.parts[0].pipe))
        if line.end.kind == "tee" and line.end.name == part.id:
            legs.append(Leg(line.name, "to", negative(line.end.heading), line.parts[-1].pipe))
    assert len(legs) == 3, (part.id, legs)
    pairs = [(0, 1, 2), (0, 2, 1), (1, 2, 0)]
    a, b, c = max(pairs, key=lambda p: angle_between(legs[p[0]].heading, legs[p[1]].heading))
    if angle_between(legs[b].heading, legs[c].heading) > angle_between(legs[a].heading, legs[c].heading):
        a, b = b, a
    angle = angle_between(legs[b].heading, legs[c].heading)
    kind: Any = part.kind
    return Tee(part.id or "", kind, host.name, part.step, part.start, (legs[a], legs[b], legs[c]), angle, MARK)


def _accesses(line: Line, reachable: Sequence[str]) -> list[Access]:
    out = []
    for end, step, at, side in (
        (line.start, 0, 0.0, "from"),
        (line.end, len(line.parts) + 1, line.length, "to"),
    ):
        key = f"{line.name}.{side}"
        bore = line.parts[0 if step == 0 else -1].pipe.bore
        if end.kind == "cap":
            out.append(Access(end.name or key, "cap", line.name, step, at, end.place, end.heading, bore))
        elif end.kind == "open air" or key in reachable:
            kind: Any = "vessel" if end.kind == "vessel" else "open end"
            out.append(Access(key, kind, line.name, step, at, end.place, end.heading, bore))
    for part in line.parts:
        if part.kind in ("cap", "union"):
            kind = part.kind
            name = part.id or f"{line.name}:{part.step}"
            out.append(Access(name, kind, line.name, part.step, part.at, part.start, part.faces, part.pipe.bore))
    return sorted(out, key=lambda access: access.step)


def _stretches(line: Line, points: set[str]) -> list[Stretch]:
    def point(end: End, side: str) -> str:
        if end.kind == "pump":
            return f"{end.name}.{'out' if side == 'from' else 'in'}"
        return str(end.name) if end.kind in ("tee", "cap") else f"{line.name}.{side}"

    cuts = [
        (n + 1, part.at, part.id or f"{line.name}:{part.step}")
        for n, part in enumerate(line.parts)
        if part.kind in ("tee", "wye", "cap", "union") and 0.0 < part.at < line.length
    ]
    cuts = [(0, 0.0, point(line.start, "from")), *cuts, (len(line.parts), line.length, point(line.end, "to"))]
    return [
        Stretch(
            f"{line.name} {n + 1}",
            line.name,
            a[2],
            b[2],
            a[1],
            b[1],
            line.parts[a[0] : b[0]],
            line.parts[a[0]].pipe.bore,
        )
        for n, (a, b) in enumerate(pairwise(cuts))
    ]


def flows(layout: Layout, speeds: Mapping[str, float] | float = 0.5, **more: Any) -> Flows:
    """Flows from speeds [m/s] by stretch id or line name; 0.5 m/s where none is given."""
    out = {}
    for stretch in layout.stretches:
        given = speeds if isinstance(speeds, float) else speeds.get(stretch.id, speeds.get(stretch.line, 0.5))
        flow = given * math.pi / 4 * stretch.bore**2
        out[stretch.id] = StretchFlow(
            flow, abs(given), 1.0, 1.0, 0.0, flow, gravity=stretch.id in more.get("gravity", ())
        )
    held, cut_off = frozenset(more.get("held", ())), frozenset(more.get("cut_off", ()))
    return Flows(out, {}, {}, {}, (), held, cut_off, 0.0, 0.0, 0)
