"""Visits to six small systems as the trade builds them, each with its fault, its readings and what a mender would say written down, from what the check
tells of the sound system, before they were weighed."""

from __future__ import annotations

import pytest

from plumbline.diagnose import diagnose
from plumbline.layout import layout_of

TANK_AND_BED = """\
name: One tank and one bed over it
water: 22 degC
vessels:
  fish tank: {holds: fish, base: 0 m, rim: 1.0 m, water: 0.85 m, area: 1.1 m^2}
  grow bed: {holds: plants, base: 1.05 m, rim: 0.30 m, water: 0.22 m, area: 1.2 m^2, wants: 12 L/min}
pumps:
  lift: {in: fish tank, height: 0.05 m, curve: [[0 L/min, 2.6 m], [15 L/min, 2.2 m], [30 L/min, 1.4 m], [40 L/min, 0.5 m]], power: 35 W}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1.4 m}, elbow, {east: 0.9 m}, ball valve, {east: 0.1 m}, elbow, {down: 0.10 m}], to: grow bed}
  drain: {pipe: pvc 50, from: {vessel: grow bed, standpipe: 0.22 m}, route: [{down: 0.40 m}], to: fish tank}
"""

TANK_AND_TWO_BEDS = """\
name: Tank and two beds over a sump
water: 20 degC
vessels:
  sump: {holds: sump, base: -0.6 m, rim: 0.7 m, water: 0.50 m, area: 1.0 m^2}
  fish tank: {holds: fish, base: 0 m, rim: 1.0 m, water: 0.85 m, area: 1.1 m^2, wants: 12 L/min}
  bed a: {holds: plants, base: 0.35 m, rim: 0.35 m, water: 0.25 m, area: 1.2 m^2, wants: 8 L/min}
  bed b: {holds: plants, base: 0.35 m, rim: 0.35 m, water: 0.25 m, area: 1.2 m^2, wants: 8 L/min}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 3.2 m], [30 L/min, 2.7 m], [60 L/min, 1.7 m], [80 L/min, 0.6 m]], power: 60 W}
lines:
  main:
    pipe: pvc 32
    from: lift
    route: [{up: 1.75 m}, {cap: {id: riser top, faces: west}}, {east: 0.8 m}, tee: to beds, {east: 0.3 m}, {ball valve: {id: tank valve, opening: 60 %}}, {east: 0.2 m}, elbow, {down: 0.10 m}]
    to: fish tank
  bed main: {pipe: pvc 25, from: to beds, route: [{north: 0.6 m}, tee: split, {north: 0.8 m}, {ball valve: {id: valve b, opening: 50 %}}, {north: 0.2 m}, elbow, {down: 0.30 m}], to: bed b}
  bed a feed: {pipe: pvc 25, from: split, route: [{west: 0.4 m}, {ball valve: {id: valve a, opening: 50 %}}, {west: 0.2 m}, elbow, {down: 0.30 m}], to: bed a}
  tank over: {pipe: pvc 50, from: {vessel: fish tank, overflow: 0.85 m}, route: [{east: 0.3 m}, elbow, {down: 0.9 m}], to: sump}
  drain a: {pipe: pvc 50, from: {vessel: bed a, standpipe: 0.25 m}, route: [{down: 0.5 m}], to: sump}
  drain b: {pipe: pvc 50, from: {vessel: bed b, standpipe: 0.25 m}, route: [{down: 0.5 m}], to: sump}
"""

CHANNELS = """\
name: Four channels on one manifold
water: 22 degC
vessels:
  tank: {holds: sump, base: 0 m, rim: 0.6 m, water: 0.45 m, area: 0.6 m^2}
  channel: {again: 4, holds: plants, base: 0.9 m, rim: 0.08 m, water: 0.01 m, area: 0.3 m^2, wants: 1.5 L/min}
pumps:
  feeder: {in: tank, height: 0.03 m, curve: [[0 L/min, 1.8 m], [8 L/min, 1.5 m], [16 L/min, 0.8 m], [20 L/min, 0.2 m]], power: 18 W}
lines:
  manifold:
    pipe: pvc 20
    from: feeder
    route: [{up: 1.0 m}, elbow, {east: 0.3 m}, tee: n1, {east: 0.3 m}, tee: n2, {east: 0.3 m}, tee: n3, {east: 0.3 m}, elbow, {pipe: {bore: 5 mm}, north: 0.25 m}, {elbow: {}}, {pipe: {bore: 5 mm}, down: 0.05 m}]
    to: channel 4
  spur 1: {pipe: {bore: 5 mm}, from: n1, route: [{north: 0.25 m}, elbow, {down: 0.05 m}], to: channel 1}
  spur 2: {pipe: {bore: 5 mm}, from: n2, route: [{north: 0.25 m}, elbow, {down: 0.05 m}], to: channel 2}
  spur 3: {pipe: {bore: 5 mm}, from: n3, route: [{north: 0.25 m}, elbow, {down: 0.05 m}], to: channel 3}
  outflow: {again: 4, pipe: pvc 32, from: {vessel: channel, standpipe: 0.01 m}, route: [{down: 0.5 m}], to: tank}
"""

RAFT = """\
name: Raft system by gravity
water: 24 degC
vessels:
  fish tank: {holds: fish, base: 0 m, rim: 1.1 m, water: 0.95 m, area: 2.0 m^2}
  swirl: {holds: solids filter, base: 0 m, rim: 1.1 m, water: 0.80 m, area: 0.4 m^2}
  raft: {holds: plants, base: 0.40 m, rim: 0.45 m, water: 0.30 m, area: 6 m^2}
  sump: {holds: sump, base: -0.5 m, rim: 0.8 m, water: 0.60 m, area: 1.0 m^2}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 3.0 m], [40 L/min, 2.4 m], [70 L/min, 1.5 m], [90 L/min, 0.6 m]], power: 70 W}
lines:
  rising main: {pipe: pvc 40, from: lift, route: [{up: 1.55 m}, elbow, {west: 3 m}, elbow, {down: 0.05 m}], to: fish tank}
  solids lift: {pipe: pvc 63, from: {vessel: fish tank, overflow: 0.95 m}, route: [{east: 0.4 m}, elbow, {down: 0.5 m}, elbow, {east: 0.5 m, down: 10 mm}], to: swirl}
  swirl out: {pipe: pvc 63, from: {vessel: swirl, overflow: 0.80 m}, route: [{east: 1.0 m, down: 20 mm}], to: raft}
  raft out: {pipe: pvc 63, from: {vessel: raft, standpipe: 0.30 m}, route: [{down: 0.45 m}], to: sump}
"""

TIMED = """\
name: Bed on a timed valve, topped up by a float valve
water: 20 degC
vessels:
  sump: {holds: sump, base: 0 m, rim: 0.8 m, water: 0.55 m, area: 0.8 m^2, loses: 20 L/day}
  bed: {holds: plants, base: 1.0 m, rim: 0.35 m, water: 0.20 m, area: 1.5 m^2, wants: 8 L/min, loses: 10 L/day}
  nursery: {holds: plants, base: 1.0 m, rim: 0.35 m, water: 0.20 m, area: 0.8 m^2, wants: 4 L/min}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 3.0 m], [20 L/min, 2.5 m], [40 L/min, 1.3 m], [50 L/min, 0.4 m]], power: 45 W}
lines:
  riser: {pipe: pvc 25, from: lift, route: [{up: 1.5 m}, elbow, {east: 0.8 m}, tee: fork, {east: 0.6 m}, {ball valve: {id: bed valve, opening: 60 %, runs: {on: 15 min, off: 15 min}}}, {east: 0.2 m}, elbow, {down: 0.15 m}], to: bed}
  nursery feed: {pipe: pvc 20, from: fork, route: [{north: 0.5 m}, {ball valve: {id: nursery valve, opening: 40 %}}, {north: 0.2 m}, elbow, {down: 0.15 m}], to: nursery}
  bed drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.20 m}, route: [{down: 0.5 m}], to: sump}
  nursery drain: {pipe: pvc 50, from: {vessel: nursery, standpipe: 0.20 m}, route: [{down: 0.5 m}], to: sump}
  top-up: {pipe: pvc 20, from: {supply: 10 L/min, height: 1.2 m}, route: [{down: 0.5 m}], to: {vessel: sump, float valve: 0.55 m}}
"""

TURNED = """\
name: Three beds on a turning valve of four outlets
water: 20 degC
vessels:
  sump: {holds: sump, base: 0 m, rim: 0.8 m, water: 0.6 m, area: 0.9 m^2}
  bed: {again: 3, holds: plants, base: 1 m, rim: 0.35 m, water: 0.05 m, area: 0.5 m^2, wants: 20 L/min}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 5 m], [60 L/min, 1 m]], runs: {on: 8 min, off: 4 min}, power: 90 W}
lines:
  riser: {pipe: pvc 32, from: lift, route: [{up: 1.5 m}, elbow, {east: 1 m}], to: {indexing valve: turner, outlets: 4, at least: 20 L/min}}
  feed 1: {pipe: pvc 25, from: turner 1, route: [{north: 1 m}, elbow, {down: 0.2 m}], to: bed 1}
  feed 2: {pipe: pvc 25, from: turner 2, route: [{north: 1 m}, elbow, {down: 0.2 m}], to: bed 2}
  feed 3: {pipe: pvc 25, from: turner 3, route: [{north: 1 m}, elbow, {down: 0.2 m}], to: bed 3}
  foot: {again: 3, pipe: pvc 32, from: {vessel: bed, standpipe: 0.05 m}, route: [{down: 0.7 m}], to: sump}
"""

VISITS = {
    "a choked inlet": (
        TANK_AND_BED,
        """\
readings:
  - {at: riser.to, caught: 10 L in 41 s}
  - {pump: lift, power: 28 W}
  - {vessel: grow bed, depth: 0.235 m}
""",
        (("choked", "pump 'lift'"), ("narrowed", "'riser'")),
    ),
    "a valve that was knocked": (
        TANK_AND_TWO_BEDS,
        """\
readings:
  - {at: bed a feed.to, caught: 10 L in 150 s}
  - {at: bed main.to, caught: 10 L in 51 s}
  - {at: main.to, caught: 10 L in 20 s}
""",
        (("valve", "'valve a'"),),
    ),
    "a clogged spur": (
        CHANNELS,
        """\
readings:
  - {at: spur 1.to, caught: 1 L in 27.5 s}
  - {at: spur 2.to, caught: 1 L in 27.3 s}
  - {at: spur 3.to, caught: 1 L in 95 s}
  - {at: manifold.to, caught: 1 L in 29.5 s}
""",
        (("narrowed", "'spur 3'"), ("plug", "'spur 3'")),
    ),
    "sludge on the way to the filter": (
        RAFT,
        """\
readings:
  - {vessel: fish tank, depth: 1.045 m}
  - {vessel: swirl, depth: 0.84 m}
  - {at: raft out.to, caught: 10 L in 9.2 s}
""",
        (("narrowed", "'solids lift'"), ("plug", "'solids lift'")),
    ),
    "a float valve stuck shut": (
        TIMED,
        """\
readings:
  - {vessel: sump, depth: 0.40 m}
  - {at: riser.to, caught: 10 L in 26.5 s}
  - {at: nursery feed.to, caught: 10 L in 72 s}
""",
        (("not topped up", "'sump'"),),
    ),
    "a timed valve that opens too little": (
        TIMED,
        """\
readings:
  - {vessel: sump, depth: 0.55 m}
  - {at: riser.to, caught: 10 L in 55 s}
  - {at: nursery feed.to, caught: 10 L in 62 s}
""",
        (("valve", "'bed valve'"), ("narrowed", "'riser', steps 5 to 9")),
    ),
    "a clogged feed of a turning valve": (
        TURNED,
        """\
readings:
  - {at: feed 1.to, caught: 10 L in 17 s}
  - {at: feed 2.to, caught: 10 L in 31 s}
  - {at: feed 3.to, caught: 10 L in 17.5 s}
""",
        (("narrowed", "'feed 2'"), ("plug", "'feed 2'")),
    ),
}
"""Of each its system, its readings, and what has to stand in the first group, by kind and the beginning of where."""


@pytest.mark.pinned
@pytest.mark.slow(15)
@pytest.mark.parametrize("name", VISITS)
def test_a_visit_is_answered_as_a_mender_would(name: str) -> None:
    """What cannot be told apart by these readings stands together, and nothing else is as likely."""
    text, readings, expected = VISITS[name]
    found = diagnose(layout_of(f"{text}{readings}"))
    first = next(iter(found.groups.values()))
    assert found.explained
    assert not found.fits
    assert sum(one.chance for one in first) > 0.6, [(one.cause.kind, one.cause.where, one.chance) for one in first]
    for kind, where in expected:
        assert any(one.cause.kind == kind and one.cause.where.startswith(where) for one in first), (kind, where)
