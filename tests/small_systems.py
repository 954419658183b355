"""Small random systems, for trials in hundreds: a sump, one to three beds over it, one or two pumps, and the ways back.

What a mender meets most: a main with a leg to each bed, valves and humps on legs, a cap here and there, ends over and under the
water, standpipes, overflows and ports. Heights close by construction, and everything follows from the seed.
"""

from __future__ import annotations

import random
from typing import NamedTuple

__all__ = ["small_system"]


class _Bed(NamedTuple):
    """Its name, its floor over the datum and the depth of its water [m]."""

    name: str
    floor: float
    water: float


def small_system(seed: int) -> str:
    """The text of a system, the same for the same seed."""
    chance = random.Random(f"small {seed}")
    top = chance.uniform(1.2, 2.0)
    beds = [
        _Bed(f"bed {number + 1}", top - chance.uniform(0.5, 0.9), chance.uniform(0.15, 0.4))
        for number in range(chance.choice([1, 1, 1, 2, 2, 3]))
    ]
    fed = [beds[:-1], beds[-1:]] if len(beds) > 1 and chance.random() < 0.3 else [beds]
    pumps, lines = [], []
    for number, some in enumerate(fed):
        pump, more = _feed(f"pump {number + 1}", some, top, chance)
        pumps.append(pump)
        lines += more
    lines += [_way_back(bed, chance) for bed in beds]
    sump = f"  sump: {{holds: sump, base: -0.5 m, rim: 1 m, water: {chance.uniform(0.5, 0.7):.2f} m, area: {chance.choice([0.8, 1.2, 2])} m^2}}"
    vessels = [sump] + [
        f"  {bed.name}: {{base: {bed.floor:.3f} m, rim: {bed.water + 0.12:.3f} m, water: {bed.water:.3f} m, "
        f"area: {chance.choice([0.5, 1, 2])} m^2}}"
        for bed in beds
    ]
    rows = ["name: Small system", "water: 20 degC", "vessels:", *vessels, "pumps:", *pumps, "lines:", *lines]
    return "\n".join(rows) + "\n"


def _line(name: str, start: str, route: list[str], end: str, size: int) -> str:
    steps = "".join(f"      - {step}\n" for step in route)
    return f"  {name}:\n    pipe: pvc {size}\n    from: {start}\n    route:\n{steps}    to: {end}"


def _feed(pump: str, beds: list[_Bed], top: float, chance: random.Random) -> tuple[str, list[str]]:
    """A pump in the sump, and its main with a leg to each bed."""
    head, flow = top + 0.5 + chance.uniform(0.8, 2.0), chance.uniform(10, 25) * len(beds)
    curve = (
        f"[[0 L/min, {head:.2f} m], [{flow:.0f} L/min, {0.8 * head:.2f} m], [{2 * flow:.0f} L/min, {0.3 * head:.2f} m]]"
    )
    power = ", power: 60 W" if chance.random() < 0.8 else ""
    route = ["check valve"] if chance.random() < 0.2 else []
    corner = chance.choice(["elbow", f"cap: {{id: top of {pump}, faces: west}}"])
    route += [f"up: {top + 0.45:.3f} m", corner]
    lines = []
    for bed in beds:
        route += [f"east: {chance.uniform(0.5, 2.0):.2f} m"]
        way = _leg(bed, top, chance)
        if bed is beds[-1]:
            lines.append(_line(f"main of {pump}", pump, [*route, "elbow", *way], bed.name, chance.choice([25, 32, 40])))
        else:
            route += [f"tee: to {bed.name}"]
            lines.append(_line(f"leg to {bed.name}", f"to {bed.name}", way, bed.name, chance.choice([20, 25])))
    return f"  {pump}: {{in: sump, height: 0.05 m, curve: {curve}{power}}}", lines


def _leg(bed: _Bed, top: float, chance: random.Random) -> list[str]:
    """From the main's height over into a bed: with a valve or none, over a hump or none, to over or under its water."""
    along = f"north: {chance.uniform(0.3, 1.5):.2f} m"
    valve = f"ball valve: {{opening: {chance.choice([35, 45, 60, 80, 100])} %}}"
    way = [along, *([valve, "north: 0.2 m"] if chance.random() < 0.7 else []), "elbow"]
    end = bed.floor + bed.water + (0.08 if chance.random() < 0.8 else -0.08)
    if chance.random() < 0.15:
        return [*way, "up: 0.25 m", "elbow", "east: 0.3 m", "elbow", f"down: {top + 0.25 - end:.3f} m"]
    return [*way, f"down: {top - end:.3f} m"]


def _way_back(bed: _Bed, chance: random.Random) -> str:
    """A drain into the air over the sump, or under its water."""
    kind = chance.choice(["standpipe", "standpipe", "overflow", "height"])
    crest = 0.5 * bed.water if kind == "height" else bed.water
    end = chance.choice([0.3, -0.2])
    route = ["west: 0.2 m", "elbow"] if kind != "standpipe" else []
    route += [
        f"down: {bed.floor + crest - end - 0.13:.3f} m",
        "elbow",
        f"{{south: {chance.uniform(0.5, 3):.2f} m, down: 30 mm}}",
    ]
    start = f"{{vessel: {bed.name}, {kind}: {crest:.3f} m}}"
    return _line(f"drain of {bed.name}", start, [*route, "elbow", "down: 0.1 m"], "sump", chance.choice([40, 50]))
