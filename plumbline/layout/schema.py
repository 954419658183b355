"""The published schema of a layout file, with which many editors complete, explain and check it while it is typed.

Made from the tables that the reader itself uses, so that the two say the same.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from itertools import combinations
from typing import Any, cast

import yaml

from .. import catalogue
from ..catalogue.loss_laws import FromBores, Jet, Stated
from ..catalogue.rows import NumberRow
from ..units import DIMENSIONS, Dimension
from . import words
from .extras import fouling_example, limit_key
from .pipes import pipe_pattern
from .words import Key

__all__ = ["layout_schema"]

Schema = dict[str, Any]

_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_AMOUNT = r"^\s*[-+−]?\s*[.0-9½¼¾⅛⅜⅝⅞].*[A-Za-z°'\"²³0-9]\s*$"
_SHARE = r"^\s*[-+]?[.0-9][.0-9/ ]*%?\s*$"
_BORES = r"^\s*[.0-9½¼¾⅛⅜⅝⅞].*\sto\s+[.0-9½¼¾⅛⅜⅝⅞].*[A-Za-z\"]\s*$"
_SPAN = r"^\s*[-−]?[.0-9½¼¾⅛⅜⅝⅞].*\sto\s+[-−]?[.0-9½¼¾⅛⅜⅝⅞].*[A-Za-z\"']\s*$"
_OPENINGS = ["open", "full", "shut", "closed", "off", "on", "half", "quarter", "three quarters", True, False]
_OPENED = r"^\s*([.0-9½¼¾]|[Hh]alf|[Qq]uarter|[Tt]hree|[Tt]wo|[Ff]ully|[Oo]ne|[Aa] ).*\b(open|shut|closed|turns?|turns? of .*|%|deg|°)\s*$"
_CAUGHT = r"^\s*[.0-9½¼¾].*\sin\s+[.0-9½¼¾].*[A-Za-z]\s*$"
_SLOPE = r"^\s*[.0-9½¼¾].*(\b(in|to|per|over|on)\b|:|/|deg|°).*$"
_WAYS = (*words.DIRECTIONS, *words.RELATIVE)
_NAME: Schema = {"type": ["string", "number"]}
_NULL: Schema = {"type": "null"}
_DEFINED = (
    *("vessel", "gutter", "clear", "place", "pump", "airlift", "curve", "runs", "level switch", "areas", "line"),
    *("pipe", "end", "step", "rod", "water", "heading", *words.MAY_BE_EMPTY, "reading"),
)
"""The larger things that a key may take, by the name that the schema refers to them by."""
_CALLED = {"clear": "keep clear", "level switch": "switch"}


def layout_schema() -> Schema:
    """Return the JSON Schema (2020-12) of a layout file.

    It checks words, shapes and the look of quantities. Whether lines meet, and whether a name is one of the file, only
    the reader can tell. It knows the catalogue's names as they are written there, in small letters.

    >>> sorted(layout_schema()["properties"])
    ['altitude', 'code', 'electricity', 'fouling', 'hose supply', 'how sure', 'keep clear', 'limits', 'lines', 'name', 'pipes', 'pipework', 'pumps', 'readings', 'rods', 'tanks', 'title', 'vessels', 'water', 'wish']
    """
    return {
        "$schema": _DIALECT,
        "title": "Plumbline layout",
        "description": "The plumbing of a small aquaponic system, each pipe written as one walks it.",
        **_group(words.LAYOUT),
        "$defs": {
            name: _OWN[name]() if name in _OWN else _group(words.TABLES[_CALLED.get(name, name)]) for name in _DEFINED
        },
    }


_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class _Plain(_Loader):  # type: ignore[misc]
    """YAML 1.2, as editors read it: `on` and `no` are words, and 06:00 is not a number to the base of sixty."""


_Plain.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag == "tag:yaml.org,2002:null"]
    for first, resolvers in _Loader.yaml_implicit_resolvers.items()
}
_Plain.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("^(?:true|false)$"), list("tf"))
_Plain.add_implicit_resolver("tag:yaml.org,2002:float", re.compile(r"^-?[0-9]+\.[0-9]+$"), list("-0123456789"))
_Plain.add_implicit_resolver("tag:yaml.org,2002:int", re.compile("^-?[0-9]+$"), list("-0123456789"))


def _group(table: Mapping[str, Key], **more: Any) -> Schema:
    """A group of values, one for each key of a table and no others."""
    required = [word for word, key in table.items() if key.required and not key.also]
    either = [(*key.also, word) for word, key in table.items() if key.required and key.also]
    schema: Schema = {
        "type": "object",
        "properties": {one: _key(key) for word, key in table.items() for one in (word, *key.also)},
    }
    if required:
        schema["required"] = required
    if either:
        schema["allOf"] = [{"anyOf": [{"required": [word]} for word in some]} for some in either]
    return {**schema, "additionalProperties": False, **more}


def _key(key: Key) -> Schema:
    """One key: what it takes, what it means, and an example to take over."""
    return {"description": key.says, "examples": [yaml.load(key.example, _Plain)], **_taken(key)}


def _taken(key: Key) -> Schema:
    larger: dict[str, Schema] = {
        **{name: {"anyOf": [_ref(name), _NULL]} if name in words.MAY_BE_EMPTY else _ref(name) for name in _DEFINED},
        "vessels": _named("vessel"),
        "pumps": _named("pump", empty=True),
        "lines": _named("line"),
        "rods": _named("rod", empty=True),
        "keep clear": _named("clear", empty=True),
        "readings": {"anyOf": [{"type": "array", "items": _ref("reading")}, _NULL]},
        "caught": {"type": "string", "pattern": _CAUGHT},
        "doubt": {"anyOf": [_value("ratio"), _value("length")]},
        "clock": {"type": ["string", "integer"]},
        "route": {"anyOf": [{"type": "array", "items": _ref("step")}, _ref("step"), _NULL]},
        "text": dict(_NAME),
        "choice": {"enum": [*key.choices, *(other for other, _ in key.alike)]},
        "count": {
            "type": ["integer", "string"],
            "minimum": max(int(key.low or 1), 1),
            "pattern": r"^\s*[0-9]{1,6}\s*$",
            **({} if key.high is None else {"maximum": int(key.high)}),
        },
        "switch": {"enum": [True, False, "yes", "on", "true", "no", None]},
        "opening": {"anyOf": [_value("ratio", key), {"enum": _OPENINGS}, {"type": "string", "pattern": _OPENED}]},
        "head": _value("length"),
        "slope": {"anyOf": [_value("ratio", key), {"type": "string", "pattern": _SLOPE}]},
        "aim": {"anyOf": [{"enum": ["along the wall"]}, _value("angle", key)]},
        "bores": {"type": "string", "pattern": _BORES},
        "span": {"type": "string", "pattern": _SPAN},
        "code": _enum(catalogue.codes().words),
        "material": _enum(catalogue.materials().words),
    }
    if key.takes in DIMENSIONS and key.choices:
        return {"anyOf": [_enum(key.choices), _value(key.takes, key)]}
    return larger[key.takes] if key.takes in larger else _value(key.takes, key)


def _value(takes: str, key: Key | None = None) -> Schema:
    """A quantity, or a plain number where one goes."""
    said = DIMENSIONS[cast(Dimension, takes)][1]
    if takes != "ratio":
        # Nothing of anything needs no unit.
        return {"type": ["string", "number"], "pattern": _AMOUNT, "minimum": 0, "maximum": 0, "$comment": said}
    number: Schema = {"type": ["number", "string"], "pattern": _SHARE, "$comment": said}
    if key is not None and key.low is not None:
        number["exclusiveMinimum" if key.above else "minimum"] = key.low
    if key is not None and key.high is not None:
        number["maximum"] = key.high
    return number


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


def _enum(values: Iterable[str | int]) -> Schema:
    return {"enum": list(values)}


def _named(kind: str, *, empty: bool = False) -> Schema:
    group: Schema = {
        "type": "object",
        "additionalProperties": _ref(kind),
        "propertyNames": {"not": _enum(words.RESERVED)},
    }
    return {"anyOf": [group, _NULL]} if empty else group


def _runs() -> Schema:
    window = _group(words.RUNS)
    never = {"enum": [False, "no", "off", "never", "standby"]}
    return {"anyOf": [never, window, {"type": "array", "items": window, "minItems": 1}]}


def _points(first: str, second: str, says: str) -> Schema:
    pair = {"prefixItems": [_value(first), _value(second)], "minItems": 2, "maxItems": 2}
    return {"type": "array", "items": {"type": "array", **pair, "description": says}, "minItems": 2}


def _pipe() -> Schema:
    table = catalogue.pipes()
    return {
        "anyOf": [
            {**_enum(table), "description": "a pipe of the catalogue"},
            {**_enum(word for word in table.words if word not in set(table)), "description": "another spelling"},
            {
                "type": "string",
                "pattern": pipe_pattern(),
                "description": "what it is of and its size, as one writes it",
            },
            _group(words.PIPE),
        ]
    }


def _heading() -> Schema:
    shares = {word: {"type": "number", "minimum": 0} for word in _WAYS}
    one = "|".join(_WAYS)
    return {
        "anyOf": [
            _enum(_WAYS),
            {"type": "string", "pattern": rf"^\s*({one})([\s+]+({one}))*\s*$"},
            {"type": "object", "properties": shares, "additionalProperties": False, "minProperties": 1},
        ]
    }


def _end() -> Schema:
    kinds = [{"required": [kind]} for kind in words.END_KINDS]
    heights = [{"required": list(two)} for two in combinations(words.HEIGHTS, 2)]
    denied = [{"properties": {word: {"enum": [False, "no"]}}, "required": [word]} for word in ("plug", "open air")]
    one: list[Schema] = [
        {**_enum(words.RESERVED), "description": "a cap, a plug, or an end in open air"},
        {**_NAME, "description": "the name of a vessel, a pump or a tee; or cap and its name"},
        _group(
            words.END,
            oneOf=kinds,
            dependentRequired={word: ["vessel"] for word in words.HEIGHTS if word != "height"},
            **{"not": {"anyOf": [*heights, *denied]}},
        ),
    ]
    row = {"type": "array", "items": {"anyOf": one}, "minItems": 1}
    return {"anyOf": [*one, {**row, "description": "the ends of a line that stands several times"}]}


def _step() -> Schema:
    table = catalogue.fittings()
    spellings = [word for word in table.words if table[word].name in words.fittings()]
    bare = [word for word in spellings if not _needs(table[word].name)]
    others = [word for word in bare if word not in words.fittings()]
    steps: dict[str, Schema] = {word: _fitting(table[word].name) for word in [*words.fittings(), *spellings]}
    steps |= {word: _run(words.TABLES[word], says) for word, says in _LONG.items()}
    whole: list[str | int] = [*others, *(int(word) for word in others if word.isdigit())]
    details = {"type": "object", "description": "a fitting with its details", "properties": steps}
    return {
        "anyOf": [
            {**_enum(word for word in words.fittings() if word in bare), "description": "a fitting"},
            {**_enum(whole), "description": "another word for a fitting"},
            _run(words.RUN, "a run: how far it goes in each direction"),
            {**details, "additionalProperties": False, "minProperties": 1, "maxProperties": 1},
        ]
    }


_LONG = {
    "manifold": "a run with outlets along it, to which other lines join",
    "hose": "a flexible run",
    "spray bar": "a run with holes drilled along it",
    "drip line": "a run with drippers along it",
}


def _run(table: Mapping[str, Key], says: str) -> Schema:
    return _group(table, description=says, anyOf=[{"required": [word]} for word in _WAYS])


def _fitting(kind: str) -> Schema:
    """A fitting's value: nothing, one plain value, or its details."""
    allowed = words.fittings()[kind]
    together = {word: [other] for word, other in (("loses", "at"), ("at", "loses")) if word in allowed}
    details = _group(
        {word: words.FITTING_KEYS[word] for word in allowed},
        minProperties=1,
        **({"dependentRequired": together} if together else {}),
    )
    if isinstance(catalogue.fittings()[kind].loss, Stated):
        stated = [{"required": [word]} for word in ("K", "Kv", "loses")]
        return {**details, "description": "by its loss, as its maker states it", "anyOf": stated}
    if _needs(kind):
        first = words.FITTING_KEYS[allowed[0]]
        return {"description": first.says, "anyOf": [_taken(first), {**details, "required": [allowed[0]]}]}
    plain = [{"type": "string", "description": "its name"}]
    if "opening" in allowed:
        plain = [_taken(words.FITTING_KEYS["opening"]), *plain]
    if "faces" in allowed:
        plain = [_ref("heading"), *plain]
    return {"anyOf": [*plain, details, _NULL]}


def _needs(kind: str) -> bool:
    """Whether a fitting cannot stand as a bare word."""
    return kind == "bend" or isinstance(catalogue.fittings()[kind].loss, Stated | FromBores | Jet)


def _limits(table: Mapping[str, NumberRow]) -> Schema:
    rows = {name: _key(limit_key(row)) for name, row in table.items()}
    return {"type": "object", "properties": rows, "additionalProperties": False}


def _fouling() -> Schema:
    """The numbers of the fouling model: one value, or three for slow, likely and fast."""
    rows = {}
    for name, row in catalogue.fouling().items():
        key = limit_key(row)
        value = _value(key.takes, key)
        three = {"type": "array", "items": value, "minItems": 3, "maxItems": 3}
        rows[name] = {
            "description": row.meaning,
            "examples": [yaml.safe_load(fouling_example(row))],
            "anyOf": [value, three],
        }
    return {"type": "object", "properties": rows, "additionalProperties": False}


_OWN: dict[str, Callable[[], Schema]] = {
    "pump": lambda: _group(words.PUMP, oneOf=[{"required": ["curve"]}, {"required": ["airlift"]}]),
    "curve": lambda: {"anyOf": [_points("flow", "length", "flow and head"), _group(words.BOX)]},
    "runs": _runs,
    "areas": lambda: {
        "anyOf": [_value("area"), _points("length", "area", "height above the floor and free surface there")]
    },
    "pipe": _pipe,
    "end": _end,
    "step": _step,
    "rod": lambda: {"anyOf": [_group(words.ROD), _group(words.ROD_LIKE)]},
    "water": lambda: {"anyOf": [_value("temperature"), _group(words.WATER)]},
    "heading": _heading,
    "limits": lambda: _limits(catalogue.limits()),
    "how sure": lambda: _limits(catalogue.uncertainty()),
    "fouling": _fouling,
}
"""What of the larger things is more than a group of values."""
