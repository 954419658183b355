"""What stands after a fitting: an opening is an opening, and nothing that could be meant as a value is taken for a name.

Invariants. How a lever's degrees and a wheel's turns count is common practice, no source: an actuator counts from shut.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
import yaml

from plumbline import catalogue
from plumbline.catalogue.loss_laws import Stated
from plumbline.errors import LayoutError
from plumbline.layout import words
from plumbline.layout.model import Layout, Mark, Part
from plumbline.layout.rewrite import set_openings, set_values

ReadText = Callable[[str], Layout]

OPENINGS = {
    "open": 1.0,
    "full": 1.0,
    "on": 1.0,
    "fully open": 1.0,
    "wide open": 1.0,
    "all the way open": 1.0,
    "shut": 0.0,
    "closed": 0.0,
    "off": 0.0,
    "OFF": 0.0,
    "'off'": 0.0,
    "fully shut": 0.0,
    "turned off": 0.0,
    "half": 0.5,
    "half-open": 0.5,
    "Half open": 0.5,
    "half shut": 0.5,
    "1/2": 0.5,
    "½ open": 0.5,
    "quarter": 0.25,
    "a quarter open": 0.25,
    "quarter shut": 0.75,
    "three quarters": 0.75,
    "1/4 shut": 0.75,
    "40 %": 0.4,
    "40%": 0.4,
    "40 percent": 0.4,
    "40 per cent open": 0.4,
    "40 pct": 0.4,
    "0.4": 0.4,
    "40 % open": 0.4,
    "40 % shut": 0.6,
    "two turns of five": 0.4,
    "2 turns of 5": 0.4,
    "2 of 5 turns": 0.4,
    "2 turns shut of 5": 0.6,
}
"""What opens a valve of any kind."""
LEVER = {"45 deg": 0.5, "45°": 0.5, "30 deg open": 1 / 3, "30 deg shut": 2 / 3, "1/8 turn": 0.5, "1/4 turn open": 1.0}


def openings_of(valve: str) -> dict[str, float]:
    """What opens a valve, by what its handle can do."""
    handle = words.fitting_keys(valve)["opening"].choices[0]
    if handle == "switch":
        return {said: share for said, share in OPENINGS.items() if share in (0.0, 1.0)}
    return {**OPENINGS, **(LEVER if handle == "lever" else {})}


UNCLEAR = (
    "partly",
    "throttled",
    "cracked open",
    "half of the time",
    "40 % or so",
    "open bed",
    "2 turns",
    "1.5 turns open",
    "100 deg open",
    "1/2 turn",
    "on/off",
    "pinched",
    "2 o'clock",
    "a bit",
    "3 north",
    "minimum",
    "just a crack",
    "stuck",
    "locked",
    "NC",
    "n.o.",
    "normally closed",
)
UNCLEAR_LEVER = ("30 deg", "90 deg", "1/4 turn")
VALVES = [kind for kind, details in words.fittings().items() if "opening" in details]
NAMES = (
    "v1",
    "bed valve",
    "valve 2",
    "by the door",
    "valve on bed 2",
    "K2 valve",
    "north valve",
    "3rd",
    "full bore",
    "valve no 1",
    "NC1",
)
VALUES = (
    "45 deg",
    "22.5 deg",
    "40 mm",
    "1 1/2 in",
    "3 L/min",
    "1 bar",
    "40 L",
    "pvc 25",
    "K 2",
    "K=0.5",
    "Kv 12",
    "id v1",
    "no",
    "none",
    "off",
    "40 %",
    "0.4",
    "12",
    "up",
    "north east",
    "sideways",
    "half open",
    "1/2 turn",
    "30 deg open",
    "[v1]",
    "'-'",
    "'?'",
)
"""What could be meant as a value of some fitting or other."""


ON = {
    0: "{east: 1 m}",
    22.5: "{east: 0.924 m, south: 0.383 m}",
    45: "{east: 1 m, south: 1 m}",
    90: "{south: 1 m}",
    180: "{west: 1 m}",
}
"""How the walk goes on after a fitting that turns it."""


def part_of(read_text: ReadText, step: str) -> Part:
    """The one part that stands between two runs, which make its corner."""
    kind = step.partition(":")[0]
    turn = catalogue.fittings()[kind].turn or 0.0
    text = f"""\
    vessels: {{tank: {{base: 1 m, water: 0.5 m}}}}
    lines:
      a:
        pipe: pvc 25
        from: {{vessel: tank, height: 0 m}}
        route:
          - east: 1 m
          - {step}
          - {ON[round(2 * math.degrees(turn)) / 2]}
        to: open air
    """
    return next(part for part in read_text(text).lines["a"].parts if not part.is_pipe)


def refused(read_text: ReadText, step: str) -> str:
    with pytest.raises(LayoutError) as error:
        part_of(read_text, step)
    return str(error.value)


@pytest.mark.invariant
@pytest.mark.parametrize("valve", VALVES)
def test_a_stated_opening_is_an_opening(read_text: ReadText, valve: str) -> None:
    for said, share in openings_of(valve).items():
        for step in (f"{valve}: {said}", f"{valve}: {{id: v1, opening: {said}}}"):
            part = part_of(read_text, step)
            assert part.opening == pytest.approx(share, abs=1e-12), step
            assert part.id == ("v1" if "id:" in step else None)


@pytest.mark.invariant
@pytest.mark.parametrize("valve", VALVES)
def test_an_opening_that_says_not_how_far_is_a_fault(read_text: ReadText, valve: str) -> None:
    of = {"lever": UNCLEAR_LEVER, "wheel": LEVER, "switch": [said for said, share in OPENINGS.items() if 0 < share < 1]}
    for said in (*UNCLEAR, *of[words.fitting_keys(valve)["opening"].choices[0]]):
        assert f"the {valve} is said to be '{said}'" in refused(read_text, f"{valve}: {said}")
        assert f"'opening' is '{said}'" in refused(read_text, f"{valve}: {{opening: {said}}}")


@pytest.mark.pinned
def test_a_fault_says_what_to_write(read_text: ReadText) -> None:
    assert refused(read_text, "ball valve: 30 deg").endswith("""\
    expected which way that is counted: 30 deg open (from shut) or 30 deg shut (from open)
    for instance ball valve: 50 %; a name goes in braces, {id: 30 deg}

1 fault; nothing was checked.""")
    assert "2 turns of 5" in refused(read_text, "gate valve: 2 turns")


@pytest.mark.invariant
@pytest.mark.parametrize("said", [*OPENINGS, *LEVER])
def test_the_program_writes_a_new_opening_over_each(said: str) -> None:
    assert set_openings(f"- ball valve: {said}", {Mark(1, 3): 0.342}) == "- ball valve: 34.2 %"


JOINED = ("tee", "wye", "cross", "three-way valve")
"""What other lines join, and any word may therefore name."""
PLAIN = [kind for kind, details in words.fittings().items() if details[0] == "id" and kind not in JOINED]
STATED = [kind for kind in PLAIN if isinstance(catalogue.fittings()[kind].loss, Stated)]


@pytest.mark.invariant
@pytest.mark.parametrize("kind", [kind for kind in PLAIN if kind not in STATED])
def test_a_name_stays_a_name(read_text: ReadText, kind: str) -> None:
    for name in NAMES:
        for step in (f"{kind}: {name}", f"{kind}: {{id: {name}}}"):
            assert part_of(read_text, step).id == name


@pytest.mark.invariant
@pytest.mark.parametrize("kind", STATED)
def test_what_only_its_maker_knows_is_asked_for(read_text: ReadText, kind: str) -> None:
    assert "loss" in refused(read_text, f"{kind}: by the door")
    part = part_of(read_text, f"{kind}: {{id: by the door, loses: 0.2 m, at: 20 L/min}}")
    assert (part.kind, part.id, part.details["loses"]) == (kind, "by the door", 0.2)


@pytest.mark.some(15)
@pytest.mark.invariant
@pytest.mark.parametrize("kind", words.fittings())
def test_no_fitting_takes_a_value_for_its_name(read_text: ReadText, kind: str) -> None:
    """Each fitting with each kind of value: read as what it says, or refused; its name is never the value."""
    for said in VALUES:
        try:
            part = part_of(read_text, f"{kind}: {said}")
        except LayoutError:
            continue
        assert part.id is None or part.id != said.strip("'"), said
        read = part.opening != 1.0 or part.faces is not None or part.details
        assert read or kind in ("bend", "reducer", "expander", "cap", "hose adapter"), said


@pytest.mark.invariant
@pytest.mark.parametrize("kind", [kind for kind in PLAIN if kind not in STATED])
def test_yes_says_that_it_is_there(read_text: ReadText, kind: str) -> None:
    part = part_of(read_text, f"{kind}: yes")
    assert part.kind == kind
    assert part.id != "yes"


@pytest.mark.pinned
@pytest.mark.parametrize("said", ["off", "no", "none"])
def test_a_word_for_no_is_a_name_in_quotes_only(read_text: ReadText, said: str) -> None:
    hint = f"leave the tee out where there is none; bare it means no, and as a name it stands in quotes, tee: '{said}'"
    assert hint in refused(read_text, f"tee: {said}")
    text = "vessels: {tank: {base: 0 m, water: 1 m}}\nlines:\n  a: {pipe: pvc 25, from: tank, route: [{east: 1 m}, {tee: '%s'}, {east: 1 m}], to: cap}\n"
    text += "  b: {pipe: pvc 25, from: %s, route: [{north: 1 m}], to: cap}\n"
    assert read_text(text % (said, said)).lines["b"].start.name == said


@pytest.mark.invariant
@pytest.mark.parametrize("end", ["cap up", "cap 40 mm", "cap pvc 25", "{cap: up}", "{cap: off}", "cap 45 deg"])
def test_an_end_takes_no_value_for_a_name(read_text: ReadText, end: str) -> None:
    text = "vessels: {tank: {base: 0 m, water: 1 m}}\nlines: {a: {pipe: pvc 25, from: tank, route: [{east: 1 m}], to: %s}}\n"
    with pytest.raises(LayoutError, match="the cap is called"):
        read_text(text % end)


@pytest.mark.invariant
def test_a_cap_that_is_there_has_no_such_name(read_text: ReadText) -> None:
    text = "vessels: {tank: {base: 0 m, water: 1 m}}\nlines: {a: {pipe: pvc 25, from: tank, route: [{east: 1 m}], to: {cap: yes}}}\n"
    assert read_text(text).lines["a"].end.name == "cap 1"


@pytest.mark.invariant
def test_a_currency_is_no_number(read_text: ReadText) -> None:
    text = "electricity: {price: 0.3, currency: 0.30}\nlines: {a: {pipe: pvc 25, from: open air, route: [{east: 1 m}], to: cap}}\n"
    with pytest.raises(LayoutError, match="'currency' is"):
        read_text(text)


@pytest.mark.invariant
def test_a_value_that_takes_several_lines_is_written_anew_without_the_next_ones() -> None:
    text = "pumps:\n  lift:\n    curve:\n      - [0 L/min, 3 m]\n      - [20 L/min, 1 m]\n    in: tank   # for now\n"
    new = set_values(text, "pumps", "curve", {"lift": "[[0 L/min, 2 m], [9 L/min, 1 m]]"}, "The curve of '{}'")
    assert yaml.safe_load(new) == {"pumps": {"lift": {"curve": [["0 L/min", "2 m"], ["9 L/min", "1 m"]], "in": "tank"}}}
    assert new.endswith("    in: tank   # for now\n")


@pytest.mark.pinned
def test_a_hint_offers_what_the_valve_takes(read_text: ReadText) -> None:
    assert "for instance solenoid valve: shut;" in refused(read_text, "solenoid valve: half")
    assert "for instance ball valve: 50 %;" in refused(read_text, "ball valve: a bit")


@pytest.mark.pinned
def test_a_number_that_is_an_angle_is_no_loss(read_text: ReadText) -> None:
    assert "for its name write wye: w1" in refused(read_text, "wye: 45")
    assert "for a stated loss write union: {K: 0.4}" in refused(read_text, "union: 0.4")


@pytest.mark.pinned
@pytest.mark.parametrize("said", ["behind: yes", "under: 40 mm", "under: no"])
def test_what_a_run_lies_behind_or_under_is_a_thing(read_text: ReadText, said: str) -> None:
    word = said.partition(":")[0]
    with pytest.raises(LayoutError, match=f"what it runs {word}, for instance {word}: {words.RUN[word].example}"):
        read_text(
            "vessels: {tank: {base: 1 m, water: 0.5 m}}\nlines:\n  a: {pipe: pvc 25, from: tank, "
            f"route: [{{east: 1 m, {said}}}], to: open air}}\n"
        )
