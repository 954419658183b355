"""What a file means where it says it in other words: its tree with the language's own words in their place.

A key in another spelling or in another word for it, a choice likewise, words of a group that stand beside it in place of in it, a loss and its
flow in one value: whatever can mean one thing alone is put in that thing's words before anything is read, so that who reads a file and who
changes its text find the same words. Places are kept.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace

from . import words
from .kinds import plain, reads
from .nodes import Node
from .words import Key

__all__ = ["meant"]

Pairs = tuple[tuple[Node, Node], ...]
_BOTH = re.compile(r"(.*\S)\s*(?:\bat\b|@)\s*(\S.*)", re.DOTALL)


def meant(tree: Node) -> Node:
    """The tree of a layout in the language's own words."""
    return _Meant().group(tree, words.LAYOUT)


class _Meant:
    def __init__(self) -> None:
        self.done: dict[tuple[int, int], Node] = {}
        """What was put in words, by its node and its table: what a `*name` repeats stays one node."""
        self.kept: list[Node] = []

    def group(self, node: Node, table: Mapping[str, Key]) -> Node:
        """A group of values in the words of its table; lists of groups item by item."""
        if node.items is not None:
            return self.each(node, lambda item: self.group(item, table))
        if node.pairs is None:
            return node
        known = self.done.get((id(node), id(table)))
        if known is None:
            pairs = _both(_gathered(_proper(node.pairs, table), table), table)
            known = replace(node, pairs=tuple((key, self.value(value, table.get(_word(key)))) for key, value in pairs))
            self.done[id(node), id(table)] = known
            self.kept.append(node)
        return known

    def value(self, node: Node, key: Key | None) -> Node:
        """One value, as its key takes it."""
        if key is None:
            return node
        if key.takes in words.NAMED:
            table = words.NAMED[key.takes]
            return (
                replace(node, pairs=tuple((name, self.group(one, table)) for name, one in node.pairs))
                if node.pairs
                else node
            )
        if key.takes == "route":
            steps = replace(node, text=None, pairs=None, items=(node,)) if _is_step(node) else node
            return self.each(steps, self.step)
        if key.takes in ("choice", "switch") and node.text is not None:
            chosen = words.chosen(plain(node.text), key)
            return node if chosen is None or chosen == node.text else replace(node, text=chosen)
        return self.group(node, words.GROUPS[key.takes]) if key.takes in words.GROUPS else node

    def each(self, node: Node, change: Callable[[Node], Node]) -> Node:
        return replace(node, items=tuple(change(item) for item in node.items)) if node.items else node

    def step(self, node: Node) -> Node:
        """A step: a run, or a fitting with its details."""
        if not node.pairs:
            return node
        if any(words.proper(_word(key), words.RUN) in words.RUN for key, _ in node.pairs):
            return self.group(node, words.RUN)
        key, value = node.pairs[0]
        word = _word(key)
        kind = words.fitting_called(word)
        table = (words.TABLES[word] if word in words.LONG else None) or (words.fitting_keys(kind) if kind else None)
        if table is None or len(node.pairs) > 1:
            return node
        if value.text is not None and "loses" in table:
            value = _loss(value)
        return replace(node, pairs=((key, self.group(value, table)),))


def _word(key: Node) -> str:
    return plain(key.text or "")


def _is_step(node: Node) -> bool:
    """Whether a route is one step and no list."""
    if node.pairs is None:
        return node.text is not None and words.fitting_called(plain(node.text)) is not None
    return len(node.pairs) == 1 or all(words.proper(_word(key), words.RUN) in words.RUN for key, _ in node.pairs)


def _proper(pairs: Pairs, table: Mapping[str, Key]) -> Pairs:
    """The pairs with each key in the table's word. A word for several of them is the one that is not said otherwise and that its value is of
    the kind of; where more than one are left, it stays as it is."""
    own = [words.standing_for(_word(key), table) for key, _ in pairs]
    left = -1
    while left != (left := sum(len(some) > 1 for some in own)):
        said = {some[0] for some in own if len(some) == 1}
        own = [
            [one for one in some if one not in said and reads(value, table[one])] if len(some) > 1 else some
            for some, (_, value) in zip(own, pairs, strict=True)
        ]
    return tuple(
        (_called(key, *some), _in_its_unit(value, _word(key), table[some[0]])) if len(some) == 1 else (key, value)
        for some, (key, value) in zip(own, pairs, strict=True)
    )


def _in_its_unit(value: Node, word: str, key: Key) -> Node:
    """A bare number behind another word for its key that is a unit, with it: `watts: 30`."""
    if word in key.also and value.text is not None and re.fullmatch(r"[\d.,]+", value.text.strip()):
        united = replace(value, text=f"{value.text} {word}")
        return united if reads(united, key) else value
    return value


def _called(key: Node, word: str) -> Node:
    return key if key.text == word else replace(key, text=word, said=key.text)


def _gathered(pairs: Pairs, table: Mapping[str, Key]) -> Pairs:
    """The pairs, those in their own group that stand beside it: {highest head: 3 m, largest flow: 40 L/min} of a pump are its curve's."""
    beside = [pair for pair in pairs if _word(pair[0]) not in table]
    for word, key in table.items() if beside else ():
        inner = words.GROUPS.get(key.takes, {})
        own = [pair for pair in beside if words.standing_for(_word(pair[0]), inner)]
        needed = {one for one, detail in inner.items() if detail.required} or _TOGETHER.get(key.takes, set())
        if (
            own
            and needed <= {words.proper(_word(one), inner) for one, _ in own}
            and word not in {_word(one) for one, _ in pairs}
        ):
            first = own[0][0]
            group = Node(first.mark, pairs=tuple(own), start=first.start, stop=own[-1][1].stop, flow=True)
            pairs = (*(pair for pair in pairs if pair not in own), (replace(first, text=word), group))
    return pairs


_TOGETHER = {
    **{"runs": {"on", "off"}, "place": {"east", "north"}},
    **{takes: {""} for takes in ("end", "water", "wish", "readings", "pipe")},
}
"""What must stand together of a group none of whose words is needed, for it to be known by them; nothing makes some known."""


def _both(pairs: Pairs, table: Mapping[str, Key]) -> Pairs:
    """The pairs, a value that says at what it holds in two: {loses: 0.3 m at 40 L/min} is loses: 0.3 m and at: 40 L/min."""
    if "at" not in table or any(_word(key) == "at" for key, _ in pairs):
        return pairs
    kept = []
    for key, value in pairs:
        one = table.get(_word(key))
        both = _BOTH.fullmatch(value.text or "") if one and one.takes in ("head", "flow") else None
        kept += (
            [(key, _part(value, both, 1)), (replace(key, text="at"), _part(value, both, 2))] if both else [(key, value)]
        )
    return tuple(kept)


def _loss(value: Node) -> Node:
    """What a part loses and at what flow, where its one plain value says both: `0.3 m at 40 L/min`."""
    both = _BOTH.fullmatch(value.text or "")
    if not both or not (
        reads(_part(value, both, 1), words.FITTING_KEYS["loses"])
        and reads(_part(value, both, 2), words.FITTING_KEYS["at"])
    ):
        return value
    pairs = tuple(
        (replace(value, text=word, quoted=False), _part(value, both, k)) for k, word in ((1, "loses"), (2, "at"))
    )
    return replace(value, text=None, pairs=pairs, flow=True)


def _part(value: Node, found: re.Match[str], which: int) -> Node:
    """A piece of a text as a value of its own, in its place."""
    first, last = found.span(which)
    return replace(value, text=found[which], start=value.start + first, stop=value.start + last)
