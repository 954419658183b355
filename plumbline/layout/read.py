"""From the tree of nodes to statements: what the file says, checked word by word and number by number."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from .. import catalogue
from ..units import NotAQuantity, quantity
from . import words
from .model import Default, Mark, Pipe, Pump, Rod, Vessel, Water
from .source import Faults, Node
from .statements import EndSaid, LineSaid, Said
from .steps import Steps, read_pipe
from .values import Got, Values

__all__ = ["read_statements"]


def read_statements(tree: Node, faults: Faults, defaults: list[Default]) -> Said:
    """Read a file's tree into statements. Faults go to `faults`, values left out to `defaults`."""
    return _Reader(faults, defaults).whole(tree)


_LIMIT_TAKES = {"m": "length", "mm": "length", "m/s": "speed", "Pa": "pressure", "deg": "angle"}
"""What a limit takes, by the unit of its row; all others are plain numbers."""


class _Reader:
    def __init__(self, faults: Faults, defaults: list[Default]) -> None:
        self.faults = faults
        self.defaults = defaults
        self.values = Values(faults)

    def whole(self, tree: Node) -> Said:
        got = self.values.fields(tree, words.LAYOUT, "the layout")
        if got is None:
            self.faults.stop()
            raise AssertionError("a fault was noted")
        name = got["name"].text if "name" in got else None
        if name is None:
            name = Path(self.faults.file).stem
            self.left_out("the layout", f"named after its file, {name}", "the file's name")
        named: dict[str, Mark] = {}
        vessels = {
            key: vessel
            for key, mark, node in self.named(got.get("vessels"), "vessel", named)
            if (vessel := self.vessel(key, mark, node)) is not None
        }
        pumps = {
            key: pump
            for key, mark, node in self.named(got.get("pumps"), "pump", named)
            if (pump := self.pump(key, mark, node)) is not None
        }
        pump_hosts = {key: pump for key, pump in pumps.items() if pump.vessel is not None}
        vessel_names = [key for key, _, _ in self.named(got.get("vessels"), "vessel", {}, quiet=True)]
        for pump in pump_hosts.values():
            if pump.vessel not in vessel_names:
                self.faults.unknown(pump.mark, pump.vessel or "", f"vessel for pump '{pump.name}'", vessel_names)
        steps = Steps(self.values, self.faults, self.defaults, named)
        lines = {
            key: line
            for key, mark, node in self.named(got.get("lines"), "line", {})
            if (line := self.line(key, mark, node, steps)) is not None
        }
        if "lines" in got and got["lines"].node.is_nothing:
            self.faults.add(got["lines"].mark, "the layout has no lines", "at least one line under 'lines'")
        return Said(
            name=name,
            water=self.water(got.get("water")),
            vessels=vessels,
            pumps=pumps,
            lines=lines,
            rods=self.rods(got.get("rods")),
            limits=self.limits(got.get("limits")),
            units=self.values.units(),
        )

    def left_out(self, where: str, what: str, source: str) -> None:
        self.defaults.append(Default(where, what, source))

    def named(
        self, got: Got | None, what: str, named: dict[str, Mark], quiet: bool = False
    ) -> list[tuple[str, Mark, Node]]:
        """The entries of a mapping by name; a name may serve once for all vessels, pumps, tees and caps."""
        if got is None or got.node.is_nothing or (quiet and got.node.pairs is None):
            return []
        pairs = self.values.mapping(got.node, f"'{what}s'", f"a mapping of names, each with its {what}")
        entries = []
        for raw, key, value in pairs or []:
            name = " ".join(raw.split())
            if not name:
                self.faults.add(key.mark, f"a {what} without a name", f"a name for the {what}")
                continue
            if name in named:
                self.faults.add(key.mark, f"the name '{name}' is taken", "a name of its own for each vessel, pump, "
                                "tee and cap", also=[named[name]])  # fmt: skip
            named.setdefault(name, key.mark)
            entries.append((name, key.mark, value))
        return entries

    # ------------------------------------------------------------------ the parts

    def water(self, got: Got | None) -> Water:
        from ..water import density, viscosity

        celsius: float | None = None
        if got is None or got.node.is_nothing:
            celsius = 20.0
            self.left_out("water", "20 °C", "room temperature, common practice, no source")
        elif got.node.pairs is None:
            celsius = self.values.number(got.node, words.WATER["temperature"], "water")
        else:
            fields = self.values.fields(got.node, words.WATER, "water") or {}
            stated = {word: value.number for word, value in fields.items()}
            celsius = stated.get("temperature")
            rho, mu = stated.get("density"), stated.get("viscosity")
            if rho is not None and mu is not None:
                return Water(rho, mu, celsius)
            if celsius is None and not self.faults.found:
                self.faults.add(got.mark, "water without a temperature", "a temperature, or density and viscosity")
            if celsius is not None and (rho is not None or mu is not None):
                return Water(rho or density(celsius), mu or viscosity(celsius), celsius)
        if celsius is None:
            return Water(998.2, 1.0e-3)  # never used: a fault was noted
        return Water(density(celsius), viscosity(celsius), celsius)

    def vessel(self, name: str, mark: Mark, node: Node) -> Vessel | None:
        got = self.values.fields(node, words.VESSEL, f"vessel '{name}'")
        if got is None:
            return None
        number = {word: value.number for word, value in got.items()}
        base, water, rim = number.get("base"), number.get("water"), number.get("rim")
        if water is not None and rim is not None and water > rim:
            self.faults.add(got["water"].mark, f"the water of '{name}' stands above its rim",
                            f"a depth of at most {rim:g} m", also=[got["rim"].mark])  # fmt: skip
        at = None
        if "at" in got:
            place = self.values.fields(got["at"].node, {d: words.Key("length", d, "2 m") for d in
                                       ("east", "north", "west", "south")}, f"place of '{name}'")  # fmt: skip
            if place is not None:
                one = {word: value.number or 0.0 for word, value in place.items()}
                at = (one.get("east", 0.0) - one.get("west", 0.0), one.get("north", 0.0) - one.get("south", 0.0))
        return Vessel(
            name=name,
            base=base if base is not None else 0.0,
            water=water if water is not None else 0.0,
            mark=mark,
            rim=rim,
            area=number.get("area"),
            wants=number.get("wants"),
            holds=got["holds"].text if "holds" in got else None,
            at=at,
        )

    def pump(self, name: str, mark: Mark, node: Node) -> Pump | None:
        got = self.values.fields(node, words.PUMP, f"pump '{name}'")
        if got is None:
            return None
        number = {word: value.number for word, value in got.items()}
        curve: tuple[tuple[float, float], ...] = ()
        assumed = False
        if "curve" in got:
            if got["curve"].node.pairs is not None:
                box = self.values.fields(got["curve"].node, words.BOX, f"curve of pump '{name}'") or {}
                head, flow = (box[w].number if w in box else None for w in ("highest head", "largest flow"))
                if head is not None and flow is not None:
                    from ..hydraulics.pumps import box_curve

                    curve, assumed = box_curve(head, flow), True
                    self.left_out(f"pump '{name}'", "a parabola from its highest head to its largest flow",
                                  "common practice, no source")  # fmt: skip
            else:
                curve = self.curve(name, got["curve"].node)
        if "in" in got and "height" not in got:
            self.left_out(f"pump '{name}'", "its outlet at the vessel's floor", "height 0")
        if "in" not in got and "height" in got:
            self.faults.add(got["height"].mark, f"pump '{name}' has a height but stands in no vessel",
                            "'in' with a vessel's name, or no height: the suction line's end tells")  # fmt: skip
        return Pump(
            name=name,
            curve=curve,
            mark=got["in"].mark if "in" in got else mark,
            vessel=got["in"].text if "in" in got else None,
            height=number.get("height") or 0.0,
            power=number.get("power"),
            assumed=assumed,
        )

    def curve(self, name: str, node: Node) -> tuple[tuple[float, float], ...]:
        expected = "points of flow and head, for instance [[0 L/min, 3 m], [15 L/min, 2.6 m], [40 L/min, 0.6 m]]"
        items = self.values.items(node, f"the curve of pump '{name}'", expected)
        if items is None:
            return ()
        flow = words.Key("flow", "a flow of the curve", "15 L/min", low=0.0)
        head = words.Key("length", "a head of the curve", "2.6 m", low=0.0)
        points: list[tuple[float, float]] = []
        marks: list[Mark] = []
        sound = True
        for item in items:
            if item.items is None or len(item.items) != 2:
                self.faults.add(item.mark, f"a point of the curve is {item.what}", "[flow, head]")
                sound = False
                continue
            q = self.values.number(item.items[0], flow, "flow")
            h = self.values.number(item.items[1], head, "head")
            if q is None or h is None:
                sound = False
                continue
            if points and q <= points[-1][0]:
                self.faults.add(item.mark, f"the curve of pump '{name}' is not sorted by flow",
                                "each flow above the one before", also=marks[-1:])  # fmt: skip
                sound = False
            elif points and h > points[-1][1]:
                self.faults.add(item.mark, f"the curve of pump '{name}' rises", "each head at most the one before; "
                                "if the maker's curve has a hump, give the falling part", also=marks[-1:])  # fmt: skip
                sound = False
            points.append((q, h))
            marks.append(item.mark)
        if sound and len(points) < 2:
            self.faults.add(node.mark, f"the curve of pump '{name}' has {len(points)} point", "at least two points")
            sound = False
        if sound and points[0][1] <= points[-1][1]:
            self.faults.add(node.mark, f"the curve of pump '{name}' does not fall", "a head that falls as the flow grows")
            sound = False
        return tuple(points) if sound else ()

    def line(self, name: str, mark: Mark, node: Node, steps: Steps) -> LineSaid | None:
        got = self.values.fields(node, words.LINE, f"line '{name}'")
        if got is None:
            return None
        pipe = read_pipe(got["pipe"].node, self.values, self.faults, self.defaults) if "pipe" in got else None
        route = steps.route(got["route"].node, name) if "route" in got else ()
        return LineSaid(
            name=name,
            mark=mark,
            pipe=pipe,
            start=self.end(got["from"].node, f"start of line '{name}'", steps) if "from" in got else None,
            steps=route,
            end=self.end(got["to"].node, f"end of line '{name}'", steps) if "to" in got else None,
        )

    def end(self, node: Node, what: str, steps: Steps) -> EndSaid | None:
        expected = "a vessel, a pump, a tee, cap, plug, open air, or {draws: 2 L/min}"
        if node.text is not None:
            word = " ".join(node.text.split())
            if not word or node.is_nothing:
                self.faults.add(node.mark, f"the {what} goes nowhere", expected)
                return None
            if word in ("plug", "open air"):
                return EndSaid(node.mark, kind=word)
            if word == "cap" or word.startswith("cap "):
                return EndSaid(node.mark, kind="cap", name=steps.name("cap", word[4:].strip() or None, node.mark))
            return EndSaid(node.mark, word=word)
        got = self.values.fields(node, words.END, f"the {what}")
        if got is None:
            return None
        kinds = [word for word in ("vessel", "pump", "tee", "cap", "plug", "open air", "draws") if word in got]
        if len(kinds) != 1:
            self.faults.add(node.mark, f"the {what} is {node.what}", f"just one of {expected}")
            return None
        kind = kinds[0]
        loss = got["K"].number if "K" in got else None
        if kind != "vessel":
            for word in ("standpipe", "height"):
                if word in got and (word == "standpipe" or kind not in ("open air", "draws", "plug", "cap")):
                    self.faults.add(got[word].mark, f"'{word}' at a {kind}", f"'{word}' only with a vessel")
        if "standpipe" in got and "height" in got:
            self.faults.add(got["height"].mark, "both a standpipe and a height", "one of them")
        standpipe = got["standpipe"].number if "standpipe" in got else None
        height = got["height"].number if "height" in got else None
        name = got[kind].text
        if kind == "cap":
            name = steps.name("cap", name, node.mark)
        return EndSaid(
            node.mark,
            kind="draw" if kind == "draws" else kind,
            name=name,
            height=standpipe if standpipe is not None else height,
            standpipe="standpipe" in got,
            draw=(got["draws"].number or 0.0) if kind == "draws" else 0.0,
            loss=loss,
        )

    def rods(self, got: Got | None) -> tuple[Rod, ...]:
        if got is None or got.node.is_nothing:
            rows = [row for row in catalogue.rods().values() if row.default]
            for row in rows:
                self.left_out("rods", row.name, row.source)
            return tuple(Rod(row.name, row.length, row.bend, row.turns, *row.bores) for row in rows)
        rods = []
        for name, _, node in self.named(got, "rod", {}):
            fields = self.values.fields(node, words.ROD, f"rod '{name}'")
            if fields is None:
                continue
            bores = self.bores(fields["bores"].node) if "bores" in fields else None
            number = [fields[w].number if w in fields else None for w in ("length", "bends up to", "turns in all")]
            length, bend, turns = number
            if bores is not None and length is not None and bend is not None and turns is not None:
                rods.append(Rod(name, length, bend, turns, *bores))
        return tuple(rods)

    def bores(self, node: Node) -> tuple[float, float] | None:
        expected = "two sizes, for instance 20 mm to 55 mm"
        parts = re.split(r"\s+to\s+", (node.text or "").strip())
        if len(parts) != 2:
            self.faults.add(node.mark, f"'bores' is {node.what}", expected)
            return None
        try:
            low, high = (quantity(part, "length") for part in parts)
        except NotAQuantity as error:
            self.faults.add(node.mark, str(error), expected)
            return None
        if not 0.0 < low <= high:
            self.faults.add(node.mark, f"'bores' is {node.what}", "the smaller size first, above zero")
            return None
        return low, high

    def limits(self, got: Got | None) -> Mapping[str, float]:
        rows = catalogue.limits()
        limits = {name: row.value for name, row in rows.items()}
        if got is None or got.node.is_nothing:
            return limits
        for word, key, value in self.values.mapping(got.node, "'limits'", "a mapping of names and values") or []:
            row = rows.get(" ".join(word.split()))
            if row is None:
                self.faults.unknown(key.mark, word, "limit", rows)
                continue
            takes = _LIMIT_TAKES.get(row.unit, "ratio")
            number = self.values.number(value, words.Key(takes, row.meaning, row.shown, low=0.0), word)
            if number is not None:
                limits[row.name] = number
        return limits


