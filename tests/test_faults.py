"""Every fault of a layout file: the whole message that the user sees, and nothing but faults for any text at all.

Invariants and pinned messages. Each pinned message was read for sense: place, line and caret, what was expected, what to do.
"""

from __future__ import annotations

import copy
import os
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plumbline.errors import Fault, LayoutError
from plumbline.layout import layout_of, read_layout, source

COURTYARD = Path(__file__).parent.parent / "layouts" / "courtyard.yaml"

BASE = """\
name: Try
vessels:
  tank: {base: 0 m, rim: 1 m, water: 0.8 m}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
pumps:
  lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route:
      - up: 1.4 m
      - elbow
      - east: 2 m
      - tee: t1
      - east: 1 m
    to: bed
  spur:
    pipe: pvc 25
    from: t1
    route: [{north: 0.5 m}]
    to: cap c1
  return:
    pipe: pvc 50
    from: {vessel: bed, standpipe: 0.2 m}
    route: [{down: 0.8 m}]
    to: tank
"""

FAULTS: list[tuple[str, list[tuple[str, str]], str]] = [
    (
        "wrong dimension",
        [("up: 1.4 m", "up: 2 kg")],
        """\
FILE:12:13: '2 kg' is a mass, not a length
      12 |       - up: 2 kg
         |             ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('up': how far the run goes up)""",
    ),
    (
        "missing unit",
        [("up: 1.4 m", "up: 1.4")],
        """\
FILE:12:13: '1.4' has no unit
      12 |       - up: 1.4
         |             ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('up': how far the run goes up)
    write 1.4 m, 1.4 mm or 1.4 ft""",
    ),
    (
        "negative",
        [("east: 2 m", "east: -2 m")],
        """\
FILE:14:15: 'east' is -2 m
      14 |       - east: -2 m
         |               ^
    expected a value not below 0
    to go the other way write west: 2 m""",
    ),
    (
        "corner",
        [("      - elbow\n", "")],
        """\
FILE:13:9: a corner without a fitting: the walk turns 90°, from up to east
      13 |       - east: 2 m
         |         ^
      12 |       - up: 1.4 m
    expected a fitting that turns, between the two runs: an elbow, a sweep, bends, a tee or a cap
    for a turn of 90° write elbow or sweep""",
    ),
    (
        "angle",
        [("- elbow", "- bend 45")],
        """\
FILE:13:9: the bend 45 turns 45°, but the walk turns 90°, from up to east
      13 |       - bend 45
         |         ^
      12 |       - up: 1.4 m
      14 |       - east: 2 m
    expected a fitting of the walk's own angle
    for a turn of 90° write elbow or sweep""",
    ),
    (
        "bend angle",
        [("- elbow", "- bend: 60 deg")],
        """\
FILE:13:9: the bend turns 60°, but the walk turns 90°, from up to east
      13 |       - bend: 60 deg
         |         ^
      12 |       - up: 1.4 m
      14 |       - east: 2 m
    expected a fitting of the walk's own angle
    for a turn of 90° write elbow or sweep""",
    ),
    (
        "doubling",
        [
            ("      - elbow\n      - east: 2 m\n", "      - union\n      - down: 0.1 m\n"),
            ("from: t1\n    route: [{north: 0.5 m}]", "from: tank\n    route: [{north: 0.5 m}]"),
            ("      - tee: t1\n      - east: 1 m\n", ""),
        ],
        """\
FILE:14:9: the walk doubles back on itself, from up to down
      14 |       - down: 0.1 m
         |         ^
      12 |       - up: 1.4 m
    expected a fitting that turns, between the two runs: an elbow, a sweep, bends, a tee or a cap
    to go back, use two corners with a run between them""",
    ),
    (
        "closure",
        [
            (
                "route: [{north: 0.5 m}]\n    to: cap c1",
                "route: [{north: 0.5 m}, elbow, {east: 1 m}, elbow, {south: 0.5 m}]\n    to: t2",
            ),
            ("- east: 1 m", "- east: 0.8 m\n      - tee: t2\n      - east: 0.2 m"),
        ],
        """\
FILE:24:9: line 'spur' ends at tee 't2', but misses it by 0.20 m: the walk comes out too far east
      24 |     to: t2
         |         ^
      17 |       - tee: t2
    expected walks that meet within 20 mm""",
    ),
    (
        "nothing joins",
        [("from: t1", "from: tank")],
        """\
FILE:15:9: nothing joins tee 't1'
      15 |       - tee: t1
         |         ^
    expected just one line with from: t1 or to: t1, at its third leg
    for an opening to clean through, write cap instead""",
    ),
    (
        "two join",
        [("from: {vessel: bed, standpipe: 0.2 m}", "from: t1")],
        """\
FILE:15:9: 2 line ends join tee 't1'
      15 |       - tee: t1
         |         ^
      20 |     from: t1
      25 |     from: t1
    expected just one line with from: t1 or to: t1, at its third leg""",
    ),
    (
        "no straight",
        [("[{north: 0.5 m}]", "[{north: 0.5 m, east: 0.5 m}]"), ("      - elbow\n", ""), ("      - east: 2 m\n", "")],
        """\
FILE:13:9: no two legs of tee 't1' are in line: they go down; east; east and north
      13 |       - tee: t1
         |         ^
      18 |     from: t1
    expected a straight through-run and one branch, or a stated loss, K""",
    ),
    (
        "slanted",
        [("[{north: 0.5 m}]", "[{north: 0.5 m, east: 0.5 m}]")],
        """\
FILE:15:9: the branch of tee 't1' leaves at 45° to the run
      15 |       - tee: t1
         |         ^
      20 |     from: t1
    expected a branch at 90° for a tee, about 45° for a wye
    for a branch that leaves east and north write wye""",
    ),
    (
        "wye square",
        [("tee: t1", "wye: t1")],
        """\
FILE:15:9: the branch of wye 't1' leaves at 90° to the run
      15 |       - wye: t1
         |         ^
      20 |     from: t1
    expected a branch at 90° for a tee, about 45° for a wye
    for a branch that leaves north write tee""",
    ),
    (
        "tee turn",
        [("- elbow", "- tee: t9"), ("- up: 1.4 m", "- {up: 1 m, east: 1 m}")],
        """\
FILE:13:9: the tee would have to turn 45°: the walk turns 45°, from east and up to east
      13 |       - tee: t9
         |         ^
      12 |       - {up: 1 m, east: 1 m}
      14 |       - east: 2 m
    expected a turn that a tee comes in: 0° or 90°

FILE:13:9: nothing joins tee 't9'
      13 |       - tee: t9
         |         ^
    expected just one line with from: t9 or to: t9, at its third leg
    for an opening to clean through, write cap instead""",
    ),
    (
        "unknown pipe2",
        [("pipe: pvc 25", "pipe: pvx 26")],
        """\
FILE:9:11: unknown pipe 'pvx 26'
       9 |     pipe: pvx 26
         |           ^
    expected a pipe of the catalogue: pvc 20, pvc 25, pvc 32, pvc 40, pvc 50, pvc 63, pvc 75, pvc 90, … (123 in all); or {bore: 26 mm, material: pvc}
    did you mean 'pvc 20' or 'pvc 25'?""",
    ),
    (
        "unknown pipe3",
        [("pipe: pvc 25", "pipe: drain hose")],
        """\
FILE:9:11: unknown pipe 'drain hose'
       9 |     pipe: drain hose
         |           ^
    expected a pipe of the catalogue: pe 1 in, pe 2 in, dwv 32, dwv 40, dwv 50, dwv 75, dwv 82, dwv 110, … (123 in all); or {bore: 26 mm, material: pvc}""",
    ),
    (
        "unknown elbo",
        [("- elbow", "- elbo")],
        """\
FILE:13:9: unknown step 'elbo'
      13 |       - elbo
         |         ^
    expected a run such as up: 1.2 m, a hose, a spray bar, a drip line, or a fitting ('plumbline names fittings' lists them)
    did you mean 'elbow'?""",
    ),
    (
        "unknown gate",
        [("- elbow", "- elbow\n      - gate valv")],
        """\
FILE:14:9: unknown step 'gate valv'
      14 |       - gate valv
         |         ^
    expected a run such as up: 1.2 m, a hose, a spray bar, a drip line, or a fitting ('plumbline names fittings' lists them)
    did you mean 'gate valve'?""",
    ),
    (
        "unknown key",
        [("route:", "rout:")],
        """\
FILE:11:5: unknown word 'rout' in line 'riser'
      11 |     rout:
         |     ^
    expected one of: pipe, from, route, to, again
    did you mean 'route'?""",
    ),
    (
        "unknown vessel",
        [("in: tank", "in: tankk")],
        """\
FILE:6:14: unknown vessel 'tankk' for pump 'lift'
       6 |   lift: {in: tankk, height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
         |              ^
       3 |   tank: {base: 0 m, rim: 1 m, water: 0.8 m}
    expected one of: tank, bed
    did you mean 'tank'?""",
    ),
    (
        "unknown end",
        [("to: bed", "to: bad")],
        """\
FILE:17:9: unknown name 'bad' at the end of line 'riser'
      17 |     to: bad
         |         ^
       4 |   bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
    expected one of: tank, bed, lift, t1, cap, plug, open air
    did you mean 'bed'?""",
    ),
    (
        "unknown tee",
        [("from: t1", "from: t2")],
        """\
FILE:20:11: unknown name 't2' at the start of line 'spur'
      20 |     from: t2
         |           ^
      15 |       - tee: t1
    expected one of: tank, bed, lift, t1, cap, plug, open air
    did you mean 't1'?""",
    ),
    (
        "unknown holds",
        [("tank: {", "tank: {holds: fisch, ")],
        """\
FILE:3:17: unknown word 'fisch' for 'holds'
       3 |   tank: {holds: fisch, base: 0 m, rim: 1 m, water: 0.8 m}
         |                 ^
    expected one of: fish, plants, solids filter, biofilter, sump, header
    did you mean 'fish'?""",
    ),
    (
        "unknown vkey",
        [("tank: {base", "tank: {bas")],
        """\
FILE:3:10: unknown word 'bas' in vessel 'tank'
       3 |   tank: {bas: 0 m, rim: 1 m, water: 0.8 m}
         |          ^
    expected one of: holds, base, water, rim, area, gutter, loses, wants, handles, at, shape, again, smallest fish
    did you mean 'base'?""",
    ),
    (
        "unknown valve",
        [("- elbow", "- elbow\n      - valve")],
        """\
FILE:14:9: unknown step 'valve'
      14 |       - valve
         |         ^
    expected a run such as up: 1.2 m, a hose, a spray bar, a drip line, or a fitting ('plumbline names fittings' lists them)
    write ball valve, gate valve, globe valve or another, by its kind""",
    ),
    (
        "unknown left",
        [("- elbow", "- left")],
        """\
FILE:13:9: 'left' without a length
      13 |       - left
         |         ^
    expected a length, for instance left: 1.2 m""",
    ),
    (
        "dup key",
        [("  bed:", "  tank: {base: 0 m, water: 1 m}\n  bed:")],
        """\
FILE:4:3: 'tank' stands here twice
       4 |   tank: {base: 0 m, water: 1 m}
         |   ^
       3 |   tank: {base: 0 m, rim: 1 m, water: 0.8 m}
    expected each name once""",
    ),
    (
        "dup cap",
        [("- elbow", "- elbow\n      - union: c1")],
        """\
FILE:23:9: the name 'c1' is taken
      23 |     to: cap c1
         |         ^
      14 |       - union: c1
    expected a name of its own for each vessel, pump, tee and cap""",
    ),
    (
        "rises",
        [("[40 L/min, 1 m]", "[40 L/min, 4 m]")],
        """\
FILE:6:57: the curve of pump 'lift' rises
       6 |   lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 4 m]]}
         |                                                         ^
    expected each head at most the one before
    if the maker's curve has a hump, give the falling part""",
    ),
    (
        "unsorted",
        [("[40 L/min, 1 m]", "[20 L/min, 2 m], [10 L/min, 2.5 m]")],
        """\
FILE:6:74: the curve of pump 'lift' is not sorted by flow
       6 |   lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m], [20 L/min, 2 m], [10 L/min, 2.5 m]]}
         |                                                                          ^
    expected each flow above the one before""",
    ),
    (
        "onepoint",
        [(", [40 L/min, 1 m]", "")],
        """\
FILE:6:40: the curve of pump 'lift' has one point
       6 |   lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m]]}
         |                                        ^
    expected at least two points
    if its box tells no more, write {highest head: 3 m, largest flow: 40 L/min}""",
    ),
    (
        "flat",
        [("[40 L/min, 1 m]", "[40 L/min, 3 m]")],
        """\
FILE:6:40: the curve of pump 'lift' does not fall
       6 |   lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 3 m]]}
         |                                        ^
    expected a head that falls as the flow grows""",
    ),
    (
        "rim",
        [("rim: 0.3 m, water: 0.2 m", "rim: 0.3 m, water: 0.4 m")],
        """\
FILE:4:39: the water of 'bed' stands above its rim
       4 |   bed: {base: 1 m, rim: 0.3 m, water: 0.4 m}
         |                                       ^
    expected a depth of at most 0.30 m""",
    ),
    (
        "nowhere",
        [("    to: bed\n", "")],
        """\
FILE:8:3: line 'riser' has no 'to'
       8 |   riser:
         |   ^
    expected 'to', where the walk ends, for instance to: bed""",
    ),
    (
        "nowhere2",
        [("to: bed", "to:")],
        """\
FILE:17:5: the end of line 'riser' is left empty
      17 |     to:
         |     ^
    expected a vessel, a pump, a tee, cap, plug, open air, or {draws: 2 L/min}""",
    ),
    (
        "alias self",
        [("  bed: {", "  loop: &x {base: *x, water: 1 m}\n  bed: {")],
        """\
FILE:4:19: '*x' repeats the very part that it stands in
       4 |   loop: &x {base: *x, water: 1 m}
         |                   ^
    expected each part written out""",
    ),
    (
        "alias none",
        [("base: 0 m", "base: *x")],
        """\
FILE:3:16: '*x' repeats nothing: no '&x' stands before it
       3 |   tank: {base: *x, rim: 1 m, water: 0.8 m}
         |                ^
    expected a value; put a text that begins with * in quotes""",
    ),
    (
        "tag",
        [("name: Try", "name: !!python/object/apply:os.system ['true']")],
        """\
FILE:1:7: '!!python/object/apply:os.system' before a value
       1 | name: !!python/object/apply:os.system ['true']
         |       ^
    expected plain values; put a text that begins with ! in quotes""",
    ),
    (
        "nan",
        [("up: 1.4 m", "up: .nan m")],
        """\
FILE:12:13: '.nan m' is not a finite number
      12 |       - up: .nan m
         |             ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('up': how far the run goes up)""",
    ),
    (
        "inf",
        [("up: 1.4 m", "up: 1e999 m")],
        """\
FILE:12:13: '1e999 m' is not a finite number
      12 |       - up: 1e999 m
         |             ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('up': how far the run goes up)""",
    ),
    (
        "huge",
        [("up: 1.4 m", "up: 1e30 m")],
        """\
FILE:12:13: 'up' is 1e30 m
      12 |       - up: 1e30 m
         |             ^
    expected a value of at most 10 km, up or down""",
    ),
    (
        "nocolon",
        [("up: 1.4 m", "up 1.4 m")],
        """\
FILE:12:9: 'up 1.4 m' without a colon
      12 |       - up 1.4 m
         |         ^
    expected up: 1.4 m""",
    ),
    (
        "teename",
        [("tee: t1", "tee t1")],
        """\
FILE:15:9: unknown step 'tee t1'
      15 |       - tee t1
         |         ^
    expected a run such as up: 1.2 m, or a fitting such as elbow
    to give it a name or a value write tee: t1""",
    ),
    (
        "capnum",
        [("- elbow", "- elbow: 0.9")],
        """\
FILE:13:16: the elbow is followed by '0.9'
      13 |       - elbow: 0.9
         |                ^
    expected a name with a letter in it, or details in braces: id, K, Kv, loses and at
    for a stated loss write elbow: {K: 0.9}""",
    ),
    (
        "bracket",
        [("{base: 1 m", "{base: 1 m, wants: {x: 1")],
        """\
FILE:4:8: a '{' that is not closed, or a comma left out
       4 |   bed: {base: 1 m, wants: {x: 1, rim: 0.3 m, water: 0.2 m}
         |        ^
       5 | pumps:
    expected commas between the values, and a '}'""",
    ),
    (
        "bracket2",
        [("[{down: 0.8 m}]", "[{down: 0.8 m}")],
        """\
FILE:26:12: a '[' that is not closed, or a comma left out
      26 |     route: [{down: 0.8 m}
         |            ^
      27 |     to: tank
    expected commas between the values, and a ']'""",
    ),
    (
        "quote",
        [("name: Try", 'name: "Try')],
        """\
FILE:1:7: a quote that is not closed
       1 | name: "Try
         |       ^
    expected the same quote at the end of the text""",
    ),
    (
        "tab",
        [("    pipe: pvc 25", "\tpipe: pvc 25")],
        """\
FILE:9:1: a tab before the first word of a line
       9 |  pipe: pvc 25
         | ^
    expected spaces: tabs do not count here""",
    ),
    (
        "colon",
        [("name: Try", "name: Try: again")],
        """\
FILE:1:10: a colon that does not belong here
       1 | name: Try: again
         |          ^
    expected one 'word: value' on a line, or several between { and } with commas
    is a comma, a quote or a line break missing before it, or is the line indented too far?""",
    ),
    (
        "indent",
        [("      - elbow", "     - elbow")],
        """\
FILE:13:6: something that does not fit the lines above it
      13 |      - elbow
         |      ^
      11 |     route:
      12 |       - up: 1.4 m
    expected lines that belong together indented alike, and nothing after a closing quote or bracket""",
    ),
    (
        "at",
        [("name: Try", "name: @home")],
        """\
FILE:1:7: '@' at the beginning of a word
       1 | name: @home
         |       ^
    expected a word or a number
    put a text that begins with such a sign in quotes""",
    ),
    (
        "twodocs",
        [("lines:", "---\nlines:")],
        """\
FILE:7:1: a second layout begins here
       7 | ---
         | ^
    expected one layout in a file""",
    ),
    (
        "listkey",
        [("  bed: {", "  [a, b]: {")],
        """\
FILE:4:3: a list of 2 where a name goes
       4 |   [a, b]: {base: 1 m, rim: 0.3 m, water: 0.2 m}
         |   ^
    expected a plain word before the colon""",
    ),
    (
        "listmap",
        [
            (
                "  tank: {base: 0 m, rim: 1 m, water: 0.8 m}\n  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}",
                "  - tank\n  - bed",
            )
        ],
        """\
FILE:3:3: 'vessels' is a list of 2
       3 |   - tank
         |   ^
    expected names, each with its vessel""",
    ),
    (
        "above rim",
        [("standpipe: 0.2 m", "standpipe: 0.4 m")],
        """\
FILE:25:11: the crest of the standpipe in 'bed' is above its rim
      25 |     from: {vessel: bed, standpipe: 0.4 m}
         |           ^
       4 |   bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
    expected a height of at most 0.30 m""",
    ),
    (
        "heights",
        [("to: bed", "to: {vessel: bed, height: 0.1 m}")],
        """\
FILE:17:9: line 'riser' ends at the port of 'bed', but the walk comes out 0.30 m too high
      17 |     to: {vessel: bed, height: 0.1 m}
         |         ^
      10 |     from: lift
    expected heights that agree within 20 mm: pump 'lift' stands in 'tank', and the walk leads from there to here
    to let one run take up what is left write down: rest on it""",
    ),
    (
        "below floor",
        [("up: 1.4 m", "up: 0.4 m")],
        """\
FILE:17:9: line 'riser' comes out 0.60 m below the floor of 'bed'
      17 |     to: bed
         |         ^
       4 |   bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
    expected an end at or above the vessel's floor: the heights of the walk and of the vessel do not agree""",
    ),
    (
        "pump in",
        [("to: tank", "to: lift")],
        """\
FILE:25:11: line 'return' begins at the standpipe of 'bed', but the walk comes out 0.40 m too low
      25 |     from: {vessel: bed, standpipe: 0.2 m}
         |           ^
      10 |     from: lift
    expected heights that agree within 20 mm: pump 'lift' stands in 'tank', and the walk leads from there to here
    to let one run take up what is left write down: rest on it

FILE:27:9: line 'return' ends at pump 'lift', which stands in 'tank'
      27 |     to: lift
         |         ^
       6 |   lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
    expected a pump without 'in', which takes a suction line""",
    ),
    (
        "two feed",
        [("from: t1", "from: lift")],
        """\
FILE:15:9: nothing joins tee 't1'
      15 |       - tee: t1
         |         ^
    expected just one line with from: t1 or to: t1, at its third leg
    for an opening to clean through, write cap instead

FILE:20:11: pump 'lift' is feeding two lines
      20 |     from: lift
         |           ^
      10 |     from: lift
    expected one line, with a tee in it""",
    ),
    (
        "no suction",
        [("in: tank, height: 0 m, ", "")],
        """\
FILE:6:3: no line brings pump 'lift' water
       6 |   lift: {curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
         |   ^
    expected 'in' with the vessel it stands in, or a suction line that ends at it""",
    ),
    (
        "height no vessel",
        [("in: tank, ", "")],
        """\
FILE:6:3: no line brings pump 'lift' water
       6 |   lift: {height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
         |   ^
    expected 'in' with the vessel it stands in, or a suction line that ends at it

FILE:6:18: pump 'lift' has a height but stands in no vessel
       6 |   lift: {height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}
         |                  ^
    expected 'in' with a vessel's name; or no height, and the end of the suction line tells it""",
    ),
    (
        "cap faces",
        [("- elbow", "- cap: {id: c5, faces: down}")],
        """\
FILE:13:9: cap 'c5' faces down, where the pipe runs
      13 |       - cap: {id: c5, faces: down}
         |         ^
    expected a way that is free, in line with a leg: up or west""",
    ),
    (
        "cap faces2",
        [("- tee: t1", "- tee: t1\n      - cap: {id: c5, faces: east}")],
        """\
FILE:16:9: cap 'c5' faces east, where the pipe runs
      16 |       - cap: {id: c5, faces: east}
         |         ^
    expected a way square to the pipe, or slanted
    for instance faces: up""",
    ),
    (
        "hose",
        [("[{down: 0.8 m}]", "[{hose: {down: 0.8 m, length: 0.5 m}}]")],
        """\
FILE:26:42: a hose of 0.50 m between points 0.80 m apart
      26 |     route: [{hose: {down: 0.8 m, length: 0.5 m}}]
         |                                          ^
    expected a hose at least as long as from end to end""",
    ),
    (
        "reducer",
        [("- elbow", "- elbow\n      - reducer: pvc 32")],
        """\
FILE:14:9: the reducer from pvc 25 to pvc 32 goes to a larger bore
      14 |       - reducer: pvc 32
         |         ^
    expected a smaller pipe to go on in
    write expander""",
    ),
    (
        "reducer0",
        [("- elbow", "- elbow\n      - reducer")],
        """\
FILE:14:9: the reducer does not say what pipe it goes on in
      14 |       - reducer
         |         ^
    expected a pipe, for instance reducer: pvc 20""",
    ),
    (
        "nowhere run",
        [("up: 1.4 m", "{up: 1 m, down: 1 m}")],
        """\
FILE:12:9: a run that goes nowhere
      12 |       - {up: 1 m, down: 1 m}
         |         ^
    expected a length in at least one direction

FILE:17:9: line 'riser' comes out 1.00 m below the floor of 'bed'
      17 |     to: bed
         |         ^
       4 |   bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
    expected an end at or above the vessel's floor: the heights of the walk and of the vessel do not agree""",
    ),
    (
        "nopipe",
        [("    pipe: pvc 50\n", "")],
        """\
FILE:25:13: line 'return' does not say what pipe this run is of
      25 |     route: [{down: 0.8 m}]
         |             ^
      23 |   return:
    expected 'pipe' on the line, for instance pipe: pvc 25, or on the run""",
    ),
    (
        "opening",
        [("- elbow", "- elbow\n      - ball valve: 40")],
        """\
FILE:14:21: 'opening' is 40
      14 |       - ball valve: 40
         |                     ^
    expected a value not above 1
    for 40 per cent write 40 %""",
    ),
    (
        "count",
        [("- elbow", "- elbow\n      - spray bar: {east: 1 m, holes: 2.5, hole: 4 mm, in: tnk}")],
        """\
FILE:14:39: 'holes' is '2.5'
      14 |       - spray bar: {east: 1 m, holes: 2.5, hole: 4 mm, in: tnk}
         |                                       ^
    expected a whole number, 1 or more

FILE:14:60: unknown vessel 'tnk' for the spray bar
      14 |       - spray bar: {east: 1 m, holes: 2.5, hole: 4 mm, in: tnk}
         |                                                            ^
       3 |   tank: {base: 0 m, rim: 1 m, water: 0.8 m}
    expected one of: tank, bed
    did you mean 'tank'?""",
    ),
    (
        "kinds",
        [("standpipe: 0.2 m", "cap: c2")],
        """\
FILE:25:11: the start of line 'return' is both a vessel and a cap
      25 |     from: {vessel: bed, cap: c2}
         |           ^
    expected just one of: a vessel, a pump, a tee, cap, plug, open air, or {draws: 2 L/min}""",
    ),
    (
        "end tee word",
        [("from: t1", "from: tee t1")],
        """\
FILE:20:11: the start of line 'spur' is 'tee t1'
      20 |     from: tee t1
         |           ^
    expected a vessel, a pump, a tee, cap, plug, open air, or {draws: 2 L/min}
    write {tee: t1}, or just t1""",
    ),
    (
        "rough",
        [("pipe: pvc 50", "pipe: {bore: 50 mm, roughness: 5 mm}")],
        """\
FILE:24:11: a wall as rough as 10% of the bore
      24 |     pipe: {bore: 50 mm, roughness: 5 mm}
         |           ^
    expected at most 5 % of the bore, as far as pipe friction has been measured""",
    ),
    (
        "feet",
        [
            ("base: 1 m, rim: 0.3 m, water: 0.2 m", "base: 3 ft, rim: 1 ft, water: 15 in"),
            ("base: 0 m, rim: 1 m, water: 0.8 m", "base: 0 ft, rim: 4 ft, water: 3 ft"),
            ("up: 1.4 m", "up: 5 ft"),
            ("2 m", "2 ft"),
        ],
        """\
FILE:4:39: the water of 'bed' stands above its rim
       4 |   bed: {base: 3 ft, rim: 1 ft, water: 15 in}
         |                                       ^
    expected a depth of at most 1 ft""",
    ),
    (
        "temp",
        [("name: Try", "name: Try\nwater: 120 degC")],
        """\
FILE:2:8: 'water' is 120 degC
       2 | water: 120 degC
         |        ^
    expected a value not above 100 degC""",
    ),
    (
        "limit",
        [("lines:", "limits: {dead legs: 4, margin: 15, arm reach: 5}\nlines:")],
        """\
FILE:7:10: unknown threshold 'dead legs'
       7 | limits: {dead legs: 4, margin: 15, arm reach: 5}
         |          ^
    expected one of: dead leg, dead leg flow, level drop, hand room, sharp bend, least fall, margin, water age, … (32 in all)
    did you mean 'dead leg'?

FILE:7:32: 'margin' is 15
       7 | limits: {dead legs: 4, margin: 15, arm reach: 5}
         |                                ^
    expected a value not above 1
    for 15 per cent write 15 %

FILE:7:47: '5' has no unit
       7 | limits: {dead legs: 4, margin: 15, arm reach: 5}
         |                                               ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('arm reach': how far below a vessel's rim a hand gets at a port, a union or a cap)
    write 5 m, 5 mm or 5 ft""",
    ),
    (
        "twofit",
        [("- elbow", "- tee: t7\n      - cap")],
        """\
FILE:13:9: nothing joins tee 't7'
      13 |       - tee: t7
         |         ^
    expected just one line with from: t7 or to: t7, at its third leg
    for an opening to clean through, write cap instead

FILE:14:9: either the tee or the cap here could make the turn of 90°
      14 |       - cap
         |         ^
      12 |       - up: 1.4 m
      15 |       - east: 2 m
    expected a run between them, so that one stands at the corner""",
    ),
    (
        "switch",
        [("to: cap c1", "to: {plug: no}")],
        """\
FILE:22:16: 'plug' is 'no'
      22 |     to: {plug: no}
         |                ^
    expected plug: yes; leave it out where there is none""",
    ),
    (
        "merge",
        [("bed: {base", "bed: {<<: 1, base")],
        """\
FILE:4:9: unknown word '<<' in vessel 'bed'
       4 |   bed: {<<: 1, base: 1 m, rim: 0.3 m, water: 0.2 m}
         |         ^
    expected each value written out, not taken over from elsewhere""",
    ),
    (
        "spacecolon",
        [("{down: 0.8 m}", "{down:0.8 m}")],
        """\
FILE:26:14: unknown step 'down:0.8 m'
      26 |     route: [{down:0.8 m}]
         |              ^
    expected a run such as up: 1.2 m, a hose, a spray bar, a drip line, or a fitting ('plumbline names fittings' lists them)
    leave a space after the colon""",
    ),
    (
        "step two",
        [("- elbow", "- {elbow: , cap: c9}")],
        """\
FILE:13:9: a step is a group of values, 'elbow', 'cap'
      13 |       - {elbow: , cap: c9}
         |         ^
    expected one thing a step: a run such as up: 1.2 m, or a fitting such as elbow
    the details of a fitting go in braces: elbow: {cap: ...}""",
    ),
    (
        "unknown step key",
        [("- up: 1.4 m", "- uup: 1.4 m")],
        """\
FILE:12:9: unknown step 'uup'
      12 |       - uup: 1.4 m
         |         ^
    expected a run such as up: 1.2 m, a hose, a spray bar, a drip line, or a fitting ('plumbline names fittings' lists them)
    did you mean 'up'?""",
    ),
    (
        "vessel unread",
        [("base: 1 m", "base: one metre")],
        """\
FILE:4:15: 'one metre' is not a number with a unit
       4 |   bed: {base: one metre, rim: 0.3 m, water: 0.2 m}
         |               ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('base': height of the inside floor above the site's datum, the one level that all heights are counted from)""",
    ),
    (
        "run unread",
        [("up: 1.4 m", "up: 1.4 metres high")],
        """\
FILE:12:13: '1.4 metres high' has an unknown unit, 'metres high'
      12 |       - up: 1.4 metres high
         |             ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('up': how far the run goes up)""",
    ),
    (
        "line unread",
        [("  riser:\n", "  riser: broken\n  other:\n")],
        """\
FILE:8:10: line 'riser' is 'broken'
       8 |   riser: broken
         |          ^
    expected a group of values: pipe, from, route, to and again""",
    ),
    (
        "k both",
        [("tee: t1", "tee: {id: t1, K: 1}"), ("from: t1", "from: {tee: t1, K: 2}")],
        """\
FILE:20:11: a second K for tee 't1'
      20 |     from: {tee: t1, K: 2}
         |           ^
      15 |       - tee: {id: t1, K: 1}
    expected one of them""",
    ),
    (
        "kkv",
        [("- elbow", "- elbow: {K: 1, Kv: 2}")],
        """\
FILE:13:27: both K and Kv for the elbow
      13 |       - elbow: {K: 1, Kv: 2}
         |                           ^
    expected one of them""",
    ),
    (
        "both heights",
        [("standpipe: 0.2 m", "standpipe: 0.2 m, height: 0 m")],
        """\
FILE:25:51: both a standpipe and a height
      25 |     from: {vessel: bed, standpipe: 0.2 m, height: 0 m}
         |                                                   ^
    expected one of them""",
    ),
    (
        "height pump",
        [("from: lift", "from: {pump: lift, height: 1 m}")],
        """\
FILE:10:32: 'height' with a pump
      10 |     from: {pump: lift, height: 1 m}
         |                                ^
    expected 'height' only where it means something: with a vessel""",
    ),
    (
        "outside",
        [("pipe: pvc 50", "pipe: {bore: 50 mm, outside: 40 mm}")],
        """\
FILE:24:34: an outside of 40 mm on a bore of 50 mm
      24 |     pipe: {bore: 50 mm, outside: 40 mm}
         |                                  ^
    expected an outside larger than the bore""",
    ),
    (
        "material",
        [("pipe: pvc 50", "pipe: {bore: 50 mm, material: pvcc}")],
        """\
FILE:24:35: unknown material 'pvcc'
      24 |     pipe: {bore: 50 mm, material: pvcc}
         |                                   ^
    expected one of: pvc, cpvc, pe, abs, pp, hose, hose corrugated, copper, glass, stainless steel, steel, steel galvanized
    did you mean 'pvc'?""",
    ),
    (
        "rods",
        [
            (
                "lines:",
                "rods: {brush: {length: 4 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 20 to 55}}\nlines:",
            )
        ],
        """\
FILE:7:81: '20' has no unit
       7 | rods: {brush: {length: 4 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 20 to 55}}
         |                                                                                 ^
    expected two sizes, for instance 20 mm to 55 mm""",
    ),
    (
        "rods2",
        [
            (
                "lines:",
                "rods: {brush: {length: 4 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 55 mm to 20 mm}}\nlines:",
            )
        ],
        """\
FILE:7:81: 'bores' is '55 mm to 20 mm'
       7 | rods: {brush: {length: 4 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 55 mm to 20 mm}}
         |                                                                                 ^
    expected the smaller size first, and above 0""",
    ),
    (
        "bend0",
        [("- elbow", "- bend")],
        """\
FILE:13:9: a bend without an angle
      13 |       - bend
         |         ^
    expected its angle, for instance bend: 30 deg""",
    ),
    (
        "fit0",
        [("- elbow", "- elbow\n      - fitting")],
        """\
FILE:14:9: a fitting without a loss
      14 |       - fitting
         |         ^
    expected its loss, for instance fitting: {K: 2.5}, or fitting: {Kv: 24.7}""",
    ),
    (
        "faceword",
        [("- elbow", "- cap: {faces: sideways}")],
        """\
FILE:13:22: unknown direction 'sideways'
      13 |       - cap: {faces: sideways}
         |                      ^
    expected one of: up, down, north, south, east, west""",
    ),
    (
        "watermap",
        [("name: Try", "name: Try\nwater: {density: 998 kg/m^3}")],
        """\
FILE:2:8: water without a temperature
       2 | water: {density: 998 kg/m^3}
         |        ^
    expected a temperature, or density and viscosity""",
    ),
    (
        "several",
        [
            ("up: 1.4 m", "up: 1.4"),
            ("2 m}", "2 kg}"),
            ("pvc 50", "pvcc50"),
            ("curve: [[0 L/min, 3 m], [40 L/min, 1 m]]", "curve: [[0 L/min, 3 m]]"),
        ],
        """\
FILE:4:39: '0.2 kg' is a mass, not a length
       4 |   bed: {base: 1 m, rim: 0.3 m, water: 0.2 kg}
         |                                       ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('water': normal depth of water)

FILE:6:40: the curve of pump 'lift' has one point
       6 |   lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m]]}
         |                                        ^
    expected at least two points
    if its box tells no more, write {highest head: 3 m, largest flow: 40 L/min}

FILE:12:13: '1.4' has no unit
      12 |       - up: 1.4
         |             ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('up': how far the run goes up)
    write 1.4 m, 1.4 mm or 1.4 ft

FILE:24:11: unknown pipe 'pvcc50'
      24 |     pipe: pvcc50
         |           ^
    expected a pipe of the catalogue: pvc 50, pvc 20, pvc 25, pvc 40, pvc 75, pvc 90, pvc 110, pvc 32, … (123 in all); or {bore: 26 mm, material: pvc}
    did you mean 'pvc 50'?""",
    ),
    (
        "draws word",
        [("to: cap c1", "to: draws 2 L/min")],
        """\
FILE:22:9: the end of line 'spur' is 'draws 2 L/min'
      22 |     to: draws 2 L/min
         |         ^
    expected a vessel, a pump, a tee, cap, plug, open air, or {draws: 2 L/min}
    write {draws: 2 L/min}""",
    ),
    (
        "tee legs alike",
        [("[{north: 0.5 m}]", "[{east: 0.5 m}]")],
        """\
FILE:15:9: two legs of tee 't1' go the same way, east
      15 |       - tee: t1
         |         ^
      20 |     from: t1
    expected a branch at 90° for a tee, about 45° for a wye""",
    ),
    (
        "unknown vessel in braces",
        [("vessel: bed, ", "vessel: bedd, ")],
        """\
FILE:25:11: unknown vessel 'bedd' at the start of line 'return'
      25 |     from: {vessel: bedd, standpipe: 0.2 m}
         |           ^
       4 |   bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}
    expected one of: tank, bed
    did you mean 'bed'?""",
    ),
    (
        "comma after thousands",
        [("water: 0.8 m", "water: 1,800 mm")],
        """\
FILE:3:38: '1,800 mm' has a comma in the number; write 1800 mm or 1.800 mm
       3 |   tank: {base: 0 m, rim: 1 m, water: 1,800 mm}
         |                                      ^
    expected a length with its unit, for instance 1.2 m, 250 mm or 4 ft ('water': normal depth of water)""",
    ),
]


def faults_of(path: Path) -> tuple[Fault, ...]:
    with pytest.raises(LayoutError) as caught:
        read_layout(path)
    return caught.value.faults


def faults_in(folder: Path, text: str | bytes) -> tuple[Fault, ...]:
    path = folder / "layout.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return faults_of(path)


def edited(edits: list[tuple[str, str]], base: str = BASE) -> str:
    for old, new in edits:
        assert old in base
        base = base.replace(old, new, 1)
    return base


@pytest.mark.invariant
def test_the_text_that_the_faults_are_made_in_is_sound(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(BASE)
    assert set(read_layout(path).lines) == {"riser", "spur", "return"}


@pytest.mark.pinned
@pytest.mark.parametrize(("edits", "message"), [pytest.param(e, m, id=i) for i, e, m in FAULTS])
def test_the_whole_message(tmp_path: Path, edits: list[tuple[str, str]], message: str) -> None:
    faults = faults_in(tmp_path, edited(edits))
    shown = "\n\n".join(str(fault) for fault in faults).replace(f"{tmp_path / 'layout.yaml'}:", "FILE:")
    assert shown == message


JARGON = (
    "mapping",
    "sequence",
    "scalar",
    "None",
    "node",
    "dict",
    "tuple",
    "Traceback",
    "Error",
    "float",
    "str ",
    "anchor",
    "alias",
    "YAML",
    "flow style",
    "token",
    "parse",
    "stream",
    "document",
    "0x",
    "<class",
    "tag:",
)


@pytest.mark.invariant
@pytest.mark.parametrize("message", [pytest.param(m, id=i) for i, _, m in FAULTS])
def test_no_message_speaks_of_programming(message: str) -> None:
    told = [line for line in message.splitlines() if " | " not in line]
    assert not [word for word in JARGON for line in told if word in line.replace("flow meter", "")]


@pytest.mark.pinned
def test_faults_come_in_file_order_and_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(edited([("to: tank\n", "to: tonk\n"), ("up: 1.4 m", "up: 1.4"), ("base: 1 m", "base: 1 s")]))
    with pytest.raises(LayoutError) as caught:
        read_layout(path)
    assert [fault.line for fault in caught.value.faults] == [4, 12, 27]
    assert str(caught.value).endswith("\n\n3 faults; nothing was checked.")


# ---------------------------------------------------------------------- one slip, one fault


@pytest.mark.invariant
@pytest.mark.parametrize(
    "edits",
    [
        pytest.param([("base: 1 m", "base: high")], id="a vessel's height: no fault about heights of lines"),
        pytest.param([("  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m}", "  bed: soon")], id="a whole vessel"),
        pytest.param([("vessels:", "vesels:")], id="all vessels"),
        pytest.param([("pumps:", "punps:")], id="all pumps"),
        pytest.param([("in: tank", "into: tank")], id="where a pump stands: no fault about its suction line"),
        pytest.param([("height: 0 m", "height: 5")], id="a pump's height: no fault about heights of lines"),
        pytest.param([("- up: 1.4 m", "- up: 1.4 n")], id="a run: no corner, no height, no tee that does not close"),
        pytest.param([("- up: 1.4 m", "- uup: 1.4 m")], id="a run's word"),
        pytest.param([("- up: 1.4 m", "- up 1.4 m")], id="a run's colon"),
        pytest.param(
            [("- up: 1.4 m\n      - elbow\n      - east: 2 m\n", "- {up: 1.4 m, east: 1.4 m}\n")],
            id="a tee at a corner that it does not make: nothing about its legs",
        ),
        pytest.param([("- up: 1.4 m", "- something long")], id="a word that is like no other"),
        pytest.param([("{base: 1 m, rim", "{: 1 m, rim")], id="a colon without a word"),
        pytest.param(
            [("lines:", "rods: {b: {length: 1 m, bends up to: 0 deg, turns in all: 0 deg, bores: 0 to 9 mm}}\nlines:")],
            id="a rod for no bore at all",
        ),
        pytest.param([("- up: 1.4 m", "- []")], id="a step that is nothing: no heights that disagree"),
        pytest.param([("- up: 1.4 m", "- {up: 1.4 m, elbow: }")], id="a fitting in a run"),
        pytest.param([("- elbow", "- elbo")], id="a fitting: no corner without one"),
        pytest.param([("- elbow", "- bend: 90")], id="a bend's angle: no corner that it does not make"),
        pytest.param([("- elbow", "- bend")], id="a bend without an angle"),
        pytest.param([("- tee: t1", "- te: t1")], id="a tee: no line that begins at nothing"),
        pytest.param([("- tee: t1", "- tee t1")], id="a tee's colon"),
        pytest.param([("- tee: t1", "- tee: [t1]")], id="a tee's name"),
        pytest.param([("- tee: t1", "- tee: {id: t1, q: 0}")], id="a tee's details"),
        pytest.param([("from: t1", "from: t11")], id="a line's start: no tee that nothing joins"),
        pytest.param([("from: t1", "from:")], id="a start left empty"),
        pytest.param([("    from: t1\n", "")], id="a start left out"),
        pytest.param([("  spur:\n", "  spur: gone\n  more:\n"), ("from: t1", "from: tank")], id="the line at a tee"),
        pytest.param(
            [("  riser:\n", "  riser: gone\n  more:\n"), ("from: lift", "from: {pump: lift}")], id="a line's text"
        ),
        pytest.param([("    pipe: pvc 25\n", "    pype: pvc 25\n")], id="a pipe's word: no run without a pipe"),
        pytest.param([("pipe: pvc 25", "pipe: pvc 26")], id="a pipe: no change of bore"),
        pytest.param([("pipe: pvc 25", "pipe:")], id="a pipe left empty"),
        pytest.param([("standpipe: 0.2 m", "standpipe: low")], id="a standpipe: no height that disagrees"),
        pytest.param([("route: [{down", "rout: [{down")], id="a route's word"),
        pytest.param(
            [
                ("- elbow\n      - east: 2 m", "- bend 45\n      - east: 2 m"),
            ],
            id="a corner",
        ),
        pytest.param(
            [
                ("to: tank\n", "to: {vessel: tank, height: 0.1 m}\n"),
                ("from: {vessel: bed, standpipe: 0.2 m}", "from: {vessel: bed, stand pipe: 0.2 m}"),
            ],
            id="an end's word",
        ),
        pytest.param(
            [("tank: {base: 0 m, rim: 1 m, water: 0.8 m}", "tank: {base: 0 m, rim: 1 m, water: 1,800 mm}")], id="depth"
        ),
    ],
)
def test_one_slip_makes_one_fault(tmp_path: Path, edits: list[tuple[str, str]]) -> None:
    faults = faults_in(tmp_path, edited(edits))
    assert [str(fault) for fault in faults[1:]] == []


# ---------------------------------------------------------------------- files that are no layouts


@pytest.mark.pinned
def test_a_missing_file(tmp_path: Path) -> None:
    path = tmp_path / "none.yaml"
    (fault,) = faults_of(path)
    assert str(fault) == f"{path}:1:1: there is no such file\n    expected a layout file, in YAML"


@pytest.mark.pinned
def test_a_folder(tmp_path: Path) -> None:
    assert [fault.found for fault in faults_of(tmp_path)] == ["this is a folder"]


@pytest.mark.pinned
@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(BASE)
    path.chmod(0)
    assert [fault.found for fault in faults_of(path)] == ["the file may not be read (permission denied)"]


@pytest.mark.pinned
def test_a_file_that_the_system_refuses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> object:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refuse)
    assert [fault.found for fault in faults_of(tmp_path / "a")] == ["the file may not be read (permission denied)"]


@pytest.mark.pinned
def test_a_name_that_no_file_has() -> None:
    assert [fault.found for fault in faults_of(Path("a\0b"))] == ["this cannot be the name of a file"]


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("content", "place", "found"),
    [
        (b"", (1, 1), "the file holds no layout"),
        (b"# only\n# remarks\n", (1, 1), "the file holds no layout"),
        (b"---\n", (1, 1), "the file holds no layout"),
        (b"~\n", (1, 1), "the file holds no layout"),
        (b"hello\n", (1, 1), "the layout is 'hello'"),
        (b"- a\n- b\n", (1, 1), "the layout is a list of 2"),
        (b"{}\n", (1, 1), "the layout has no 'lines'"),
        (b"lines: {}\n", (1, 8), "the layout has no lines"),
        ("name: Becken s\u00fcd\n".encode("latin-1"), (1, 15), "a letter that is not saved as UTF-8"),
        ("name: x\n# s\u00fcd\n".encode("latin-1"), (2, 4), "a letter that is not saved as UTF-8"),
        (BASE.encode("utf-16"), (1, 1), "the file is saved as UTF-16"),
        (b"name: a\0b\n", (1, 8), "a character that is no text (number 0)"),
        (b"name: x\r\nb: \x07\n", (2, 4), "a character that is no text (number 7)"),
        (b"#" * 5_000_000, (1, 1), "the file is larger than 4 MB"),
        (b"lines: " + b"[" * 200 + b"]" * 200, (1, 47), "things inside things without end"),
        (b"a: &x [*x]\n", (1, 8), "'*x' repeats the very part that it stands in"),
        (b"lines: &x\n  a: {route: [{up: *x}]}\n", (2, 20), "'*x' repeats the very part that it stands in"),
        (b"%YAML 9.9\n---\na: 1\n", (1, 1), "a line that cannot be read"),
    ],
    ids=lambda value: repr(value[:12]) if isinstance(value, bytes) else None,
)
def test_a_file_that_is_no_layout(tmp_path: Path, content: bytes, place: tuple[int, int], found: str) -> None:
    faults = faults_in(tmp_path, content)
    assert [(fault.line, fault.column) for fault in faults] == [place]
    assert faults[0].found == found


BOMB = "a: &a [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{', '.join(['*' + chr(97 + i)] * 10)}]\n" for i in range(12)
)


@pytest.mark.invariant
def test_aliases_that_unfold_without_end_are_stopped_at_once(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, BOMB)
    assert [fault.found for fault in faults] == ["more than 100000 values, repeated ones counted each time"]


@pytest.mark.invariant
def test_a_plain_alias_is_read(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_text(edited([("{down: 0.8 m}", "&fall {down: 0.4 m}, *fall")]))
    assert [part.length for part in read_layout(path).lines["return"].parts] == [0.4, 0.4]


@pytest.mark.invariant
def test_the_slow_parser_is_bounded_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the YAML library has no C parser, depth is still cut short before it costs anything."""
    monkeypatch.setattr(source, "_Loader", yaml.SafeLoader)
    assert len(faults_in(tmp_path, "[" * 5_000)) == 1
    assert [fault.found for fault in faults_in(tmp_path, BOMB)] == [
        "more than 100000 values, repeated ones counted each time"
    ]
    path = tmp_path / "layout.yaml"
    path.write_text(BASE)
    assert read_layout(path).name == "Try"


@pytest.mark.pinned
@pytest.mark.slow
def test_a_great_many_faults_are_cut_short(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, "lines:\n  a:\n    route:\n" + "      - elbwo\n" * 5_000)
    assert len(faults) == 201
    assert [fault.found for fault in faults].count("more faults than are listed here") == 1


@pytest.mark.invariant
def test_a_very_long_line_is_not_shown_whole(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, edited([("name: Try", f"nam: {'x' * 100_000}")]))
    assert len(str(faults[0])) < 1_000


@pytest.mark.invariant
def test_nothing_in_a_message_moves_the_cursor(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, edited([("to: bed", 'to: "b\\x1b[2Jed\\n"')]))
    assert all(line.isprintable() for fault in faults for line in str(fault).splitlines())


@pytest.mark.invariant
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\u0085", "\u2028", "\u2029"])
def test_every_line_end_counts_as_one(tmp_path: Path, end: str) -> None:
    text = edited([("up: 1.4 m", "up: 1.4")]).replace("\n", end)
    assert [(fault.line, fault.text) for fault in faults_in(tmp_path, text)] == [(12, "      - up: 1.4")]


@pytest.mark.invariant
def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "layout.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + BASE.encode())
    assert read_layout(path).name == "Try"


@pytest.mark.pinned
@pytest.mark.parametrize(
    "text",
    ["[" * 100_000, "{a: " * 100_000, "- " * 100_000, "\n".join(" " * i + "a:" for i in range(500))],
    ids=["brackets", "braces", "dashes", "indents"],
)
def test_things_inside_things_without_end(tmp_path: Path, text: str) -> None:
    faults = faults_in(tmp_path, text)
    assert [fault.found for fault in faults] == ["things inside things without end"]
    assert faults[0].expected == "at most 40 levels of brackets or indentation"


# ---------------------------------------------------------------------- any text at all


def read_or_faults(path: Path) -> tuple[Fault, ...]:
    """The faults of a file, none where it reads; any other error fails the test."""
    try:
        read_layout(path)
    except LayoutError as error:
        return error.faults
    return ()


def reads_or_faults(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    for fault in read_or_faults(path):
        assert fault.line >= 1
        assert fault.column >= 1
        assert fault.found
        assert fault.expected


def paths_of(root: yaml.Node, above: tuple[tuple[str, int], ...] = ()) -> list[tuple[tuple[str, int], ...]]:
    found = [above]
    if isinstance(root, yaml.SequenceNode):
        for i, item in enumerate(root.value):
            found += paths_of(item, (*above, ("item", i)))
    elif isinstance(root, yaml.MappingNode):
        for i, (_, value) in enumerate(root.value):
            found.append((*above, ("key", i)))
            found += paths_of(value, (*above, ("value", i)))
    return found


def put(root: Any, path: tuple[tuple[str, int], ...], new: yaml.Node) -> Any:
    if not path:
        return new
    (kind, index), rest = path[0], path[1:]
    if kind == "item":
        root.value[index] = put(root.value[index], rest, new)
    else:
        key, value = root.value[index]
        root.value[index] = (put(key, rest, new), value) if kind == "key" else (key, put(value, rest, new))
    return root


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize(
    "new", ["~", "[]", "{}", "x", "-1", ".nan", "'5 kg'", "[x]", "{x: y}", "1e999 m", "tank", "-0 m"]
)
def test_any_part_of_a_layout_replaced_reads_or_faults(tmp_path: Path, new: str) -> None:
    root = yaml.compose(BASE, Loader=yaml.SafeLoader)
    for path in paths_of(root):
        changed = put(copy.deepcopy(root), path, yaml.compose(new, Loader=yaml.SafeLoader))
        reads_or_faults(tmp_path / "layout.yaml", yaml.serialize(changed))


WORDS = st.sampled_from(
    [
        "up",
        "down",
        "east",
        "tee",
        "wye",
        "cap",
        "plug",
        "elbow",
        "sweep",
        "bend",
        "hose",
        "spray",
        "bar",
        "reducer",
        "valve",
        "ball",
        "union",
        "from",
        "to",
        "route",
        "pipe",
        "vessels",
        "pumps",
        "lines",
        "rods",
        "limits",
        "water",
        "base",
        "rim",
        "area",
        "wants",
        "in",
        "curve",
        "K",
        "Kv",
        "id",
        "opening",
        "faces",
        "angle",
        "t1",
        "tank",
        "bed",
        "lift",
        "draws",
        "open",
        "air",
        "pvc",
        "25",
        "[",
        "]",
        "{",
        "}",
        ":",
        ",",
        "-",
        "&",
        "*",
        "!",
        "|",
        ">",
        "'",
        "#",
        '"',
        "%",
        "",
        "@",
        "1",
        "m",
        "2",
        "in",
        "ft",
        "0",
        "-1",
        "1e9",
        "nan",
        "~",
        "L/min",
        "deg",
        "yes",
        "no",
    ]
)
PIECES = st.one_of(WORDS, st.just("\n"), st.just("\n  "), st.just("\n    - "), st.just(": "), st.text(max_size=3))


@pytest.mark.invariant
@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pieces=st.lists(PIECES, max_size=40))
def test_random_text_reads_or_faults(tmp_path: Path, pieces: list[str]) -> None:
    reads_or_faults(tmp_path / "layout.yaml", "lines:\n  a: {from: tank}\n" + " ".join(pieces))


VALUES = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.floats(),
        st.text(max_size=5),
        WORDS,
        st.sampled_from(["1 m", "90 deg", "2 L/min", "pvc 25", "open air"]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.one_of(WORDS, st.text(max_size=3)), inner, max_size=4)
    ),
    max_leaves=12,
)


@pytest.mark.invariant
@pytest.mark.slow
@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(route=st.lists(VALUES, max_size=5), start=VALUES, end=VALUES, pump=VALUES, vessel=VALUES, pipe=VALUES)
def test_random_values_read_or_fault(
    tmp_path: Path, route: list[Any], start: Any, end: Any, pump: Any, vessel: Any, pipe: Any
) -> None:
    tree = {
        "vessels": {"tank": {"base": "0 m", "water": "1 m"}, "other": vessel},
        "pumps": {"lift": {"in": "tank", "curve": pump}},
        "lines": {"a": {"from": start, "to": end, "route": route, "pipe": pipe}},
    }
    reads_or_faults(tmp_path / "layout.yaml", yaml.safe_dump(tree, allow_unicode=True))


@pytest.mark.invariant
@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.binary(max_size=60), at=st.integers(0, len(BASE)))
def test_random_bytes_read_or_fault(tmp_path: Path, data: bytes, at: int) -> None:
    path = tmp_path / "layout.yaml"
    path.write_bytes(BASE.encode()[:at] + data + BASE.encode()[at:])
    read_or_faults(path)


@pytest.mark.invariant
def test_the_largest_file_is_refused_with_one_fault(tmp_path: Path) -> None:
    """The bounds hold for a file that is large without being odd."""
    faults = faults_in(tmp_path, ("lines:\n" + "  a: [1, 2, 3]\n" * 300_000)[: source.MOST_BYTES])
    assert len(faults) == 1


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("ball valve: partly open", "the ball valve is said to be 'partly open'"),
        ("cap: sideways", "the cap is said to face 'sideways'"),
    ],
)
def test_vague_words_are_not_taken_for_names(tmp_path: Path, step: str, said: str) -> None:
    path = tmp_path / "vague.yaml"
    path.write_text(
        "vessels: {tank: {base: 1 m, water: 0.5 m}}\n"
        f"lines: {{a: {{pipe: pvc 25, from: {{vessel: tank, height: 0 m}}, route: [{{east: 1 m}}, {step}, {{east: 1 m}}], "
        "to: open air}}\n",
        encoding="utf-8",
    )
    with pytest.raises(LayoutError, match=said):
        read_layout(path)


@pytest.mark.invariant
def test_a_line_that_does_not_fit_is_shown_beside_the_one_with_words_before_it_and_not_beside_a_remark() -> None:
    text = "vessels:\n    tank: {base: 0 m, water: 1 m}\n\n    # filled by hand\n  bed: {base: 1 m, water: 0.2 m}\nlines: {}\n"
    with pytest.raises(LayoutError) as caught:
        layout_of(text)
    told = str(caught.value)
    assert "5 |   bed:" in told
    assert "2 |     tank:" in told
    assert "filled by hand" not in told
