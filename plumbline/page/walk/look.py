"""What the walking page shows of a text: its verdict, its sketch with every step to be tapped, and what stands in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from typing import Any
from xml.etree.ElementTree import Element

import yaml

from ... import catalogue
from ...catalogue.loss_laws import FromBores, Jet, Stated
from ...catalogue.rows import FittingRow
from ...check import CheckResult, check
from ...errors import LayoutError, PlumblineError
from ...hydraulics.find import find_flows
from ...hydraulics.flows import Flows
from ...layout import layout_of, words
from ...layout.extras import limit_key
from ...layout.kinds import plain
from ...layout.model import Layout
from ...layout.nodes import Node
from ...layout.source import TooMuch
from ...redesign.script import Script, read_script
from ...report.plain import cautions_of, fields
from ...report.words import first_sentence, level_word
from ...units import quantity, show
from ..sketch import Sketch, sketch
from ..sketch.svg import caption, walked
from ..sketch.xml import element, polyline
from .text import edited, values

__all__ = ["Seen", "at_once", "choices", "seen", "tried"]

WIDTH = 352.0
"""Of the sketch [px]: a phone's; it grows with the screen."""


@dataclass(frozen=True)
class Seen:
    """A text looked at: `facts` for the page, and the `svg` of its sketch, None where nothing can be drawn."""

    facts: Mapping[str, Any]
    svg: str | None = field(repr=False)


@lru_cache(maxsize=32)
def seen(text: str, path: str) -> Seen:
    """Look at the text of a layout, whether it can be read or not; its `path` stands in the faults."""
    begun = at_once(text, path)
    if not begun.facts["checking"]:
        return begun
    facts, text = {**begun.facts, "checking": False}, text.removeprefix("\ufeff")
    waits = begun.facts["waits"]
    shown, origin = _without(text, waits)
    try:
        result = check(layout_of(shown, path))
    except PlumblineError as error:
        fault = _said(error)
        return Seen({**facts, "word": "Cannot be checked yet", "sentence": fault, "fault": fault}, None)
    drawn = sketch(result, width=WIDTH)
    facts |= answer(result) | {"waits": waits, "caption": caption(drawn), "units": result.layout.units.length}
    return Seen(facts, walked(drawn, _taps(drawn, read_script(shown), origin)))


def at_once(text: str, path: str) -> Seen:
    """What can be seen of a text before it is checked: what stands in it, and whether a check is still to come."""
    text = text.removeprefix("\ufeff")
    script = _script(text)
    facts: dict[str, Any] = {"waits": [], "fault": "", "vessels": {}, "findings": [], "verdict": "none"}
    if script is None:
        told = {"word": "The file cannot be read as YAML", "sentence": _fault(text, path)}
        return Seen({"site": {}, **facts, "checking": False, **told}, None)
    facts = {"site": _site(script), **facts, "checking": bool(script.lines), "waits": _waiting(script)}
    if not script.lines:
        first = "Begin with what holds water, then a pump, then the first line of pipe."
        return Seen({**facts, "word": "Nothing is walked in yet", "sentence": first}, None)
    return Seen({**facts, "word": "Checking …", "sentence": "It is saved. Walk on meanwhile."}, None)


def tried(layout: Layout) -> dict[str, Any]:
    """What an edit would bring, while a finger moves: where much changes through the day, the flows alone, since a day takes long to follow."""
    if not layout.timed:
        return answer(check(layout))
    return {**_flows(layout, find_flows(layout)), "word": "The flows by now; the day is followed when you let go"}


def answer(result: CheckResult) -> dict[str, Any]:
    """The verdict of a check, what each vessel gets and what each pump gives: all that a slider changes."""
    findings = [fields(one, "level", "message", "cure", "line", "step") for one in result.findings]
    return {
        "verdict": result.verdict,
        "word": level_word(result.verdict),
        "sentence": first_sentence(result),
        "findings": findings,
        "care": list(cautions_of("check", result.layout).values()),
        **_flows(result.layout, result.flows),
    }


def _flows(layout: Layout, flows: Flows) -> dict[str, Any]:
    """What each vessel gets and what each pump gives."""
    units = layout.units
    vessels, pumps = {}, {}
    for name, got in flows.vessels.items():
        wants = show(got.wanted, "flow", units) if got.wanted else ""
        vessels[name] = {"gets": show(got.inflow, "flow", units), "wants": wants, "short": got.short}
    for name, duty in flows.pumps.items():
        pumps[name] = f"{show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)}"
    return {"vessels": vessels, "pumps": pumps}


def choices() -> dict[str, Any]:
    """The words that the page offers, from the catalogue: pipes, fittings and what vessels hold."""
    rows = {name: row for name, row in catalogue.fittings().items() if name in words.fittings()}
    numbers = {"limits": catalogue.limits(), "how sure": catalogue.uncertainty(), "fouling": catalogue.fouling()}
    tables = {
        **words.TABLES,
        **{name: {word: limit_key(row) for word, row in some.items()} for name, some in numbers.items()},
    }
    return {
        "pipes": list(catalogue.pipes()),
        "fittings": {name: list(words.fitting_keys(name)) for name in words.fittings()},
        "needs": {name: needs for name, row in rows.items() if (needs := _needs(row))},
        "long": {name: [word for word, key in words.TABLES[name].items() if key.required] for name in words.LONG},
        "holds": list(words.HOLDS),
        "rods": list(catalogue.rods()),
        "choice": {"code": list(catalogue.codes().words), "material": list(catalogue.materials().words)},
        # What the page has to know of a word to ask for its value.
        "tables": {
            name: {word: fields(key, "takes says choices required") for word, key in table.items()}
            for name, table in tables.items()
        },
    }


def _needs(row: FittingRow) -> list[str]:
    """What a fitting cannot be put in without."""
    laws = ((Stated, ["loses", "at"]), (FromBores, ["to"]), (Jet, ["bore"]))
    found = next((needs for law, needs in laws if isinstance(row.loss, law)), [])
    return ["angle"] if row.name == "bend" else ["opens"] if row.name == "three-way valve" else found


# ---------------------------------------------------------------------- what stands in the text


def _script(text: str) -> Script | None:
    try:
        return read_script(text)
    except (yaml.YAMLError, TooMuch, PlumblineError):
        return None


def _site(script: Script) -> dict[str, Any]:
    pairs = values(script.root)

    def group(name: str) -> dict[str, Any]:
        return {entry: _held(node) for entry, node in values(pairs.get(name)).items()}

    lines = {
        name: {
            "pipe": _held(line.keys.get("pipe")),
            "from": _end(script, line.keys.get("from")),
            "to": _end(script, line.keys.get("to")),
            # An end by its words, where they say more than a name.
            "ends": {
                side: _held(end) if end.pairs else {} for side, end in line.keys.items() if side in ("from", "to")
            },
            "steps": [_step(script, node) for node in line.steps],
        }
        for name, line in script.lines.items()
    }
    return {
        **{word: _held(node) for word, node in pairs.items() if word in words.LAYOUT},
        "vessels": group("vessels"),
        "pumps": group("pumps"),
        "lines": lines,
    }


def _text(script: Script, node: Node | None) -> str:
    if node is None:
        return ""
    return node.text if node.text is not None else plain(script.slice(node))


def _held(node: Node | None) -> Any:
    """What stands there, as texts, lists and groups; "" where nothing does."""
    if node is None:
        return ""
    if node.items is not None:
        return [_held(one) for one in node.items]
    return node.text if node.pairs is None else {key: _held(value) for key, value in values(node).items()}


def _in_words(held: Any) -> str:
    """The same in a few words."""
    if isinstance(held, list):
        return f"{len(held)} points" if held and isinstance(held[0], list) else "; ".join(map(_in_words, held))
    if isinstance(held, dict):
        return ", ".join(f"{key} {_in_words(one)}" for key, one in held.items())
    return str(held)


def _end(script: Script, node: Node | None) -> str:
    """An end in words: "bed, standpipe 0.22 m"."""
    if node is None or node.pairs is None:
        return _text(script, node)
    named = ("vessel", "pump", "tee")
    return ", ".join(said if key in named else f"{key} {_in_words(said)}" for key, said in _held(node).items())


def _step(script: Script, node: Node) -> dict[str, Any]:
    """A step as the page shows it: a run with its ways, or a fitting with its details."""
    if node.text is not None:
        return {"fitting": node.text, "details": {}, "said": node.text}
    pairs = values(node)
    if not pairs:
        return {"said": _text(script, node)}
    if pairs.keys() & words.RUN.keys():
        ways = {key: said for key, said in _held(node).items() if key in words.RUN and key != "pipe"}
        pipe = _held(pairs.get("pipe"))
        said = ", ".join([*(f"{way} {size}" for way, size in ways.items()), *([_in_words(pipe)] if pipe else [])])
        return {"run": ways, "pipe": pipe, "said": said}
    kind, value = next(iter(pairs.items()))
    details = _held(value)
    if not isinstance(details, dict):
        details = {} if value.is_nothing else {words.fittings().get(kind, ("id",))[0]: _text(script, value)}
    said = ", ".join(held if key == "id" else f"{key} {_in_words(held)}" for key, held in details.items())
    # "ball valve 1" and not "ball valve valve 1".
    *first, last = kind.split()
    return {
        "fitting": kind,
        "details": details,
        "said": " ".join([*first, said] if said.startswith(f"{last} ") else [kind, said]).strip(),
    }


def _id(step: dict[str, Any]) -> str:
    return str(step.get("details", {}).get("id") or "")


def _joints(step: dict[str, Any]) -> list[str]:
    """The names by which other lines join a step, each as often as one may."""
    name, kind = _id(step), step.get("fitting")
    if kind == "manifold":
        return [f"{name} {k + 1}" for k in range(int(step["details"].get("outlets", 0)))]
    return [name] * {"tee": 1, "wye": 1, "three-way valve": 1, "cross": 2}.get(str(kind), 0) if name else []


def _waiting(script: Script) -> list[str]:
    """Places at tees and the like that no line begins or ends at yet."""
    ends = [node for line in script.lines.values() for key, node in line.keys.items() if key in ("from", "to")]
    taken = Counter(plain(values(node).get("tee", node).text or "") for node in ends)
    steps = [_step(script, node) for line in script.lines.values() for node in line.steps]
    # A line that names a whole manifold stands once at each of its outlets.
    open_ones = (
        Counter(_joints(step)) - taken for step in steps if step.get("fitting") != "manifold" or not taken[_id(step)]
    )
    return [name for there in open_ones for name in there.elements()]


def _without(text: str, waits: list[str]) -> tuple[str, dict[str, list[int]]]:
    """The text for the sketch and the verdict, in which places that wait for their branch are left out; what makes a corner is an
    elbow till then. Also the numbers in the file of each line's steps in that text."""
    script = read_script(text)
    origin = {line: list(range(1, len(there.steps) + 1)) for line, there in script.lines.items()}
    for line, there in script.lines.items():
        steps = [_step(script, node) for node in there.steps]
        for number in range(len(steps), 0, -1):
            if not set(_joints(steps[number - 1])) & set(waits):
                continue
            with suppress(PlumblineError, ValueError, KeyError, StopIteration):
                new = _without_branch(steps, number - 1, waits)
                doing = {"do": "replace", "steps": new} if new else {"do": "delete"}
                text = edited(text, {**doing, "line": line, "step": number})
                origin[line][number - 1 : number] = [number] * len(new)
    return text, origin


def _without_branch(steps: list[dict[str, Any]], k: int, waits: list[str]) -> list[dict[str, Any]]:
    """What stands for a step that waits: what is joined of it is left."""
    step, joined = steps[k], Counter(_joints(steps[k])) - Counter(waits)
    if step["fitting"] == "manifold":
        return _manifold(step["details"], joined)
    if joined:
        return [{"fitting": "tee", "details": {"id": _id(step)}}]
    before = next((way for one in reversed(steps[:k]) if (way := _way(one))), None)
    after = next((way for one in steps[k:] if (way := _way(one))), None)
    straight = not before or not after or before == after
    return [] if straight else [{"fitting": "elbow"}]


def _way(step: dict[str, Any]) -> str | None:
    """The first way that a run, a hose or the like goes; None for a fitting."""
    return next(
        (key for key in step.get("run") or step.get("details", {}) if key in words.DIRECTIONS or key in words.RELATIVE),
        None,
    )


def _manifold(details: dict[str, str], joined: Mapping[str, int]) -> list[dict[str, Any]]:
    """A manifold's run, with tees at those of its outlets that lines join."""
    way, count = _way({"details": details}) or "", int(details["outlets"])
    length = quantity(details[way], "length")
    gap = quantity(details["spacing"], "length") if "spacing" in details else length / count
    first = 0.5 * (length - (count - 1) * gap)
    tees = [
        (first + k * gap, name)
        for k, name in enumerate(_joints({"fitting": "manifold", "details": details}))
        if name in joined
    ]
    out: list[dict[str, Any]] = []
    for (at, name), (place, _) in pairwise([(0.0, ""), *tees, (length, "")]):
        out += [{"fitting": "tee", "details": {"id": name}}] if name else []
        out += [{"run": {way: f"{place - at:.6f} m"}}] if place > at + 1e-6 else []
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


def _taps(drawn: Sketch, shown: Script, origin: Mapping[str, list[int]]) -> Iterator[Element]:
    """A place to tap for every step, runs before the fittings that lie on them, and one for the end of each line."""
    marks: list[Element] = []
    for line in drawn.result.layout.lines.values():
        # One of a row is numbered after the line that the file writes, and each piece of a manifold after it.
        said = line.name if line.name in origin else line.name.rpartition(" ")[0]
        places = [(node.mark.line, node.mark.column) for node in shown.lines[said].steps]
        numbers = dict(zip(places, origin[said], strict=True))
        for part in line.parts:
            number = numbers.get((part.mark.line, part.mark.column))
            if number is None:
                continue
            known = {"data_line": said, "data_step": str(number)}
            if part.is_pipe and part.length > 0.0:
                points = drawn.strokes.trace(line.name, part.at, part.at + part.length)
                if len(points) > 1:
                    yield element("path", class_="tap run", d=polyline(points), **known)
            else:
                x, y = drawn.strokes.place(line.name, part.at)
                marks.append(element("circle", class_="tap fitting", cx=x, cy=y, r=12, **known))
        x, y = drawn.strokes.place(line.name, line.length)
        marks.append(element("circle", class_="walker", cx=x, cy=y, r=6, data_line=line.name))
    yield from marks
