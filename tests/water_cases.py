"""Small systems of water, air and time with their answers, found apart from the program: by hand, by a closed form, or by
the slow model (`slow_water`, to which `test_slow_water` holds every number here that it can say).

Flows are in L/min, signed along the line, by its end; levels in m above the site's datum, where they stay in steady running.
Every pipe, K and curve is stated, so that no table comes between two answers. Tees are lossless.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

__all__ = ["CASES", "PAIRS", "Case", "Pair"]


@dataclass(frozen=True)
class Case:
    """A layout and what is so in it.

    name, why: what it is, and where the numbers come from.
    text: the layout.
    flows, levels: the right ones; `within` (a share) and `level_within` (m) is what they are known to, by what the laws of
        mouths differ from book to book where that matters, else 1 % and 3 mm.
    absent: kinds of finding that would be wrong. said: kinds of which at least one must be said.
    verdicts: those that are right. at_least: flows that a vessel's ways out could carry, a lower bound.
    both: an end, and the two flows that its vessel's range must hold, since it is in doubt whether a pipe takes air.
    airy: lines whose highest place takes air in the answer given. vented: tees that air gets to by a dry branch. slow: whether the slow model speaks to it.
    """

    name: str
    why: str
    text: str
    flows: dict[str, float] = field(default_factory=dict)
    levels: dict[str, float] = field(default_factory=dict)
    within: float = 0.01
    level_within: float = 0.003
    absent: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    verdicts: tuple[str, ...] = ("ok", "attention", "fail")
    at_least: dict[str, float] = field(default_factory=dict)
    both: tuple[str, float, float] | None = None
    airy: tuple[str, ...] = ()
    vented: tuple[str, ...] = ()
    slow: bool = True


@dataclass(frozen=True)
class Pair:
    """Two layouts that must have the same flows at the ends named alike, the same levels, and the same findings but for
    places, `ends` naming the second's end and sign where it differs; and the same score, but where they are not of the same
    pipe. `within` (a share) is more than rounding where two laws meet."""

    name: str
    why: str
    first: str
    second: str
    ends: dict[str, tuple[str, int]]
    within: float = 1e-6
    same_score: bool = True


def _text(body: str) -> str:
    """A layout's text; P26 stands for a smooth pipe of 26 mm bore, PUMP for a straight curve from 3 m to 60 L/min."""
    body = re.sub(r"\bP(\d+)\b", r"{bore: \1 mm, roughness: 0.0015 mm}", body)
    return "water: {density: 998 kg/m^3, viscosity: 1.002e-3 Pa s}\n" + body.lstrip("\n")


_TROUGHS = """
vessels:
  one: {holds: plants, base: 0 m, rim: 0.5 m, water: ONE m, area: 0.5 m^2}
  two: {holds: plants, base: 0 m, rim: 0.5 m, water: TWO m, area: 0.5 m^2}
  three: {holds: plants, base: 0 m, rim: 0.5 m, water: THREE m, area: 0.5 m^2}
lines:
  feed: {pipe: P30, from: {draws: -12 L/min, height: 0.6 m}, route: [{east: 0.5 m}], to: one}
  first: {pipe: P43, from: {vessel: one, height: 0.1 m, K: 1}, route: [{east: 0.3 m}], to: {vessel: two, K: 1}}
  second: {pipe: P43, from: {vessel: two, height: 0.1 m, K: 1}, route: [{east: 0.3 m}], to: {vessel: three, K: 1}}
  out: {pipe: P43, from: {vessel: three, standpipe: 0.3 m, K: 0.5}, route: [{down: 0.6 m}], to: open air}
"""
_TROUGHS_WHY = (
    "12 L/min pass every join; the crest's head is (7500 · 0.2/43)^(2/3) = 10.7 mm (BS EN 12056-3), and each join loses "
    "(2 + f L/D) V²/2g = 2.2 mm, however the levels were taped."
)


def _troughs(one: str, two: str, three: str) -> str:
    return _text(_TROUGHS.replace("ONE", one).replace("TWO", two).replace("THREE", three))


_TROUGH_FLOWS = {"first.to": 12.0, "second.to": 12.0, "out.to": 12.0}
_TROUGH_LEVELS = {"one": 0.3150, "two": 0.3129, "three": 0.3107}

_BED_AND_TWO_TANKS = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 0.8 m, water: 0.50 m, area: 0.6 m^2}
  fish: {holds: fish, base: 0 m, rim: 0.8 m, water: 0.55 m, area: 1.2 m^2}
  bed: {holds: plants, base: 1.0 m, rim: 0.3 m, water: 0.20 m, area: 1 m^2, wants: 10 L/min}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 2.0 m], [40 L/min, 0 m]]}
lines:
  riser: {pipe: P26, from: lift, route: [{up: 1.25 m, east: 0.5 m}], to: bed}
  drain: {pipe: P43, from: {vessel: bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.4 m}], to: fish}
  join: {pipe: P57, from: {vessel: fish, height: 0.15 m, K: 1}, route: [{west: 0.5 m}], to: {vessel: sump, K: 1}}
"""

_STANDPIPES = """
vessels:
  bed: {holds: plants, base: 1.0 m, rim: 0.4 m, water: 0.20 m, area: 1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -20 L/min, height: 1.5 m}, route: [{east: 0.5 m}], to: bed}
  left: {pipe: P43, from: {vessel: bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.7 m}], to: open air}
  right: {pipe: P43, from: {vessel: bed, standpipe: HIGH m, K: 0.5}, route: [{down: 0.7 m}], to: open air}
"""

_TWO_BEDS_OFF_A_HEADER = """
vessels:
  header: {holds: header, base: 1.5 m, rim: 0.8 m, water: 0.40 m, area: 0.5 m^2}
  left bed: {holds: plants, base: 0.5 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}
  right bed: {holds: plants, base: 0.5 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -20 L/min, height: 2.5 m}, route: [{east: 0.5 m}], to: header}
  left: {pipe: P16, from: {vessel: header, height: 0.1 m, K: 0.5}, route: [{east: 2 m, down: 0.7 m}], to: left bed}
  right: {pipe: P16, from: {vessel: header, height: 0.1 m, K: 0.5}, route: [{west: 2 m, down: 0.7 m}], to: right bed}
  left drain: {pipe: P43, from: {vessel: left bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.6 m}], to: open air}
  right drain: {pipe: P43, from: {vessel: right bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.6 m}], to: open air}
"""

_HIGH_AND_LOW = """
vessels:
  header: {holds: header, base: 1.0 m, rim: 1.0 m, water: 0.60 m, area: 0.5 m^2}
lines:
  feed: {pipe: P30, from: {draws: -40 L/min, height: 2.5 m}, route: [{east: 0.5 m}], to: header}
  low: {pipe: P21, from: {vessel: header, height: 0.1 m, K: 0.5}, route: [{east: 3 m, down: 0.1 m}], to: open air}
  high: {pipe: P16, from: {vessel: header, height: 0.4 m, K: 0.5}, route: [{west: 1 m, down: 0.1 m}], to: open air}
"""

_RISER = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 1.0 m, water: 0.5 m}
  bed: {holds: plants, base: 0.6 m, rim: 0.4 m, water: 0.2 m, wants: WANTS L/min}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 2.0 m], [40 L/min, 0 m]]}
lines:
  riser: {pipe: BORE, from: lift, route: [{up: 2.1 m}, MIDDLE, {down: 1.25 m}], to: bed}
"""
_VENT = "  vent: {pipe: P26, from: top, route: [{up: 0.4 m}], to: open air}\n"


def _riser(bore: str, wants: str, middle: str, more: str = "") -> str:
    return _text(_RISER.replace("BORE", bore).replace("WANTS", wants).replace("MIDDLE", middle) + more)


_RING = """
lines:
  main:
    pipe: P26
    from: {draws: -90 L/min, height: 1 m}
    route: [{east: 1 m}, tee: {id: near, K: 0}, {east: 2 m}, tee: {id: far, K: 0}, {east: 0.5 m}, elbow: {K: 0.9},
      {north: 1 m}, elbow: {K: 0.9}, {west: 2.5 m}, elbow: {K: 0.9}, {south: 1 m}]
    to: near
  out: {pipe: P26, from: far, route: [{south: 1 m}], to: {open air: yes, K: 1}}
"""
_RING_BACK = """
lines:
  main:
    pipe: P26
    from: near
    route: [{north: 1 m}, elbow: {K: 0.9}, {east: 2.5 m}, elbow: {K: 0.9}, {south: 1 m}, elbow: {K: 0.9},
      {west: 0.5 m}, tee: {id: far, K: 0}, {west: 2 m}, tee: {id: near, K: 0}, {west: 1 m}]
    to: {draws: -90 L/min, height: 1 m}
  out: {pipe: P26, from: far, route: [{south: 1 m}], to: {open air: yes, K: 1}}
"""

_DRIP_BOTH = """
vessels:
  towers: {holds: plants, base: 0 m, rim: 0.3 m, water: 0.05 m}
lines:
  feed: {pipe: P20, from: {draws: -8 L/min, height: 2 m}, route: [{east: 1 m}, tee: {id: split, K: 0}, {east: 1 m},
      elbow: {K: 0.9}, {north: 2 m}], to: far}
  drip: {pipe: P16, from: split, route: [{north: 2 m}, elbow: {K: 0.9},
      {drip line: {east: 1 m, drippers: 4, dripper: 60 L/h, at: 1 bar, in: towers}}, tee: {id: far, K: 0}, {east: 0.2 m}],
      to: plug}
"""
_DRIP_SHUT = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 1 m, water: 0.6 m}
  towers: {holds: plants, base: 0.5 m, rim: 0.3 m, water: 0.05 m}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 8 m], [20 L/min, 0 m]]}
lines:
  drip: {pipe: P16, from: lift, route: [{up: 1.9 m}, elbow: {K: 0.9},
      {drip line: {east: 2 m, drippers: 6, dripper: 60 L/h, at: 1 bar, in: towers}}, {east: 0.1 m}END
"""

_SHARED = """
vessels:
  upper: {holds: plants, base: 1.0 m, rim: 0.4 m, water: 0.2 m, area: 1 m^2}
  lower: {holds: plants, base: 0.7 m, rim: 0.4 m, water: 0.2 m, area: 1 m^2}
lines:
  upper feed: {pipe: P30, from: {draws: -UPPER L/min, height: 2 m}, route: [{east: 0.5 m}], to: upper}
  lower feed: {pipe: P30, from: {draws: -LOWER L/min, height: 2 m}, route: [{east: 0.5 m}], to: lower}
  upper drain:
    pipe: P26
    from: {vessel: upper, standpipe: 0.2 m, K: 0.5}
    route: [{down: 0.6 m}, tee: {id: meet, K: 0}, FALL]
    to: {open air: yes, K: 1}
  lower drain: {pipe: P26, from: {vessel: lower, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.2 m}, bend: {angle: 79 deg, K: 0.9},
      {west: 0.5 m, down: 0.1 m}], to: meet}
"""


def _shared(upper: str, lower: str, fall: str) -> str:
    return _text(_SHARED.replace("UPPER", upper).replace("LOWER", lower).replace("FALL", fall))


_VENTED_BY_A_BED = """
vessels:
  tank: {holds: fish, base: 0.5 m, rim: 1.0 m, water: 0.5 m, area: 1 m^2}
  bed: {holds: plants, base: 0.5 m, rim: 0.4 m, water: FILLED m, area: 1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -20 L/min, height: 1.7 m}, route: [{east: 0.5 m}], to: tank}
  drain:
    pipe: P26
    from: {vessel: tank, height: 0.1 m, K: 0.5}
    route: [{east: 4 m}, tee: {id: meet, K: 0}, {east: 0.1 m}, elbow: {K: 0.9}, {down: 2 m}]
    to: {open air: yes, K: 1}
  branch: {pipe: P26, from: {vessel: bed, standpipe: 0.3 m, K: 0.5}, route: [{down: 0.2 m}], to: meet}
"""

_OUTSIDE_STANDPIPE = """
vessels:
  tank: {holds: fish, base: 0.5 m, rim: 1.0 m, water: 0.80 m, area: 1.5 m^2}
  sump: {holds: sump, base: -0.5 m, rim: 0.8 m, water: 0.4 m}
lines:
  feed: {pipe: P30, from: {draws: -30 L/min, height: 1.7 m}, route: [{east: 0.5 m}], to: tank}
  drain:
    pipe: P26
    from: {vessel: tank, height: 0.1 m, K: 0.5}
    route: [{east: 0.1 m}, elbow: {K: 0.9}, {up: 0.7 m}, TOP, {east: 0.2 m}, elbow: {K: 0.9}, {down: 1.0 m}]
    to: {vessel: sump, K: 1}
"""

_JOINED_HEADERS = """
vessels:
  high: {holds: header, base: 0 m, rim: 1.5 m, water: 0.9 m, area: 1.0 m^2}
  low: {holds: header, base: 0 m, rim: 1.5 m, water: 0.5 m, area: 3.0 m^2}
lines:
  join: {pipe: P43, from: {vessel: FROM, height: 0.1 m, K: 1}, route: [{WAY: 0.5 m}CHECK], to: {vessel: TO, K: 1}}
"""


def _joined(start: str, end: str, way: str, check: str = "") -> str:
    return _text(_JOINED_HEADERS.replace("FROM", start).replace("TO", end).replace("WAY", way).replace("CHECK", check))


_SUMP_TOO_SMALL = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 0.6 m, water: 0.42 m, area: 0.49 m^2}
  left bed: {holds: plants, base: 0.8 m, rim: 0.3 m, water: 0.001 m, area: 1 m^2}
  right bed: {holds: plants, base: 0.8 m, rim: 0.3 m, water: 0.001 m, area: 1 m^2}
pumps:
  lift: {in: sump, height: 0.10 m, curve: [[0 L/min, 2.0 m], [40 L/min, 0 m]]}
lines:
  riser: {pipe: P26, from: lift, route: [{up: 1.1 m}, tee: {id: split, K: 0}, {west: 1 m}], to: left bed}
  second: {pipe: P26, from: split, route: [{east: 1 m}], to: right bed}
  left drain: {pipe: P43, from: {vessel: left bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.5 m}], to: sump}
  right drain: {pipe: P43, from: {vessel: right bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.5 m}], to: sump}
"""

_TOPPED_UP = """
vessels:
  tank: {holds: fish, base: 0 m, rim: 0.8 m, water: 0.5 m, area: 0.8 m^2}
  bed: {holds: plants, base: 1.0 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}
pumps:
  lift: {in: tank, height: 0.05 m, curve: [[0 L/min, 2.0 m], [40 L/min, 0 m]]}
lines:
  riser: {pipe: P26, from: lift, route: [{up: 1.25 m, east: 0.5 m}], to: bed}
  drain: {pipe: P43, from: {vessel: bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.5 m}], to: tank}
  top-up: {pipe: P20, from: {draws: -29 L/min, height: 1 m}, route: [{east: 0.5 m}], to: tank}
OVERFLOW"""
_TOPPED_UP_OVERFLOW = (
    "  overflow: {pipe: P57, from: {vessel: tank, overflow: 0.65 m, K: 0.5}, route: [{east: 0.3 m}], to: open air}\n"
)

_DRINKING_ROW = """
vessels:
  one: {holds: plants, base: 0 m, rim: 0.4 m, water: 0.2 m, area: 0.5 m^2}
  two: {holds: plants, base: 0 m, rim: 0.4 m, water: 0.2 m, area: 0.5 m^2}
  three: {holds: plants, base: 0 m, rim: 0.4 m, water: 0.2 m, area: 0.5 m^2}
lines:
  feed: {pipe: P20, from: {draws: -6 L/min, height: 0.6 m}, route: [{east: 0.5 m}], to: one}
  first: {pipe: P43, from: {vessel: one, height: 0.05 m, K: 1}, route: [{east: 0.3 m}], to: {vessel: two, K: 1}}
  second: {pipe: P43, from: {vessel: two, height: 0.05 m, K: 1}, route: [{east: 0.3 m}], to: {vessel: three, K: 1}}
  drink one: {pipe: P13, from: {vessel: one, height: 0.02 m, K: 0.5}, route: [{north: 0.1 m}], to: {draws: 2 L/min}}
  drink two: {pipe: P13, from: {vessel: two, height: 0.02 m, K: 0.5}, route: [{north: 0.1 m}], to: {draws: 2 L/min}}
  drink three: {pipe: P13, from: {vessel: three, height: 0.02 m, K: 0.5}, route: [{north: 0.1 m}], to: {draws: 2 L/min}}
"""

_SIDE_PORT = """
vessels:
  tank: {holds: fish, base: 1.0 m, rim: 1.2 m, water: 1.0 m, area: 1.1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -30 L/min, height: 2.5 m}, route: [{east: 0.5 m}], to: tank}
  side: {pipe: P26, from: {vessel: tank, height: 0.2 m, K: 0.5}, route: [{east: 2 m}], to: {open air: yes, K: 1}}
"""

_COMPANY = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 0.8 m, water: 0.5 m, area: 0.8 m^2}
  header: {holds: header, base: 1.2 m, rim: 0.6 m, water: 0.4 m, area: 0.3 m^2}
  left bed: {holds: plants, base: 0.9 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}
  right bed: {holds: plants, base: 0.9 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 3.0 m], [60 L/min, 0 m]]}
lines:
  riser: {pipe: P26, from: lift, route: [{up: 1.7 m, east: 0.5 m}], to: header}
  spill: {pipe: P43, from: {vessel: header, standpipe: 0.45 m, K: 0.5}, route: [{down: 1.1 m}], to: sump}
  left: {pipe: P16, from: {vessel: header, height: 0.1 m, K: 0.5}, route: [{west: 2 m, down: 0.15 m}], to: left bed}
  right: {pipe: P13, from: {vessel: header, height: 0.1 m, K: 0.5}, route: [{east: 2 m, down: 0.15 m}], to: right bed}
  left drain: {pipe: P43, from: {vessel: left bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.8 m}], to: sump}
  right drain: {pipe: P43, from: {vessel: right bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.8 m}], to: sump}
  spare: {pipe: P43, from: {vessel: right bed, standpipe: 0.25 m, K: 0.5}, route: [{down: 0.8 m}], to: sump}
"""

_RING_OF_TROUGHS = """
vessels:
  one: {holds: plants, base: 0 m, rim: 0.5 m, water: 0.35 m, area: 0.5 m^2}
  two: {holds: plants, base: 0 m, rim: 0.5 m, water: 0.30 m, area: 0.5 m^2}
  three: {holds: plants, base: 0 m, rim: 0.5 m, water: 0.25 m, area: 0.8 m^2}
pumps:
  lift: {in: three, height: 0.05 m, curve: [[0 L/min, 1.0 m], [60 L/min, 0 m]]}
lines:
  riser: {pipe: P26, from: lift, route: [{up: 0.5 m, west: 1 m}], to: one}
  first: {pipe: P43, from: {vessel: one, height: 0.1 m, K: 1}, route: [{east: 0.3 m}], to: {vessel: two, K: 1}}
  second: {pipe: P43, from: {vessel: two, height: 0.1 m, K: 1}, route: [{east: 0.3 m}], to: {vessel: three, K: 1}}
  short cut: {pipe: P26, from: {vessel: one, height: 0.1 m, K: 1}, route: [{east: 3 m}], to: {vessel: three, K: 1}}
"""

_TOO_SMALL_A_DRAIN = """
vessels:
  bed: {holds: plants, base: 1 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -60 L/min, height: 1.6 m}, route: [{east: 0.5 m}], to: bed}
  drain: {pipe: P26, from: {vessel: bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.5 m}], to: open air}
SPARE"""

_CONE = """
vessels:
  tank: {holds: fish, base: 0 m, rim: 0.6 m, water: 0.4 m, area: 1.0 m^2}
  cone: {holds: solids filter, base: 0 m, rim: 0.6 m, water: 0.1 m, area: [[0 m, 0 m^2], [0.5 m, 1.0 m^2]]}
lines:
  join: {pipe: P43, from: {vessel: tank, height: 0.05 m, K: 1}, route: [{east: 0.5 m}], to: {vessel: cone, K: 1}}
"""

_HELD_TWO = """
vessels:
  high: {holds: header, base: 2 m, rim: 1 m, water: 0.5 m}
  low: {holds: sump, base: 0 m, rim: 1 m, water: 0.5 m}
lines:
  pipe: LINE
  MORE
"""


def _held(line: str, more: str = "") -> str:
    return _text(_HELD_TWO.replace("LINE", line).replace("MORE", more))


_HOLE_AND_STANDPIPES = """
vessels:
  bed: {holds: plants, base: 1.0 m, rim: 0.4 m, water: 0.20 m, area: 1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -25 L/min, height: 1.5 m}, route: [{east: 0.5 m}], to: bed}
  hole: {pipe: P10, from: {vessel: bed, height: 0.02 m, K: 0.5}, route: [{east: 0.6 m}], to: {open air: yes, K: 1}}
  left: {pipe: P43, from: {vessel: bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.7 m}], to: open air}
  right: {pipe: P34, from: {vessel: bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.7 m}], to: open air}
"""

_JOINED_BEDS_TWO_CRESTS = """
vessels:
  left bed: {holds: plants, base: 0.8 m, rim: 0.4 m, water: 0.2 m, area: 1 m^2}
  right bed: {holds: plants, base: 0.8 m, rim: 0.4 m, water: 0.2 m, area: 1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -30 L/min, height: 1.5 m}, route: [{east: 0.5 m}], to: left bed}
  join: {pipe: P34, from: {vessel: left bed, height: 0.05 m, K: 1}, route: [{east: 1 m}], to: {vessel: right bed, K: 1}}
  left: {pipe: P43, from: {vessel: left bed, standpipe: LEFT m, K: 0.5}, route: [{down: 0.5 m}], to: open air}
  right: {pipe: P43, from: {vessel: right bed, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.5 m}], to: open air}
"""

_CHAIN = """
vessels:
  fish: {holds: fish, base: 0.4 m, rim: 0.9 m, water: 0.75 m, area: 1.5 m^2}
  filter: {holds: solids filter, base: 0.2 m, rim: 0.9 m, water: 0.7 m, area: 0.3 m^2}
  sump: {holds: sump, base: -0.5 m, rim: 0.8 m, water: 0.45 m, area: 0.8 m^2}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 3.0 m], [60 L/min, 0 m]]}
lines:
  riser: {pipe: P26, from: lift, route: [{up: 1.85 m}, elbow: {K: 0.9}, {west: 1 m}], to: {vessel: fish, K: 1}}
  to filter: {pipe: P57, from: {vessel: fish, standpipe: 0.75 m, K: 0.5}, route: [{down: 0.5 m}, elbow: {K: 0.9}, {east: 1 m}], to: {vessel: filter, K: 1}}
  to sump: {pipe: P57, from: {vessel: filter, standpipe: 0.7 m, K: 0.5}, route: [{down: 1.0 m}], to: {vessel: sump, K: 1}}
  safety: {pipe: P57, from: {vessel: fish, standpipe: 0.82 m, K: 0.5}, route: [{down: 1.2 m}], to: {vessel: sump, K: 1}}
"""

_THREE_BEDS_ONE_COLLECTOR = """
vessels:
  one: {holds: plants, base: 1.0 m, rim: 0.4 m, water: 0.2 m, area: 1 m^2}
  two: {holds: plants, base: 1.0 m, rim: 0.4 m, water: 0.2 m, area: 1 m^2}
  three: {holds: plants, base: 1.0 m, rim: 0.4 m, water: 0.05 m, area: 1 m^2}
lines:
  feed one: {pipe: P30, from: {draws: -8 L/min, height: 2 m}, route: [{east: 0.5 m}], to: one}
  feed two: {pipe: P30, from: {draws: -6 L/min, height: 2 m}, route: [{east: 0.5 m}], to: two}
  collector:
    pipe: P57
    from: {vessel: one, standpipe: 0.2 m, K: 0.5}
    route: [{down: 0.5 m}, elbow: {K: 0.9}, {east: 0.6 m}, tee: {id: second, K: 0}, {east: 0.6 m}, tee: {id: third, K: 0}, {east: 0.2 m}, elbow: {K: 0.9},
      {down: 0.5 m}]
    to: {open air: yes, K: 1}
  two drain: {pipe: P57, from: {vessel: two, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.5 m}], to: second}
  three drain: {pipe: P57, from: {vessel: three, standpipe: 0.2 m, K: 0.5}, route: [{down: 0.5 m}], to: third}
"""

_BACKED = """
vessels:
  tank: {holds: fish, base: 0 m, rim: 1.0 m, water: 0.6 m, area: 1 m^2}
  filter: {holds: solids filter, base: 0 m, rim: 1.0 m, water: 0.3 m, area: 0.5 m^2}
lines:
  feed: {pipe: P30, from: {draws: -20 L/min, height: 1.4 m}, route: [{east: 0.5 m}], to: tank}
  over: {pipe: P43, from: {vessel: tank, standpipe: 0.5 m, K: 0.5}, route: [{down: 0.4 m}, elbow: {K: 0.9}, {east: 1 m}], to: {vessel: filter, K: 1}}
  out: {pipe: P43, from: {vessel: filter, standpipe: OUT m, K: 0.5}, route: [{down: 0.8 m}], to: open air}
"""

_TWO_PUMPS = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 0.9 m, water: 0.6 m, area: 1 m^2}
  header: {holds: header, base: 1.5 m, rim: 0.6 m, water: 0.3 m, area: 0.6 m^2}
pumps:
  first: {in: sump, height: 0.05 m, curve: [[0 L/min, 3.0 m], [40 L/min, 0 m]]}
  second: {in: sump, height: 0.05 m, curve: [[0 L/min, 2.0 m], [40 L/min, 0 m]]}
lines:
  riser: {pipe: P26, from: first, route: [{up: 0.5 m}, check valve: {K: 2}, {up: 0.5 m}, tee: {id: meet, K: 0}, {up: 1.3 m}], to: {vessel: header, K: 1}}
  helper: {pipe: P26, from: second, route: [{up: 1.0 m}, check valve: {K: 2}, elbow: {K: 0.9}, {east: 0.3 m}], to: meet}
  left: {pipe: P43, from: {vessel: header, standpipe: 0.3 m, K: 0.5}, route: [{down: 1.4 m}], to: {vessel: sump, K: 1}}
  right: {pipe: P43, from: {vessel: header, standpipe: 0.305 m, K: 0.5}, route: [{down: 1.4 m}], to: {vessel: sump, K: 1}}
"""

_SPRAY = """
vessels:
  sump: {holds: sump, base: 0 m, rim: 1 m, water: 0.6 m}
  tank: {holds: fish, base: 0.5 m, rim: 0.8 m, water: 0.7 m}
pumps:
  lift: {in: sump, height: 0.1 m, curve: [[0 L/min, 6 m], [40 L/min, 0 m]]}
lines:
  bar: {pipe: P43, from: lift, route: [{up: 1.4 m}, elbow: {K: 0.9}, {spray bar: {east: 1 m, holes: 8, hole: 3 mm, in: tank}}, {east: 0.1 m}END
"""

_SIPHON_HOSE = """
vessels:
  high: {holds: header, base: 0 m, rim: 0.8 m, water: 0.6 m, area: 1 m^2}
  low: {holds: sump, base: 0 m, rim: 0.8 m, water: 0.3 m, area: 1 m^2}
lines:
  feed: {pipe: P30, from: {draws: -30 L/min, height: 1.4 m}, route: [{east: 0.5 m}], to: high}
  over: {pipe: P26, from: {vessel: high, height: 0.1 m, K: 0.5}, route: [{up: 0.6 m}, elbow: {K: 0.9}, {east: 0.4 m}, elbow: {K: 0.9}, {down: 0.6 m}], to: {vessel: low, K: 1}}
  out: {pipe: P43, from: {vessel: low, standpipe: 0.3 m, K: 0.5}, route: [{down: 0.5 m}], to: open air}
"""

CASES: tuple[Case, ...] = (
    Case("troughs taped uneven", _TROUGHS_WHY, _troughs("0.34", "0.32", "0.30"), _TROUGH_FLOWS, _TROUGH_LEVELS),
    Case(
        "troughs taped equal",
        _TROUGHS_WHY,
        _troughs("0.31", "0.31", "0.31"),
        _TROUGH_FLOWS,
        _TROUGH_LEVELS,
        absent=("overtops",),
    ),
    Case("troughs taped the wrong way", _TROUGHS_WHY, _troughs("0.20", "0.32", "0.40"), _TROUGH_FLOWS, _TROUGH_LEVELS),
    Case(
        "a bed drains into a tank joined to the pump's",
        "A closed loop: 300 + 660 + 200 L are moved about and none is made. The crest over the bed holds a few litres more, "
        "and the two tanks share the rest with the join's loss of (2 + f L/D) V²/2g between them. Slow model.",
        _text(_BED_AND_TWO_TANKS),
        {"riser.to": 23.17, "drain.to": 23.17, "join.to": 23.17},
        {"bed": 1.2166, "fish": 0.5250, "sump": 0.5224},
        absent=("no-way-out", "overtops", "unbalanced", "runs-away"),
    ),
    Case(
        "two equal standpipes",
        "Alike, so alike: 10 and 10. Head over the crest (7500 · 0.16667/43)^(2/3) = 9.5 mm.",
        _text(_STANDPIPES.replace("HIGH", "0.2")),
        {"left.to": 10.0, "right.to": 10.0},
        {"bed": 1.2095},
        absent=("overtops", "standing-water"),
    ),
    Case(
        "a safety standpipe 100 mm above the first",
        "20 L/min stand 15.0 mm over the first crest, 85 mm below the second: it is dry. At the rim the two would carry "
        "D² h^0.5/15000 = 104.6 and 74.0 L/min (BS EN 12056-3); about a tenth less is let pass.",
        _text(_STANDPIPES.replace("HIGH", "0.3")),
        {"left.to": 20.0, "right.to": 0.0},
        {"bed": 1.2150},
        absent=("overtops", "standing-water", "dead-leg"),
        verdicts=("ok", "attention"),
        at_least={"bed": 165.0},
    ),
    Case(
        "a safety standpipe 8 mm above the first",
        "The weirs of both at one level: D/7500 (h^1.5 + (h − 8)^1.5) mm, L/s = 20 L/min, h 13.0 mm. Slow model.",
        _text(_STANDPIPES.replace("HIGH", "0.208")),
        {"left.to": 16.14, "right.to": 3.86},
        {"bed": 1.2130},
        within=0.03,
    ),
    Case(
        "equal ports that feed two beds",
        "Alike, so alike: 10 and 10.",
        _text(_TWO_BEDS_OFF_A_HEADER),
        {"left.to": 10.0, "right.to": 10.0, "left drain.to": 10.0, "right drain.to": 10.0},
        {"header": 1.6526, "left bed": 0.71, "right bed": 0.71},
    ),
    Case(
        "a high and a low port",
        "Both drowned: the level is where their pipes together take 40 L/min under their own heads. Slow model.",
        _text(_HIGH_AND_LOW),
        {"low.to": 28.45, "high.to": 11.55},
        {"header": 1.4701},
        absent=("overtops", "standing-water"),
    ),
    Case(
        "a riser with an open vent on its top",
        "Water is lifted over the floor of the level pipe, 1.687 m over the sump, by the energy of its critical depth at the elbow, 20 mm at "
        "5.74 L/min (Q/√(g D⁵) = 0.28: y = 0.53 D, A/2T = 0.22 D): 2 (1 − Q/40) = 1.687 + 0.020 + what 2.6 m of 26 mm lose. "
        "By hand; the slow model knows no depth and lifts it to the axis, 5.893 L/min.",
        _riser("P26", "5", "tee: {id: top, K: 0}, {east: 0.5 m}, elbow: {K: 0.9}", _VENT),
        {"riser.to": 5.743, "vent.to": 0.0},
        slow=False,
    ),
    Case(
        "the same riser without the vent, fast enough to carry its air",
        "In 13 mm the water runs at V/√(gD) = 3.8, which clears air out of the top (1 is enough; Wisner 1975, "
        "in Sanks, as printed in the list of checks): a siphon over it holds, and the bed's end sets the lift. Slow model.",
        _riser("P13", "5", "elbow: {K: 0.9}, {east: 0.5 m}, elbow: {K: 0.9}"),
        {"riser.to": 10.79},
    ),
    Case(
        "a riser over a wide top, too slow to carry its air",
        "In 57 mm the water runs at 0.04 to 0.2 m/s, V/√(gD) under 0.3, and air climbs back (0.3; Wisner 1975). It may fall free from the "
        "top (lift 1.7 m) or run full for a time (lift to the end): the range holds both, and 'surely' is not said. Slow model, "
        "both ways.",
        _riser("P57", "10", "elbow: {K: 0.9}, {east: 0.5 m}, elbow: {K: 0.9}"),
        {},
        both=("riser.to", 5.998, 30.80),
    ),
    Case(
        "a ring that closes on a tee of its own line",
        "Two arms of one bore between the same two tees: K and f L/D of 2 m against those of 5 m and three elbows. Slow model.",
        _text(_RING),
        {"out.to": 90.0, "main.to": -28.54},
    ),
    Case(
        "the same ring with tees that lose head",
        "K 2 of each tee is shared, 1 in each leg on the leg's own speed (the language's rule). Slow model.",
        _text(_RING.replace("K: 0}", "K: 2}")),
        {"out.to": 90.0, "main.to": -34.68},
    ),
    Case(
        "a line that begins at its own tee",
        "The ring of the case before, walked the other way round.",
        _text(_RING_BACK),
        {"out.to": 90.0, "main.from": 28.54},
    ),
    Case(
        "a line that begins at its own tee, with tees that lose head",
        "The ring with losing tees, walked the other way round.",
        _text(_RING_BACK.replace("K: 0}", "K: 2}")),
        {"out.to": 90.0, "main.from": 34.68},
    ),
    Case(
        "a drip line fed from both ends",
        "What comes leaves by the drippers. Each gives with the root of its pressure. Slow model.",
        _text(_DRIP_BOTH),
        {"feed.from": 8.0, "feed.to": 4.654, "drip.from": 3.346},
    ),
    Case(
        "a drip line that goes on to a shut flush-out valve",
        "As if it ended there in a plug: six drippers with the root of their pressure. Slow model.",
        _text(_DRIP_SHUT.replace("END", ", ball valve: {opening: shut}, {east: 0.1 m}], to: open air}")),
        {"drip.from": 4.155, "drip.to": 0.0},
    ),
    Case(
        "the same drip line ending in a plug",
        "Six drippers with the root of their pressure. Slow model.",
        _text(_DRIP_SHUT.replace("END", "], to: plug}")),
        {"drip.from": 4.155},
    ),
    Case(
        "a shared drain that carries both beds",
        "18 L/min fall down 26 mm, which would carry 40 full: each bed's own weir stands over its crest (BS EN 12056-3): 13.7 mm of "
        "10 L/min, by the orifice's branch, and 11.4 mm of 8.",
        _shared("10", "8", "{down: 0.6 m}"),
        {"upper drain.to": 18.0, "lower drain.to": 8.0},
        {"upper": 1.2137, "lower": 0.9114},
        absent=("overtops", "drain-full"),
    ),
    Case(
        "a shared drain that backs up into the lower bed alone",
        "23 L/min through 18 m of 26 mm ask for half a metre over the end, and fill the pipe from the tee on and the lower bed's branch: its "
        "level is that head and its own branch's loss. The upper bed keeps its weir. Slow model.",
        _shared("15", "8", "bend: {angle: 89 deg, K: 0.9}, {east: 18 m, down: 0.1 m}"),
        {"upper drain.to": 23.0, "lower drain.to": 8.0},
        {"upper": 1.2308, "lower": 1.0445},
        within=0.02,
        level_within=0.01,
        said=("drain-full", "overtops", "thin-drain", "small-standpipe"),
    ),
    Case(
        "a tank on a long level drain whose drop is vented by a dry bed",
        "20 L/min in 26 mm: the dry bed's branch lets air in at the tee, so the water there stands as high as the tee, and in the "
        "tank over it by 4 m of friction, the entrance's K. Whether the tee's height is the total head there or the static one, V²/2g = 20 mm "
        "less, books do not tell: the answer lies between. Slow model, the lower.",
        _text(_VENTED_BY_A_BED.replace("FILLED", "0.02")),
        {"drain.to": 20.0, "branch.to": 0.0},
        {"tank": 0.705, "bed": 0.52},
        level_within=0.015,
        vented=("meet",),
    ),
    Case(
        "the same tank without the dry bed",
        "V/√(gD) is 1.25, so the drop runs full and pulls, and the tank sinks to where its port takes air: (1.5 to 2.7) V²/2g over the "
        "port's axis, as the mouth's book has it.",
        _text(re.sub(r"  (bed|branch): .*\n", "", _VENTED_BY_A_BED).replace("tee: {id: meet, K: 0}", "{east: 0.1 m}")),
        {"drain.to": 20.0},
        {"tank": 0.631},
        level_within=0.03,
    ),
    Case(
        "an outside standpipe without a vent pulls its tank down",
        "30 L/min in 26 mm run at V/√(gD) = 1.9, so the full pipe keeps no air (Wisner 1975): the level sinks until the port "
        "itself takes air or the full pipe to the sump's level carries just 30 L/min. Slow model.",
        _text(_OUTSIDE_STANDPIPE.replace("TOP", "elbow: {K: 0.9}")),
        {"drain.to": 30.0},
        {"tank": 0.6678},
        level_within=0.03,
    ),
    Case(
        "the same with a vent on its top",
        "The water stands as high as the tee, and over it by what the way there loses: K and friction of 26 mm at 0.94 m/s, "
        "0.098 m; and by V²/2g = 45 mm more if the tee's height is the static head there, and 9 mm of "
        "the level pipe behind it if that has to run by itself. Slow model, the lowest.",
        _text(
            _OUTSIDE_STANDPIPE.replace("TOP", "tee: {id: top, K: 0}")
            + "  vent: {pipe: P26, from: top, route: [{up: 0.3 m}], to: open air}\n"
        ),
        {"drain.to": 30.0, "vent.to": 0.0},
        {"tank": 1.425},
        level_within=0.028,
    ),
    Case(
        "two tanks that only have to come level",
        "Nothing comes and nothing goes: (0.9 · 1 + 0.5 · 3)/4 = 0.6 m, and the join stands still.",
        _joined("high", "low", "east"),
        {"join.to": 0.0},
        {"high": 0.6, "low": 0.6},
    ),
    Case(
        "the same join walked from the other tank",
        "0.6 m.",
        _joined("low", "high", "west"),
        {"join.to": 0.0},
        {"high": 0.6, "low": 0.6},
    ),
    Case(
        "a check valve that lets the higher tank down",
        "Along the walk it passes: 0.6 m.",
        _joined("high", "low", "east", ", check valve: {K: 2}, {east: 0.5 m}"),
        {"join.to": 0.0},
        {"high": 0.6, "low": 0.6},
    ),
    Case(
        "a check valve that holds the higher tank up",
        "Against the walk it does not: each stays as it is.",
        _joined("low", "high", "west", ", check valve: {K: 2}, {west: 0.5 m}"),
        {"join.to": 0.0},
        {"high": 0.9, "low": 0.5},
    ),
    Case(
        "beds that take more than the sump has",
        "The beds would take 398 L to their crests; over the intake the sump has (0.42 − 0.10) · 0.49 m² = 157 L. It is sucked down to "
        "its intake, and nothing runs any more.",
        _text(_SUMP_TOO_SMALL),
        levels={"sump": 0.10},
        level_within=0.05,
        said=("intake-uncovered", "cannot-fill"),
        verdicts=("fail",),
        slow=False,
    ),
    Case(
        "a closed loop that is topped up for ever",
        "29 L/min come and nothing goes: the tank's 240 L of freeboard are full in eight minutes, and then it runs over its rim.",
        _text(_TOPPED_UP.replace("OVERFLOW", "")),
        levels={"tank": 0.80},
        level_within=0.02,
        said=("overtops", "runs-away", "no-way-out"),
        verdicts=("fail",),
    ),
    Case(
        "the same with an overflow",
        "29 L/min leave by the overflow, and no more; its head is about the critical depth's energy.",
        _text(_TOPPED_UP.replace("OVERFLOW", _TOPPED_UP_OVERFLOW)),
        {"overflow.to": 29.0},
        {"tank": 0.65},
        level_within=0.02,
        absent=("overtops", "runs-away", "no-way-out", "unbalanced"),
    ),
    Case(
        "beds in a row that drink",
        "6 L/min come, each bed drinks 2: 4 pass the first join and 2 the second, at the level of the file.",
        _text(_DRINKING_ROW),
        {"first.to": 4.0, "second.to": 2.0, "drink three.to": 2.0},
        absent=("standing-water", "dead-leg", "no-way-out", "overtops"),
    ),
    Case(
        "a tank whose level settles over its side port",
        "At the depth written the port would take more than twice the 30 L/min that come: the level sinks until they are equal, "
        "(2.5 + f L/D) V²/2g over the port.",
        _text(_SIDE_PORT),
        {"side.to": 30.0},
        {"tank": 1.3541},
        absent=("unbalanced", "runs-away", "overtops"),
    ),
    Case(
        "a header with ports, a standpipe and beds with a spare standpipe",
        "A closed loop of 1.02 m³: ports drowned, the crest takes the rest, the spare stays dry. Slow model.",
        _text(_COMPANY),
        {"left drain.to": 17.59, "right drain.to": 10.50, "spill.to": 3.27, "riser.to": 31.36, "spare.to": 0.0},
        {"sump": 0.4501, "header": 1.6545, "left bed": 1.1138, "right bed": 1.1098},
        within=0.03,
        absent=("overtops", "no-way-out", "unbalanced", "standing-water"),
    ),
    Case(
        "a ring of troughs with the pump in the last",
        "Water goes round: by two joins, and by one long way beside them; none is made (565 L). Slow model.",
        _text(_RING_OF_TROUGHS),
        {"riser.to": 36.03, "first.to": 27.40, "short cut.to": 8.63},
        {"one": 0.3046, "two": 0.2935, "three": 0.2824},
        absent=("overtops", "no-way-out", "unbalanced", "runs-away"),
    ),
    Case(
        "a drain too small for its bed",
        "60 L/min over a standpipe of 26 mm ask for 0.49 m over its crest: it runs over the rim, 0.1 m over the crest, where the pipe "
        "carries 27 (BS EN 12056-3).",
        _text(_TOO_SMALL_A_DRAIN.replace("SPARE", "")),
        {"drain.to": 27.3},
        {"bed": 1.302},
        level_within=0.02,
        within=0.05,
        said=("overtops",),
        verdicts=("fail",),
    ),
    Case(
        "the same with a safety standpipe in its company",
        "The safety standpipe of 43 mm, 50 mm higher, takes what the first cannot. Slow model.",
        _text(
            _TOO_SMALL_A_DRAIN.replace(
                "SPARE",
                "  safety: {pipe: P43, from: {vessel: bed, standpipe: 0.25 m, K: 0.5}, route: [{down: 0.5 m}], to: open air}\n",
            )
        ),
        {"drain.to": 23.35, "safety.to": 36.65},
        {"bed": 1.2746},
        within=0.03,
        absent=("overtops",),
    ),
    Case(
        "a tank and a cone that come level",
        "The cone holds h² m³ up to 0.5 m: 0.4 + 0.01 = h + h², so h = 0.3124 m.",
        _text(_CONE),
        {"join.to": 0.0},
        {"tank": 0.3124, "cone": 0.3124},
    ),
    Case(
        "a drain hole and two standpipes of two bores at one height",
        "The level is one: the hole drowned under it, the two weirs as their bores, D h^1.5/7500. Slow model.",
        _text(_HOLE_AND_STANDPIPES),
        {"hole.to": 4.978, "left.to": 11.18, "right.to": 8.84},
        {"bed": 1.2102},
        absent=("overtops", "standing-water"),
    ),
    Case(
        "two joined beds, each with a standpipe at one height",
        "The join costs (2 + f L/D) V²/2g, so the bed that is fed stands higher and its standpipe carries more. Slow model.",
        _text(_JOINED_BEDS_TWO_CRESTS.replace("LEFT", "0.2")),
        {"left.to": 19.84, "right.to": 10.16, "join.to": 10.16},
        {"left bed": 1.0149, "right bed": 1.0096},
        within=0.02,
    ),
    Case(
        "two joined beds with one standpipe higher",
        "The higher one, 80 mm over the other, stays dry, though its bed is the one that is fed. Slow model.",
        _text(_JOINED_BEDS_TWO_CRESTS.replace("LEFT", "0.28")),
        {"left.to": 0.0, "right.to": 30.0, "join.to": 30.0},
        {"left bed": 1.0626, "right bed": 1.0197},
        absent=("standing-water", "dead-leg"),
    ),
    Case(
        "a chain of overflows with a safety standpipe, in a closed loop",
        "All that is pumped passes tank and filter; the safety standpipe, 70 mm over the other crest, is dry. Slow model.",
        _text(_CHAIN),
        {"riser.to": 26.91, "to filter.to": 26.91, "to sump.to": 26.91, "safety.to": 0.0},
        {"fish": 1.1652, "filter": 0.9152, "sump": -0.0841},
        absent=("overtops", "standing-water", "unbalanced", "no-way-out", "runs-away"),
    ),
    Case(
        "three beds on one wide collector, the last one dry",
        "14 L/min in 57 mm: it runs part full everywhere; each bed has its own weir (BS EN 12056-3), and the dry one lets air in.",
        _text(_THREE_BEDS_ONE_COLLECTOR),
        {"collector.to": 14.0, "two drain.to": 6.0, "three drain.to": 0.0},
        {"one": 1.2068, "two": 1.2056, "three": 1.05},
        level_within=0.004,
        vented=("third",),
        absent=("overtops", "drain-full", "standing-water"),
    ),
    Case(
        "a standpipe that its receiver drowns",
        "The filter's crest is above the tank's: the tank stands as high as the filter and over it by the full pipe's losses. Slow model.",
        _text(_BACKED.replace("OUT", "0.7")),
        {"over.to": 20.0, "out.to": 20.0},
        {"tank": 0.7242, "filter": 0.7150},
        absent=("overtops",),
    ),
    Case(
        "a standpipe that its receiver leaves free",
        "The filter's crest is 0.1 m below the tank's: each its own weir.",
        _text(_BACKED.replace("OUT", "0.4")),
        {"over.to": 20.0, "out.to": 20.0},
        {"tank": 0.5150, "filter": 0.4150},
        absent=("overtops",),
    ),
    Case(
        "two pumps into a header with two standpipes",
        "The weaker pump helps as far as it can; the crests differ by 5 mm and share. A closed loop of 780 L. Slow model.",
        _text(_TWO_PUMPS),
        {"riser.to": 19.37, "helper.to": 3.893, "left.to": 13.56, "right.to": 5.81},
        {"header": 1.8116, "sump": 0.5931},
        within=0.02,
        absent=("overtops", "unbalanced", "no-way-out"),
    ),
    Case(
        "a spray bar ending in a cap",
        "Eight holes of 3 mm, 0.62 a √(2gh) each; the bar so wide that nothing is lost along it. By hand and by the slow model.",
        _text(_SPRAY.replace("END", "], to: cap}")),
        {"bar.from": 15.51},
    ),
    Case(
        "the same spray bar with a shut flush-out valve behind it",
        "As if it ended in the cap.",
        _text(_SPRAY.replace("END", ", ball valve: {opening: shut}, {east: 0.1 m}], to: open air}")),
        {"bar.from": 15.51, "bar.to": 0.0},
    ),
    Case(
        "a full hose over the rims of two tanks",
        "30 L/min in 26 mm run at V/√(gD) = 1.9: full, it joins the two like a pipe through the walls. Slow model. (Whether it was ever "
        "filled the file does not say: a range that also holds the tank running over is no fault.)",
        _text(_SIPHON_HOSE),
        {"over.to": 30.0, "out.to": 30.0},
        {"high": 0.5379, "low": 0.3197},
        level_within=0.01,
    ),
)

PAIRS: tuple[Pair, ...] = (
    Pair(
        "an elbow between two bores, walked both ways",
        "What it costs goes by the flow, not by the walk.",
        _held(
            "{pipe: P43, from: {vessel: high, height: 0.1 m}, route: [{east: 1 m}, elbow, {down: 1.8 m, pipe: P26}], to: low}"
        ),
        _held(
            "{pipe: P43, from: {vessel: low, height: 0.3 m}, route: [{up: 1.8 m, pipe: P26}, elbow, {west: 1 m}], to: {vessel: high, height: 0.1 m}}"
        ),
        {"pipe.to": ("pipe.from", -1), "pipe.from": ("pipe.to", -1)},
    ),
    Pair(
        "a pipe that narrows at a tee, or just before it",
        "The change of bore costs the same a hand's breadth before the tee and at it, but for what the tee's own law makes of bores: "
        "nothing flows in its branch, and its run then loses next to nothing. (A stated K would stand for the change too.)",
        _held(
            "{pipe: P43, from: {vessel: high, height: 0.1 m, K: 0.5}, route: [{east: 0.5 m}, tee: t, {east: 1 m, pipe: P26}], to: low}",
            "stub: {pipe: P43, from: t, route: [{north: 0.1 m}], to: plug}",
        ),
        _held(
            "{pipe: P43, from: {vessel: high, height: 0.1 m, K: 0.5}, route: [{east: 0.5 m}, reducer: {to: P26}, tee: t, {east: 1 m}], to: low}",
            "stub: {pipe: P26, from: t, route: [{north: 0.1 m}], to: plug}",
        ),
        {"pipe.to": ("pipe.to", 1)},
        within=0.02,
        same_score=False,
    ),
    Pair(
        "a line that goes through a tee, or that ends there and another begins",
        "The pipe is the same.",
        _held(
            "{pipe: P26, from: {vessel: high, height: 0.1 m}, route: [{east: 1 m}, tee: {id: t, K: 0}, {east: 1 m}], to: low}",
            "stub: {pipe: P26, from: t, route: [{north: 0.1 m}], to: plug}",
        ),
        _held(
            "{pipe: P26, from: {vessel: high, height: 0.1 m}, route: [{east: 1 m}, tee: {id: t, K: 0}, {north: 0.1 m}], to: plug}",
            "rest: {pipe: P26, from: t, route: [{east: 1 m}], to: low}",
        ),
        {"pipe.to": ("rest.to", 1), "pipe.from": ("pipe.from", 1)},
    ),
    Pair(
        "troughs walked from the other side",
        "Joins go both ways.",
        _troughs("0.34", "0.32", "0.30"),
        _text(
            _TROUGHS.replace("ONE", "0.34")
            .replace("TWO", "0.32")
            .replace("THREE", "0.30")
            .replace(
                "first: {pipe: P43, from: {vessel: one, height: 0.1 m, K: 1}, route: [{east: 0.3 m}], to: {vessel: two, K: 1}}",
                "first: {pipe: P43, from: {vessel: two, height: 0.1 m, K: 1}, route: [{west: 0.3 m}], to: {vessel: one, K: 1}}",
            )
        ),
        {"first.to": ("first.from", -1), "second.to": ("second.to", 1), "out.to": ("out.to", 1)},
    ),
    Pair(
        "a dry overflow beside a standpipe, or none",
        "A pipe that is dry on purpose changes no flow and no level.",
        _text(_STANDPIPES.replace("HIGH", "0.3")),
        _text(re.sub(r"  right: .*\n", "", _STANDPIPES)),
        {"left.to": ("left.to", 1), "feed.to": ("feed.to", 1)},
    ),
    Pair(
        "metric or imperial",
        "1 ft is 0.3048 m, and a US gallon 3.785411784 L.",
        _text(_SIDE_PORT),
        _text(
            _SIDE_PORT.replace("base: 1.0 m", "base: 3.280839895 ft")
            .replace("1.2 m,", "3.937007874 ft,")
            .replace("water: 1.0 m", "water: 39.37007874 in")
            .replace("1.1 m^2", "11.840301459 ft^2")
            .replace("-30 L/min", "-7.925161571 gal/min")
            .replace("2.5 m}", "8.202099738 ft}")
            .replace("height: 0.2 m", "height: 7.874015748 in")
            .replace("{east: 2 m}", "{east: 6.561679790 ft}")
            .replace("P26", "{bore: 1.023622047 in, roughness: 0.0015 mm}")
        ),
        {"side.to": ("side.to", 1)},
    ),
)
