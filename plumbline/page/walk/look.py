"""What the walking page shows of a text: its verdict, its sketch with every step to be tapped, and what stands in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any
from xml.etree.ElementTree import Element

import yaml

from ... import catalogue
from ...check import CheckResult, check
from ...errors import LayoutError, PlumblineError
from ...layout import layout_of, words
from ...layout.faults import Faults
from ...layout.nodes import Node
from ...layout.tree import TooMuch, tree_of
from ...redesign.script import Script, read_script
from ...report.words import first_sentence, level_word
from ...units import show
from ..sketch import Sketch, sketch
from ..sketch.svg import caption, walked
from ..sketch.xml import element, polyline
from .text import CannotChange, edited

__all__ = ["Seen", "answer", "choices", "seen"]

WIDTH = 352.0
"""Of the sketch [px]: a phone's; it grows with the screen."""


@dataclass(frozen=True)
class Seen:
    """A text looked at: `facts` for the page, and the `svg` of its sketch, None where nothing can be drawn."""

    facts: Mapping[str, Any]
    svg: str | None = field(repr=False)


@lru_cache(maxsize=32)
def seen(text: str, path: str) -> Seen:
    """Look at a text.

    Parameters:
        text: of a layout, whether it can be read or not.
        path: its file, for the faults.

    Returns:
        What the page shows.
    """
    text = text.removeprefix("\ufeff")
    script = _script(text)
    facts: dict[str, Any] = {
        "site": {} if script is None else _site(script),
        "waits": [],
        "fault": "",
        "vessels": {},
        "findings": [],
    }
    if script is None or not script.lines:
        word = "The file cannot be read as YAML" if script is None else "Nothing is walked in yet"
        said = (
            _fault(text, path)
            if script is None
            else "Begin with what holds water, then a pump, then the first line of pipe."
        )
        return Seen({**facts, "verdict": "none", "word": word, "sentence": said}, None)
    waits = _waiting(script)
    shown, left_out = _without(text, waits)
    try:
        result = check(layout_of(shown, path))
    except PlumblineError as error:
        fault = _said(error)
        return Seen(
            {**facts, "verdict": "none", "word": "Cannot be checked yet", "sentence": fault, "fault": fault}, None
        )
    drawn = sketch(result, width=WIDTH)
    facts |= answer(result) | {"waits": waits, "caption": caption(drawn), "units": result.layout.units.length}
    return Seen(facts, walked(drawn, list(_steps(drawn, _numbers(script, left_out)))))


def answer(result: CheckResult) -> dict[str, Any]:
    """The verdict of a check, what each vessel gets and what each pump gives: all that a slider changes."""
    units = result.layout.units
    vessels = {
        name: {"gets": show(got.inflow, "flow", units), "wants": show(got.wanted, "flow", units) if got.wanted else "",
               "short": bool(got.wanted and got.inflow < got.wanted * (1.0 - 1e-6))}
        for name, got in result.flows.vessels.items()
    }  # fmt: skip
    pumps = {
        name: f"{show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)}"
        for name, duty in result.flows.pumps.items()
    }
    findings = [
        {"level": one.level, "message": one.message, "cure": one.cure, "line": one.line, "step": one.step}
        for one in result.findings
    ]
    return {"verdict": result.verdict, "word": level_word(result.verdict), "sentence": first_sentence(result), "vessels": vessels,
            "pumps": pumps, "findings": findings}  # fmt: skip


def choices() -> dict[str, Any]:
    """The words that the page offers, from the catalogue: pipes, fittings and what vessels hold."""
    return {
        "pipes": list(catalogue.pipes()),
        "fittings": {name: list(words.fitting_keys(name)) for name in words.fittings()},
        "holds": list(words.HOLDS),
        "vessel": {key: row.says for key, row in words.VESSEL.items()},
    }


# ---------------------------------------------------------------------- what stands in the text


def _script(text: str) -> Script | None:
    try:
        return read_script(text)
    except (yaml.YAMLError, TooMuch, PlumblineError):
        return None


def _site(script: Script) -> dict[str, Any]:
    pairs = _values(tree_of(script.text, Faults("")))
    out: dict[str, Any] = {"name": _plain(script, pairs.get("name")), "water": _plain(script, pairs.get("water"))}
    for group in ("vessels", "pumps"):
        out[group] = {
            name: {key: _plain(script, value) for key, value in _values(entry).items()}
            for name, entry in _values(pairs.get(group)).items()
        }
    out["lines"] = {
        name: {
            "pipe": _plain(script, line.keys.get("pipe")), "from": _end(script, line.keys.get("from")),
            "to": _end(script, line.keys.get("to")), "steps": [_step(script, node) for node in line.steps],
        }
        for name, line in script.lines.items()
    }  # fmt: skip
    return out


def _values(node: Node | None) -> dict[str, Node]:
    """What stands in a group, by its words."""
    return {
        " ".join((key.text or "").split()): value for key, value in (node.pairs if node is not None else None) or ()
    }


def _plain(script: Script, node: Node | None) -> str:
    if node is None:
        return ""
    return node.text if node.text is not None else " ".join(script.slice(node).split())


def _end(script: Script, node: Node | None) -> str:
    """An end in words: "bed, standpipe 0.22 m"."""
    if node is None or node.pairs is None:
        return _plain(script, node)
    got = {key: _plain(script, value) for key, value in _values(node).items()}
    return ", ".join(said if key in ("vessel", "pump", "tee") else f"{key} {said}" for key, said in got.items())


def _step(script: Script, node: Node) -> dict[str, Any]:
    """A step as the page shows it: a run with its ways, or a fitting with its details."""
    if node.text is not None:
        return {"fitting": node.text, "details": {}, "said": node.text}
    pairs = _values(node)
    if not pairs:
        return {"said": _plain(script, node)}
    if pairs.keys() & words.RUN.keys():
        ways = {key: _plain(script, value) for key, value in pairs.items() if key in words.RUN and key != "pipe"}
        said = ", ".join(f"{way} {size}" for way, size in ways.items())
        pipe = _plain(script, pairs.get("pipe"))
        return {"run": ways, "pipe": pipe, "said": f"{said}, {pipe}" if pipe else said}
    kind, value = next(iter(pairs.items()))
    if value.pairs is not None:
        details = {key: _plain(script, one) for key, one in _values(value).items()}
    else:
        first = words.fittings().get(kind, ("id",))[0]
        details = {} if value.is_nothing else {first: _plain(script, value)}
    said = ", ".join(f"{value}" if key == "id" else f"{key} {value}" for key, value in details.items())
    return {"fitting": kind, "details": details, "said": f"{kind} {said}".strip()}


def _waiting(script: Script) -> list[str]:
    """Tees that no line begins or ends at yet."""
    ends = [
        node
        for line in script.lines.values()
        for node in (line.keys.get("from"), line.keys.get("to"))
        if node is not None
    ]
    taken = {" ".join((_values(node).get("tee", node).text or "").split()) for node in ends}
    return [step["details"]["id"] for line in script.lines.values() for step in (_step(script, node) for node in line.steps)
            if step.get("fitting") in ("tee", "wye") and step["details"].get("id") and step["details"]["id"] not in taken]  # fmt: skip


def _without(text: str, waits: list[str]) -> tuple[str, set[str]]:
    """The text for the sketch and the verdict, in which tees that wait for their branch are left out; one that makes a corner is an
    elbow till then. Also the names of those that were left out."""
    out: set[str] = set()
    for name in waits:
        script = read_script(text)
        for line, there in script.lines.items():
            steps = [_step(script, node) for node in there.steps]
            k = next((k for k, step in enumerate(steps) if step.get("details", {}).get("id") == name), None)
            if k is None:
                continue
            before = next((step["run"] for step in reversed(steps[:k]) if "run" in step), None)
            after = next((step["run"] for step in steps[k:] if "run" in step), None)
            straight = not before or not after or next(iter(before)) == next(iter(after))
            place = {"line": line, "step": k + 1}
            with suppress(CannotChange):
                if straight:
                    text = edited(text, {"do": "delete", **place})
                    out.add(name)
                else:
                    text = edited(text, {"do": "replace", **place, "steps": [{"fitting": "elbow"}]})
            break
    return text, out


def _numbers(script: Script, waits: set[str]) -> dict[str, list[int]]:
    """For each line, the numbers in the file of the steps that are drawn; none for a line whose steps cannot be changed one by one."""
    out: dict[str, list[int]] = {}
    for line, there in script.lines.items():
        with suppress(CannotChange):
            drawn = [
                k + 1
                for k, node in enumerate(there.steps)
                if _step(script, node).get("details", {}).get("id") not in waits
            ]
            for number in drawn[:1]:
                script.step(line, number)
            out[line] = drawn
    return out


def _fault(text: str, path: str) -> str:
    try:
        layout_of(text, path)
    except PlumblineError as error:
        return _said(error)
    return ""


def _said(error: PlumblineError) -> str:
    """A fault in words, without the file's name and column, which mean nothing to who taps."""
    if isinstance(error, LayoutError):
        first = error.faults[0]
        more = f" And {len(error.faults) - 1} more." if len(error.faults) > 1 else ""
        hint = f" {first.hint[:1].upper()}{first.hint[1:]}." if first.hint else ""
        return f"{first.found[:1].upper()}{first.found[1:]}; expected {first.expected}.{hint}{more}"
    return str(error)


# ---------------------------------------------------------------------- steps on the sketch


def _steps(drawn: Sketch, numbers: Mapping[str, list[int]]) -> Iterator[Element]:
    """A place to tap for every step, runs before the fittings that lie on them, and one for the end of each line."""
    marks: list[Element] = []
    for line in drawn.result.layout.lines.values():
        there = numbers.get(line.name, [])
        for part in line.parts:
            if not 1 <= part.step <= len(there):
                continue
            known = {"data_line": line.name, "data_step": str(there[part.step - 1])}
            if part.is_pipe and part.length > 0.0:
                points = drawn.strokes.trace(line.name, part.at, part.at + part.length)
                if len(points) > 1:
                    yield element("path", class_="tap run", d=polyline(points), **known)
            else:
                x, y = drawn.strokes.place(line.name, part.at)
                marks.append(element("circle", class_="tap fitting", cx=x, cy=y, r=11, **known))
        x, y = drawn.strokes.place(line.name, line.length)
        marks.append(element("circle", class_="walker", cx=x, cy=y, r=6, data_line=line.name))
    yield from marks
