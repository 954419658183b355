"""Words of the trade that the language says otherwise: each gets, in its fault, the line to write, and that line is read.

Invariants: what is offered is of the language; meaning goes before spelling.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from test_schema import errors

from plumbline import catalogue
from plumbline.errors import LayoutError, PlumblineError
from plumbline.layout import words
from plumbline.layout.model import Layout, Mark
from plumbline.layout.rewrite import set_openings, set_values
from plumbline.layout.steps import step_words

ReadText = Callable[[str], Layout]
STEPS = catalogue.trade_words()["step"]
KEYS = {"vessel": words.VESSEL, "pump": words.PUMP, "line": words.LINE, "run": words.RUN, "end": words.END}


def fault(read_text: ReadText, step: str) -> str:
    with pytest.raises(LayoutError) as error:
        read_text(
            "vessels: {tank: {base: 1 m, water: 0.5 m}}\nlines:\n  a:\n    pipe: pvc 25\n    from: tank\n    route:\n"
            f"      - up: 1 m\n      - {step}\n      - up: 1 m\n    to: open air\n"
        )
    return str(error.value)


@pytest.mark.invariant
@pytest.mark.parametrize("word", STEPS)
def test_each_word_gets_its_line(read_text: ReadText, word: str) -> None:
    said = fault(read_text, f"'{word}'")
    assert f"write {STEPS[word]}" in said or "without a length" in said
    assert "did you mean" not in said


@pytest.mark.invariant
@pytest.mark.parametrize("word", STEPS)
def test_no_line_offers_a_word_that_the_language_has_not(word: str) -> None:
    """What stands before the first colon or comma is a step, an end, or plain English that begins otherwise."""
    assert word not in step_words()
    first = re.split(r"[:,;]| where | or ", STEPS[word])[0].strip()
    ends = (
        "to",
        "from",
        "nothing",
        "the bends and runs that it is made of",
        "the run itself",
        "a line from",
        "runs",
    )
    known = {*step_words(), "fitting", "manifold", "hose", "spray bar", "drip line"}
    assert first in known or first.startswith(("to ", "a vessel", "a line", "the standpipe")) or first in ends


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("where", "word"), [(where, word) for where in KEYS for word in catalogue.trade_words()[where]]
)
def test_a_word_of_a_vessel_a_pump_or_a_line_gets_its_own(where: str, word: str) -> None:
    line = catalogue.trade_words()[where][word]
    assert word not in KEYS[where]
    assert line.partition(":")[0] in KEYS[where]


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("step", "line"),
    [
        ("tap", "write ball valve"),
        ("faucet: half", "write ball valve"),
        ("3/4 in hose barb", "write hose barb; its size"),
        ("brass elbow", "write elbow; its size"),
        ("elbo", "did you mean 'elbow'?"),
        ("Float Valve", "write to: {vessel: sump, float valve: 0.5 m}"),
        ("stop-cock", "write globe valve, or ball valve"),
        ("drippers: 5", "write drip line"),
        ("uniseal", "write rubber seal"),
        ("{down: 1 m, slope: 2 %}", "write fall: 2 %"),
        ("nv: half", "did you mean 'needle valve'?"),
        ("{d: 0.3 m}", "write down: 0.3 m"),
        ("strainer: 30 %", "for what dirt has closed write strainer: 30 % clogged"),
        ("{up: 1.4}", "write 1.4 m, 1.4 mm or 1.4 ft"),
        ("by-pass", "write tee: t1, and a line from t1 with a ball valve"),
        ("reducer bushing", "write reducer: pvc 20"),
        ("pipe clip", "write nothing"),
    ],
)
def test_meaning_goes_before_spelling(read_text: ReadText, step: str, line: str) -> None:
    assert line in fault(read_text, step)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("end", "line"),
    [
        ("mains", "write {supply: 10 L/min"),
        ("{vessel: tank, bottom drain: yes}", "write height: 0 m"),
        ("{vessel: tank, bell siphon: 0.2 m}", "a siphon that does not say where it breaks"),
    ],
)
def test_a_word_of_the_trade_at_a_line_s_end(read_text: ReadText, end: str, line: str) -> None:
    with pytest.raises(LayoutError) as error:
        read_text(
            "vessels: {tank: {base: 1 m, water: 0.5 m}}\nlines:\n  a: {pipe: pvc 25, from: tank, route: [{up: 1 m}], "
            f"to: {end}}}\n"
        )
    assert line in str(error.value)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("word", "opens"), [("soakaway", False), ("ground", False), ("to waste", True), ("Gully", True), ("drain", True)]
)
def test_what_lies_outside_is_open_air_and_no_opening_where_it_lies_in_the_ground(
    read_text: ReadText, word: str, opens: bool
) -> None:
    """Unless the file has a vessel, a pump or a tee of that name, in whatever line it stands."""
    text = f"vessels: {{tank: {{base: 1 m, water: 0.5 m}}}}\nlines:\n  a: {{pipe: pvc 50, from: tank, route: [{{down: 1 m}}], to: {word}}}\n"
    layout = read_text(text)
    assert (layout.lines["a"].end.kind, "a.to" in {one.id for one in layout.accesses}) == ("open air", opens)
    assert f"to: {word}, and nothing in the file is called so" in {one.source for one in layout.defaults}
    passed = f"{{pipe: pvc 50, from: {{open air: yes, height: 0 m}}, route: [{{east: 1 m}}, 'tee': {word}, {{east: 1 m}}], to: open air}}"
    named = read_text(f"{text}  b: {passed}\n")
    assert named.lines["a"].end.kind == "tee"


@pytest.mark.pinned
def test_clear_pipe_says_so_on_its_runs(read_text: ReadText) -> None:
    with pytest.raises(LayoutError, match="write pipe: hose 19 mm, and clear: yes on its runs"):
        read_text(
            "vessels: {tank: {base: 1 m, water: 0.5 m}}\nlines:\n  a: {pipe: clear hose 19 mm, from: tank, route: [{east: 1 m}], "
            "to: open air}\n"
        )


SAME = """
vessels:
  sump: {kind: sump, elevation: 0 m, rim: 0.6 m, water level: 0.4 m, area: 1 m^2}
  bed: {type: plants, base: 1 m, rim: 0.4 m, water depth: 0.05 m, area: 1 m^2, needs: 8 L/min}
pumps:
  lift: {tank: sump, curve: {max head: 3 m, max flow: 40 L/min}, watts: 40 W, timer: {on: 15 min, off: 45 min}}
lines:
  feed:
    pipe: pvc 25
    from: lift
    route: [{up: 1.5 m}, street elbow, {east: 1 m, clear: no}, sanitary tee: t, {east: 0.5 m, buried: no}, "90", {down: 0.1 m}]
    to: bed
  spur: {pipe: pvc 25, from: t, route: [hose: {north: 1 m, bends: 3 x 90 deg}], to: {vessel: sump, float: 0.5 m}}
  back: {pipe: pvc 25, from: {vessel: bed, bell siphon: 0.22 m, breaks: 0.05 m}, route: [{down: 0.9 m}], to: sump}
"""
PLAINLY = (
    ("kind: sump", "holds: sump"),
    ("elevation", "base"),
    ("water level", "water"),
    ("type:", "holds:"),
    ("water depth", "water"),
    ("needs", "wants"),
    ("tank: sump", "in: sump"),
    ("max head", "highest head"),
    ("max flow", "largest flow"),
    ("watts", "power"),
    ("timer", "runs"),
    (", clear: no", ""),
    (", buried: no", ""),
    ("street elbow", "elbow"),
    ("sanitary tee", "tee"),
    ('"90"', "elbow"),
    ("3 x 90 deg", "270 deg"),
    ("float:", "float valve:"),
    ("bell siphon", "siphon"),
)


LOOSE = """
title: Bed
tanks:
  Sump: {use: sump tank, floor: 0, height: 0,6 m, depth: 400 mm, size: 1 m x 1 m}
  bed: {holds: gravel bed, level: 1 m, depth: 0.4 m, water: 5 cm, area: 1,0 m^2, requires: 8 lit/min}
Pump:
  lift: {stands in: Sump, max head: 3 m of water, max-flow: 2 400 L/h, on: 1 h 15 min, off: 45 min}
  spare: {in: Sump, curve: [[0 L/h,3,5 m], [1500 L/h, 2 m], [3,0 m^3/h,0,5 m]]}
pipework:
  feed:
    size: pvc 25
    starts: lift
    steps: [up: 1,5 m, elbow, {E: 1 m, Underground: yes}, bead filter: 0,4 m @ 40 L/min, uv lamp: {loss: 5 kPa at 40 L/min}, {e: 0,5 m}, "90", {dn: 0.1 m}]
    ends: bed
  back: {size: pvc 50, start: {tank: bed, stand-pipe: 0.05 m, removable: yes}, walk: {drop: 0.9 m}, end: Sump}
"""
LOOSELY = (
    ("title", "name"),
    ("tanks", "vessels"),
    ("use: sump tank, floor: 0,", "holds: sump, base: 0 m,"),
    ("height: 0,6 m, depth: 400 mm, size: 1 m x 1 m", "rim: 0.6 m, water: 0.4 m, area: 1 m^2"),
    ("gravel bed, level: 1 m, depth: 0.4 m", "plants, base: 1 m, rim: 0.4 m"),
    ("1,0 m^2, requires: 8 lit/min", "1 m^2, wants: 8 L/min"),
    ("Pump:", "pumps:"),
    ("stands in", "in"),
    ("max head: 3 m of water, max-flow: 2 400 L/h", "curve: {highest head: 3 m, largest flow: 2400 L/h}"),
    ("on: 1 h 15 min, off: 45 min", "runs: {on: 75 min, off: 45 min}"),
    ("[0 L/h,3,5 m]", "[0 L/h, 3.5 m]"),
    ("[3,0 m^3/h,0,5 m]", "[3 m^3/h, 0.5 m]"),
    ("pipework", "lines"),
    ("size: pvc 25", "pipe: pvc 25"),
    ("starts", "from"),
    ("steps", "route"),
    ("up: 1,5 m", "up: 1.5 m"),
    ("{E: 1 m, Underground: yes}", "{east: 1 m, buried: yes}"),
    ("0,4 m @ 40 L/min", "{loses: 0.4 m, at: 40 L/min}"),
    ("loss: 5 kPa at 40 L/min", "loses: 5 kPa, at: 40 L/min"),
    ("{e: 0,5 m}", "{east: 0.5 m}"),
    ("dn:", "down:"),
    ("ends", "to"),
    ("size: pvc 50, start: {tank: bed, stand-pipe", "pipe: pvc 50, from: {vessel: bed, standpipe"),
    ("removable", "pulls out"),
    ("walk: {drop: 0.9 m}, end", "route: [{down: 0.9 m}], to"),
)


@pytest.mark.second_method
@pytest.mark.parametrize(("said", "plainly"), [(SAME, PLAINLY), (LOOSE, LOOSELY)], ids=["other words", "loosely"])
def test_what_is_said_otherwise_is_read_as_what_it_means(
    read_text: ReadText, said: str, plainly: tuple[tuple[str, str], ...]
) -> None:
    """The same layout in the language's first words, each of them put in, is the same but for where things stand in the file."""
    plain = said
    for word, own in plainly:
        assert word in plain
        plain = plain.replace(word, own)
    assert errors(plain) == []
    shown = [
        re.sub(r"Mark\(.*?\)", "", repr((at.name, at.vessels, at.pumps, at.lines, at.tees)))
        for at in map(read_text, (said, plain))
    ]
    assert shown[0] == shown[1]


@pytest.mark.invariant
def test_the_schema_takes_the_other_words() -> None:
    assert errors(SAME) == []


@pytest.mark.second_method
def test_who_changes_a_text_finds_the_words_that_it_means() -> None:
    """The new value stands in the old one's place, however its word is written, and not beside it."""
    assert set_values(LOOSE, "vessels", "wants", {"bed": "9 L/min"}, "What '{}' wants") == LOOSE.replace(
        "8 lit/min", "9 L/min"
    )
    torn = "pumps: {a: {in: b}}\nlines: {x: {from: a, route: [{ball valve: {open: 0,4, name: v}}], to: c}}\n"
    assert set_openings(torn, {Mark(2, 30): 0.5}) == torn.replace("0,4", "50 %")
    beside = "pumps: {a: {in: b, max head: 3 m, max flow: 40 L/min}}\nlines: {x: {}}\n"
    assert (
        set_values(beside, "pumps", "curve", {"a": "[]"}, "'{}'") == "pumps: {a: {in: b, curve: []}}\nlines: {x: {}}\n"
    )
    with pytest.raises(PlumblineError, match="its words stand apart there"):
        set_values(
            beside.replace("in: b, max head: 3 m", "max head: 3 m, in: b"), "pumps", "curve", {"a": "[]"}, "'{}'"
        )


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("vessel", "told"),
    [
        ("{base: 0 m, depth: 0.6 m}", "write water: 0.6 m or rim: 0.6 m"),
        ("{water: 0.2 m, height: 0.6 m}", "write base: 0.6 m or rim: 0.6 m"),
        ("{base: 0 m, water: 1,200 mm}", "write 1200 mm or 1.200 mm"),
    ],
)
def test_what_may_be_either_is_neither(read_text: ReadText, vessel: str, told: str) -> None:
    with pytest.raises(LayoutError, match=re.escape(told)):
        read_text(f"vessels: {{a: {vessel}}}\nlines: {{x: {{pipe: pvc 25, from: a, route: [up: 1 m], to: cap}}}}\n")


@pytest.mark.pinned
def test_lines_that_meet_by_a_name_alone_are_told_which_two_are_one(read_text: ReadText) -> None:
    """Once, and what it says is read when it is done."""
    vessel = "vessels: {tank: {base: 1 m, water: 0.5 m}}\nlines:\n"
    split = "  b: {pipe: pvc 25, from: x, route: [{north: 1 m}], to: open air}\n"
    apart = "  a: {pipe: pvc 25, from: tank, route: [{east: 1 m}], to: x}\n  c: {pipe: pvc 25, from: x, route: [{east: 1 m}], to: cap}\n"
    with pytest.raises(
        LayoutError, match="'a' and 'c' are one line: write tee: x behind the last step of 'a'"
    ) as error:
        read_text(vessel + apart + split)
    assert len(error.value.faults) == 1
    joined = "  a: {pipe: pvc 25, from: tank, route: [{east: 1 m}, tee: x, {east: 1 m}], to: cap}\n"
    assert len(read_text(vessel + joined + split).tees) == 1


SEVERAL = {"depth", "height", "level", "drop"}
"""Words for several keys of one table, told apart by what else is said and by their value."""


@pytest.mark.invariant
def test_no_other_word_is_a_word_of_its_own_or_said_of_two_things() -> None:
    for table in words.TABLES.values():
        others = [word for key in table.values() for word in key.also if word not in SEVERAL]
        assert len(set(others)) == len(others)
        assert {*others} & {*table} <= {"bore"}, "a three-way valve's bore is its port; no fitting has both"


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("step", "told"),
    [
        ("union: 0.4 m at 40 L/min", "a union takes no loss at a flow"),
        ("elbow: 3/4 in", "its size is that of the pipe beside it: write elbow"),
        ("hose: {down: 1 m, sag: 0.1 m}", "write down: 0.1 m on the run"),
        ("{down: 1 m, plug: no}", "unknown word 'plug'"),
    ],
)
def test_what_can_mean_two_things_is_told(read_text: ReadText, step: str, told: str) -> None:
    assert told in fault(read_text, step)


@pytest.mark.pinned
def test_a_word_and_another_for_the_same_are_one_too_many(read_text: ReadText) -> None:
    with pytest.raises(LayoutError, match="'max head' stands twice in the curve of pump 'lift'"):
        read_text(SAME.replace("max head: 3 m", "highest head: 3 m, max head: 3 m"))
