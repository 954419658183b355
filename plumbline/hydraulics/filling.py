"""Can the pipe fill at all: a pump that is started on dry pipe lifts water no higher than its shut-off head.

A pipe that rises above that and falls again would run as a siphon once it is full, and the steady equations are content
with it; but no water ever gets over the top. So the water is followed from every source, in static heads: from a vessel no
higher than its level, from a pump no higher than what comes to it and its shut-off head.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterator

from ..catalogued import finding
from ..findings import Finding
from ..layout.model import Layout, Stretch
from ..units import show
from .fittings import part_k
from .flows import Flows

__all__ = ["judge_filling", "static_reach"]


def static_reach(layout: Layout) -> dict[str, float]:
    """Give the greatest static head that dry pipe can be filled with, by point ("LINE.from", a tee's id, "PUMP.out", …) [m].

    The widest way in a graph: each stretch lets through what reaches above its highest place, check valves only along the
    walk; a pump adds its shut-off head. Points that nothing reaches are left out.

    Parameters:
        layout: read and walked.
    """
    ways: dict[str, list[tuple[str, float]]] = defaultdict(list)
    best: dict[str, float] = {}
    queue: list[tuple[float, str]] = []

    def reach(point: str, head: float) -> None:
        if head > best.get(point, float("-inf")):
            best[point] = head
            heapq.heappush(queue, (-head, point))

    for stretch in layout.stretches:
        if any(part.opening <= 0.0 for part in stretch.parts):
            continue
        top = highest(stretch)
        ways[stretch.tail].append((stretch.head, top))
        if not any(part_k(part).one_way for part in stretch.parts):
            ways[stretch.head].append((stretch.tail, top))
    lifts = {f"{pump.name}.in": (f"{pump.name}.out", pump.curve[0][1]) for pump in layout.pumps.values()}
    for pump in layout.pumps.values():
        if pump.vessel is not None:
            reach(f"{pump.name}.out", layout.vessels[pump.vessel].level + pump.curve[0][1])
    for point, end in layout.ends.items():
        if end.kind == "draw" and end.draw < 0.0:
            reach(point, float("inf"))
        elif end.kind == "vessel" and (end.submerged or end.port == "standpipe"):
            reach(point, end.place[2] if end.port == "standpipe" else layout.vessels[end.name or ""].level)
    while queue:
        head, point = heapq.heappop(queue)
        if -head < best[point]:
            continue
        if point in lifts:
            out, lift = lifts[point]
            reach(out, -head + lift)
        for other, top in ways[point]:
            if top <= -head:
                reach(other, -head)
    return best


def highest(stretch: Stretch) -> float:
    """The highest place of a stretch [m]; for one without parts, as low as can be."""
    return max((max(part.start[2], part.end[2]) for part in stretch.parts), default=float("-inf"))


def judge_filling(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Say where pipe rises higher than it can ever be filled, and would carry water if it were full; once a line.

    Parameters:
        layout: read and walked.
        flows: its steady flows.
    """
    reached = static_reach(layout)
    told: set[str] = set()
    for stretch in layout.stretches:
        flow = flows.stretches[stretch.id].flow
        still = abs(flow) < 1e-9
        if stretch.line in told or (still and stretch.id not in flows.doubtful):
            continue
        upstream = {stretch.tail, stretch.head} if still else {stretch.tail if flow > 0.0 else stretch.head}
        comes = max((reached[point] for point in upstream & reached.keys()), default=None)
        if comes is None or highest(stretch) <= comes:
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
