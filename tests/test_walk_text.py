"""Edits of a layout's text, a tap each: what is meant changes, remarks and all else stay."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import yaml

from plumbline import catalogue
from plumbline.layout import layout_of, words
from plumbline.page.walk.text import NEW, CannotChange, comments, edited
from plumbline.redesign.script import read_script

LAYOUTS = Path(__file__).parent.parent / "layouts"
NAMES = sorted(path.name for path in LAYOUTS.glob("*.yaml"))


def remarks(text: str) -> Counter[str]:
    """A second, plain way: what stands after a # in each line; no layout here has one in quotes."""
    return Counter(found[0].strip() for found in re.finditer(r"(?m)(^|\s)#.*$", text))


def steps(text: str) -> dict[str, list[str]]:
    script = read_script(text)
    return {name: [" ".join(script.slice(step).split()) for step in line.steps] for name, line in script.lines.items()}


@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("name", NAMES)
def test_every_step_of_every_layout_can_be_edited_and_no_remark_is_lost(name: str) -> None:
    text = (LAYOUTS / name).read_text(encoding="utf-8")
    before = steps(text)
    assert remarks(text).keys() >= set(comments(text))
    alike: Counter[tuple[str, str]] = Counter()
    for line, there in before.items():
        for k, said in enumerate(there):
            # Steps that differ in their figures alone, before such another, are edited in the same way: two of each will do.
            kind = tuple(re.sub(r"[\d.]+", "#", one) for one in (said, *there[k + 1 : k + 2], ""))[:2]
            alike[kind] += 1
            if alike[kind] > 2:
                continue
            place: dict[str, Any] = {"line": line, "step": k + 1}
            got = edited(text, {"do": "delete", **place})
            assert steps(got) == {**before, line: there[:k] + there[k + 1 :]}
            assert remarks(got) == remarks(text)
            got = edited(text, {"do": "replace", **place, "steps": [{"fitting": "union", "details": {"id": "here"}}]})
            assert steps(got) == {**before, line: [*there[:k], "union: here", *there[k + 1 :]]}
            assert remarks(got) == remarks(text)
            got = edited(
                text,
                {
                    "do": "insert",
                    "line": line,
                    "before": k + 1,
                    "steps": [{"run": {"up": "12 cm"}}, {"fitting": "elbow"}],
                },
            )
            assert steps(got) == {**before, line: [*there[:k], "up: 12 cm", "elbow", *there[k:]]}
            assert remarks(got) == remarks(text)
            if k + 1 < len(there):
                got = edited(text, {"do": "move", **place, "by": 1})
                assert steps(got) == {**before, line: [*there[:k], there[k + 1], said, *there[k + 2 :]]}
                assert remarks(got) == remarks(text)
                assert edited(got, {"do": "move", **place, "by": 1}) == text
            way = re.match(r"\{?(up|down|north|south|east|west): ([^,}]+)", said)
            if way:
                got = edited(text, {"do": "set", **place, "key": way[1], "value": "7.77 m"})
                assert steps(got)[line][k] == said.replace(f"{way[1]}: {way[2]}", f"{way[1]}: 7.77 m", 1)
                assert got.count("\n") == text.count("\n")
                assert edited(got, {"do": "set", **place, "key": way[1], "value": way[2]}) == text
            if re.match("(ball|gate|diaphragm|butterfly) valve", said):
                got = edited(text, {"do": "open", **place, "value": 0.37})
                parts = [part for part in layout_of(got).lines[line].parts if part.step == k + 1]
                assert [part.opening for part in parts] == pytest.approx([0.37])


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("name", NAMES)
def test_vessels_and_lines_can_be_added_set_and_taken_out(name: str) -> None:
    text = (LAYOUTS / name).read_text(encoding="utf-8")
    vessels = yaml.safe_load(text)["vessels"]
    for vessel in vessels:
        got = edited(text, {"do": "put", "kind": "vessel", "name": vessel, "values": {"base": "3.21 m"}})
        assert layout_of_heights(got, vessel) == "3.21 m"
        assert remarks(got) == remarks(text)
    put = {
        "do": "put",
        "kind": "vessel",
        "name": "new one",
        "values": {"holds": "plants", "base": "9 m", "water": "0.2 m"},
    }
    got = edited(text, put)
    assert layout_of(got).vessels["new one"].base == 9.0
    assert list(yaml.safe_load(got)["vessels"])[:-1] == list(vessels)
    assert remarks(got) == remarks(text)
    line = {
        "do": "line",
        "line": "new line",
        "pipe": "pvc 25",
        "from": {"vessel": "new one", "standpipe": "0.2 m"},
        "steps": [{"run": {"down": "0.5 m"}}],
    }
    got = edited(got, line)
    assert layout_of(got).lines["new line"].length == pytest.approx(0.5)
    assert remarks(got) == remarks(text)
    back = edited(
        edited(got, {"do": "drop", "kind": "line", "name": "new line"}),
        {"do": "drop", "kind": "vessel", "name": "new one"},
    )
    assert back == text
    for dropped in steps(text):
        got = edited(text, {"do": "drop", "kind": "line", "name": dropped})
        assert list(steps(got)) == [one for one in steps(text) if one != dropped]
        assert remarks(got) == remarks(text)


def layout_of_heights(text: str, vessel: str) -> str:
    import yaml

    return str(yaml.load(text, Loader=yaml.BaseLoader)["vessels"][vessel]["base"])


@pytest.mark.invariant
def test_windows_line_ends_stay() -> None:
    text = (LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8").replace("\n", "\r\n")
    for edit in (
        {"do": "insert", "line": "riser", "before": 3, "steps": [{"run": {"up": "1 m"}}]},
        {"do": "delete", "line": "riser", "step": 2},
        {"do": "put", "kind": "vessel", "name": "x", "values": {"base": "0 m", "water": "1 m"}},
        {"do": "line", "line": "y", "pipe": "pvc 25", "from": "lift", "steps": [{"run": {"up": "1 m"}}]},
        {"do": "put", "kind": "pump", "name": "lift", "values": {"speed": "80 %"}},
    ):
        got = edited(text, edit)
        assert got != text
        assert "\n" not in got.replace("\r\n", "")
        assert steps(got).keys() >= {"riser"}


@pytest.mark.invariant
def test_a_vessel_that_is_repeated_by_a_name_is_not_changed_behind_the_others_back() -> None:
    text = "vessels:\n  north: &bed {base: 1 m, water: 0.2 m}\n  south: *bed\npumps:\nlines:\n"
    for name in ("north", "south"):
        for edit in ({"do": "put", "values": {"base": "2 m"}}, {"do": "drop"}):
            with pytest.raises(CannotChange, match="repeated elsewhere"):
                edited(text, {**edit, "kind": "vessel", "name": name})


@pytest.mark.invariant
def test_values_of_every_shape_go_in_and_come_out_again() -> None:
    text = (LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8")
    held = yaml.load(text, Loader=yaml.BaseLoader)
    points = [["0 L/min", "3 m"], ["40 L/min", "1 m"]]
    for kind, name, word, value, place in (
        ("pump", "lift", "runs", {"on": "15 min", "off": "45 min"}, ("pumps", "lift")),
        (
            "pump",
            "lift",
            "runs",
            [{"from": "06:00", "to": "08:00"}, {"from": "18:00", "to": "20:00"}],
            ("pumps", "lift"),
        ),
        ("vessel", "tank", "at", {"east": "1 m", "north": "-2 m"}, ("vessels", "tank")),
        ("vessel", "tank", "area", points, ("vessels", "tank")),
        ("site", "", "rods", {"brush: stiff": {"length": "4 m", "bores": "20 mm to 55 mm"}}, ()),
    ):
        put = {"do": "put", "kind": kind, "name": name}
        was = held
        for key in place:
            was = was[key]
        got = edited(text, {**put, "values": {word: value}})
        now = yaml.load(got, Loader=yaml.BaseLoader)
        for key in place:
            now = now[key]
        assert now == {**was, word: value}
        assert remarks(got) == remarks(text)
        back = edited(got, {**put, "values": {word: was.get(word)}})
        assert back == text
    cap = {"do": "set", "line": "riser", "step": 4}
    got = edited(text, {**cap, "key": "faces", "value": None})
    assert got == text.replace("cap: {id: riser top, faces: west}    #", "cap: {id: riser top}    #")
    assert "      - cap    #" in edited(got, {**cap, "key": "id", "value": None})
    # Another word for the same stays the one that the file has.
    assert "type: sump" in edited(
        text.replace("holds: fish", "type: fish"),
        {"do": "put", "kind": "vessel", "name": "tank", "values": {"holds": "sump"}},
    )


EVIL = [
    "x\n  evil: {base: 0 m}",
    "a: b",
    "*x",
    "&x y",
    "# no",
    "'",
    '"',
    "{}",
    "[1, 2]",
    "!!python/object:os.system",
    "yes",
    "- a",
    "é ü",
    "%",
]


@pytest.mark.invariant
@pytest.mark.parametrize("name", EVIL)
def test_what_is_typed_stays_one_value(name: str) -> None:
    import yaml

    said = " ".join(name.split())
    text = edited(
        NEW.format(name="x"), {"do": "put", "kind": "vessel", "name": name, "values": {"base": name, "water": "1 m"}}
    )
    assert yaml.load(text, Loader=yaml.BaseLoader)["vessels"] == {said: {"base": said, "water": "1 m"}}
    text = edited(
        text,
        {
            "do": "line",
            "line": name,
            "pipe": name,
            "from": {"vessel": name, "height": name},
            "steps": [{"run": {"up": name}}, {"fitting": "cap", "details": {"id": name, "faces": name}}],
        },
    )
    assert yaml.load(text, Loader=yaml.BaseLoader)["lines"] == {
        said: {
            "pipe": said,
            "from": {"vessel": said, "height": said},
            "route": [{"up": said}, {"cap": {"id": said, "faces": said}}],
            "to": "open air",
        }
    }


@pytest.mark.invariant
@pytest.mark.parametrize(
    "edit",
    [
        {},
        {"do": "nothing"},
        {"do": "delete"},
        {"do": "delete", "line": "riser", "step": 0},
        {"do": "delete", "line": "riser", "step": 99},
        {"do": "delete", "line": "no", "step": 1},
        {"do": "insert", "line": "riser", "before": 1, "steps": []},
        {"do": "insert", "line": "riser", "before": 1, "steps": [{"fitting": "rocket"}]},
        {"do": "open", "line": "riser", "step": 2, "value": 7},
        {"do": "insert", "line": "riser", "before": 1, "steps": [{"run": {"sideways": "1 m"}}]},
        {"do": "put", "kind": "vessel", "name": "", "values": {"base": "1 m"}},
        {"do": "line", "line": "riser", "pipe": "pvc 25", "from": "lift", "steps": [{"run": {"up": "1 m"}}]},
        {"do": "drop", "kind": "rods", "name": "x"},
        {"do": "set", "line": "riser", "step": 1, "key": "route", "value": "x"},
        {"do": "end", "line": "riser", "side": "route", "end": "x"},
        {"do": ["a"]},
        {"do": "put", "kind": "vessel", "name": "tank", "values": {}},
        {"do": "move", "line": "riser", "step": 1, "by": -1},
    ],
)
def test_what_is_no_edit_is_refused_in_a_sentence(edit: dict[str, Any]) -> None:
    text = (LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8")
    with pytest.raises(CannotChange):
        edited(text, edit)


JOBS = Path(__file__).parent / "jobs" / "trade"


@pytest.mark.second_method
@pytest.mark.parametrize("job", ["05_allotment_hose", "07_sag_between_clips", "09_bead_filter_set"])
def test_a_job_s_steps_are_walked_in_by_taps(job: str) -> None:
    """Each line's steps are taken out and put in again one by one, as the page does it; the layout is the same as the file's."""
    text = (JOBS / f"{job}.yaml").read_text(encoding="utf-8")
    wanted = layout_of(text)
    script = read_script(text)
    for name, line in script.lines.items():
        taps = [_tap(yaml.safe_load(script.slice(node))) for node in line.steps]
        for _ in taps[1:]:
            text = edited(text, {"do": "delete", "line": name, "step": 2})
        text = edited(text, {"do": "replace", "line": name, "step": 1, "steps": taps[:1]})
        for k, tap in enumerate(taps[1:], start=2):
            text = edited(text, {"do": "insert", "line": name, "before": k, "steps": [tap]})
    for name, made in layout_of(text).lines.items():
        assert [(part.kind, part.start, part.end, part.opening, dict(part.details)) for part in made.parts] == [
            (part.kind, part.start, part.end, part.opening, dict(part.details)) for part in wanted.lines[name].parts
        ]


def _tap(step: Any) -> dict[str, Any]:
    """What the page sends for a step: a run by its ways, anything else by its word and its details."""
    if isinstance(step, str):
        return {"fitting": catalogue.fittings()[step].name}
    if step.keys() & words.RUN.keys():
        return {"run": step}
    ((kind, said),) = step.items()
    kind = kind if kind in words.LONG else catalogue.fittings()[kind].name
    first = (
        "opening"
        if "valve" in kind
        else "clogged"
        if "clogged" in str(said)
        else "bore"
        if " mm" in str(said)
        else "id"
    )
    details = said if isinstance(said, dict) else {first: str(said).removesuffix(" clogged")}
    return {"fitting": kind, "details": details}
