"""A layout's text as a plumber's notebook: where each line's steps stand in it, and how to write in it.

Comments, order and all that is not touched stay as typed. A line of the file that is changed ends in `# changed: …`, and what is taken
out stays behind as a comment.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from ..catalogue import fittings
from ..errors import PlumblineError
from ..layout.faults import Faults
from ..layout.kinds import plain
from ..layout.nodes import Node
from ..layout.source import layout_tree
from ..layout.words import DIRECTIONS, RELATIVE

__all__ = ["CannotChange", "LineText", "Pen", "Script", "read_script", "row_of"]

MARK = "# changed: "


class CannotChange(PlumblineError):  # noqa: N818 - it reads as the sentence it carries
    """The text does not allow a change in that place."""


@dataclass(frozen=True)
class LineText:
    """A line of pipe in the text: its key, its whole value, the values of its keys, and its steps."""

    key: Node
    value: Node
    keys: Mapping[str, Node]
    steps: Sequence[Node]

    @property
    def spread(self) -> bool:
        """Whether some step of it stands for several of the layout, so that its steps are not numbered as in the text."""
        return any(_spreads(step) for step in self.steps)

    def out_of_reach(self, step: int) -> bool:
        """Whether the text says that nobody gets at a step: at a run itself; at a bend with either run beside it, at any other fitting
        with both."""
        node = self.steps[step - 1]
        if _is_run(node):
            return _hidden(node)
        sides = (reversed(self.steps[: step - 1]), self.steps[step:])
        runs = [next(filter(_is_run, side), None) for side in sides]
        hidden = [_hidden(run) for run in runs if run is not None]
        return bool(hidden) and (all(hidden) or (any(hidden) and _bends(node)))

    @property
    def hidden(self) -> bool:
        """Whether some of its pipe lies where no hand gets at it."""
        return any(_hidden(step) for step in self.steps)

    @property
    def route(self) -> Node:
        """The list of steps."""
        route = self.keys.get("route")
        if route is None or route.items is None:
            raise CannotChange("the line has no route")
        return route


@dataclass(frozen=True)
class Script:
    """A layout's text, the `root` of what stands in it, and its lines of pipe by name. `shared` are nodes that stand in more than one place
    by a `*name`; `opens` is where the key that the lines stand under ends. Steps are told by their numbers in the text."""

    text: str
    root: Node | None
    lines: Mapping[str, LineText]
    shared: frozenset[int]
    opens: int

    def slice(self, node: Node) -> str:
        """The text of a node."""
        return self.text[node.start : node.end]

    def slice_of(self, line: str) -> str:
        """The text of a line, its name first."""
        return self.text[self.lines[line].key.start : self.lines[line].value.end]

    def block_of(self, line: str) -> str:
        """The text of the lines of the file that a line stands on."""
        start, stop = self.lines[line].key.start, self.text.find("\n", self.lines[line].value.end)
        return self.text[self.text.rfind("\n", 0, start) + 1 : len(self.text) if stop < 0 else stop]

    def of(self, line: str) -> LineText | None:
        """The text of a line of the layout, that of its row where it is one of several that the file writes once."""
        return self.lines.get(line, self.lines.get(row_of(line)))

    def step(self, line: str, step: int) -> Node:
        """The node of a step, counted from 1; an error where it stands in several places."""
        steps = self.lines[line].steps
        node = steps[step - 1]
        if id(node) in self.shared:
            raise CannotChange("the step is repeated elsewhere by a *name")
        return node


@lru_cache(maxsize=8)
def read_script(text: str) -> Script:
    """Find every line and step in the text of a layout that can be read."""
    root = layout_tree(text, Faults(""))
    counts: dict[int, int] = defaultdict(int)

    def count(node: Node) -> None:
        counts[id(node)] += 1
        if counts[id(node)] == 1:
            for child in node.children:
                count(child)

    if root is not None:
        count(root)
    lines = _Lines()
    every = _by_word(root).get("lines")
    for key, value in (every.pairs if every is not None else None) or ():
        keys = _by_word(value)
        route = keys.get("route")
        lines[plain(key.text or "")] = LineText(key, value, keys, (route.items if route is not None else None) or ())
    shared = {node for node, times in counts.items() if times > 1}
    for one in lines.values():
        # What is repeated as a whole cannot be changed in one of its places.
        if id(one.value) in shared or ("route" in one.keys and id(one.keys["route"]) in shared):
            shared |= {id(node) for node in (*one.steps, one.value, *one.keys.values())}
    opens = (
        key.stop for key, _ in (root.pairs if root is not None else None) or () if plain(key.text or "") == "lines"
    )
    return Script(text, root, lines, frozenset(shared), next(opens, 0))


def row_of(line: str) -> str:
    """What a line's row is called in the file, if it is one of a row."""
    return line.rpartition(" ")[0]


def _by_word(node: Node | None) -> dict[str, Node]:
    pairs = (node.pairs if node is not None else None) or ()
    return {plain(key.text or ""): value for key, value in pairs}


class _Lines(dict[str, LineText]):
    """Lines by name; one that the text has only among several, in a row, cannot be changed by itself."""

    def __missing__(self, name: str) -> LineText:
        raise CannotChange(f"'{name}' stands in the file among several of its kind")


def _said(step: Node) -> str:
    """The word that a step begins with."""
    return plain((step.pairs[0][0] if step.pairs else step).text or "")


def _spreads(step: Node) -> bool:
    """Whether a step of the text stands for several of the layout."""
    said = _said(step)
    return said == "manifold" or (said in fittings() and fittings()[said].name in ("cross", "three-way valve"))


def _bends(step: Node) -> bool:
    return _said(step) in fittings() and fittings()[_said(step)].bends


def _marked(words: str) -> str:
    """The mark at the end of a line of the file that is new; none where there are no words to say about it."""
    return f"  {MARK}{words}" if words else ""


_OUT_OF_REACH = {"buried", "behind", "under"}


def _keys_of(step: Node) -> set[str]:
    """The words of a run, or of a hose or the like in its braces."""
    inside = step.pairs[0][1].pairs if step.pairs and step.pairs[0][1].pairs else step.pairs
    return {plain(key.text or "") for key, _ in inside or ()}


def _is_run(step: Node) -> bool:
    return not _keys_of(step).isdisjoint((*DIRECTIONS, *RELATIVE))


def _hidden(step: Node) -> bool:
    """Whether the text says that a run is out of reach."""
    return not _keys_of(step).isdisjoint(_OUT_OF_REACH)


class Pen:
    """Collects what is to be written in a script, and writes it in one go; what is done without words leaves no mark.

    `gone` names the steps, by line and number, that are to be taken out: a comma goes with each of them."""

    def __init__(self, script: Script) -> None:
        self.script = script
        self.text = script.text
        self.newline = "\r\n" if "\r\n" in script.text else "\n"
        self.pieces: list[tuple[int, int, int, str]] = []
        self.notes: dict[int, list[str]] = defaultdict(list)
        self.added: dict[int, list[str]] = defaultdict(list)
        self.out: set[int] = set()
        self.gone: set[tuple[str, int]] = set()

    # ------------------------------------------------------------------ places

    def begin(self, at: int) -> int:
        """Where the line of the file that holds a place begins."""
        return self.text.rfind("\n", 0, at) + 1

    def close(self, at: int) -> int:
        """Where it ends, before its line end."""
        stop = self.text.find("\n", at)
        stop = len(self.text) if stop < 0 else stop
        return stop - 1 if stop > at and self.text[stop - 1] == "\r" else stop

    # ------------------------------------------------------------------ writing

    def put(self, start: int, stop: int, new: str) -> None:
        """Write `new` in place of a piece of the text."""
        if "#" in self.text[start:stop] and "\n" in self.text[start:stop]:
            raise CannotChange("comments stand inside what is to be changed")
        self.pieces.append((start, stop, len(self.pieces), new))

    def note(self, at: int, words: str) -> None:
        """Mark the line of the file that holds a place as changed."""
        told = self.notes[self.close(at)]
        if words not in told:
            told.append(words)

    def strike(self, node: Node, last: Node | None = None) -> None:
        """Take the lines of the file from a node to the end of another out: they stay behind as comments."""
        at, stop = self.begin(node.start), (last or node).end
        while at <= stop and at < len(self.text):
            close = self.close(at)
            indent = len(self.text[at:close]) - len(self.text[at:close].lstrip())
            if self.text[at:close].strip():
                self.pieces.append((at + indent, at + indent, len(self.pieces), MARK + "out: "))
            self.out.add(close)
            at = close + len(self.newline)

    # ------------------------------------------------------------------ steps

    def rewrite(self, line: str, step: int, texts: Sequence[str], words: str) -> None:
        """Write other steps in place of one; none takes it out."""
        node = self.script.step(line, step)
        route = self.script.lines[line].route
        start, stop = node.start, node.end
        if route.flow:
            self.flow(line, step, texts)
            self.note(stop, words)
            return
        self.alone(node)
        if not texts:
            self.strike(node)
            return
        self.put(start, stop, texts[0])
        self.note(stop, words)
        self.add(stop, start, texts[1:], words)

    def add(self, at: int, column_of: int, texts: Sequence[str], words: str) -> None:
        """Add steps to a list that has a line of the file for each, after the line that holds a place."""
        indent = self.text[self.begin(column_of) : column_of]
        self.added[self.close(at)] += [f"{indent}{text}{_marked(words)}" for text in texts]

    def insert(self, line: str, before: int, texts: Sequence[str], words: str) -> None:
        """Write steps before a step; one past the last means at the end."""
        route, steps = self.script.lines[line].route, self.script.lines[line].steps
        if not steps:
            raise CannotChange("the line has no steps")
        first = before <= 1
        node = self.script.step(line, 1 if first else before - 1)
        if route.flow:
            at = node.start if first else node.end
            joined = ", ".join(texts)
            self.put(at, at, f"{joined}, " if first else f", {joined}")
            self.note(at, words)
            return
        self.alone(node)
        if first:
            start = self.begin(node.start)
            indent = self.text[start : node.start]
            self.put(start, start, "".join(f"{indent}{text}{_marked(words)}{self.newline}" for text in texts))
        else:
            self.add(node.end, node.start, texts, words)

    def alone(self, node: Node) -> None:
        """Refuse a step that does not have a line of the file, after its dash, to itself."""
        start = node.start
        if self.text[self.begin(start) : start].strip() != "-":
            raise CannotChange("the step has no line of its own")

    def flow(self, line: str, step: int, texts: Sequence[str]) -> None:
        """Write other steps in place of one in a list between brackets."""
        node, steps = self.script.step(line, step), self.script.lines[line].steps
        start, stop = node.start, node.end
        if not texts:
            if any((line, later) not in self.gone for later in range(step + 1, len(steps) + 1)):
                stop = steps[step].start
            elif step > 1:
                start = steps[step - 2].end
        self.put(start, stop, ", ".join(texts))

    # ------------------------------------------------------------------ the end

    def written(self) -> str:
        """The new text.

        Raises:
            CannotChange: where two changes want the same place.
        """
        pieces = list(self.pieces)
        for close in self.notes.keys() | self.added.keys():
            told = "; ".join(self.notes[close]) if close not in self.out else ""
            mark = f"{'' if self.text[:close].endswith(' ') else ' '} {MARK}{told}" if told else ""
            lines = "".join(self.newline + text for text in self.added[close])
            pieces.append((close, close, len(self.pieces) + close, mark + lines))
        out, at = [], 0
        for start, stop, _, new in sorted(pieces):
            if start < at:
                raise CannotChange("two changes want the same place in the file")
            out += [self.text[at:start], new]
            at = stop
        return "".join((*out, self.text[at:]))
