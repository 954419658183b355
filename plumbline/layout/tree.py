"""From the text of a file to its nodes.

YAML is used for its shape only: every scalar is taken as the text that stands in the file, so `on`, `1e3` or a date
mean what the user typed. All who read or change a layout's text go by this tree: one reader, one set of rules. It is built from the parser's events, one by one and without recursion, so that a
hostile file is cut short before it costs anything.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import yaml

from .faults import Faults
from .model import Mark
from .nodes import Node

__all__ = ["TooMuch", "tree_of"]

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
                node = Node(mark, text=str(event.value), quoted=event.style in ("'", '"', "|", ">"),
                            start=start, stop=stop)  # fmt: skip
                self.put(node, 1, event.anchor, mark)
            elif isinstance(event, yaml.AliasEvent):
                self.alias(str(event.anchor), mark)
            elif isinstance(event, yaml.SequenceStartEvent | yaml.MappingStartEvent):
                self.tag(event, mark)
                is_list = isinstance(event, yaml.SequenceStartEvent)
                self.stack.append(_Open(mark, is_list, event.anchor, start, bool(event.flow_style)))
                if len(self.stack) > MOST_DEPTH:
                    raise TooMuch(mark, "things inside things without end", f"at most {MOST_DEPTH} levels of brackets "
                                  "or indentation")  # fmt: skip
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
            raise TooMuch(mark, f"more than {MOST_NODES} values, repeated ones counted each time",
                          "a layout, which has a few hundred")  # fmt: skip

    def alias(self, anchor: str, mark: Mark) -> None:
        if any(one.anchor == anchor for one in self.stack):
            raise TooMuch(mark, f"'*{anchor}' repeats the very part that it stands in", "each part written out")
        if anchor not in self.named:
            self.faults.add(mark, f"'*{anchor}' repeats nothing: no '&{anchor}' stands before it",
                            "a value; put a text that begins with * in quotes")  # fmt: skip
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
