"""The steps of a route: runs, hoses, spray bars and fittings, as written."""

from __future__ import annotations

import math

from .. import catalogue
from ..units import NotAQuantity, quantity
from . import words
from .model import Default, Mark, Pipe
from .source import Faults, Node
from .statements import FittingSaid, RunSaid, StepSaid
from .values import Got, Values

__all__ = ["Steps", "read_pipe"]

_STEP = "a run such as {up: 1.2 m}, or a fitting such as elbow"


def read_pipe(node: Node, values: Values, faults: Faults, defaults: list[Default]) -> Pipe | None:
    """Read a pipe: a catalogue name, or a bore with a roughness or a material."""
    if node.text is not None:
        word = " ".join(node.text.split())
        try:
            row = catalogue.pipes()[word]
        except KeyError:
            faults.unknown(node.mark, word, "pipe", catalogue.pipes(), also_said=", or {bore: 26 mm, material: pvc}")
            return None
        return Pipe(row.name, row.bore, catalogue.materials()[row.material].roughness, row.outside, row.material)
    got = values.fields(node, words.PIPE, "pipe")
    if got is None:
        return None
    bore = got["bore"].number if "bore" in got else None
    roughness = got["roughness"].number if "roughness" in got else None
    material = None
    if "material" in got:
        material = values.text(got["material"].node, "material", "a material of the catalogue")
        if material is not None and material not in catalogue.materials():
            faults.unknown(got["material"].mark, material, "material", catalogue.materials())
            return None
    if bore is None:
        return None
    if roughness is None:
        if material is None:
            material = "pvc"
            defaults.append(Default(f"pipe of bore {bore * 1000:g} mm", "the roughness of pvc", "its material left out"))
        roughness = catalogue.materials()[material].roughness
    if roughness > 0.05 * bore:
        faults.add(node.mark, f"a wall as rough as {roughness / bore:.0%} of the bore", "at most 5 % of the bore, "
                   "as far as pipe friction has been measured")  # fmt: skip
        return None
    return Pipe(f"{bore * 1000:g} mm bore", bore, roughness, got["outside"].number if "outside" in got else None,
                material)  # fmt: skip


class Steps:
    """Reads routes; remembers the names given to tees, caps and other parts so that none serves twice."""

    def __init__(self, values: Values, faults: Faults, defaults: list[Default], named: dict[str, Mark]) -> None:
        self.values = values
        self.faults = faults
        self.defaults = defaults
        self.named = named
        self.counts: dict[str, int] = {}

    def name(self, kind: str, said: str | None, mark: Mark) -> str:
        """The part's own name, or one made for it."""
        if said is None:
            while True:
                self.counts[kind] = self.counts.get(kind, 0) + 1
                made = f"{kind} {self.counts[kind]}"
                if made not in self.named:
                    break
            self.named[made] = mark
            return made
        if said in self.named:
            self.faults.add(mark, f"the name '{said}' is taken", "a name of its own for each vessel, pump, tee and cap",
                            also=[self.named[said]])  # fmt: skip
        self.named.setdefault(said, mark)
        return said

    def route(self, node: Node, line: str) -> tuple[StepSaid, ...]:
        """Read a list of steps; an unreadable step is left out, with its fault noted."""
        if node.is_nothing:
            return ()
        items = self.values.items(node, f"the route of line '{line}'", f"a list of steps, each {_STEP}")
        return tuple(step for item in items or () if (step := self.step(item)) is not None)

    def step(self, node: Node) -> StepSaid | None:
        """Read one step."""
        if node.text is not None:
            word = " ".join(node.text.split())
            if word in words.FITTING:
                return self.fitting(word, None, node)
            first = next((f for f in sorted(words.FITTING, key=len, reverse=True) if word.startswith(f + " ")), None)
            if first is not None:
                hint = f"to give it a name or a value write {first}: {word[len(first) :].strip()}"
                self.faults.add(node.mark, f"unknown step '{word}'", _STEP, hint=hint)
            elif word in words.DIRECTIONS:
                self.faults.add(node.mark, f"'{word}' without a length", f"for instance {{{word}: 1.2 m}}")
            else:
                self.faults.unknown(node.mark, word, "step", [*words.FITTING, "hose", "spray bar"],
                                    also_said="; or a run such as {up: 1.2 m}")  # fmt: skip
            return None
        if not node.pairs:
            self.faults.add(node.mark, f"a step is {node.what}", _STEP)
            return None
        keys = [key.text or "" for key, _ in node.pairs]
        if any(key in words.RUN for key in keys):
            return self.run(node, "run", words.RUN, node.mark)
        if len(keys) > 1:
            self.faults.add(node.mark, f"a step is {node.what}", "one thing a step: " + _STEP)
            return None
        word, value = " ".join(keys[0].split()), node.pairs[0][1]
        if word in ("hose", "spray bar"):
            return self.run(value, word, words.HOSE if word == "hose" else words.SPRAY, node.mark)
        if word in words.FITTING:
            return self.fitting(word, value, node)
        self.faults.unknown(node.pairs[0][0].mark, word, "step", [*words.FITTING, *words.DIRECTIONS, "hose", "spray bar"])
        return None

    def run(self, node: Node, kind: str, table: dict[str, words.Key], mark: Mark) -> RunSaid | None:
        """Read a displacement."""
        got = self.values.fields(node, table, f"the {kind}")
        if got is None:
            return None
        total = [0.0, 0.0, 0.0]
        for word, vector in words.DIRECTIONS.items():
            amount = got[word].number if word in got else None
            for axis in range(3):
                total[axis] += (amount or 0.0) * vector[axis]
        size = math.sqrt(sum(value * value for value in total))
        unread = any(word in got and got[word].number is None for word in words.DIRECTIONS)
        if size < 1e-9 and not unread:
            self.faults.add(mark, f"a {kind} that goes nowhere", "a length in at least one direction")
        pipe = read_pipe(got["pipe"].node, self.values, self.faults, self.defaults) if "pipe" in got else None
        details = {word: got[word].number for word in ("length", "holes", "hole") if word in got}
        known = {word: number for word, number in details.items() if number is not None}
        if known.get("length", math.inf) < size * (1.0 - 1e-9):
            self.faults.add(got["length"].mark, f"a hose of {known['length']:g} m between points {size:.3g} m apart",
                            "a hose at least as long as from end to end")  # fmt: skip
        vessel = got["in"].text if "in" in got else None
        return RunSaid(kind, (total[0], total[1], total[2]), mark, pipe, known, vessel)

    def fitting(self, kind: str, value: Node | None, node: Node) -> FittingSaid | None:
        """Read a fitting: bare, with one plain value, or with a mapping of details."""
        allowed = words.FITTING[kind]
        table = {word: words.FITTING_KEYS[word] for word in allowed}
        got: dict[str, Got] = {}
        if value is not None and not value.is_nothing:
            if value.pairs is None:
                first = self.first(allowed, value)
                if first in ("to", "faces"):
                    got[first] = Got(None, value)
                else:
                    got[first] = self.values.field(value, table[first], first, node.mark)
            else:
                fields = self.values.fields(value, table, f"the {kind}")
                if fields is None:
                    return None
                got = fields
        number = {word: one.number for word, one in got.items()}
        said = got["id"].text if "id" in got else None
        if number.get("K") is not None and number.get("Kv") is not None:
            self.faults.add(got["Kv"].mark, f"both K and Kv for the {kind}", "one of them")
        to = None
        if "to" in got:
            to = read_pipe(got["to"].node, self.values, self.faults, self.defaults)
        elif "to" in allowed:
            self.faults.add(node.mark, f"the {kind} does not say what it goes on in", f"for instance {kind}: pvc 20")
        if kind == "bend" and "angle" not in got:
            self.faults.add(node.mark, "a bend without an angle", "for instance bend: 30 deg")
        if kind == "fitting" and number.get("K") is None and number.get("Kv") is None:
            self.faults.add(node.mark, "a fitting without a loss", "for instance fitting: {K: 2.5}, or {Kv: 24.7}")
        return FittingSaid(
            kind=kind,
            mark=node.mark,
            id=self.name(kind, said, node.mark) if kind in ("tee", "wye", "cap", "union") or said else None,
            loss=number.get("K"),
            kv=number.get("Kv"),
            opening=1.0 if number.get("opening") is None else float(number["opening"] or 0.0),
            angle=number.get("angle"),
            faces=self.values.heading(got["faces"].node, "faces") if "faces" in got else None,
            to=to,
        )

    def first(self, allowed: tuple[str, ...], value: Node) -> str:
        """Which key a plain value is meant for: a valve's 40 % is its opening, its v1 a name."""
        if "opening" in allowed and value.text is not None:
            try:
                quantity(value.text, "ratio")
            except NotAQuantity:
                return "id"
            return "opening"
        if "faces" in allowed and value.text is not None and value.text.split() and all(
            word in words.DIRECTIONS for word in value.text.split()
        ):  # fmt: skip
            return "faces"
        return allowed[0]
