"""From the tree of nodes to statements: what the file says, checked word by word and number by number."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from ..units import Units
from . import words
from .ends import read_end
from .extras import (
    read_clear,
    read_electricity,
    read_fouling,
    read_hose,
    read_limits,
    read_rod,
    read_sureness,
    usual_rods,
)
from .faults import Faults
from .kinds import plain
from .model import Mark, Pump, Rod, Vector, Vessel, Water
from .names import Names
from .nodes import Node, units_of
from .pipes import read_pipe
from .pumps import read_pump
from .readings import read_readings
from .spread import spread
from .statements import UNREAD_PIPE, LineSaid, Said
from .steps import Steps
from .timing import read_areas
from .values import Fields, Got, Values

__all__ = ["read_lines", "read_statements", "read_whole"]


def read_statements(tree: Node, faults: Faults) -> Said:
    """Read a file's tree into statements. What is wrong, and what is left out, goes to `faults`.

    Raises:
        LayoutError: where the file is no group of values at all, so that nothing more can be said.
    """
    return spread(*read_whole(tree, faults), faults)


def read_whole(tree: Node, faults: Faults) -> tuple[Said, Names]:
    """Read a file's tree before what stands several times is written out, and give the names in it."""
    reader = _Reader(faults, units_of(tree), Names(faults))
    return reader.whole(tree), reader.names


def read_lines(tree: Node, said: Said, names: Names, faults: Faults) -> dict[str, LineSaid]:
    """Read the lines of pipe that stand in a tree, as of a file of which all else is `said`; `names` are those taken elsewhere in it."""
    reader = _Reader(faults, said.units, names)
    got = reader.values.fields(tree, words.LAYOUT, "the layout")
    lines = {} if got is None else reader.routes(got, said.vessels)
    return {
        name: replace(line, numbers=tuple(range(1, len(line.steps) + 1)))
        for name, line in lines.items()
        if line is not None
    }


class _Reader:
    def __init__(self, faults: Faults, units: Units, names: Names) -> None:
        self.faults = faults
        self.values = Values(faults, units)
        self.names = names
        self.unsure: set[str] = set()
        self.rows: dict[str, int] = {}

    def whole(self, tree: Node) -> Said:
        got = self.values.fields(tree, words.LAYOUT, "the layout")
        if got is None:
            self.faults.fail()
        name = got.text("name")
        if name is None:
            name = Path(self.faults.file).stem
            self.faults.left_out("the layout", f"named after its file, {name}", "name left out")
        vessels = dict(self.vessels(got.get("vessels")))
        electricity = read_electricity(got.node("electricity"), self.values)
        hours = 24.0 if electricity is None else electricity.hours
        pumps = dict(self.pumps(got.get("pumps"), vessels, hours))
        lines = self.routes(got, vessels)
        if "lines" in got and not lines and not self.faults.found:
            self.faults.add(got["lines"].mark, "the layout has no lines", "at least one line under 'lines'")
        if not got.complete:
            self.faults.blind.update(word.removesuffix("s") for word in ("vessels", "pumps") if word not in got)
        # Only the weight of the fish put in counts in a layout; the rest is read so that what is wrong in it is told.
        wish = got.node("wish")
        wished = None if wish is None else self.values.fields(wish, words.WISH, "the wish")
        return Said(
            name=name,
            water=self.water(got.get("water")),
            vessels=vessels,
            pumps=pumps,
            lines={key: line for key, line in lines.items() if line is not None},
            rods=tuple(self.rods(got)),
            limits=read_limits(got.node("limits"), self.values),
            sureness=read_sureness(got.node("how sure"), self.values),
            altitude=self.altitude(got.get("altitude")),
            electricity=electricity,
            hose=read_hose(got.node("hose supply"), self.values),
            code=got.text("code"),
            fouling=read_fouling(got.node("fouling"), self.values),
            put_in=(wished or Fields()).number("put in at"),
            readings=read_readings(got.node("readings"), self.values),
            keep_clear=self.keep_clear(got.get("keep clear"), vessels),
            rows=self.rows,
            units=self.values.units,
            unsure=frozenset(self.unsure | self.names.twice),
            complete="line" not in self.faults.blind and all(line and line.whole for line in lines.values()),
        )

    def routes(self, got: Fields, vessels: Mapping[str, Vessel]) -> dict[str, LineSaid | None]:
        steps = Steps(self.values, self.names, [*vessels, *self.rows])
        return {key: self.line(key, mark, node, steps) for key, mark, node in self.named(got.get("lines"), "line")}

    def rods(self, got: Fields) -> Iterator[Rod]:
        if got.node("rods") is None:
            yield from usual_rods(self.faults)
        for name, mark, node in self.named(got.get("rods"), "rod"):
            if (rod := read_rod(name, mark, node, self.values)) is not None:
                yield rod

    def keep_clear(self, got: Got | None, vessels: Mapping[str, Vessel]) -> dict[str, tuple[Vector, Vector]]:
        """The boxes that pipe keeps out of; they mean something only where the file says where vessels stand."""
        boxes = {key: read_clear(key, mark, node, self.values) for key, mark, node in self.named(got, "walkway")}
        if got is not None and boxes and vessels and all(vessel.at is None for vessel in vessels.values()):
            self.faults.add(
                got.mark,
                "there are places to keep clear, and no vessel has one",
                "'at' for a vessel at least, so that the pipe has a place beside them: at: {east: 0 m, north: 0 m}",
            )
        return {name: box for name, box in boxes.items() if box is not None}

    def named(self, got: Got | None, what: str) -> Iterator[tuple[str, Mark, Node]]:
        if got is None or (got.node.is_nothing and what != "vessel"):
            return
        pairs = self.values.group(got.node, f"'{what}s'", f"names, each with its {what}")
        if pairs is None or got.node.torn:
            self.faults.blind.add(what)
        for word, key, value in pairs or ():
            if word:
                yield word, key.mark, value
            else:
                self.faults.add(key.mark, f"a {what} without a name", f"a name for the {what}")
                self.faults.unread(value)
                self.faults.blind.add(what)

    # ------------------------------------------------------------------ the parts

    def water(self, got: Got | None) -> Water:
        from ..water import density, viscosity

        unread = Water(998.2, 1.0e-3)  # never used: its fault is noted
        celsius: float | None = None
        if got is None:
            celsius = 20.0
            self.faults.left_out("water", "20 °C", "room temperature, common practice, no source")
        elif got.node.is_nothing:
            return unread
        elif got.node.pairs is None:
            celsius = self.values.number(got.node, words.WATER["temperature"], "water")
        else:
            fields = self.values.fields(got.node, words.WATER, "the water")
            number = {word: value.number for word, value in (fields or {}).items()}
            if len(number) < len(got.node.pairs) or None in number.values():
                return unread
            celsius, rho, mu = (number.get(word) for word in ("temperature", "density", "viscosity"))
            if rho is not None and mu is not None:
                return Water(rho, mu, celsius)
            if celsius is not None and (rho is not None or mu is not None):
                return Water(rho or density(celsius), mu or viscosity(celsius), celsius)
            if celsius is None:
                self.faults.add(got.mark, "water without a temperature", "a temperature, or density and viscosity")
        return unread if celsius is None else Water(density(celsius), viscosity(celsius), celsius)

    def altitude(self, got: Got | None) -> float:
        if got is None:
            self.faults.left_out("the layout", "the air weighs as at sea level", "altitude left out")
            return 0.0
        return got.number or 0.0

    def vessels(self, got: Got | None) -> Iterator[tuple[str, Vessel]]:
        for name, mark, node in self.named(got, "vessel"):
            self.names.take("vessel", name, mark)
            fields = self.values.fields(node, words.VESSEL, f"vessel '{name}'", mark) or Fields()
            base, water, rim = fields.numbers("base", "water", "rim")
            if base is None or water is None or ("rim" in fields and rim is None):
                self.unsure.add(name)
            if water is not None and rim is not None and water > rim:
                self.faults.add(
                    fields["water"].mark,
                    f"the water of '{name}' stands above its rim",
                    f"a depth of at most {self.values.said(rim, 'length')}",
                    also=[fields["rim"].mark],
                )
            area, areas, gutter = read_areas(fields, name, water or 0.0, self.values)
            vessel = Vessel(
                name=name,
                base=base or 0.0,
                water=water or 0.0,
                mark=mark,
                rim=rim,
                area=area,
                areas=areas,
                gutter=gutter,
                loses=fields.number("loses") or 0.0,
                wants=fields.number("wants"),
                holds=fields.text("holds"),
                at=self.place(fields.node("at"), name),
                handles=fields.number("handles"),
                shape=fields.text("shape"),
                smallest_fish=fields.number("smallest fish"),
            )
            if "again" not in fields:
                yield name, vessel
                continue
            self.rows[name] = int(fields.number("again") or 1)
            for count in range(self.rows[name]):
                one = self.names.take("vessel", f"{name} {count + 1}", mark)
                yield one, replace(vessel, name=one)

    def place(self, node: Node | None, name: str) -> tuple[float, float] | None:
        if node is None:
            return None
        place = self.values.fields(node, words.TABLES["place"], f"the place of '{name}'") or Fields()
        one = {word: value.number or 0.0 for word, value in place.items()}
        return one.get("east", 0.0) - one.get("west", 0.0), one.get("north", 0.0) - one.get("south", 0.0)

    def pumps(self, got: Got | None, vessels: Mapping[str, Vessel], hours: float) -> Iterator[tuple[str, Pump]]:
        for name, mark, node in self.named(got, "pump"):
            self.names.take("pump", name, mark)
            pump, sure = read_pump(name, mark, node, self.values, vessels, self.unsure, hours)
            self.unsure |= set() if sure else {name}
            yield name, pump

    def line(self, name: str, mark: Mark, node: Node, steps: Steps) -> LineSaid | None:
        got = self.values.fields(node, words.LINE, f"line '{name}'", mark)
        if got is None:
            self.faults.blind.add("tee")
            return None
        pipe = None if got.complete else UNREAD_PIPE
        if "pipe" in got:
            pipe = read_pipe(got["pipe"].node, self.values)
        route = steps.route(got["route"].node, name) if "route" in got else ()
        keys = {plain(key.text or ""): key.mark for key, _ in node.pairs or ()}
        start, end = (
            read_end(got[word].node, f"{what} of line '{name}'", self.values, self.names, keys[word])
            if word in got
            else None
            for word, what in (("from", "start"), ("to", "end"))
        )
        whole = route is not None and ("route" in got or got.complete)
        if not whole:
            self.faults.blind.add("tee")
        again = int(got.number("again") or 1) if "again" in got else None
        return LineSaid(name, mark, pipe, start, route or (), end, whole, again)
