"""The published schema: valid in itself, in step with the reader, true for every layout of the project."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from plumbline import catalogue
from plumbline.layout import words
from plumbline.layout.model import Layout
from plumbline.layout.pipes import in_any_order
from plumbline.layout.schema import layout_schema

ReadText = Callable[[str], Layout]
LAYOUTS = sorted((Path(__file__).parent.parent / "layouts").glob("*.yaml"))
SCHEMA = layout_schema()
CHECK = jsonschema.Draft202012Validator(SCHEMA)

BASE = """\
name: Try
water: 20 degC
vessels:
  tank: {holds: fish, base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2, at: {east: 1 m}}
  bed: {base: 1 m, rim: 0.3 m, water: 0.2 m, wants: 4 gal/min}
pumps:
  lift: {in: tank, height: 0 m, curve: [[0 L/min, 3 m], [40 L/min, 1 m]], power: 45 W}
lines:
  riser:
    pipe: pvc 25
    from: lift
    route:
      - up: 1.4 m
      - elbow
      - {east: 2 m, pipe: {bore: 26 mm, material: pvc}}
      - tee: t1
      - ball valve: 40 %
      - {east: 1 m}
    to: bed
  spur: {pipe: pvc 25, from: t1, route: [{north: 0.5 m}], to: cap c1}
  return:
    pipe: pvc 50
    from: {vessel: bed, standpipe: 0.2 m}
    route: [{down: 0.8 m}]
    to: {vessel: tank, K: 0}
rods:
  brush: {length: 4 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 20 mm to 55 mm}
limits: {dead leg: 4, margin: 15 %}
"""


class Editor(yaml.SafeLoader):
    """An editor reads YAML 1.2, of which `on`, `no` and 06:00 are plain words."""


Editor.yaml_implicit_resolvers = {
    first: [
        (
            tag,
            re.compile("^(?:true|false)$") if tag.endswith(":bool") else re.compile("^(?!.*:)" + pattern.pattern, re.X),
        )
        for tag, pattern in resolvers
    ]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def as_edited(text: str) -> Any:
    return yaml.load(text, Editor)


def errors(text: str) -> list[str]:
    return [error.json_path for error in CHECK.iter_errors(as_edited(text))]


@pytest.mark.invariant
def test_it_is_a_schema_and_plain_json() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(json.dumps(SCHEMA)) == SCHEMA
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.invariant
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_every_layout_of_the_project_satisfies_it(path: Path) -> None:
    assert errors(path.read_text(encoding="utf-8")) == []


def everything(schema: Any) -> list[tuple[str, Any]]:
    """Every property of the schema and of what stands in it."""
    found: list[tuple[str, Any]] = []
    if isinstance(schema, dict):
        found += schema.get("properties", {}).items()
        for value in schema.values():
            found += everything(value)
    elif isinstance(schema, list):
        for value in schema:
            found += everything(value)
    return found


EVERYTHING = everything(SCHEMA)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("word", "key"),
    [pytest.param(word, key, id=f"{of}: {word}") for of, keys in words.TABLES.items() for word, key in keys.items()],
)
def test_every_key_is_in_it_with_its_meaning_and_an_example(word: str, key: words.Key) -> None:
    matching = [value for name, value in EVERYTHING if name == word and value.get("description") == key.says]
    assert matching
    assert matching[0]["examples"] == [as_edited(key.example)]


@pytest.mark.invariant
def test_every_key_of_a_table_takes_its_own_example() -> None:
    """What the schema offers, it also accepts."""
    for word, value in EVERYTHING:
        if "examples" in value:
            part = {**value, "$defs": SCHEMA["$defs"]}
            for example in value["examples"]:
                assert not list(jsonschema.Draft202012Validator(part).iter_errors(example)), word


@pytest.mark.invariant
def test_every_fitting_pipe_and_limit_is_offered() -> None:
    step = json.dumps(SCHEMA["$defs"]["step"])
    assert all(json.dumps(word) in step for word in words.fittings())
    assert set(catalogue.pipes()) == set(SCHEMA["$defs"]["pipe"]["anyOf"][0]["enum"])
    assert set(catalogue.limits()) == set(SCHEMA["$defs"]["limits"]["properties"])
    assert set(words.HOLDS) < set(SCHEMA["$defs"]["vessel"]["properties"]["holds"]["enum"])


RIGHT = [
    ("up: 1.4 m", "up: 5 ft 6 in"),
    ("rim: 0.3 m", "rim: 11 3/4 in"),
    ("up: 1.4 m", "up: 5'6\""),
    ("water: 20 degC", "water: {density: 998 kg/m^3, viscosity: 1.002e-3 Pa s}"),
    ("curve: [[0 L/min, 3 m], [40 L/min, 1 m]]", "curve: {highest head: 3 m, largest flow: 40 L/min}"),
    ("- ball valve: 40 %", "- ball valve"),
    ("- ball valve: 40 %", "- ball valve: 0.4"),
    ("- ball valve: 40 %", "- ball valve: shut"),
    ("- ball valve: 40 %", "- ball valve: {opening: 40 %, id: v1, K: 0}"),
    ("- ball valve: 40 %", "- fitting: {K: 24.7}"),
    ("- ball valve: 40 %", "- cap: {id: c9, faces: up}"),
    ("- ball valve: 40 %", "- cap: {faces: {up: 1, west: 2}}"),
    ("- ball valve: 40 %", "- union:"),
    ("- ball valve: 40 %", "- reducer: pvc 20"),
    ("- ball valve: 40 %", "- reducer: {to: pvc 20, angle: 20 deg}"),
    ("- ball valve: 40 %", "- non-return valve"),
    ("- ball valve: 40 %", "- hose: {east: 1 m, length: 1.2 m, pipe: hose 25 mm}"),
    ("- ball valve: 40 %", "- spray bar: {east: 1 m, holes: 12, hole: 4 mm, in: tank}"),
    ("- tee: t1", "- tee: {id: t1, K: 0}"),
    ("- tee: t1", "- wye: t1"),
    ("to: cap c1", "to: open air"),
    ("to: cap c1", "to: {open air: yes, K: 0}"),
    ("to: cap c1", "to: {draws: -2 L/min}"),
    ("to: cap c1", "to: {plug: }"),
    ("to: cap c1", "to: {cap: c1}"),
    ("route: [{north: 0.5 m}]", "route: []"),
    ("route: [{north: 0.5 m}]", "route:"),
]
WRONG = [
    ("name: Try", "nam: Try"),
    ("lines:", "runs:"),
    ("vessels:", "vessels: 5\nother:"),
    ("up: 1.4 m", "up: 1.4"),
    ("up: 1.4 m", "up: high"),
    ("up: 1.4 m", "upp: 1.4 m"),
    ("holds: fish", "holds: fisch"),
    ("base: 0 m, ", ""),
    ("in: tank, height", "inn: tank, height"),
    ("curve: [[0 L/min, 3 m], [40 L/min, 1 m]]", "curve: [[0 L/min, 3 m]]"),
    ("curve: [[0 L/min, 3 m], [40 L/min, 1 m]]", "curve: [[0 L/min, 3 m, 1 m], [40 L/min, 1 m]]"),
    ("curve: [[0 L/min, 3 m], [40 L/min, 1 m]]", "curve: {highest head: 3 m}"),
    ("pipe: pvc 50", "pipe: pvc 51"),
    ("{bore: 26 mm, material: pvc}", "{material: pvc}"),
    ("material: pvc", "material: pvcc"),
    ("- elbow", "- elbo"),
    ("- elbow", "- [elbow]"),
    ("- elbow", "- {elbow: , sweep: }"),
    ("- ball valve: 40 %", "- ball valve: {openning: 40 %}"),
    ("- ball valve: 40 %", "- ball valve: {opening: 40}"),
    ("- ball valve: 40 %", "- fitting"),
    ("- ball valve: 40 %", "- fitting: {id: f}"),
    ("- ball valve: 40 %", "- bend"),
    ("- ball valve: 40 %", "- reducer"),
    ("- ball valve: 40 %", "- hose: {length: 1.2 m}"),
    ("- ball valve: 40 %", "- spray bar: {east: 1 m, holes: 12}"),
    ("- ball valve: 40 %", "- spray bar: {east: 1 m, holes: 1.5, hole: 4 mm}"),
    ("- tee: t1", "- tee: [t1]"),
    ("from: lift", "form: lift"),
    ("    to: bed\n", ""),
    ("to: cap c1", "to: {vessel: bed, cap: c1}"),
    ("to: cap c1", "to: {K: 0}"),
    ("to: cap c1", "to: {plug: no}"),
    ("standpipe: 0.2 m", "standpipe: 0.2 m, height: 0 m"),
    ("vessel: bed, standpipe", "pump: lift, standpipe"),
    ("route: [{down: 0.8 m}]", "route: {down: 0.8 m, elbow: }"),
    ("bores: 20 mm to 55 mm", "bores: 20 mm"),
    ("limits: {dead leg: 4", "limits: {dead legs: 4"),
    ("margin: 15 %", "margin: 15"),
    ("  bed:", "  plug:"),
]


@pytest.mark.invariant
@pytest.mark.parametrize(("old", "new"), [("", ""), *RIGHT])
def test_what_is_right_for_both(read_text: ReadText, old: str, new: str) -> None:
    """The reader takes it too, save that a changed route may no longer make its tees."""
    text = BASE.replace(old, new, 1) if old else BASE
    assert errors(text) == []
    if not old or "route" in old or "tee" in old or "valve" in old:
        return
    assert read_text(text).lines


@pytest.mark.invariant
@pytest.mark.parametrize(("old", "new"), WRONG)
def test_what_is_wrong_for_both(read_text: ReadText, old: str, new: str) -> None:
    from plumbline.errors import LayoutError

    assert old in BASE
    text = BASE.replace(old, new, 1)
    assert errors(text)
    with pytest.raises(LayoutError):
        read_text(text)


@pytest.mark.second_method
def test_a_pipe_s_words_in_another_order_are_one_for_reader_and_schema() -> None:
    """Each name the other way round; and a size that no pipe has is none for either."""
    pipe = jsonschema.Draft202012Validator(SCHEMA["$defs"]["pipe"] | {"$defs": SCHEMA["$defs"]})
    turned = {
        name: " ".join(re.findall(r"sch \d+|sdr [\d.]+|[\d /]+ in|[\d.]+ mm|\S+", name)[::-1])
        for name in catalogue.pipes()
    }
    for name, said in turned.items():
        row = in_any_order(said)
        assert row is not None
        assert row.name == name
        assert pipe.is_valid(said)
    assert not [said for said in ("pvc 27", "27 pvc", "pcv 25", "hose") if pipe.is_valid(said) or in_any_order(said)]


@pytest.mark.invariant
def test_amounts_that_the_schema_knows_by_their_look() -> None:
    pattern = SCHEMA["$defs"]["vessel"]["properties"]["base"]["pattern"]
    assert all(re.search(pattern, text) for text in ["1 m", "-0.3 m", "½ in", "1 1/2 in", "5'6\"", "2 m^2", ".5 ft"])
    assert not any(re.search(pattern, text) for text in ["deep", "m 1", "", "%"])
