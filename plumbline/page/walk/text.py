"""Edits of a layout's text, one a tap: only what is meant changes, comments and order stay as typed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import yaml

from ...errors import PlumblineError
from ...layout import words
from ...layout.faults import Faults
from ...layout.nodes import Node
from ...layout.rewrite import set_openings
from ...layout.tree import TooMuch, tree_of
from ...redesign.change import quoted
from ...redesign.script import CannotChange, Pen, Script, read_script

__all__ = ["NEW", "CannotChange", "comments", "edited"]

NEW = "# Walked in with 'plumbline walk'.\nname: {name}\nwater: 20 degC\n\nvessels:\n\npumps:\n\nlines:\n"
"""The text of a layout that is begun."""

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NUMBER = re.compile(r"[-+]?\d[\w ./^%-]*", re.ASCII)
_GROUPS = {"vessel": "vessels", "pump": "pumps", "line": "lines"}
_MOST_STEPS = 200
_BOM = "\ufeff"


def edited(text: str, edit: Mapping[str, Any]) -> str:
    """Carry out an edit.

    Parameters:
        text: of a layout.
        edit: what to do, by the word in `do`: insert, replace, set, open, delete, move, line, end, pipe, put, curve, drop or name.

    Returns:
        The new text, which can be read as YAML; whether it is a layout is for the reader to say.

    Raises:
        CannotChange: where the text does not allow it, or the edit is none.

    >>> print(edited("lines:\\n  a:\\n    route:\\n      - up: 1 m   # tight\\n", {"do": "set", "line": "a", "step": 1,
    ...     "key": "up", "value": "1.2 m"}), end="")
    lines:
      a:
        route:
          - up: 1.2 m   # tight
    """
    if text.startswith(_BOM):
        # The YAML reader does not count it in its places.
        return _BOM + edited(text[1:], edit)
    try:
        doing = _DOINGS[edit["do"]]
        new = doing(text, edit)
    except (KeyError, TypeError, AttributeError, IndexError, ValueError):
        raise CannotChange("that is no edit of this layout") from None
    except (yaml.YAMLError, TooMuch):
        raise CannotChange("the file cannot be read as it is: see the fault, or undo") from None
    try:
        read_script(new)
        there = set(comments(new))
        lost = [said for said in comments(text) if said not in there]
    except (yaml.YAMLError, TooMuch, PlumblineError):
        raise CannotChange("the file is written in a way that this cannot be put into: do it in an editor") from None
    if lost:
        raise CannotChange(f"the remark '{lost[0]}' would be lost: do it in an editor")
    return new


# ---------------------------------------------------------------------- steps


def _said(step: Mapping[str, Any]) -> str:
    """A step as it is written."""
    if "run" in step:
        run = {str(way): _value(value) for way, value in step["run"].items() if way in words.RUN and way != "pipe"}
        if not run:
            raise ValueError
        if step.get("pipe"):
            run["pipe"] = _value(step["pipe"])
        inner = ", ".join(f"{way}: {value}" for way, value in run.items())
        return inner if len(run) == 1 else f"{{{inner}}}"
    kind = str(step["fitting"])
    if kind not in words.fittings():
        raise ValueError
    details = {key: _value(value) for key, value in step.get("details", {}).items() if key in words.fitting_keys(kind)}
    if not details:
        return kind
    if list(details) == ["id"]:
        return f"{kind}: {details['id']}"
    return f"{kind}: {{{', '.join(f'{key}: {value}' for key, value in details.items())}}}"


def _value(said: object) -> str:
    """A value that stands as the one text that it is, whatever it holds."""
    value = " ".join(str(said).split())
    if not value:
        raise ValueError
    return value if _NUMBER.fullmatch(value) else quoted(value)


def _steps(edit: Mapping[str, Any]) -> list[str]:
    steps = [_said(step) for step in edit["steps"]]
    if not 0 < len(steps) <= _MOST_STEPS:
        raise ValueError
    return steps


def _insert(text: str, edit: Mapping[str, Any]) -> str:
    script, line, before = read_script(text), edit["line"], int(edit["before"])
    steps = _steps(edit)
    there = script.lines[line]
    pen = Pen(script)
    if there.steps:
        pen.insert(line, before, steps, "")
        return pen.written()
    joined = ", ".join(steps)
    route = there.keys.get("route")
    if route is not None and route.items is not None:
        pen.put(route.start, route.stop, f"[{joined}]")
    elif route is not None:
        indent = " " * (_pairs(there.value)[0][0].mark.column + 1)
        at = pen.close(route.start)
        pen.put(at, at, "".join(f"{pen.newline}{indent}- {step}" for step in steps))
    else:
        _in_group(pen, there.value, "route", f"[{joined}]")
    return pen.written()


def _replace(text: str, edit: Mapping[str, Any]) -> str:
    script = read_script(text)
    pen = Pen(script)
    pen.rewrite(edit["line"], _number(script, edit), _steps(edit), "")
    return pen.written()


def _number(script: Script, edit: Mapping[str, Any], key: str = "step") -> int:
    number = int(edit[key])
    if not 1 <= number <= len(script.lines[edit["line"]].steps):
        raise ValueError
    return number


def _set(text: str, edit: Mapping[str, Any]) -> str:
    """One value within a step: a run's length along a way, a fitting's detail."""
    script = read_script(text)
    node, key, value = script.step(edit["line"], _number(script, edit)), str(edit["key"]), _value(edit["value"])
    if key not in words.RUN and key not in words.FITTING_KEYS:
        raise ValueError
    pen = Pen(script)
    if node.text is not None:
        pen.put(node.stop, node.stop, f": {{{key}: {value}}}")
        return pen.written()
    inner, first = node, _pairs(node)[0]
    if key not in words.DIRECTIONS and first[0].text not in words.RUN:
        inner = first[1]
    if inner.pairs is not None:
        _in_group(pen, inner, key, value)
    elif key == "id" or inner.is_nothing:
        pen.put(inner.start, inner.stop, value if key == "id" else f"{{{key}: {value}}}")
    else:
        pen.put(inner.start, inner.stop, f"{{id: {script.slice(inner)}, {key}: {value}}}")
    return pen.written()


def _open(text: str, edit: Mapping[str, Any]) -> str:
    script, opening = read_script(text), float(edit["value"])
    if not 0.0 <= opening <= 1.0:
        raise ValueError
    return set_openings(text, {script.step(edit["line"], _number(script, edit)).mark: round(opening, 3)})


def _delete(text: str, edit: Mapping[str, Any]) -> str:
    script = read_script(text)
    line, number = edit["line"], _number(script, edit)
    pen, node, there = Pen(script), script.step(line, number), script.lines[line]
    if there.route.flow:
        pen.gone = {(line, number)}
        pen.flow(line, number, [])
        return pen.written()
    pen.alone(node)
    if len(there.steps) == 1:
        # A list that is empty is written as one, or the next word would be read as its value.
        route = there.route
        at = pen.text.rindex(":", 0, route.start) + 1
        pen.put(at, at, " []")
    _cut(pen, node.start, script.end(node))
    return pen.written()


def _move(text: str, edit: Mapping[str, Any]) -> str:
    """Change places with a neighbour, remarks and all."""
    script = read_script(text)
    number = _number(script, edit)
    other = number + (1 if int(edit["by"]) > 0 else -1)
    first, second = sorted((number, _number(script, {**edit, "step": other})))
    pen, spans = Pen(script), []
    for one in (first, second):
        node = script.step(edit["line"], one)
        if script.lines[edit["line"]].route.flow:
            spans.append((node.start, script.end(node)))
        else:
            pen.alone(node)
            spans.append((node.start, pen.close(script.end(node))))
    (a, b), (c, d) = spans
    return text[:a] + text[c:d] + text[b:c] + text[a:b] + text[d:]


# ---------------------------------------------------------------------- lines, vessels, pumps


def _line(text: str, edit: Mapping[str, Any]) -> str:
    """A new line. Its end is open air till it is told where it ends."""
    indent = _indent(text, "lines")
    body = [f"pipe: {_value(edit['pipe'])}", f"from: {_end(edit['from'])}", "route:"]
    body += [f"  - {step}" for step in _steps(edit)]
    body.append(f"to: {_end(edit['to']) if 'to' in edit else 'open air'}")
    return _added(text, "lines", str(edit["line"]), [f"{indent}{row}" for row in body])


def _end(said: Mapping[str, Any] | str) -> str:
    if isinstance(said, str):
        return _value(said)
    got = {key: _value(value) for key, value in said.items() if key in words.END}
    if list(got) in (["vessel"], ["pump"], ["tee"]):
        return next(iter(got.values()))
    if not got:
        raise ValueError
    return f"{{{', '.join(f'{key}: {value}' for key, value in got.items())}}}"


def _end_of(text: str, edit: Mapping[str, Any]) -> str:
    side = str(edit["side"])
    if side not in ("from", "to"):
        raise ValueError
    return _in_line(text, edit, side, _end(edit["end"]))


def _pipe(text: str, edit: Mapping[str, Any]) -> str:
    return _in_line(text, edit, "pipe", _value(edit["pipe"]))


def _in_line(text: str, edit: Mapping[str, Any], key: str, value: str) -> str:
    script = read_script(text)
    there = script.lines[edit["line"]]
    if id(there.value) in script.shared or (key in there.keys and id(there.keys[key]) in script.shared):
        raise CannotChange("it is repeated elsewhere by a *name")
    pen = Pen(script)
    _in_group(pen, there.value, key, value)
    return pen.written()


def _put(text: str, edit: Mapping[str, Any]) -> str:
    """Values of a vessel or a pump; one that is not there yet is added at the end."""
    kind, name = str(edit["kind"]), str(edit["name"])
    known = {"vessel": words.VESSEL, "pump": words.PUMP}[kind]
    values = {
        key: _value(value)
        for key, value in edit["values"].items()
        if key in known and key not in ("at", "curve", "airlift")
    }
    curve = edit["values"].get("curve")
    if isinstance(curve, dict):
        values["curve"] = f"{{{', '.join(f'{key}: {_value(curve[key])}' for key in words.BOX)}}}"
    if not values:
        raise ValueError
    there = _entry(text, _GROUPS[kind], name)
    if there is None:
        return _added(
            text, _GROUPS[kind], name, None, f"{{{', '.join(f'{key}: {value}' for key, value in values.items())}}}"
        )
    for key, value in values.items():
        script = read_script(text)
        entry = _entry(text, _GROUPS[kind], name)
        if entry is None or id(entry[1]) in script.shared:
            raise CannotChange("it is repeated elsewhere by a *name")
        pen = Pen(script)
        _in_group(pen, entry[1], key, value)
        text = pen.written()
    return text


def _drop(text: str, edit: Mapping[str, Any]) -> str:
    """Take a vessel, a pump or a line out."""
    group, name = _GROUPS[str(edit["kind"])], str(edit["name"])
    entry = _entry(text, group, name)
    whole = _group(text, group)
    if entry is None or whole is None:
        raise ValueError
    script = read_script(text)
    if id(entry[1]) in script.shared or re.search(r"&\w", script.slice(entry[1])):
        raise CannotChange("it is repeated elsewhere by a *name")
    pen = Pen(script)
    start, stop = entry[0].start, script.end(entry[1])
    if whole.flow:
        there = _pairs(whole)
        number = next(i for i, (key, _) in enumerate(there) if key.start == start)
        if number + 1 < len(there):
            stop = there[number + 1][0].start
        elif number:
            start = script.end(there[number - 1][1])
        pen.put(start, stop, "")
    else:
        _cut(pen, start, stop)
    return pen.written()


def _name(text: str, edit: Mapping[str, Any]) -> str:
    script = read_script(text)
    pen = Pen(script)
    root = _tree(text)
    key = str(edit["key"])
    if root is None or key not in ("name", "water"):
        raise ValueError
    _in_group(pen, root, key, _value(edit["value"]))
    return pen.written()


# ---------------------------------------------------------------------- places in the text


def _tree(text: str) -> Node | None:
    return tree_of(text, Faults(""))


def _pairs(node: Node | None) -> tuple[tuple[Node, Node], ...]:
    return (node.pairs if node is not None else None) or ()


def _group(text: str, word: str) -> Node | None:
    found = next((value for key, value in _pairs(_tree(text)) if key.text == word), None)
    return found if found is not None and found.pairs is not None else None


def _entry(text: str, group: str, name: str) -> tuple[Node, Node] | None:
    return next(
        ((key, value) for key, value in _pairs(_group(text, group)) if " ".join((key.text or "").split()) == name), None
    )


def _indent(text: str, group: str) -> str:
    """How far the values of an entry of a group are indented."""
    found = _group(text, group)
    if found is None or not found.pairs or found.flow:
        return "    "
    return " " * (found.pairs[0][0].mark.column + 1)


def _added(text: str, group: str, name: str, rows: Sequence[str] | None, value: str = "") -> str:
    """An entry after the last one of a group, as a value or as indented rows."""
    if not name.strip() or _entry(text, group, name) is not None:
        raise CannotChange(f"there is a '{name}' already" if name.strip() else "it has no name")
    script = read_script(text)
    pen = Pen(script)
    key = _value(name)
    found = _group(text, group)
    if found is not None and found.flow:
        if rows is not None:
            raise CannotChange(f"'{group}' is written between braces: put the line in with an editor")
        at = script.end(_pairs(found)[-1][1]) if found.pairs else found.start + 1
        pen.put(at, at, f"{', ' if found.pairs else ''}{key}: {value}")
        return pen.written()
    margin = _indent(text, group)[:-2]
    new = [f"{margin}{key}:{'' if rows is not None else f' {value}'}", *(rows or ())]
    body = "".join(f"{pen.newline}{row}" for row in new)
    if found is not None:
        at = pen.close(script.end(_pairs(found)[-1][1]))
        pen.put(at, at, body)
        return pen.written()
    head = re.search(rf"(?m)^{group}[ \t]*:[ \t]*(?:null|~|\{{\}})?(?=[ \t]*(?:#|\r?$))", text)
    if head is None:
        end = "" if not text or text.endswith("\n") else pen.newline
        return f"{text}{end}{group}:{body}{pen.newline}"
    return (
        f"{text[: head.start()]}{group}:{text[head.end() : pen.close(head.end())]}{body}{text[pen.close(head.end()) :]}"
    )


def _in_group(pen: Pen, node: Node, key: str, value: str) -> None:
    """Set a key of a group to a value, which is added where it is not there."""
    if node.pairs is None:
        raise CannotChange("its values were not found in the file")
    old = next((one for word, one in node.pairs if " ".join((word.text or "").split()) == key), None)
    if old is not None:
        start, stop = old.start, pen.script.end(old)
        pen.put(start, stop, value if start < stop or pen.text[start - 1 : start].isspace() else f" {value}")
    elif not node.pairs:
        pen.put(node.start, node.stop, f"{{{key}: {value}}}")
    elif node.flow:
        last = pen.script.end(node.pairs[-1][1])
        pen.put(last, last, f", {key}: {value}")
    else:
        first = node.pairs[0][0]
        pen.put(first.start, first.start, f"{key}: {value}{pen.newline}{' ' * (first.mark.column - 1)}")


def _cut(pen: Pen, start: int, stop: int) -> None:
    """Take whole lines of the file out; their remarks stay, as lines of their own."""
    first, last = pen.begin(start), pen.close(stop)
    indent = re.match(r"[ \t]*", pen.text[first:])
    margin = indent[0] if indent else ""
    kept = [f"{margin}{said}" for at, said in _comments_at(pen.text) if first <= at < last]
    after = last + len(pen.newline) if pen.text.startswith(pen.newline, last) else last
    pen.pieces.append((first, after, len(pen.pieces), "".join(f"{row}{pen.newline}" for row in kept)))


def comments(text: str) -> list[str]:
    """The remarks of a text, in order.

    >>> comments("a: 'x # y'   # z")
    ['# z']
    """
    return [said for _, said in _comments_at(text)]


@lru_cache(maxsize=4)
def _comments_at(text: str) -> list[tuple[int, str]]:
    scalars = [(token.start_mark.index, token.end_mark.index) for token in yaml.scan(text, Loader=_Loader)
               if isinstance(token, yaml.ScalarToken)]  # fmt: skip
    found, at = [], 0
    for start, stop in [*scalars, (len(text), len(text))]:
        if start >= at:
            for one in re.finditer(r"(?m)(?:^|(?<=[\s,\[\]{}]))#[^\r\n]*", text[at:start]):
                found.append((at + one.start(), one[0].rstrip()))
            at = stop
    return found


_DOINGS = {
    "insert": _insert, "replace": _replace, "set": _set, "open": _open, "delete": _delete, "move": _move, "line": _line,
    "end": _end_of, "pipe": _pipe, "put": _put, "drop": _drop, "name": _name,
}  # fmt: skip
