"""The steps of a route: runs, hoses, spray bars and fittings, as written."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import cache

from .. import catalogue
from ..catalogue.loss_laws import FromBores, Jet, Stated
from ..units import show
from . import words
from .faults import Faults, listed, nearest_words
from .model import Default, Mark, Vector
from .nodes import Node
from .opening import YES, NotAnOpening, a_quantity, is_share, no_name, opening_of, says_opening
from .pipes import read_pipe
from .statements import FittingSaid, RunSaid, StepSaid, UnreadSaid
from .timing import read_runs
from .values import Got, Values, plain

__all__ = ["Names", "Steps"]

_WAYS = (*words.DIRECTIONS, *words.RELATIVE)
_STEP = "a run such as up: 1.2 m, or a fitting such as elbow"
_ANY_STEP = (
    "a run such as up: 1.2 m, a hose, a spray bar, a drip line, or a fitting ('plumbline names fittings' lists them)"
)
_NAMED = ("tee", "wye", "cross", "three-way valve", "cap", "union")
"""Fittings that always have a name, since other things refer to them."""
_MORE = ("loses", "at", "clogged", "bore", "air")
"""Numbers of a fitting that are kept as they are."""
_GAPS = ("length", "bends", "radius", "outlets", "spacing", "holes", "hole", "aim", "hot", "bore left")

ONE_BAR = 1e5
"""The pressure at which makers state what a dripper gives, where the file does not say [Pa]."""


_ANGLES = ("22.5", "30", "45", "60", "90")
"""Numbers that are angles, to who writes pipe."""


class Names:
    """The names of a file: each vessel, pump, tee, cap and union has one of its own."""

    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self.taken: dict[str, Mark] = {}
        self.twice: set[str] = set()
        self.counts: dict[str, int] = {}

    def numbered(self, name: str, count: int, mark: Mark) -> int:
        """The number of one of a row of vessels, whose name with that number is taken."""
        self.take("vessel", f"{name} {count + 1}", mark)
        return count + 1

    def take(self, kind: str, said: str | None, mark: Mark) -> str:
        """The part's own name, or one made for it; a name taken before is a fault."""
        if said is None:
            while True:
                self.counts[kind] = self.counts.get(kind, 0) + 1
                said = f"{kind} {self.counts[kind]}"
                if said not in self.taken:
                    break
        elif said in words.RESERVED:
            self.faults.add(mark, f"a {kind} with the name '{said}'", f"another name: '{said}' is the end of a line")
        elif said in self.taken:
            self.twice.add(said)
            self.faults.add(
                mark,
                f"the name '{said}' is taken",
                "a name of its own for each vessel, pump, tee and cap",
                also=[self.taken[said]],
            )
        self.taken.setdefault(said, mark)
        self.faults.said_at.setdefault(said, mark)
        return said


@cache
def step_words() -> tuple[str, ...]:
    """Every word that a step may begin with."""
    table = catalogue.fittings()
    spellings = [word for word in table.words if table[word].name in words.fittings()]
    return (
        *_WAYS,
        *words.LONG_RUNS,
        *words.fittings(),
        *(word for word in spellings if word not in words.fittings()),
    )


class Steps:
    """Reads routes."""

    def __init__(self, values: Values, defaults: list[Default], names: Names, vessels: Collection[str]) -> None:
        self.values = values
        self.faults = values.faults
        self.defaults = defaults
        self.names = names
        self.vessels = vessels
        self.facing: Vector | None = None

    def route(self, node: Node, line: str) -> tuple[StepSaid, ...] | None:
        """Read a list of steps; None, and a fault, where there is no list."""
        if node.is_nothing:
            return ()
        self.facing = None
        items = self.values.items(node, f"the route of line '{line}'", f"a list of steps, each {_STEP}")
        return None if items is None else tuple(self.step(item) for item in items)

    def step(self, node: Node) -> StepSaid:
        """Read one step."""
        if node.text is not None:
            word = plain(node.text)
            kind = words.fitting_called(word)
            return self.fitting(kind, None, node) if kind is not None else self.bare(word, node)
        if not node.pairs:
            if not node.torn:
                self.faults.add(node.mark, f"a step is {node.what}", _STEP)
            self.faults.unread(node)
            self.faults.blind.add("tee")
            return UnreadSaid(node.mark, moves=True)
        keys = [plain(key.text or "") for key, _ in node.pairs]
        if any(key in words.RUN for key in keys):
            return self.run(node, "run", words.RUN, node.mark)
        key, value = node.pairs[0]
        kind = words.fitting_called(keys[0])
        if len(keys) > 1 and (kind is not None or keys[0] in words.LONG_RUNS):
            self.faults.add(
                node.mark,
                f"a step is {node.what}",
                f"one thing a step: {_STEP}",
                hint=f"the details of a fitting go in braces: {keys[0]}: {{{keys[1]}: ...}}",
            )
            self.faults.unread(node)
            return UnreadSaid(node.mark, moves=keys[0] in words.LONG_RUNS)
        if len(keys) == 1 and keys[0] in words.LONG_RUNS:
            return self.run(value, keys[0], words.LONG_RUNS[keys[0]], node.mark)
        if kind is not None:
            return self.fitting(kind, value, node)
        near = nearest_words(keys[0], step_words())
        self.faults.unknown(
            key.mark,
            keys[0],
            "step",
            step_words(),
            expected=_ANY_STEP,
            trade="step",
            value=self.values.own(value, words.RUN),
        )
        self.faults.unread(node)
        moving = any(word in _WAYS or word in words.LONG_RUNS for word in near)
        return UnreadSaid(node.mark, moves=moving or not near)

    def bare(self, word: str, node: Node) -> StepSaid:
        """Say what is wrong with a single word that is no fitting."""
        self.faults.unread(node)
        self.faults.blurred.update(word.split()[1:])
        first, _, rest = word.partition(" ")
        for kind in sorted(words.fittings(), key=len, reverse=True):
            if word.startswith(kind + " ") and word.lower() not in catalogue.trade_words()["step"]:
                self.faults.add(
                    node.mark,
                    f"unknown step '{word}'",
                    _STEP,
                    hint=f"to give it a name or a value write {kind}: {word[len(kind) + 1 :]}",
                )
                return UnreadSaid(node.mark, moves=False)
        if first in _WAYS or word in words.LONG_RUNS:
            if first in _WAYS and rest:
                self.faults.add(node.mark, f"'{word}' without a colon", f"{first}: {rest.lstrip(':').strip()}")
            else:
                example = "{up: 1.2 m}" if word in words.LONG_RUNS else "1.2 m"
                self.faults.add(node.mark, f"'{word}' without a length", f"a length, for instance {word}: {example}")
            return UnreadSaid(node.mark, moves=True)
        near = nearest_words(word, step_words())
        self.faults.unknown(node.mark, word, "step", step_words(), expected=_ANY_STEP, trade="step")
        if not word:
            self.faults.blind.add("tee")
        return UnreadSaid(node.mark, moves=not near or any(one in _WAYS for one in near))

    # ------------------------------------------------------------------ runs

    def run(self, node: Node, kind: str, table: Mapping[str, words.Key], mark: Mark) -> StepSaid:
        """Read a displacement."""
        got = self.values.fields(node, table, f"the {kind}")
        if got is None:
            return UnreadSaid(mark, moves=True)
        ways = self.ways(any(word in got for word in words.RELATIVE), mark)
        rest = next((sign for word, sign in (("up", 1), ("down", -1)) if word in got and got[word].text), 0)
        unread = any(word in got and got[word].value is None for word in (*ways, "fall", "rise"))
        total = [0.0, 0.0, 0.0]
        for word, vector in ways.items():
            amount = (1.0 if got[word].text else got[word].number) if word in got else None
            for axis in range(3):
                total[axis] += (amount or 0.0) * vector[axis]
        if not unread:
            total[2] += self.slope(got, total, kind)
        self.facing = _level(total) or self.facing
        size = math.sqrt(sum(value * value for value in total))
        pipe = read_pipe(got["pipe"].node, self.values, self.defaults) if "pipe" in got else None
        if unread or not got.complete:
            return UnreadSaid(mark, moves=True)
        if size < 1e-9:
            more = next((word for word in got if word not in ways), None)
            hint = (
                f"what belongs to one {kind} stands together in its braces: {{ahead: 2 m, {more}: {table[more].example}}}"
                if more
                else ""
            )
            self.faults.add(mark, f"a {kind} that goes nowhere", "a length in at least one direction", hint=hint)
            return UnreadSaid(mark, moves=False)
        details = {word: number for word in _GAPS if word in got and (number := got[word].number) is not None}
        if details.get("length", math.inf) < size * (1.0 - 1e-9):
            units = self.values.units
            found = f"a hose of {show(details['length'], 'length', units)} between points"
            self.faults.add(
                got["length"].mark,
                f"{found} {show(size, 'length', units)} apart",
                "a hose at least as long as from end to end",
            )
            del details["length"]
        if kind == "manifold" and "outlets" not in details:
            return UnreadSaid(mark, moves=True)
        if kind == "drip line":
            many, each = (got[word].number if word in got else None for word in ("drippers", "dripper"))
            if many is None or each is None:
                return UnreadSaid(mark, moves=True)
            at = (got["at"].number if "at" in got else None) or ONE_BAR
            details = {**details, "holes": many, "dripper": each, "at": at}
        details |= {word: 1.0 for word in ("sunlit", "clear", "past") if word in got}
        for word in ("behind", "under", "past"):
            text = got[word].text or "" if word in got else ""
            if text.lower() in (*YES, "no") or a_quantity(text):
                self.faults.add(
                    got[word].mark,
                    f"'{word}' is '{text}'",
                    f"what it runs {word}, for instance {word}: {table[word].example}",
                )
        if rest and kind not in ("run", "hose"):
            self.faults.add(mark, f"a {kind} that takes up what is left", "a rest in a plain run or a hose")
        vessel = got["in"].text if "in" in got else None
        if vessel is not None and vessel not in self.vessels:
            self.faults.unknown(
                got["in"].mark, vessel, "vessel", self.vessels, where=f" for the {kind}", names=("vessel",)
            )
        if "bends" in details and "radius" not in details:
            self.defaults.append(
                Default(
                    f"the hose on line {mark.line} of the file",
                    "its bends have a radius of five bores",
                    "radius left out",
                )
            )
        name = self.names.take("manifold", got["id"].text, mark) if kind == "manifold" and "id" in got else None
        # A drip line is a spray bar of finer holes: one law, one piece of hydraulics.
        return RunSaid(
            "spray bar" if kind == "drip line" else kind,
            (total[0], total[1], total[2]),
            mark,
            pipe,
            details,
            vessel,
            name,
            _around(got),
            next((word for word in ("left", "right", "back") if word in got), ""),
            rest,
        )

    def ways(self, relative: bool, mark: Mark) -> Mapping[str, Vector]:
        """What the directions mean here; a walk begins facing north, and keeps its facing where it goes straight up or down."""
        if relative and self.facing is None:
            self.facing = words.DIRECTIONS["north"]
            self.defaults.append(
                Default(
                    f"the walk on line {mark.line} of the file",
                    "it begins facing north",
                    "left, right, ahead or back before any other direction",
                )
            )
        east, north, _ = self.facing or words.DIRECTIONS["north"]
        turned = {
            "ahead": (east, north, 0.0),
            "back": (-east, -north, 0.0),
            "left": (-north, east, 0.0),
            "right": (north, -east, 0.0),
        }
        return {**words.DIRECTIONS, **turned}

    def slope(self, got: Mapping[str, Got], total: Sequence[float], kind: str) -> float:
        """How far a run's stated fall or rise takes it up [m]."""
        said = [word for word in ("fall", "rise") if word in got]
        if not said or not any(word in got for word in _WAYS):
            return 0.0  # that it goes nowhere is said of the whole run
        also = [word for word in ("up", "down", *said[1:]) if word in got]
        way = math.hypot(total[0], total[1])
        if also or way < 1e-9:
            found = (
                f"'{said[0]}' and '{also[0]}' for one {kind}"
                if also
                else f"a {kind} with a {said[0]} that goes to no side"
            )
            expected = "one of them" if also else f"how far it goes, for instance {{ahead: 2 m, {said[0]}: 2 %}}"
            self.faults.add(got[said[0]].mark, found, expected)
            return 0.0
        return way * (got[said[0]].number or 0.0) * (1.0 if said[0] == "rise" else -1.0)

    # ------------------------------------------------------------------ fittings

    def fitting(self, kind: str, value: Node | None, node: Node) -> StepSaid:
        """Read a fitting: bare, with one plain value, or with its details."""
        table = words.fitting_keys(kind)
        before = len(self.faults.found)
        got: dict[str, Got] = {}
        torn = False
        if value is not None and not value.is_nothing:
            if value.pairs is None:
                got = self.one(kind, table, value, node)
            else:
                got = self.values.fields(value, table, f"the {kind}") or {}
                torn = value.torn
        number = {word: one.number for word, one in got.items()}
        doubtful = torn or len(self.faults.found) > before
        stated = [word for word in ("K", "Kv", "loses") if number.get(word) is not None]
        if len(stated) > 1:
            self.faults.add(got[stated[1]].mark, f"both {stated[0]} and {stated[1]} for the {kind}", "one of them")
        to = read_pipe(got["to"].node, self.values, self.defaults) if "to" in got else None
        if not doubtful:
            doubtful = self.missing(kind, got, number, node)
        said = got["id"].text if "id" in got else None
        name = self.names.take(kind, said, node.mark) if said or (kind in _NAMED and not doubtful) else None
        if kind in ("tee", "wye", "cross", "three-way valve") and name is None:
            self.faults.blind.add("tee")
        faces = self.faces(got["faces"].node) if "faces" in got else None
        if (doubtful and kind in ("bend", "reducer", "expander")) or ("faces" in got and faces is None):
            self.faults.unread(node)
            return UnreadSaid(node.mark, moves=False)
        opening = number.get("opening")
        stands = catalogue.fittings()[kind].stands
        if opening is None and stands < 1.0:
            self.defaults.append(
                Default(f"the {kind} on line {node.mark.line} of the file", "it stands shut", "its opening left out")
            )
        return FittingSaid(
            kind=kind,
            mark=node.mark,
            id=name,
            loss=number.get("K"),
            kv=number.get("Kv"),
            opening=stands if opening is None else opening,
            angle=number.get("angle"),
            faces=faces,
            to=to,
            room=number.get("room"),
            opens=got["opens"].text if "opens" in got else None,
            port=got["port"].text if "port" in got else None,
            details={word: more for word in _MORE if (more := number.get(word)) is not None},
            runs=read_runs(got["runs"].node, f"the {kind}", self.values) if "runs" in got else None,
        )

    def faces(self, node: Node) -> Vector | None:
        """Which way a cap opens; as one walks up to it, where the file says so."""
        said = {*(node.text or "").replace("+", " ").split(), *(plain(key.text or "") for key, _ in node.pairs or ())}
        return self.values.heading(node, "faces", self.ways(bool(said & {*words.RELATIVE}), node.mark))

    def missing(self, kind: str, got: Mapping[str, Got], number: Mapping[str, float | None], node: Node) -> bool:
        """Note what some fittings cannot do without; True where it is missing."""
        before = len(self.faults.found)
        law = catalogue.fittings()[kind].loss
        if isinstance(law, FromBores) and "to" not in got:
            self.faults.add(
                node.mark, f"the {kind} does not say what pipe it goes on in", f"a pipe, for instance {kind}: pvc 20"
            )
        if isinstance(law, Jet) and "bore" not in got:
            self.faults.add(
                node.mark, f"the {kind} does not say how wide its mouth is", f"its bore, for instance {kind}: 12 mm"
            )
        for word, other in (("loses", "at"), ("at", "loses")):
            if word in got and other not in got:
                example = f"{kind}: {{loses: 0.4 m, at: 40 L/min}}"
                self.faults.add(
                    got[word].mark, f"the {kind} has '{word}' without '{other}'", f"both, for instance {example}"
                )
        if kind == "three-way valve" and "opens" not in got:
            self.faults.add(
                node.mark,
                "a three-way valve that does not say where it points",
                f"which of its legs are open, for instance {kind}: {{id: turn, opens: side}}",
            )
        if kind == "bend" and "angle" not in got:
            self.faults.add(node.mark, "a bend without an angle", "its angle, for instance bend: 30 deg")
        if isinstance(law, Stated) and not {"K", "Kv", "loses", "at"} & set(got):
            if kind == "fitting":
                self.faults.add(
                    node.mark,
                    "a fitting without a loss",
                    "its loss, for instance fitting: {K: 2.5}, or fitting: {Kv: 24.7}",
                )
            else:
                self.faults.add(
                    node.mark,
                    f"the {kind} does not say what it takes of the head",
                    f"its loss at a flow, as its maker states it, for instance {kind}: {{loses: 0.4 m, at: 40 L/min}}",
                )
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
        if said.lower() in YES and not ("opening" in table and says_opening(said)):
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
            self.faults.add(
                value.mark,
                f"the {kind} is said to be '{said}'",
                "how much of its open area dirt has closed",
                hint=f"for instance {kind}: 30 % clogged",
            )
            return Got(None, value)
        node = replace(value, text=share)
        return Got(self.values.number(node, words.FITTING_KEYS["clogged"], "clogged"), value)


def _around(got: Mapping[str, Got]) -> str:
    """Where a run is out of reach, in words."""
    said = [f"{word} the {got[word].text}" for word in ("behind", "under") if word in got and got[word].text]
    return " and ".join((["buried"] if "buried" in got else []) + said)


def _level(displacement: Sequence[float]) -> Vector | None:
    """The level part of a heading; None for a run straight up or down."""
    way = math.hypot(displacement[0], displacement[1])
    return (displacement[0] / way, displacement[1] / way, 0.0) if way > 1e-9 else None
