"""The steps of a route: runs, hoses, spray bars and fittings, as written."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from functools import cache

from .. import catalogue
from ..units import show
from . import words
from .details import Fittings
from .faults import nearest_words
from .kinds import plain
from .model import Mark, Vector
from .names import Names
from .nodes import Node
from .opening import YES, a_quantity
from .pipes import read_pipe
from .statements import RunSaid, StepSaid, UnreadSaid
from .values import Fields, Values

__all__ = ["Steps", "step_words"]

_WAYS = (*words.DIRECTIONS, *words.RELATIVE)
_STEP = "a run such as up: 1.2 m, or a fitting such as elbow"
_ANY_STEP = (
    "a run such as up: 1.2 m, a hose, a spray bar, a drip line, or a fitting ('plumbline names fittings' lists them)"
)
_GAPS = ("length", "bends", "radius", "outlets", "spacing", "holes", "hole", "aim", "hot", "bore left")

ONE_BAR = 1e5
"""The pressure at which makers state what a dripper gives, where the file does not say [Pa]."""


@cache
def step_words() -> tuple[str, ...]:
    """Every word that a step may begin with."""
    table = catalogue.fittings()
    spellings = [word for word in table.words if table[word].name in words.fittings()]
    return (
        *_WAYS,
        *words.LONG,
        *words.fittings(),
        *(word for word in spellings if word not in words.fittings()),
    )


class Steps:
    """Reads routes."""

    def __init__(self, values: Values, names: Names, vessels: Collection[str]) -> None:
        self.values = values
        self.faults = values.faults
        self.names = names
        self.vessels = vessels
        self.facing: Vector | None = None
        self.fittings = Fittings(values, names)

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
            return self.fittings.read(kind, None, node, self.ways) if kind is not None else self.bare(word, node)
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
        if len(keys) > 1 and (kind is not None or keys[0] in words.LONG):
            hint = f"the details of a fitting go in braces: {keys[0]}: {{{keys[1]}: ...}}"
            self.faults.add(node.mark, f"a step is {node.what}", f"one thing a step: {_STEP}", hint=hint)
            self.faults.unread(node)
            return UnreadSaid(node.mark, moves=keys[0] in words.LONG)
        if len(keys) == 1 and keys[0] in words.LONG:
            return self.run(value, keys[0], words.TABLES[keys[0]], node.mark)
        if kind is not None:
            return self.fittings.read(kind, value, node, self.ways)
        known, near = step_words(), nearest_words(keys[0], step_words())
        own = self.values.own(value, words.RUN)
        self.faults.unknown(key.mark, keys[0], "step", known, expected=_ANY_STEP, trade="step", value=own)
        self.faults.unread(node)
        moving = any(word in _WAYS or word in words.LONG for word in near)
        return UnreadSaid(node.mark, moves=moving or not near)

    def bare(self, word: str, node: Node) -> StepSaid:
        """Say what is wrong with a single word that is no fitting."""
        self.faults.unread(node)
        self.faults.blurred.update(word.split()[1:])
        first, _, rest = word.partition(" ")
        for kind in sorted(words.fittings(), key=len, reverse=True):
            if word.startswith(kind + " ") and word.lower() not in catalogue.trade_words()["step"]:
                hint = f"to give it a name or a value write {kind}: {word[len(kind) + 1 :]}"
                self.faults.add(node.mark, f"unknown step '{word}'", _STEP, hint=hint)
                return UnreadSaid(node.mark, moves=False)
        if first in _WAYS or word in words.LONG:
            if first in _WAYS and rest:
                self.faults.add(node.mark, f"'{word}' without a colon", f"{first}: {rest.lstrip(':').strip()}")
            else:
                example = "{up: 1.2 m}" if word in words.LONG else "1.2 m"
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
        rest = next((sign for word, sign in (("up", 1), ("down", -1)) if got.text(word)), 0)
        unread = any(word in got and got[word].value is None for word in (*ways, "fall", "rise"))
        total = [0.0, 0.0, 0.0]
        for word, vector in ways.items():
            amount = 1.0 if got.text(word) else got.number(word)
            for axis in range(3):
                total[axis] += (amount or 0.0) * vector[axis]
        if not unread:
            total[2] += self.slope(got, total, kind)
        self.facing = _level(total) or self.facing
        size = math.sqrt(sum(value * value for value in total))
        pipe = read_pipe(got["pipe"].node, self.values) if "pipe" in got else None
        if unread or not got.complete:
            return UnreadSaid(mark, moves=True)
        if size < 1e-9:
            more = next((f"{word}: {table[word].example}" for word in got if word not in ways), None)
            hint = f"what belongs to one {kind} stands together in its braces: {{ahead: 2 m, {more}}}" if more else ""
            self.faults.add(mark, f"a {kind} that goes nowhere", "a length in at least one direction", hint=hint)
            return UnreadSaid(mark, moves=False)
        details = {word: number for word in _GAPS if (number := got.number(word)) is not None}
        if details.get("length", math.inf) < size * (1.0 - 1e-9):
            long, apart = (show(length, "length", self.values.units) for length in (details["length"], size))
            found = f"a hose of {long} between points {apart} apart"
            self.faults.add(got["length"].mark, found, "a hose at least as long as from end to end")
            del details["length"]
        if kind == "manifold" and "outlets" not in details:
            return UnreadSaid(mark, moves=True)
        if kind == "drip line":
            many, each = got.numbers("drippers", "dripper")
            if many is None or each is None:
                return UnreadSaid(mark, moves=True)
            at = got.number("at") or ONE_BAR
            details = {**details, "holes": many, "dripper": each, "at": at}
        details |= {word: 1.0 for word in ("sunlit", "clear", "past") if word in got}
        for word in ("behind", "under", "past"):
            text = got.text(word) or ""
            if text.lower() in (*YES, "no") or a_quantity(text):
                expected = f"what it runs {word}, for instance {word}: {table[word].example}"
                self.faults.add(got[word].mark, f"'{word}' is '{text}'", expected)
        if rest and kind not in ("run", "hose"):
            self.faults.add(mark, f"a {kind} that takes up what is left", "a rest in a plain run or a hose")
        vessel = got.text("in")
        if vessel is not None and vessel not in self.vessels:
            where = f" for the {kind}"
            self.faults.unknown(got["in"].mark, vessel, "vessel", self.vessels, where=where, names=("vessel",))
        if "bends" in details and "radius" not in details:
            hose = f"the hose on line {mark.line} of the file"
            self.faults.left_out(hose, "its bends have a radius of five bores", "radius left out")
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
            why = "left, right, ahead or back before any other direction"
            self.faults.left_out(f"the walk on line {mark.line} of the file", "it begins facing north", why)
        east, north, _ = self.facing or words.DIRECTIONS["north"]
        turned = ((east, north, 0.0), (-east, -north, 0.0), (-north, east, 0.0), (north, -east, 0.0))
        return {**words.DIRECTIONS, **dict(zip(words.RELATIVE, turned, strict=True))}

    def slope(self, got: Fields, total: Sequence[float], kind: str) -> float:
        """How far a run's stated fall or rise takes it up [m]."""
        said = [word for word in ("fall", "rise") if word in got]
        if not said or not any(word in got for word in _WAYS):
            return 0.0  # that it goes nowhere is said of the whole run
        also = [word for word in ("up", "down", *said[1:]) if word in got]
        way = math.hypot(total[0], total[1])
        if also or way < 1e-9:
            found, expected = f"'{said[0]}' and '{next(iter(also), '')}' for one {kind}", "one of them"
            if not also:
                found = f"a {kind} with a {said[0]} that goes to no side"
                expected = f"how far it goes, for instance {{ahead: 2 m, {said[0]}: 2 %}}"
            self.faults.add(got[said[0]].mark, found, expected)
            return 0.0
        return way * (got.number(said[0]) or 0.0) * (1.0 if said[0] == "rise" else -1.0)


def _around(got: Fields) -> str:
    """Where a run is out of reach, in words."""
    said = [f"{word} the {text}" for word in ("behind", "under") if (text := got.text(word))]
    return " and ".join((["buried"] if "buried" in got else []) + said)


def _level(displacement: Sequence[float]) -> Vector | None:
    """The level part of a heading; None for a run straight up or down."""
    way = math.hypot(displacement[0], displacement[1])
    return (displacement[0] / way, displacement[1] / way, 0.0) if way > 1e-9 else None
