"""Text in: a file becomes a text and a tree of nodes, or faults that say in plain words what stands in the way.

YAML is used for its shape only: every scalar is taken as the text that stands in the file, so `on`, `1e3` or a date
mean what the user typed. All who read or change a layout's text go by this tree: one reader, one set of rules. It is built from the parser's
events, one by one and without recursion, so that a hostile file is cut short before it costs anything.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field

import yaml

from ..catalogue.reading import data
from .faults import Faults
from .meant import meant
from .model import Mark
from .nodes import Node, whole_items, whole_pairs

__all__ = ["TooMuch", "layout_tree", "read_source", "read_text", "tree_of"]

MOST_NODES = 100_000
MOST_DEPTH = 40

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_PLAIN_TAGS = frozenset(f"tag:yaml.org,2002:{kind}" for kind in ("str", "int", "float", "bool", "null", "seq", "map"))


class TooMuch(Exception):  # noqa: N818 - caught where the file is read
    """The file is not worth reading any further; carries the one fault to note."""

    def __init__(self, mark: Mark, found: str, expected: str) -> None:
        self.mark, self.found, self.expected = mark, found, expected
        super().__init__(found)


@dataclass(slots=True)
class _Open:
    """A list or group that is still being filled."""

    mark: Mark
    is_list: bool
    anchor: str | None
    start: int = 0
    flow: bool = False
    size: int = 1
    children: list[Node] = field(default_factory=list)


def tree_of(text: str, faults: Faults) -> Node | None:
    """Build the tree of a YAML text, None where it holds nothing. Tags and doubled names are noted as faults.

    Raises:
        yaml.YAMLError: where the text is no YAML.
        TooMuch: where it is too deep, too large, or unfolds without end.
    """
    loader = _Loader(text)
    try:
        return _Builder(faults).whole(loader)
    finally:
        loader.dispose()


def layout_tree(text: str, faults: Faults) -> Node | None:
    """Build the tree of a layout's text in the language's own words, as `tree_of` does of any text."""
    tree = tree_of(text, faults)
    return None if tree is None else meant(tree)


class _Builder:
    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self.stack: list[_Open] = []
        self.named: dict[str, tuple[Node, int]] = {}
        self.root: Node | None = None
        self.count = 0

    def whole(self, loader: yaml.SafeLoader) -> Node | None:
        while loader.check_event():
            event: yaml.Event = loader.get_event()  # type: ignore[no-untyped-call]
            mark = Mark(event.start_mark.line + 1, event.start_mark.column + 1) if event.start_mark else Mark(1, 1)
            start = event.start_mark.index if event.start_mark else 0
            stop = event.end_mark.index if event.end_mark else 0
            if isinstance(event, yaml.ScalarEvent):
                self.tag(event, mark)
                quoted = event.style in ("'", '"', "|", ">")
                node = Node(mark, text=str(event.value), quoted=quoted, start=start, stop=stop)
                self.put(node, 1, event.anchor, mark)
            elif isinstance(event, yaml.AliasEvent):
                self.alias(str(event.anchor), mark)
            elif isinstance(event, yaml.SequenceStartEvent | yaml.MappingStartEvent):
                self.tag(event, mark)
                is_list = isinstance(event, yaml.SequenceStartEvent)
                self.stack.append(_Open(mark, is_list, event.anchor, start, bool(event.flow_style)))
                if len(self.stack) > MOST_DEPTH:
                    expected = f"at most {MOST_DEPTH} levels of brackets or indentation"
                    raise TooMuch(mark, "things inside things without end", expected)
            elif isinstance(event, yaml.SequenceEndEvent | yaml.MappingEndEvent):
                done = self.stack.pop()
                self.put(self.closed(done, stop), done.size, done.anchor, mark)
            elif isinstance(event, yaml.DocumentStartEvent) and self.root is not None:
                raise TooMuch(mark, "a second layout begins here", "one layout in a file")
        return self.root

    def put(self, node: Node, size: int, anchor: str | None, mark: Mark) -> None:
        """Hand a finished node to what it stands in."""
        if anchor is not None:
            self.named[anchor] = (node, size)
        if not self.stack:
            self.root = node
            return
        self.stack[-1].children.append(node)
        self.stack[-1].size += size
        self.count += 1
        if self.count > MOST_NODES or self.stack[-1].size > MOST_NODES:
            found = f"more than {MOST_NODES} values, repeated ones counted each time"
            raise TooMuch(mark, found, "a layout, which has a few hundred")

    def alias(self, anchor: str, mark: Mark) -> None:
        if any(one.anchor == anchor for one in self.stack):
            raise TooMuch(mark, f"'*{anchor}' repeats the very part that it stands in", "each part written out")
        if anchor not in self.named:
            found = f"'*{anchor}' repeats nothing: no '&{anchor}' stands before it"
            self.faults.add(mark, found, "a value; put a text that begins with * in quotes")
            self.faults.settled.add(mark)
            self.put(Node(mark, text=f"*{anchor}"), 1, None, mark)
            return
        node, size = self.named[anchor]
        self.put(node, size, None, mark)

    def tag(self, event: yaml.NodeEvent, mark: Mark) -> None:
        tag = getattr(event, "tag", None)
        if tag is not None and tag not in _PLAIN_TAGS:
            shown = str(tag).replace("tag:yaml.org,2002:", "!!")[:40]
            self.faults.add(mark, f"'{shown}' before a value", "plain values; put a text that begins with ! in quotes")
            self.faults.settled.add(mark)

    def closed(self, done: _Open, stop: int) -> Node:
        if done.flow:
            done.children = whole_items(done.children) if done.is_list else whole_pairs(done.children)
        if done.is_list:
            return Node(done.mark, items=tuple(done.children), start=done.start, stop=stop, flow=done.flow)
        pairs: list[tuple[Node, Node]] = []
        seen: dict[str, Mark] = {}
        torn = False
        for key, value in zip(done.children[::2], done.children[1::2], strict=True):
            if key.text is None:
                self.faults.add(key.mark, f"{key.what} where a name goes", "a plain word before the colon")
                self.faults.unread(value)
                torn = True
                continue
            word = " ".join(key.text.split())
            if word in seen:
                self.faults.add(key.mark, f"'{word}' stands here twice", "each name once", also=[seen[word]])
                self.faults.unread(value)
                continue
            seen[word] = key.mark
            pairs.append((key, value))
        return Node(done.mark, pairs=tuple(pairs), torn=torn, start=done.start, stop=stop, flow=done.flow)


MOST_BYTES = 4_000_000

_NO_TEXT = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_LINE_ENDS = re.compile("\r\n|[\r\n\x85\u2028\u2029]")


def read_source(path: str | os.PathLike[str]) -> tuple[str, Node, Faults]:
    """Read a file into its text, its tree of nodes, and a collector that already holds doubled names and the like.

    Raises:
        LayoutError: when the file cannot be read at all (missing, a folder, not UTF-8, empty, no YAML).
    """
    faults = Faults(os.fspath(path))
    text = _read_text(faults)
    return text, read_text(text, faults), faults


def read_text(text: str, faults: Faults) -> Node:
    """Turn a text into its tree of nodes; what is wrong goes to `faults`.

    Raises:
        LayoutError: when the text cannot be read at all.
    """
    # Only the marks that the YAML reader knows as line ends may count here, or the places would drift.
    faults.lines = _LINE_ENDS.split(text)
    odd = _NO_TEXT.search(text)
    if odd:
        before = _LINE_ENDS.split(text[: odd.start()])
        found = f"a character that is no text (number {ord(odd.group())})"
        faults.add(Mark(len(before), len(before[-1]) + 1), found, "a plain text file")
        faults.fail()
    try:
        tree = layout_tree(text, faults)
    except yaml.MarkedYAMLError as error:
        _yaml_fault(error, faults)
        faults.fail()
    except yaml.YAMLError:
        faults.add(Mark(1, 1), "a text that cannot be read", "a layout, in YAML")
        faults.fail()
    except TooMuch as stop:
        faults.found.clear()
        faults.add(stop.mark, stop.found, stop.expected)
        faults.fail()
    if tree is None or tree.is_nothing:
        faults.add(Mark(1, 1), "the file holds no layout", "vessels, pumps and lines")
        faults.fail()
    return tree


_UNREAD: tuple[tuple[type[Exception], str], ...] = (
    (FileNotFoundError, "there is no such file"),
    (IsADirectoryError, "this is a folder"),
    (PermissionError, "the file may not be read (permission denied)"),
    (ValueError, "this cannot be the name of a file"),
)


def _read_text(faults: Faults) -> str:
    start, found, raw = Mark(1, 1), "", b""
    try:
        with open(faults.file, "rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = f" ({strerror})" if (strerror := getattr(error, "strerror", None)) else ""
        found = next((said for kind, said in _UNREAD if isinstance(error, kind)), f"the file cannot be read{why}")
    if len(raw) > MOST_BYTES:
        found = f"the file is larger than {MOST_BYTES // 1_000_000} MB"
    if found:
        faults.add(start, found, "a layout file, in YAML")
        faults.fail()
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
            faults.add(start, "the file is saved as UTF-16", "a file saved as UTF-8")
            faults.fail()
        lines = raw[: error.start].decode("utf-8", errors="replace").split("\n")
        faults.lines = raw.decode("utf-8", errors="replace").split("\n")
        place = Mark(len(lines), len(lines[-1]) + 1)
        hint = "save the file again as UTF-8, or write the letter without its accent"
        faults.add(place, "a letter that is not saved as UTF-8", "a file saved as UTF-8", hint=hint)
        faults.fail()


def _yaml_fault(error: yaml.MarkedYAMLError, faults: Faults) -> None:
    mark = error.problem_mark or error.context_mark
    place = Mark(mark.line + 1, mark.column + 1) if mark else Mark(1, 1)
    problem = error.problem or ""
    text = faults.line(place.line)
    raw = faults.lines[place.line - 1] if place.line <= len(faults.lines) else ""
    told = next(told for says, told in data("yaml_problems.yaml").items() if says in problem)
    found, expected, hint = told["found"], told["expected"], told.get("hint", "")
    if "\t" in raw[: place.column] and not raw[: place.column].strip():
        found, expected, hint = "a tab before the first word of a line", "spaces: tabs do not count here", ""
    elif "cannot start any token" in problem:
        found = f"'{text[place.column - 1 : place.column]}' at the beginning of a word"
        expected, hint = "a word or a number", "put a text that begins with such a sign in quotes"
    context = error.context_mark
    also = [Mark(context.line + 1, context.column + 1)] if context else []
    bracket = context is not None and ("'{'" in found or "'['" in found or "quote" in found)
    if bracket:
        place, also = also[0], [place]
    else:  # what does not fit began with the line before, or with the one that it seems to belong under
        also = [Mark(number, 1) for number in _before(faults, place.line) if not found.startswith("a tab")]
    faults.add(place, found, expected, hint=hint, also=also)


def _before(faults: Faults, line: int) -> list[int]:
    """The line with words before a line, and the last one before it that is less indented."""
    depth = _depth(faults.line(line))
    said = [number for number in range(line - 1, 0, -1) if faults.line(number).split("#")[0].strip()]
    return said[:1] + [number for number in said if _depth(faults.line(number)) < depth][:1]


def _depth(text: str) -> int:
    return len(text) - len(text.lstrip())
