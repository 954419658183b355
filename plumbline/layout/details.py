"""A fitting of a route with what is stated of it: bare, with one plain value, or with its details."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from .. import catalogue
from ..catalogue.loss_laws import FromBores, Jet, Stated
from . import words
from .faults import listed, nearest_words
from .kinds import plain
from .model import Mark, Vector
from .names import Names
from .nodes import Node
from .opening import NOTHING, YES, NotAnOpening, a_quantity, is_share, no_name, opening_of, says_opening
from .pipes import read_pipe
from .statements import FittingSaid, StepSaid, UnreadSaid
from .timing import read_runs
from .values import Fields, Got, Values

__all__ = ["Fittings", "Ways"]

Ways = Callable[[bool, Mark], Mapping[str, Vector]]
"""What directions mean where one walks, given whether some turn with the walk."""

_WAYS = (*words.DIRECTIONS, *words.RELATIVE)
_NAMED = ("tee", "wye", "cross", "three-way valve", "cap", "union")
"""Fittings that always have a name, since other things refer to them."""
_MORE = ("loses", "at", "clogged", "bore", "air", "Kv", "angle", "room")
"""Numbers of a fitting that are kept as they are."""
_ANGLES = ("22.5", "30", "45", "60", "90")
"""Numbers that are angles, to who writes pipe."""


class Fittings:
    """Reads fittings."""

    def __init__(self, values: Values, names: Names) -> None:
        self.values = values
        self.faults = values.faults
        self.names = names

    def read(self, kind: str, value: Node | None, node: Node, ways: Ways) -> StepSaid:
        """Read a fitting: bare, with one plain value, or with its details."""
        table = words.fitting_keys(kind)
        before = len(self.faults.found)
        got, torn = Fields(), False
        if value is not None and not value.is_nothing:
            if value.pairs is None:
                got.update(self.one(kind, table, value, node))
            else:
                got = self.values.fields(value, table, f"the {kind}") or got
                torn = value.torn
        number = {word: one.number for word, one in got.items()}
        doubtful = torn or len(self.faults.found) > before
        stated = [word for word in ("K", "Kv", "loses") if number.get(word) is not None]
        if len(stated) > 1:
            self.faults.add(got[stated[1]].mark, f"both {stated[0]} and {stated[1]} for the {kind}", "one of them")
        to = read_pipe(got["to"].node, self.values) if "to" in got else None
        if not doubtful:
            doubtful = self.missing(kind, got, number, node)
        said = got.text("id")
        name = self.names.take(kind, said, node.mark) if said or (kind in _NAMED and not doubtful) else None
        if kind in ("tee", "wye", "cross", "three-way valve") and name is None:
            self.faults.blind.add("tee")
        faces = self.faces(got["faces"].node, ways) if "faces" in got else None
        if (doubtful and kind in ("bend", "reducer", "expander")) or ("faces" in got and faces is None):
            self.faults.unread(node)
            return UnreadSaid(node.mark, moves=False)
        opening = number.get("opening")
        stands = catalogue.fittings()[kind].stands
        if opening is None and stands < 1.0:
            self.faults.left_out(
                f"the {kind} on line {node.mark.line} of the file", "it stands shut", "its opening left out"
            )
        return FittingSaid(
            kind=kind,
            mark=node.mark,
            id=name,
            loss=number.get("K"),
            opening=stands if opening is None else opening,
            angle=number.get("angle") if kind == "bend" else None,
            faces=faces,
            to=to,
            opens=got.text("opens"),
            port=got.text("port"),
            details={
                word: more
                for word in _MORE
                if (more := number.get(word)) is not None and (word, kind) != ("angle", "bend")
            },
            runs=read_runs(got["runs"].node, f"the {kind}", self.values) if "runs" in got else None,
        )

    def faces(self, node: Node, ways: Ways) -> Vector | None:
        """Which way a cap opens; as one walks up to it, where the file says so."""
        said = {*(node.text or "").replace("+", " ").split(), *(plain(key.text or "") for key, _ in node.pairs or ())}
        return self.values.heading(node, "faces", ways(bool(said & {*words.RELATIVE}), node.mark))

    def missing(self, kind: str, got: Mapping[str, Got], number: Mapping[str, float | None], node: Node) -> bool:
        """Note what some fittings cannot do without; True where it is missing."""
        before = len(self.faults.found)
        law = catalogue.fittings()[kind].loss
        both = f"{kind}: {{loses: 0.4 m, at: 40 L/min}}"
        for word, other in (("loses", "at"), ("at", "loses")):
            if word in got and other not in got:
                found = f"the {kind} has '{word}' without '{other}'"
                self.faults.add(got[word].mark, found, f"both, for instance {both}")
        found, expected = "", ""
        if isinstance(law, FromBores) and "to" not in got:
            found, expected = f"the {kind} does not say what pipe it goes on in", f"a pipe, for instance {kind}: pvc 20"
        elif isinstance(law, Jet) and "bore" not in got:
            found, expected = f"the {kind} does not say how wide its mouth is", f"its bore, for instance {kind}: 12 mm"
        elif kind == "three-way valve" and "opens" not in got:
            found = "a three-way valve that does not say where it points"
            expected = f"which of its legs are open, for instance {kind}: {{id: turn, opens: side}}"
        elif kind == "bend" and "angle" not in got:
            found, expected = "a bend without an angle", "its angle, for instance bend: 30 deg"
        elif isinstance(law, Stated) and not {"K", "Kv", "loses", "at"} & set(got):
            found = f"the {kind} does not say what it takes of the head"
            expected = f"its loss at a flow, as its maker states it, for instance {both}"
            if kind == "fitting":
                found = "a fitting without a loss"
                expected = "its loss, for instance fitting: {K: 2.5}, or fitting: {Kv: 24.7}"
        if found:
            self.faults.add(node.mark, found, expected)
        return len(self.faults.found) > before

    def one(self, kind: str, table: Mapping[str, words.Key], value: Node, node: Node) -> dict[str, Got]:
        """A fitting's one plain value: a valve's 40 % is its opening, a cap's `up` the way it faces, else a name. What could be
        meant as a value is no name."""
        first = next(iter(table))
        said = plain(value.text or "")
        expected = f"a name with a letter in it, or details in braces: {listed(table, 'and')}"
        if first in ("to", "angle") and value.items is None:
            return {
                first: Got(None, value) if first == "to" else self.values.field(value, table[first], first, node.mark)
            }
        yes = said.lower() in YES
        if first == "id" and value.quoted and "opening" not in table and (yes or said.lower() in NOTHING):
            return {"id": self.values.field(value, table["id"], "id", node.mark)}
        if yes and not ("opening" in table and says_opening(said)):
            return {}
        if value.items is not None:
            self.faults.add(value.mark, f"the {kind} is followed by {value.what}", expected)
            return {}
        if "opening" in table:
            try:
                if opening_of(said, table["opening"].choices[0]) is not None:
                    return {"opening": self.values.field(value, table["opening"], "opening", node.mark)}
            except NotAnOpening as problem:
                share = "shut" if table["opening"].choices[0] == "switch" else "50 %"
                hint = f"for instance {kind}: {share}; a name goes in braces, {{id: {said}}}"
                self.faults.add(value.mark, f"the {kind} is said to be '{said}'", str(problem), hint=hint)
                return {}
        if (
            "faces" in table
            and said
            and all(word in (*words.DIRECTIONS, *words.RELATIVE) for word in said.replace("+", " ").split())
        ):
            return {"faces": Got(None, value)}
        if "faces" in table and len(said) > 3 and (near := nearest_words(said, _WAYS)):
            hint = f"did you mean {listed(repr(way) for way in near)}? A name goes in braces, {kind}: {{id: {said}}}"
            self.faults.add(value.mark, f"the {kind} is said to face '{said}'", listed(words.DIRECTIONS), hint=hint)
            return {}
        if "bore" in table and a_quantity(said) == "length":
            return {"bore": self.values.field(value, table["bore"], "bore", node.mark)}
        if "to" in table and said in catalogue.pipes():
            return {"to": Got(None, value)}
        if "clogged" in table and (dirt := self.dirt(kind, said, value)) is not None:
            return {"clogged": dirt}
        if is_share(said):
            hint = (
                f"for its name write {kind}: {kind[0]}1"
                if said in _ANGLES
                else f"for what dirt has closed write {kind}: {said} clogged; for what is still open take that from 100 %"
                if "clogged" in table and "%" in said
                else f"for a stated loss write {kind}: {{K: {said}}}"
            )
            self.faults.add(value.mark, f"the {kind} is followed by {value.what}", expected, hint=hint)
            return {}
        hint = no_name(kind, table, said) or ""
        if hint and "faces" in table and "direction" in hint:
            self.faults.add(value.mark, f"the {kind} is said to face '{said}'", listed(words.DIRECTIONS))
            return {}
        if hint:
            self.faults.add(value.mark, f"the {kind} is followed by '{said}'", expected, hint=hint)
            return {}
        return {first: self.values.field(value, table[first], first, node.mark)}

    def dirt(self, kind: str, said: str, value: Node) -> Got | None:
        """How far a strainer is closed by dirt, where its one plain value says so: `clean`, or `30 % clogged`."""
        low = said.lower()
        if low in ("clean", "new"):
            return Got(0.0, value)
        dirty = [word for word in ("clogged", "loaded", "dirty", "blocked", "fouled") if word in low.split()]
        if not dirty:
            return None
        share = " ".join(word for word in low.split() if word not in dirty)
        if not is_share(share):
            expected, hint = "how much of its open area dirt has closed", f"for instance {kind}: 30 % clogged"
            self.faults.add(value.mark, f"the {kind} is said to be '{said}'", expected, hint=hint)
            return Got(None, value)
        node = replace(value, text=share)
        return Got(self.values.number(node, words.FITTING_KEYS["clogged"], "clogged"), value)
