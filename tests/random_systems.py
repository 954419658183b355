"""Random whole systems, each a layout that reads without a fault, and the slips of the pen that one may hold.

A system is a sump, vessels above it, what lifts the water (pumps in series and in parallel, a suction line, an airlift), a
manifold with legs, rings, wyes, spray bars, drip lines, vents, draws and caps, the ways back (standpipes with and without
a sleeve, overflows, floor drains, ports; several from one vessel), and vessels joined below their water. Heights close
by construction. Everything follows from the seed.

A small system is a sump and a bed, or a row of beds, and what switches between them: pumps that take turns, a pump that stands
by, a pair on float switches, a timer, timed valves, an indexing valve, a siphon, a float valve.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable

__all__ = ["SLIPS", "random_system", "slipped", "small_system"]

_NAMES = [
    "bed",
    "lower bed",
    "lit à marée",
    "bed [2]",
    "=sum",
    "-minus",
    "'quoted'",
    "a & b",
    "trough #3",
    "грядка",
    "x: y",
]


def random_system(seed: int) -> str:
    """The text of a system, the same for the same seed."""
    return _Maker(random.Random(seed)).text()


def small_system(seed: int) -> str:
    """The text of a system so small that all commands together take a second or two, the same for the same seed."""
    return _Small(random.Random(f"small {seed}")).text()


class _Maker:
    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.vessels: list[str] = []
        self.pumps: list[str] = []
        self.lines: list[str] = []
        self.count = 0
        self.top = chance.uniform(1.9, 2.4)

    # ------------------------------------------------------------------ small things

    def often(self, share: float) -> bool:
        return self.chance.random() < share

    def name(self, kind: str) -> str:
        self.count += 1
        if self.often(0.06):
            return json.dumps(f"{self.chance.choice(_NAMES)} {self.count}", ensure_ascii=False)
        return f"{kind} {self.count}"

    def pipe(self, *sizes: int) -> str:
        return f"pvc {self.chance.choice(sizes)}"

    def line(self, start: str, route: list[str], end: str, pipe: str) -> None:
        steps = "".join(f"      - {step}\n" for step in route) or "      []\n"
        self.lines.append(
            f"  {self.name('line')}:\n    pipe: {pipe}\n    from: {start}\n    route:\n{steps}    to: {end}"
        )

    def run(self, ways: str, length: float, fall: float = 0.0) -> list[str]:
        """A run, with now and then a fitting or a hose in its midst."""

        def piece(share: float) -> str:
            slope = f", {'down' if fall >= 0.0 else 'up'}: {abs(fall) * share:.4f} m" if fall else ""
            return f"{{{ways}: {length * share:.4f} m{slope}}}"

        if length < 0.15 or self.often(0.6):
            return [piece(1.0)]
        if self.often(0.12):
            return [f"hose: {piece(1.0)}"]
        return [piece(0.5), self.inline(ways), piece(0.5)]

    def inline(self, ways: str) -> str:
        """A fitting that leaves the way of the pipe as it is."""
        chance = self.chance
        opening = chance.choice(["0", "15 %", "40 %", "70 %", "open"])
        valve = chance.choice(["ball valve", "gate valve", "diaphragm valve", "butterfly valve"])
        faces = chance.choice(["north", "south"] if ways in ("up", "down", "east", "west") else ["east", "west"])
        return chance.choice(
            [
                "union",
                f"{valve}: {{opening: {opening}}}",
                f"{valve}",
                "check valve",
                f"cap: {{id: {self.name('cap')}, faces: {faces}}}",
                "strainer",
                "flow meter",
                f"fitting: {{K: {chance.choice([0, 0.4, 3])}}}",
                "fitting: {Kv: 12}",
            ]
        )

    def corner(self) -> str:
        return self.chance.choice(["elbow", "elbow", "sweep"])

    def vessel(self, kind: str, base: float, water: float, **more: str) -> str:
        name = self.name(kind)
        keys = {
            "base": f"{base:.3f} m",
            "water": f"{water:.3f} m",
            "rim": f"{water + self.chance.choice([0.03, 0.1, 0.3]):.3f} m",
        }
        if not self.often(0.08):
            keys["area"] = f"{self.chance.choice([0.3, 0.6, 1, 2])} m^2"
        if self.often(0.08):
            del keys["rim"]
        self.vessels.append(f"  {name}: {{{', '.join(f'{key}: {value}' for key, value in (keys | more).items())}}}")
        return name

    # ------------------------------------------------------------------ the whole

    def text(self) -> str:
        chance = self.chance
        low = chance.choice([0.0, 0.0, -0.5])
        depth = chance.uniform(0.3, 0.6)
        sump = self.vessel("sump", low, depth, holds="sump")
        beds = []
        for _ in range(chance.choice([1, 1, 2, 2, 3])):
            base, water = chance.uniform(0.7, 1.3), chance.uniform(0.2, 0.5)
            more = {"holds": chance.choice(["fish", "plants", "plants", "solids filter", "biofilter"])}
            if self.often(0.7):
                more["wants"] = f"{chance.choice([2, 6, 12, 20])} L/min"
            beds.append((self.vessel("bed", base, water, **more), base, water))
        self.lift(sump, low, beds)
        for bed in beds:
            for _ in range(chance.choice([1, 1, 1, 2])):
                self.way_back(bed, sump, low)
        if len(beds) > 1 and self.often(0.35):
            self.join(beds[0], beds[1])
        if self.often(0.2):
            self.airlift(beds[0], sump, low)
        head = ["name: Random system", f"water: {chance.choice([12, 18, 24, 30])} degC"]
        if self.often(0.3):
            head.append("electricity: {price: 0.30, currency: EUR}")
        if self.often(0.1):
            head.append("hose supply: {pressure: 3 bar, flow: 20 L/min}")
        if self.often(0.1):
            head.append("wish: {fish: 1 kg/month, leafy: 3 m^2}")
        if self.often(0.1):
            head.append("code: ipc")
        return "\n".join([*head, "vessels:", *self.vessels, "pumps:", *self.pumps, "lines:", *self.lines]) + "\n"

    # ------------------------------------------------------------------ lifting

    def pump(self, sump: str | None, height: float) -> str:
        chance = self.chance
        name = self.name("pump")
        where = f"in: {sump}, height: {height:.3f} m, " if sump is not None else ""
        head, flow = chance.choice([1.5, 3.0, 4.0, 6.0]), chance.choice([20, 40, 80])
        curve = (
            f"{{highest head: {head} m, largest flow: {flow} L/min}}"
            if self.often(0.3)
            else f"[[0 L/min, {head} m], [{flow * 0.5} L/min, {head * 0.7:.2f} m], [{flow} L/min, {head * 0.2:.2f} m]]"
        )
        more = ", power: 45 W" if self.often(0.6) else ""
        more += ", hours a day: 12" if self.often(0.1) else ""
        more += ", npsh: 2 m" if sump is None and self.often(0.3) else ""
        self.pumps.append(f"  {name}: {{{where}curve: {curve}{more}}}")
        return name

    def lift(self, sump: str, low: float, beds: list[tuple[str, float, float]]) -> None:
        """From the sump to the manifold, and along it from tee to tee."""
        height = 0.05
        sucks, boosts = self.often(0.15), self.often(0.15)
        first = self.pump(None if sucks else sump, height)
        if sucks:
            self.line(f"{{vessel: {sump}, height: {height} m}}", self.run("south", 0.4), first, self.pipe(32, 40))
        here, up, route = first, self.top - low - height, list[str]()
        if self.often(0.2):
            route.append("check valve")
        if boosts:
            second = self.pump(None, 0.0)
            self.line(first, [*route, *self.run("up", 0.4)], second, self.pipe(25, 32))
            here, up, route = second, up - 0.4, []
        route += [*self.run("up", up), self.corner()]
        if not (sucks or boosts) and self.often(0.25):  # a second pump beside the first
            tee, other = self.name("tee"), self.pump(sump, height)
            route += [*self.run("east", 0.3), f"tee: {tee}"]
            self.line(
                other,
                ["check valve"] * self.often(0.7) + [*self.run("up", up), self.corner(), "south: 0.4 m"],
                tee,
                self.pipe(25, 32),
            )
        self.manifold(here, route, beds)

    def manifold(self, here: str, route: list[str], beds: list[tuple[str, float, float]]) -> None:
        chance = self.chance
        fall = chance.choice([0.0, 0.0, 0.01])
        pipe = self.pipe(25, 32, 40)
        height, ring = self.top, None
        if self.often(0.2):
            ring = self.name("tee")
            route += ["east: 0.2 m", f"tee: {ring}"]
        start = height
        legs = [self.leg for _ in beds] + [way for way in (self.vent, self.draw, self.stub) if self.often(0.15)]
        for number, leg in enumerate(legs):
            bed = beds[number] if number < len(beds) else beds[0]
            last = number == len(legs) - 1 and number < len(beds) and ring is None
            route += [*self.run("east", 0.5, fall)]
            height -= fall
            if last:
                ways, end = leg(bed, height)
                self.line(here, route + ways, end, pipe)
                return
            tee = self.name("tee")
            if number < len(beds) and self.often(0.15):
                route += [f"wye: {tee}"]
                ways, end = leg(bed, height)
                self.line(tee, ["{north: 0.2 m, east: 0.2 m}", "bend 45", *ways[1:]], end, self.pipe(20, 25))
            else:
                route += [f"tee: {tee}"]
                ways, end = leg(bed, height)
                self.line(tee, ways[1:] if ways[0] in ("elbow", "sweep") else ways, end, self.pipe(20, 25))
        route += ["east: 0.2 m"]
        if ring is None:
            self.line(here, route, f"cap {self.name('end cap')}", pipe)
            return
        tee = self.name("tee")
        ways, end = self.leg(beds[-1], height)
        self.line(here, [*route, f"tee: {tee}", *self.run("east", 0.3), *ways], end, pipe)
        along, drop = 0.5 * len(legs) + 0.2, start - height
        turn = self.corner()
        self.line(
            ring,
            ["south: 0.4 m", turn, *self.run("east", along, drop), turn, "north: 0.4 m"],
            tee,
            self.pipe(20, 25, 32),
        )

    def leg(self, bed: tuple[str, float, float], height: float) -> tuple[list[str], str]:
        """From the manifold down into a vessel: an open end over or under its water, a dip, a hump, a spray bar, a drip line."""
        chance = self.chance
        name, base, water = bed
        end = base + chance.uniform(0.03, water * 1.5)
        route = [self.corner(), *self.run("north", 0.4), self.corner()]
        kind = chance.choice(["drop", "drop", "drop", "dip", "hump", "hose", "bar", "drip"])
        if kind == "hose":
            return [*route[:-1], f"hose: {{north: 0.4 m, down: {height - end:.4f} m}}"], name
        if kind == "dip":
            low = min(end, height) - chance.uniform(0.1, 0.4)
            return [
                *route,
                *self.run("down", height - low),
                "elbow",
                "east: 0.3 m",
                "elbow",
                f"up: {end - low:.4f} m",
            ], name
        if kind == "hump":
            up = chance.uniform(0.1, 0.5)
            return [
                *route,
                f"up: {up:.4f} m",
                "elbow",
                "east: 0.3 m",
                "elbow",
                *self.run("down", height + up - end),
            ], name
        if kind in ("bar", "drip"):
            long = chance.choice([0.5, 1.0])
            holes = f"holes: {chance.randint(4, 30)}, hole: {chance.choice([3, 4, 6])} mm"
            aim = ", aim: along the wall" if self.often(0.4) else ""
            step = (
                f"spray bar: {{east: {long} m, {holes}, in: {name}{aim}}}"
                if kind == "bar"
                else f"drip line: {{east: {long} m, drippers: {chance.randint(4, 30)}, dripper: 4 L/h, in: {name}}}"
            )
            return [*route, *self.run("down", height - end), "elbow", step], chance.choice(
                [f"cap {self.name('bar cap')}", "plug"]
            )
        return [*route, *self.run("down", height - end)], name

    def vent(self, _bed: tuple[str, float, float], _height: float) -> tuple[list[str], str]:
        return [f"up: {self.chance.choice([0.2, 1.5])} m"], "open air"

    def draw(self, _bed: tuple[str, float, float], _height: float) -> tuple[list[str], str]:
        return self.run("south", 0.3), f"{{draws: {self.chance.choice([-1, 0.5, 2])} L/min}}"

    def stub(self, _bed: tuple[str, float, float], _height: float) -> tuple[list[str], str]:
        return self.run("south", self.chance.choice([0.1, 0.8])), self.chance.choice(
            ["plug", f"cap {self.name('stub cap')}"]
        )

    def airlift(self, bed: tuple[str, float, float], sump: str, low: float) -> None:
        """Air that lifts a vessel's water into a raft beside it, and the raft's way back."""
        name, base, water = bed
        above = self.chance.uniform(0.05, 0.2)
        lift, raft = self.name("airlift"), self.name("raft")
        top = water + above
        self.pumps.append(
            f"  {lift}: {{in: {name}, height: {top:.4f} m, "
            f"airlift: {{air: {self.chance.choice([5, 10, 20])} L/min, riser: pvc 40, length: {top * 0.95:.4f} m}}}}"
        )
        floor = base + top - 0.35
        self.vessels.append(f"  {raft}: {{base: {floor:.4f} m, water: 0.25 m, rim: 0.4 m, area: 1 m^2, holds: plants}}")
        self.line(lift, ["{east: 0.6 m, down: 6 mm}"], raft, "pvc 40")
        self.way_back((raft, floor, 0.25), sump, low)

    # ------------------------------------------------------------------ coming back

    def way_back(self, bed: tuple[str, float, float], sump: str, low: float) -> None:
        chance = self.chance
        name, base, water = bed
        end = low + chance.uniform(0.05, 0.5)
        pipe = self.pipe(32, 40, 50, 63)
        kind = chance.choice(["standpipe", "standpipe", "sleeve", "overflow", "floor", "port"])
        if kind in ("standpipe", "sleeve"):
            sleeve = f", sleeve: {chance.choice([80, 104])} mm" if kind == "sleeve" else ""
            crest = water * chance.choice([1.0, 1.0, 0.95])
            start, route = f"{{vessel: {name}, standpipe: {crest:.4f} m{sleeve}}}", []
        elif kind == "overflow":
            crest = water * chance.choice([1.0, 0.9])
            start, route = f"{{vessel: {name}, overflow: {crest:.4f} m}}", ["west: 0.2 m", self.corner()]
        elif kind == "floor":
            crest = 0.0
            valve = ["ball valve: {opening: 0}"] if self.often(0.5) else []
            start, route = f"{{vessel: {name}, height: 0 m}}", [*valve]
        else:
            crest = water * chance.uniform(0.1, 0.8)
            start, route = (
                f"{{vessel: {name}, height: {crest:.4f} m}}",
                ["bulkhead", *self.run("west", 0.3), self.corner()],
            )
        fall = chance.choice([0.0, 0.01, 0.04, -0.02])
        foot = end + fall + chance.choice([0.0, 0.2])
        route += [*self.run("down", base + crest - foot), self.corner()]
        if self.often(0.2):
            tee = self.name("tee")
            half = fall / 2.0
            route += [f"{{south: 0.5 m, {'down' if half >= 0 else 'up'}: {abs(half):.4f} m}}", f"tee: {tee}"]
            route += [f"{{south: 0.5 m, {'down' if half >= 0 else 'up'}: {abs(half):.4f} m}}"]
            self.line(tee, [f"up: {chance.choice([0.1, 1.5])} m"], "open air", pipe)
        else:
            route += self.run("south", 1.0, fall)
        drop = foot - fall - end
        if drop > 0.01:
            route += [self.corner(), f"down: {drop:.4f} m"]
        self.line(start, route, sump, pipe)

    def join(self, one: tuple[str, float, float], two: tuple[str, float, float]) -> None:
        """A pipe from one vessel's water into the other's, over or under what lies between."""
        chance = self.chance
        (name, base, water), (other, floor, there) = one, two
        start, end = base + chance.uniform(0.1, 0.9) * water, floor + chance.uniform(0.1, 0.9) * there
        over = max(base + water, floor + there) + 0.2
        under = min(base, floor) - 0.2
        turn = chance.choice([under, under, over])
        legs = [f"{'up' if rise >= 0 else 'down'}: {abs(rise):.4f} m" for rise in (turn - start, end - turn)]
        self.line(
            f"{{vessel: {name}, height: {start - base:.4f} m}}",
            [legs[0], "elbow", *self.run("south", 0.6), "elbow", legs[1]],
            other if self.often(0.5) else f"{{vessel: {other}, height: {end - floor:.4f} m}}",
            self.pipe(25, 40, 63),
        )


class _Small(_Maker):
    """A sump, a bed or a row of beds, and what switches between them."""

    def text(self) -> str:
        chance = self.chance
        self.low, self.depth, self.height = 0.0, chance.choice([0.4, 0.55]), 0.05
        self.up = chance.choice([1.3, 1.6])
        self.row = chance.choice([0, 0, 2, 3])
        self.sump = self.vessel("sump", self.low, self.depth, holds=chance.choice(["sump", "fish"]))
        self.base, self.water = chance.choice([0.7, 1.0]), chance.choice([0.1, 0.25])
        again = {"again": str(self.row)} if self.row else {}
        more = {
            "holds": chance.choice(["plants", "plants", "fish", "solids filter"]),
            "wants": f"{chance.choice([3, 8])} L/min",
        }
        self.bed = self.vessel("bed", self.base, self.water, **again, **more)
        chance.choice([self.one, self.turns, self.turns, self.floats])()
        self.back()
        if self.often(0.3):
            self.line(
                f"{{supply: {chance.choice([1, 8])} L/min, height: 1.2 m}}",
                ["down: 0.3 m"],
                f"{{vessel: {self.sump}, float valve: {self.depth - 0.1:.3f} m}}",
                "pvc 20",
            )
        head = ["name: Small system", f"water: {chance.choice([12, 24])} degC"]
        return "\n".join([*head, "vessels:", *self.vessels, "pumps:", *self.pumps, "lines:", *self.lines]) + "\n"

    def set_going(self, **keys: str) -> str:
        """A pump in the sump."""
        name, flow = self.name("pump"), self.chance.choice([15, 30, 60])
        more = "".join(f", {key.replace('_', ' ')}: {value}" for key, value in keys.items())
        self.pumps.append(
            f"  {name}: {{in: {self.sump}, height: {self.height} m, curve: [[0 L/min, 3 m], [{flow} L/min, 0.8 m]], power: 30 W{more}}}"
        )
        return name

    def one(self) -> None:
        """One pump, at all times or on a timer."""
        runs = {"runs": self.chance.choice(["{on: 1 h, off: 5 h}", "{from: 06:00, to: 18:00}"])}
        self.feed(self.set_going(**(runs if self.often(0.5) else {})), [f"up: {self.up} m", self.corner()])

    def turns(self) -> None:
        """Two pumps, each with a check valve in a line of its own that joins the other's at a tee: they take turns, or one stands by."""
        first, second = self.chance.choice(
            [
                ("{from: 06:00, to: 18:00}", "{from: 18:00, to: 06:00}"),
                ("{on: 8 h, off: 8 h}", "{on: 8 h, off: 8 h, after: 8 h}"),
                ("{on: 3 h, off: 3 h}", "no"),
                ("", "no"),
            ]
        )
        self.beside(self.set_going(**({"runs": first} if first else {})), self.set_going(runs=second))

    def floats(self) -> None:
        """A pump on a float switch, and a second one that comes to its help where the water stands higher."""
        low, step = self.depth * 0.4, self.depth * 0.15

        def switch(rows: float) -> str:
            on, off = low + (rows + 1.0) * step, low + rows * step / 2.0
            return f"{{vessel: {self.sump}, on above: {on:.3f} m, off below: {off:.3f} m}}"

        self.beside(self.set_going(switch=switch(0.0)), self.set_going(switch=switch(1.0)))

    def beside(self, first: str, second: str) -> None:
        tee = self.name("tee")
        self.line(second, ["check valve", f"up: {self.up} m", "elbow", "west: 0.4 m"], tee, "pvc 25")
        self.feed(first, ["check valve", f"up: {self.up} m", f"tee: {tee}", "up: 0.1 m", "elbow"])

    def feed(self, start: str, route: list[str]) -> None:
        """To the bed, or to each of the row: by a manifold, by timed valves on one, or by an indexing valve."""
        if not self.row:
            self.line(start, [*route, *self.run("south", 0.6)], self.bed, "pvc 25")
            return
        name = self.name("header")
        if self.often(0.4):
            spare, least = self.often(0.3), self.chance.choice([4, 20])
            end = f"{{indexing valve: {name}, outlets: {self.row + spare}, at least: {least} L/min}}"
            self.line(start, [*route, "south: 0.5 m"], end, "pvc 32")
            for number in range(1, self.row + 1) if spare else [""]:
                self.line(
                    f"{name} {number}".strip(),
                    ["north: 0.3 m", "elbow", "down: 0.2 m"],
                    f"{self.bed} {number}".strip(),
                    "pvc 25",
                )
            return
        self.line(start, [*route, f"manifold: {{id: {name}, south: 0.9 m, outlets: {self.row}}}"], "cap", "pvc 25")
        if self.often(0.5):
            self.line(name, ["down: 0.2 m"], self.bed, "pvc 20")
            return
        for number in range(1, self.row + 1):
            valve = f"ball valve: {{opening: shut, runs: {{on: 3 h, off: {3 * (self.row - 1)} h, after: {3 * (number - 1)} h}}}}"
            self.line(f"{name} {number}", ["down: 0.1 m", valve, "down: 0.1 m"], f"{self.bed} {number}", "pvc 20")

    def back(self) -> None:
        kind = self.chance.choice(["standpipe", "standpipe", "siphon", "overflow"])
        breaks = ", breaks: 0.03 m" if kind == "siphon" else ""
        route = ["west: 0.1 m", "elbow"] if kind == "overflow" else []
        start = f"{{vessel: {self.bed}, {kind}: {self.water:.3f} m{breaks}}}"
        self.line(start, [*route, f"down: {self.base - self.depth:.3f} m"], self.sump, self.pipe(25, 50))


# ---------------------------------------------------------------------- slips of the pen

_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?= ?(?:m|mm|L/min|m\^2|W|%|L/h|degC|kg/month)\b)")


def _number(text: str, chance: random.Random) -> str:
    """One number that is ten times, a tenth, nought, less than nought, or beyond all bounds."""
    spots = list(_NUMBER.finditer(text))
    spot = chance.choice(spots)
    new = chance.choice([f"{float(spot[0]) * by:g}" for by in (10, 0.1, 1.3, 0.7, 0, -1, 1000)] + ["1e308", "1e-9"])
    return text[: spot.start()] + new + text[spot.end() :]


def _unit(text: str, chance: random.Random) -> str:
    """One unit that is another of its kind, or of another kind."""
    spot = chance.choice(list(re.finditer(r"(?<=\d )(mm|m|L/min|m\^2|W|degC)\b", text)))
    new = chance.choice(["mm", "m", "ft", "L/h", "m^2", "gal/min", "degC turn", "m**9**9", "%", ""])
    return text[: spot.start()] + new + text[spot.end() :]


def _row(text: str, chance: random.Random) -> str:
    """One row of the file lost, twice, or changed over with the next."""
    rows = text.split("\n")
    at = chance.randrange(len(rows) - 1)
    kind = chance.choice(["lost", "twice", "over"])
    if kind == "lost":
        del rows[at]
    elif kind == "twice":
        rows.insert(at, rows[at])
    else:
        rows[at], rows[at + 1] = rows[at + 1], rows[at]
    return "\n".join(rows)


def _letter(text: str, chance: random.Random) -> str:
    """One sign lost, twice, or another."""
    at = chance.randrange(len(text))
    return text[:at] + chance.choice(["", text[at] * 2, chance.choice("abz:,{}[]#&*'\"\t-% \n0")]) + text[at + 1 :]


def _word(text: str, chance: random.Random) -> str:
    """One word of the language in place of another of its kind."""
    kinds = [
        ["up", "down", "east", "west", "north", "south"],
        ["elbow", "sweep", "bend 45", "tee", "union", "check valve"],
        ["standpipe", "overflow", "height"],
        ["pvc 20", "pvc 25", "pvc 32", "pvc 40", "pvc 50", "pvc 63"],
        ["from", "to"],
        ["ball valve", "gate valve", "check valve", "foot valve"],
        ["plug", "open air"],
        ["tee", "wye"],
    ]
    words = [(spot, kind) for kind in kinds for spot in re.finditer(rf"\b(?:{'|'.join(kind)})\b(?=[:,}}\n])", text)]
    spot, kind = chance.choice(words)
    return text[: spot.start()] + chance.choice(kind) + text[spot.end() :]


def _name(text: str, chance: random.Random) -> str:
    """One end that is another's: a vessel's, a pump's, a tee's, its own."""
    names = re.findall(r"^  (\S.*?): *\{|tee: (.*)$", text, re.MULTILINE)
    spots = list(re.finditer(r"(?:from|to): (.*)$", text, re.MULTILINE))
    spot = chance.choice(spots)
    new = next(filter(None, chance.choice(names)))
    return text[: spot.start(1)] + new + text[spot.end(1) :]


def _turned(text: str, chance: random.Random) -> str:
    """One line that is walked the other way: its ends changed over, and not its route."""
    spots = list(re.finditer(r"    from: (.*)\n((?:.*\n)*?)    to: (.*)\n", text))
    spot = chance.choice(spots)
    return text[: spot.start()] + f"    from: {spot[3]}\n{spot[2]}    to: {spot[1]}\n" + text[spot.end() :]


def _key(text: str, chance: random.Random) -> str:
    """One value of a vessel or pump left out."""
    spot = chance.choice(list(re.finditer(r"\b(?:area|rim|wants|holds|in|height|base|water|power): [^,{}\n]+, ", text)))
    return text[: spot.start()] + text[spot.end() :]


def _none(text: str, _chance: random.Random) -> str:
    """No slip at all."""
    return text


SLIPS: list[Callable[[str, random.Random], str]] = [
    _none,
    _number,
    _number,
    _number,
    _number,
    _unit,
    _row,
    _row,
    _letter,
    _word,
    _word,
    _name,
    _turned,
    _key,
    _key,
]


def slipped(seed: int, made: Callable[[int], str] = random_system) -> str:
    """A random system with one slip of the pen, the same for the same seed."""
    chance = random.Random(f"slip {seed}")
    try:
        return chance.choice(SLIPS)(made(seed), chance)
    except IndexError:  # nothing of the kind in this system
        return made(seed)
