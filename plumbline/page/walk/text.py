"""Edits of a layout's text, one a tap: only what is meant changes, comments and order stay as typed."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import yaml

from ...errors import PlumblineError
from ...layout import words
from ...layout.kinds import plain
from ...layout.nodes import Node
from ...layout.rewrite import set_openings, word_edit
from ...layout.source import TooMuch
from ...redesign.change import quoted
from ...redesign.script import CannotChange, Pen, Script, read_script

__all__ = ["NEW", "CannotChange", "comments", "edited", "values"]

NEW = "# Walked in with 'plumbline walk'.\nname: {name}\nwater: 20 degC\n\nvessels:\n\npumps:\n\nlines:\n"
"""The text of a layout that is begun."""

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NUMBER = re.compile(r"[-+]?\d[\w ./^%-]*", re.ASCII)
_GROUPS = {"vessel": "vessels", "pump": "pumps", "line": "lines"}
_MOST_STEPS = 200
_BOM = "\ufeff"

_Edit = Mapping[str, Any]


def edited(text: str, edit: _Edit) -> str:
    """Carry out an edit.

    Parameters:
        text: of a layout.
        edit: what to do, by the word in `do`: insert, replace, set, open, delete, move, line, end, pipe, put or drop.

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
        pen = Pen(read_script(text))
        whole = doing(pen, edit)
        new = pen.written() if whole is None else whole
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


# ---------------------------------------------------------------------- what is written


def _value(said: object) -> str:
    """A value that stands as the one text that it is, whatever it holds."""
    value = plain(str(said))
    if not value:
        raise ValueError
    return value if _NUMBER.fullmatch(value) else quoted(value)


def _written(said: Any) -> str:
    """A value as it is written: a text, a list between brackets, or a group between braces."""
    if isinstance(said, list):
        return f"[{', '.join(map(_written, said))}]"
    return (
        _braces({key if key in words.RUNS else _value(key): _written(value) for key, value in said.items()})
        if isinstance(said, dict)
        else _value(said)
    )


def _known(said: Mapping[str, Any], keys: Any) -> dict[str, str]:
    """Those of some values that the language knows."""
    return {str(key): _written(value) for key, value in said.items() if key in keys}


def _braces(pairs: Mapping[str, str]) -> str:
    return f"{{{', '.join(f'{key}: {value}' for key, value in pairs.items())}}}"


def _step_text(step: _Edit) -> str:
    """A step as it is written."""
    if "run" in step:
        run = _known(step["run"], words.RUN.keys() - {"pipe"})
        if not run:
            raise ValueError
        if step.get("pipe"):
            run["pipe"] = _written(step["pipe"])
        return _braces(run) if len(run) > 1 else _braces(run)[1:-1]
    kind = str(step["fitting"])
    if kind in words.LONG:
        return f"{kind}: {_braces(_known(step['details'], words.TABLES[kind]))}"
    if kind not in words.fittings():
        raise ValueError
    details = _known(step.get("details", {}), words.fitting_keys(kind))
    if not details:
        return kind
    return f"{kind}: {details['id'] if list(details) == ['id'] else _braces(details)}"


def _steps(edit: _Edit) -> list[str]:
    steps = [_step_text(step) for step in edit["steps"]]
    if not 0 < len(steps) <= _MOST_STEPS:
        raise ValueError
    return steps


def _end_text(said: _Edit | str) -> str:
    if isinstance(said, str):
        return _value(said)
    end = _known(said, words.END)
    if list(end) in (["vessel"], ["pump"], ["tee"]):
        return next(iter(end.values()))
    if not end:
        raise ValueError
    return _braces(end)


# ---------------------------------------------------------------------- steps


def _insert(pen: Pen, edit: _Edit) -> None:
    name, before, steps = edit["line"], int(edit["before"]), _steps(edit)
    line = pen.script.lines[name]
    route = line.keys.get("route")
    joined = f"[{', '.join(steps)}]"
    if line.steps:
        pen.insert(name, before, steps, "")
    elif route is None:
        _in_group(pen, line.value, "route", joined)
    elif route.items is not None:
        pen.put(route.start, route.stop, joined)
    else:
        indent = " " * (_pairs(line.value)[0][0].mark.column + 1)
        at = pen.close(route.start)
        pen.put(at, at, "".join(f"{pen.newline}{indent}- {step}" for step in steps))


def _replace(pen: Pen, edit: _Edit) -> None:
    pen.rewrite(edit["line"], _number(pen.script, edit), _steps(edit), "")


def _number(script: Script, edit: _Edit) -> int:
    number = int(edit["step"])
    if not 1 <= number <= len(script.lines[edit["line"]].steps):
        raise ValueError
    return number


def _set(pen: Pen, edit: _Edit) -> None:
    """One value within a step: a run's length along a way, a fitting's detail."""
    node, key, said = pen.script.step(edit["line"], _number(pen.script, edit)), str(edit["key"]), edit["value"]
    if not any(key in table for table in (words.RUN, words.FITTING_KEYS, *(words.TABLES[kind] for kind in words.LONG))):
        raise ValueError
    if said is None:
        _leave_out(pen, node, key)
        return
    value = _written(said)
    if node.text is not None:
        pen.put(node.stop, node.stop, f": {{{key}: {value}}}")
        return
    first, inner = _pairs(node)[0]
    if first.text in words.RUN:
        inner = node
    if inner.pairs is not None:
        _in_group(pen, inner, key, value)
    elif key == "id":
        pen.put(inner.start, inner.stop, value)
    else:
        known = "" if inner.is_nothing else f"id: {pen.script.slice(inner)}, "
        pen.put(inner.start, inner.stop, f"{{{known}{key}: {value}}}")


def _leave_out(pen: Pen, node: Node, key: str) -> None:
    """Take a value out of a step; a fitting whose last one it is stands as a bare word."""
    first, inner = _pairs(node)[0]
    inner = node if first.text in words.RUN else inner
    if inner is not node and len(_pairs(inner)) < 2:
        pen.put(node.start, node.end, str(first.text))
    else:
        _out(pen, inner, key)


def _open(pen: Pen, edit: _Edit) -> str:
    opening = float(edit["value"])
    if not 0.0 <= opening <= 1.0:
        raise ValueError
    step = pen.script.step(edit["line"], _number(pen.script, edit))
    return set_openings(pen.text, {step.mark: round(opening, 3)})


def _delete(pen: Pen, edit: _Edit) -> None:
    line, number = edit["line"], _number(pen.script, edit)
    node, there = pen.script.step(line, number), pen.script.lines[line]
    if there.route.flow:
        pen.gone = {(line, number)}
        pen.flow(line, number, [])
        return
    pen.alone(node)
    if len(there.steps) == 1:
        # A list that is empty is written as one, or the next word would be read as its value.
        at = pen.text.rindex(":", 0, there.route.start) + 1
        pen.put(at, at, " []")
    _cut(pen, node.start, node.end)


def _move(pen: Pen, edit: _Edit) -> str:
    """Change places with a neighbour, remarks and all."""
    script, number = pen.script, _number(pen.script, edit)
    other = _number(script, {**edit, "step": number + (1 if int(edit["by"]) > 0 else -1)})
    spans = []
    for one in sorted((number, other)):
        node = script.step(edit["line"], one)
        stop = node.end
        if not script.lines[edit["line"]].route.flow:
            pen.alone(node)
            stop = pen.close(stop)
        spans.append((node.start, stop))
    (a, b), (c, d) = spans
    return pen.text[:a] + pen.text[c:d] + pen.text[b:c] + pen.text[a:b] + pen.text[d:]


# ---------------------------------------------------------------------- lines, vessels, pumps


def _line(pen: Pen, edit: _Edit) -> None:
    """A new line. Its end is open air till it is told where it ends."""
    body = [f"pipe: {_written(edit['pipe'])}", f"from: {_end_text(edit['from'])}", "route:"]
    body += [f"  - {step}" for step in _steps(edit)]
    body.append(f"to: {_end_text(edit['to']) if 'to' in edit else 'open air'}")
    _add(pen, "lines", str(edit["line"]), body)


def _of_line(pen: Pen, edit: _Edit) -> None:
    """What pipe a line is of, or where it begins or ends."""
    line, key = pen.script.lines[edit["line"]], str(edit.get("side", "pipe"))
    value = {"from": _end_text, "to": _end_text, "pipe": _written}[key](edit["pipe" if key == "pipe" else "end"])
    _own(pen, line.value, *(node for word, node in line.keys.items() if word == key))
    _in_group(pen, line.value, key, value)


def _own(pen: Pen, *nodes: Node) -> None:
    """Refuse what stands in several places."""
    if any(id(node) in pen.script.shared for node in nodes):
        raise CannotChange("it is repeated elsewhere by a *name")


def _put(pen: Pen, edit: _Edit) -> str | None:
    """Values of a vessel, a pump or the site; a vessel or a pump that is not there yet is added at the end. What is None is left out."""
    kind, name = str(edit["kind"]), str(edit.get("name"))
    known = {"vessel": words.VESSEL, "pump": words.PUMP, "site": words.LAYOUT}[kind]
    if not edit["values"].keys() & (known.keys() - _GROUPS.values()):
        raise ValueError
    if kind != "site" and _entry(pen, _GROUPS[kind], name) is None:
        _add(pen, _GROUPS[kind], name, _braces(_known(edit["values"], known)))
        return None
    for key, said in edit["values"].items():
        group = pen.script.root if kind == "site" else (_entry(pen, _GROUPS[kind], name) or (None, None))[1]
        if group is None or key not in known or key in _GROUPS.values():
            raise ValueError
        _own(pen, group)
        # What the file says by another word for it stays by that.
        own = next((word for word in values(group) if words.proper(word, known) == key), key)
        if said is None:
            _out(pen, group, own)
        else:
            _in_group(pen, group, own, _written(said))
        pen = Pen(read_script(pen.written()))
    return pen.text


def _drop(pen: Pen, edit: _Edit) -> None:
    """Take a vessel, a pump or a line out."""
    group, name = _GROUPS[str(edit["kind"])], str(edit["name"])
    entry, whole = _entry(pen, group, name), _group(pen, group)
    if entry is None or whole is None:
        raise ValueError
    if re.search(r"&\w", pen.script.slice(entry[1])):
        raise CannotChange("it is repeated elsewhere by a *name")
    _out(pen, whole, name)


def _out(pen: Pen, whole: Node, key: str) -> None:
    """Take a value out of a group, with its comma or its lines of the file."""
    there = _pairs(whole)
    number = next(i for i, (word, _) in enumerate(there) if plain(word.text or "") == key)
    start, stop = there[number][0].start, there[number][1].end
    if not whole.flow:
        _cut(pen, start, stop)
        return
    if number + 1 < len(there):
        stop = there[number + 1][0].start
    elif number:
        start = there[number - 1][1].end
    pen.put(start, stop, "")


# ---------------------------------------------------------------------- places in the text


def _pairs(node: Node | None) -> tuple[tuple[Node, Node], ...]:
    return (node.pairs if node is not None else None) or ()


def values(node: Node | None) -> dict[str, Node]:
    """What stands in a group, by its words."""
    return {plain(key.text or ""): value for key, value in _pairs(node)}


def _group(pen: Pen, word: str) -> Node | None:
    found = next((value for key, value in _pairs(pen.script.root) if key.text == word), None)
    return found if found is not None and found.pairs is not None else None


def _entry(pen: Pen, group: str, name: str) -> tuple[Node, Node] | None:
    return next((pair for pair in _pairs(_group(pen, group)) if plain(pair[0].text or "") == name), None)


def _add(pen: Pen, group: str, name: str, value: str | Sequence[str]) -> None:
    """An entry after the last one of a group, as a value or as indented rows."""
    if not name.strip() or _entry(pen, group, name) is not None:
        raise CannotChange(f"there is a '{name}' already" if name.strip() else "it has no name")
    key, found = _value(name), _group(pen, group)
    if found is not None and found.flow:
        if not isinstance(value, str):
            raise CannotChange(f"'{group}' is written between braces: put the line in with an editor")
        at = _pairs(found)[-1][1].end if found.pairs else found.start + 1
        pen.put(at, at, f"{', ' if found.pairs else ''}{key}: {value}")
        return
    margin = " " * (found.pairs[0][0].mark.column - 1 if found is not None and found.pairs else 2)
    rows = [f"{key}: {value}"] if isinstance(value, str) else [f"{key}:", *(f"  {row}" for row in value)]
    body = "".join(f"{pen.newline}{margin}{row}" for row in rows)
    head = re.search(rf"(?m)^{group}[ \t]*:[ \t]*(?:null|~|\{{\}})?(?=[ \t]*(?:#|\r?$))", pen.text)
    if found is not None:
        at = pen.close(_pairs(found)[-1][1].end)
    elif head is not None:
        pen.put(head.start(), head.end(), f"{group}:")
        at = pen.close(head.end())
    else:
        at = len(pen.text)
        body = f"{'' if not pen.text or pen.text.endswith(chr(10)) else pen.newline}{group}:{body}{pen.newline}"
    pen.put(at, at, body)


def _in_group(pen: Pen, node: Node, key: str, value: str) -> None:
    """Set a key of a group to a value, which is added where it is not there."""
    if node.pairs is None:
        raise CannotChange("its values were not found in the file")
    pen.put(*word_edit(pen.text, node, key, value))


def _cut(pen: Pen, start: int, stop: int) -> None:
    """Take whole lines of the file out; their remarks stay, as lines of their own."""
    first, last = pen.begin(start), pen.close(stop)
    indent = re.match(r"[ \t]*", pen.text[first:])
    margin = indent[0] if indent else ""
    kept = [f"{margin}{said}{pen.newline}" for at, said in _comments_at(pen.text) if first <= at < last]
    after = last + len(pen.newline) if pen.text.startswith(pen.newline, last) else last
    pen.pieces.append((first, after, len(pen.pieces), "".join(kept)))


def comments(text: str) -> list[str]:
    """The remarks of a text, in order.

    >>> comments("a: 'x # y'   # z")
    ['# z']
    """
    return [said for _, said in _comments_at(text)]


@lru_cache(maxsize=4)
def _comments_at(text: str) -> list[tuple[int, str]]:
    scalars = [
        (token.start_mark.index, token.end_mark.index)
        for token in yaml.scan(text, Loader=_Loader)
        if isinstance(token, yaml.ScalarToken)
    ]
    found, at = [], 0
    for start, stop in [*scalars, (len(text), len(text))]:
        if start >= at:
            for one in re.finditer(r"(?m)(?:^|(?<=[\s,\[\]{}]))#[^\r\n]*", text[at:start]):
                found.append((at + one.start(), one[0].rstrip()))
            at = stop
    return found


_DOINGS: dict[str, Callable[[Pen, _Edit], str | None]] = {
    "insert": _insert,
    "replace": _replace,
    "set": _set,
    "open": _open,
    "delete": _delete,
    "move": _move,
    "line": _line,
    "end": _of_line,
    "pipe": _of_line,
    "put": _put,
    "drop": _drop,
}
