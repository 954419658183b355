"""Can the pipe fill at all: a pump that is started on dry pipe lifts water no higher than its shut-off head.

A pipe that rises above that and falls again would run as a siphon once it is full, and the steady equations are content
with it; but no water ever gets over the top. So the water is followed from every source, in static heads: from a vessel no
higher than its level, from a pump no higher than what comes to it and its shut-off head. A suction line that rises above
the water does not fill by itself either: it is filled by hand, and a foot valve at its end keeps it so.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping

from ..catalogued import finding
from ..findings import Finding
from ..layout.model import Layout, Stretch
from ..units import show
from .fittings import is_one_way
from .flows import Flows
from .risers import curve_of
from .stretches import pipes_joined, pushed, sill

__all__ = ["judge_filling", "static_reach", "suctions", "to_prime"]


LEVEL = 1e-6
"""Heights nearer than this [m] are one height, added up in another order."""


def static_reach(layout: Layout, levels: Mapping[str, float | None] | None = None) -> dict[str, float]:
    """Give the greatest static head that dry pipe can be filled with, by point ("LINE.from", a tee's id, "PUMP.out", …) [m].

    The widest way in a graph: each stretch lets through what reaches above its highest place, check valves only along the
    walk; a pump adds its shut-off head, and its suction line is taken as filled by hand. Points that nothing reaches are left out.

    Parameters:
        levels: how high the water comes to stand in each vessel [m]; where it is no lower than at the start, that counts.
    """
    ways: dict[str, list[tuple[str, float]]] = defaultdict(list)
    best: dict[str, float] = {}
    queue: list[tuple[float, str]] = []

    def reach(point: str, head: float) -> None:
        if head > best.get(point, float("-inf")):
            best[point] = head
            heapq.heappush(queue, (-head, point))

    primed = {line for lines in suctions(layout).values() for line in lines}
    for stretch in layout.stretches:
        if any(part.opening <= 0.0 for part in stretch.parts):
            continue
        top = float("-inf") if stretch.line in primed else sill(stretch)
        ways[stretch.tail].append((stretch.head, top))
        if not any(is_one_way(part) for part in stretch.parts):
            ways[stretch.head].append((stretch.tail, top))
    highest = {name: curve_of(layout, pump)[0][1] for name, pump in layout.pumps.items()}
    lifts = {f"{name}.in": (f"{name}.out", head) for name, head in highest.items()}
    for pump in layout.pumps.values():
        if pump.vessel is not None:
            reach(f"{pump.name}.out", layout.vessels[pump.vessel].level + highest[pump.name])
    for point, end in layout.ends.items():
        if end.kind == "draw" and end.draw < 0.0:
            reach(point, float("inf"))
        elif end.kind == "vessel" and (end.submerged or end.port == "standpipe"):
            stands = max(layout.vessels[end.name or ""].level, (levels or {}).get(end.name or "") or -math.inf)
            reach(point, end.place[2] if end.port == "standpipe" else stands)
    while queue:
        head, point = heapq.heappop(queue)
        if -head < best[point]:
            continue
        if point in lifts:
            out, lift = lifts[point]
            reach(out, -head + lift)
        for other, top in ways[point]:
            if top <= -head + LEVEL:
                reach(other, -head)
    return best


def highest(stretch: Stretch) -> float:
    """The highest place of a stretch [m]; for one without parts, as low as can be."""
    return max((max(part.start[2], part.end[2]) for part in stretch.parts), default=float("-inf"))


def suctions(layout: Layout) -> dict[str, tuple[str, ...]]:
    """Give the lines that lead to each pump with a suction line, from vessels and not from another pump, by its name."""
    groups, out = pipes_joined(layout), pushed(layout)
    into = {line.end.name or "": groups[name] for name, line in layout.lines.items() if line.end.kind == "pump"}
    return {
        pump: tuple(name for name in layout.lines if groups[name] == group)
        for pump, group in into.items()
        if group not in out
    }


def judge_filling(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say where pipe rises higher than it can ever be filled, and would carry water if it were full, once a line; and which suction lines
    are filled by hand.
    """
    yield from _judge_priming(layout, flows)
    reached = static_reach(layout, {name: got.level for name, got in flows.vessels.items()})
    told = {line for lines in suctions(layout).values() for line in lines}
    for stretch in layout.stretches:
        flow = flows.stretches[stretch.id].flow
        still = abs(flow) < 1e-9
        if stretch.line in told or (still and stretch.id not in flows.doubtful):
            continue
        upstream = {stretch.tail, stretch.head} if still else {stretch.tail if flow > 0.0 else stretch.head}
        comes = max((reached[point] for point in upstream & reached.keys()), default=None)
        if comes is None or sill(stretch) <= comes + LEVEL:
            continue
        told.add(stretch.line)
        top = max(stretch.parts, key=lambda part: max(part.start[2], part.end[2]))
        units = layout.units
        yield finding(
            "cannot-fill",
            f"Line '{stretch.line}' rises to {show(highest(stretch), 'length', units)} at step {top.step}, and water started "
            f"from dry comes up to {show(comes, 'length', units)} at most: it never gets over{'' if still else ', and what is said to flow beyond does not'}.",
            f"lower the pipe at step {top.step} of '{stretch.line}' by "
            f"{show(highest(stretch) - comes + 0.1, 'length', units)}, or a pump with more head",
            line=stretch.line,
            step=top.step,
        )


def to_prime(layout: Layout, flows: Flows) -> Iterator[tuple[str, tuple[str, ...], Stretch, str, float]]:
    """Suction lines that rise above the water that they draw, once a pump: the pump, its lines, the highest stretch, the vessel with the
    lowest water and the rise above that [m]."""
    for pump, lines in suctions(layout).items():
        ends = [
            end for name in lines for end in (layout.lines[name].start, layout.lines[name].end) if end.kind == "vessel"
        ]
        stands = {end.name or "": flows.stands(layout.vessels[end.name or ""]) for end in ends}
        if not stands:
            continue
        lowest = min(stands, key=lambda name: stands[name])
        stretch = max((one for one in layout.stretches if one.line in lines), key=highest)
        rise = highest(stretch) - stands[lowest]
        if rise > layout.limits["hump height"]:
            yield pump, lines, stretch, lowest, rise


def _judge_priming(layout: Layout, flows: Flows) -> Iterator[Finding]:
    for pump, lines, stretch, lowest, rise in to_prime(layout, flows):
        held = any(is_one_way(part) for name in lines for part in layout.lines[name].parts)
        cure = f"fill '{stretch.line}' by hand before the first start and whenever it was opened"
        if not held:
            cure += f", and put a foot valve at its end in '{lowest}', which keeps it full; or take a pump that primes itself"
        yield finding(
            "wants-priming",
            f"Line '{stretch.line}' rises {show(rise, 'length', layout.units)} above the water of '{lowest}' on its way to pump "
            f"'{pump}': it does not fill by itself, and "
            + ("its foot or check valve has to keep it full." if held else "runs empty whenever the pump stops."),
            cure,
            line=stretch.line,
            level="advice" if held else "warn",
            case="milder" if held else "usual",
            pump=pump,
        )
