"""Random small systems for the power cut: a pump in a sump, a manifold, beds on legs that drop, dip or hump, with check
valves, shut valves, open ends, loops, pipes from bed to bed, low rims, and a pump with a suction line."""

from __future__ import annotations

import random

TOP = 2.0
"""Height of the manifold [m]."""


def random_cut(seed: int) -> str:
    """The text of a layout, the same for the same seed."""
    return _Maker(random.Random(seed)).text()


class _Maker:
    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.lines: list[str] = []

    def often(self, share: float) -> bool:
        return self.chance.random() < share

    def line(self, name: str, start: str, route: list[str], end: str) -> None:
        pipe = self.chance.choice(["pvc 25", "pvc 32", "pvc 40"])
        steps = "".join(f"      - {step}\n" for step in route)
        self.lines.append(f"  {name}:\n    pipe: {pipe}\n    from: {start}\n    route:\n{steps}    to: {end}")

    def text(self) -> str:
        chance = self.chance
        count = chance.randint(1, 3)
        suction = self.often(0.2)
        rim = 0.7 if self.often(0.2) else 3.0
        out = [
            "vessels:",
            f"  sump: {{base: 0 m, rim: {rim} m, water: {chance.uniform(0.3, 0.6):.3f} m, "
            f"area: {chance.choice([0.4, 1, 2])} m^2}}",
        ]
        beds: list[tuple[float, float]] = []
        for number in range(count):
            base, water = chance.uniform(0.5, 1.6), chance.uniform(0.2, 0.5)
            brim = water + 0.05 if self.often(0.2) else 3.0
            beds.append((base, water))
            out.append(
                f"  bed{number}: {{base: {base:.3f} m, rim: {brim:.3f} m, water: {water:.3f} m, "
                f"area: {chance.choice([0.3, 0.6])} m^2}}"
            )
        where = "" if suction else "in: sump, height: 0.05 m, "
        out.append(f"pumps:\n  lift: {{{where}curve: [[0 L/min, 9 m], [60 L/min, 5 m]]}}\nlines:")
        if suction:
            self.line("suction", "{vessel: sump, height: 0.05 m}", ["{south: 0.3 m}"], "lift")
        start = "lift"
        route = ["check valve"] if self.often(0.15) else []
        route += [f"{{up: {TOP - 0.05:.3f} m}}", "elbow"]
        height, heights = TOP, []
        drop = chance.choice([0.0, 0.02, -0.03])
        for number in range(count):
            run = f"{{east: 0.5 m, {'down' if drop >= 0.0 else 'up'}: {abs(drop)} m}}"
            route += [run, f"tee: t{number}"]
            height -= drop
            heights.append(height)
        if self.often(0.15):  # air lets itself in here
            route += ["{east: 0.2 m}", "elbow", f"{{up: {chance.choice([0.2, 0.6])} m}}"]
            last = "open air"
        else:
            base, water = beds[0]
            route += ["{east: 0.4 m}", "elbow", *self.leg(base, water, height)]
            last = "bed0"
        self.line("main", start, route, last)
        for number, (base, water) in enumerate(beds):
            goal = "open air" if self.often(0.08) else f"bed{number}"
            self.line(f"leg{number}", f"t{number}", self.leg(base, water, heights[number]), goal)
        if count > 1 and self.often(0.3):
            self.across(beds)
        return "\n".join(out + self.lines)

    def leg(self, base: float, water: float, start: float) -> list[str]:
        """From the manifold down to an end in or over a bed's water."""
        chance = self.chance
        end = min(base + chance.uniform(0.02, water * 1.6), start - chance.uniform(0.04, 0.08))
        kind = chance.choice(["drop", "dip", "hump", "slope"])
        route = ["{north: 0.3 m}", "elbow"]
        if self.often(0.15):
            route.insert(1, chance.choice(["check valve", "ball valve: {opening: 0}", "ball valve: {opening: 0.5}"]))
            route.insert(2, "{north: 0.1 m}")
        if kind == "drop":
            return [*route, f"{{down: {start - end:.3f} m}}"]
        if kind == "slope":
            return [*route, f"hose: {{east: 0.4 m, down: {start - end:.3f} m}}"]
        if kind == "dip":
            low = chance.uniform(0.1, min(end, start) - 0.05)
            return [
                *route,
                f"{{down: {start - low:.3f} m}}",
                "elbow",
                "{north: 0.2 m}",
                "elbow",
                f"{{up: {end - low:.3f} m}}",
            ]
        up = chance.uniform(0.1, 0.5)
        return [
            *route,
            f"{{up: {up:.3f} m}}",
            "elbow",
            "{north: 0.2 m}",
            "elbow",
            f"{{down: {start + up - end:.3f} m}}",
        ]

    def across(self, beds: list[tuple[float, float]]) -> None:
        """A pipe from the second bed's water to the first's, over or under what lies between."""
        chance = self.chance
        (base, water), (other, there) = beds[1], beds[0]
        start, end = base + chance.uniform(0.05, 0.9) * water, other + chance.uniform(0.05, 0.9) * there
        turn = chance.choice([max(base + water, other + there) + 0.2, min(base, other) - 0.2])
        legs = [f"{{{'up' if d >= 0 else 'down'}: {abs(d):.3f} m}}" for d in (turn - start, end - turn)]
        valve = ["check valve"] if self.often(0.2) else []
        self.line(
            "across",
            f"{{vessel: bed1, height: {start - base:.3f} m}}",
            [legs[0], "elbow", "{south: 0.4 m}", *valve, "{south: 0.4 m}", "elbow", legs[1]],
            "bed0",
        )
