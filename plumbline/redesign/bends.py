"""Changes that take out bends: two 45s for an elbow, and a way aside and back taken out with its corners, the pipe between laid over."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from ..layout.model import Layout, Line, Part, Vector, Vessel
from ..layout.vectors import NOWHERE, add, angle_between, minus, negative, size, unit
from ..parts.model import Side
from ..parts.passing import passage
from ..parts.sizes import outside_of
from ..upkeep.access import brim
from .change import CannotChange, Change, Edit, changed
from .place import room_for
from .prices import Prices
from .rows import in_rows
from .sheet import plain
from .ways import bodies, hits

__all__ = ["BENDS", "NEAR", "TURNS", "WALKS", "softer", "straight_in", "straighter"]

BENDS = ("two 45s", "straighten", "straight over the rim", "straight through the wall", "hang anew")
"""The kinds of change that move pipe."""

WALKS = (*BENDS, "shorter standpipe", "lay afresh")
"""Those that make a line's walk another."""

NEAR = math.radians(3.0)
"""Pipe that is laid over turns so far at most where it stood, so that no fitting beside it has to be another."""

SAME = 1e-9

FALLS = 0.5
"""Water that comes straight in falls no further than this onto what stands there [m]: more splashes over (common practice, no source)."""

SIDES: tuple[Side, Side] = ("from", "to")
TURNS = ("elbow", "sweep", "bend 45", "bend 22.5", "bend")


def softer(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For each tight elbow two 45s, where the runs beside it are long enough and some rod at hand takes 45° but not the elbow."""
    rods = [rod for rod in layout.rods if not rod.cord]
    for line in layout.lines.values():
        for part in line.parts:
            helps = any(part.turn / 2.0 - NEAR <= rod.bend < part.turn - NEAR for rod in rods)
            if (
                part.kind == "elbow"
                and helps
                and not part.stated
                and not part.id
                and room_for(line, part.step, "two 45s")
            ):
                words = f"put two 45° bends in place of the elbow at step {part.step} of '{line.name}'"
                edit, note = (
                    Edit("swap", line.name, part.step, ("bend 45", "bend 45")),
                    "two 45° bends for the elbow",
                )
                yield prices.change("two 45s", line.name, part.step, part.pipe, words, note, edit)


def straighter(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For each two runs of a line that go opposite ways: the shorter taken out with its corners and the longer made so much shorter, or both
    taken out where they are as long. The pipe between them is laid over by as much: not where a tee, apparatus or what it goes `past` holds it,
    a vessel is in its way, or a line would come through a vessel's wall that comes over its rim."""
    for line in layout.lines.values():
        steps = Counter(part.step for part in line.parts)
        runs = [n for n, part in enumerate(line.parts) if part.kind == "run" and part.step and steps[part.step] == 1]
        for first, second in combinations(runs, 2):
            try:
                change = _straight(layout, line, first, second, prices)
            except CannotChange:
                continue
            if change is not None:
                yield change


def _straight(layout: Layout, line: Line, first: int, second: int, prices: Prices) -> Change | None:
    """The runs of these numbers held against each other."""
    parts = line.parts
    one, other = _way(parts[first]), _way(parts[second])
    left = add(one, other)
    if _apart(one, negative(other)) > NEAR or any(_stays(part) for part in parts[first : second + 1]):
        return None
    laid: dict[int, Vector] = {}
    out = [first, second]
    if size(left) > NEAR * (size(one) + size(other)):
        longer = max(out, key=lambda number: parts[number].length)
        out.remove(longer)
        laid[longer] = left
    elif size(left) > SAME:
        # What both fall between them goes on with the longest run there.
        inner = [n for n in range(first + 1, second) if parts[n].kind == "run"]
        longest = max(inner, key=lambda n: parts[n].length, default=None)
        if longest is None:
            return None
        laid[longest] = add(_way(parts[longest]), left)
    if any(_apart(_way(parts[number]), way) > NEAR for number, way in laid.items()):
        return None
    corners = [n for number in out for n in (_corners(parts, number) or (-1,))]
    if -1 in corners or len({*corners}) < len(corners):
        return None
    edits = [Edit("swap", line.name, parts[n].step) for n in sorted({*out, *corners})]
    edits += [Edit("lay", line.name, parts[n].step, (), size(way), way) for n, way in laid.items()]
    if not _free(layout, line, parts[first + 1 : second], minus(laid.get(first, NOWHERE), one)):
        return None
    saved = parts[first].length + parts[second].length - sum(size(laid[n]) for n in laid if n in (first, second))
    what = " and ".join(f"step {parts[n].step}" for n in sorted(out))
    words = (
        f"lay '{line.name}' straight: take out {what} with {len(corners)} {'corner' if len(corners) == 1 else 'corners'}"
        f"{_shorter(line, laid, (first, second))}, {saved:.2f} m of pipe less"
    )
    change = prices.change(
        "straighten", line.name, parts[out[0]].step, parts[out[0]].pipe, words, "laid straight", *edits
    )
    after = changed(layout, in_rows(layout, [change]))
    return change if _comes_in_as_before(layout, after, line.name) else None


def straight_in(layout: Layout, prices: Prices) -> Iterator[Change]:
    """For each line that comes down into a vessel by a last corner: that corner and the pipe down taken off, so that it goes straight in; and
    with it a rise before, over the rim, and its corners. Over the rim, or else through the wall by a bulkhead, for which there is to be room
    above the water and under the rim."""
    for line in layout.lines.values():
        vessel = layout.vessels.get(line.end.name or "") if line.end.kind == line.start.kind == "vessel" else None
        if vessel is None or vessel.rim is None or line.end.port != "open" or len(line.parts) < 3:
            continue
        made = (_off(line, vessel, rise, prices) for rise in (len(line.parts) - 5, None))
        yield from (change for change in made if change is not None)


def _off(line: Line, vessel: Vessel, rise: int | None, prices: Prices) -> Change | None:
    """The last corner of a line and the pipe down taken off, and a rise of this number with its corners."""
    parts, last = line.parts, len(line.parts) - 1
    come, corner, down = parts[last - 2 :]
    level, wide = come.kind == "run" and abs(come.heading_out[2]) <= math.sin(NEAR), outside_of(down.pipe)
    if not level or down.kind != "run" or down.heading_in[2] > math.sin(NEAR) - 1.0 or not _corner(corner):
        return None
    out, height = [last - 1, last], down.start[2]
    if rise is not None:
        corners = _corners(parts, rise)
        if corners is None or len(corners) < 2 or parts[rise].heading_in[2] < 1.0 - math.sin(NEAR):
            return None
        out, height = [*out, rise, *corners], height - parts[rise].length
    over = height - wide / 2.0 >= brim(vessel)
    # A bulkhead's flange is about twice as wide as its pipe (common practice, no source).
    inside = vessel.level + wide - SAME <= height <= brim(vessel) - wide + SAME
    if not (over or inside) or height > vessel.level + FALLS or any(map(_stays, parts[min(out) :])):
        return None
    edits = [
        Edit("swap", line.name, parts[n].step, ("bulkhead",) if n == last and not over else ()) for n in sorted(out)
    ]
    count = sum(not parts[n].is_pipe for n in out)
    saved = sum(parts[n].length for n in out)
    how = "over its rim" if over else "through its wall by a bulkhead"
    words = (
        f"bring '{line.name}' straight into '{vessel.name}', {how}: from step {parts[min(out)].step} on take out {count} "
        f"{'corner' if count == 1 else 'corners'}, {saved:.2f} m of pipe less"
    )
    kind = "straight over the rim" if over else "straight through the wall"
    return prices.change(kind, line.name, down.step, down.pipe, words, "straight in", *edits)


def _shorter(line: Line, laid: dict[int, Vector], ends: tuple[int, int]) -> str:
    return "".join(f", make step {line.parts[n].step} {size(way):.2f} m" for n, way in laid.items() if n in ends)


def _way(part: Part) -> Vector:
    return minus(part.end, part.start)


def _apart(a: Vector, b: Vector) -> float:
    return angle_between(unit(a), unit(b))


def _stays(part: Part) -> bool:
    """Whether a part cannot be laid over: something joins it, holds it, or hides it, or it stands on its own feet."""
    return part.kind in ("tee", "wye") or not plain(part) or bool(part.around) or "past" in part.details


def _corners(parts: tuple[Part, ...], number: int) -> tuple[int, ...] | None:
    """The corners that go with a run: both, where the runs before and after go the same way; else the one behind, where that before makes the
    turn between them. None where it cannot go."""
    if number < 2 or number > len(parts) - 3:
        return None
    before, first, second, after = parts[number - 2], parts[number - 1], parts[number + 1], parts[number + 2]
    if not (before.kind == after.kind == "run" and _corner(first) and _corner(second)):
        return None
    turn = angle_between(before.heading_out, after.heading_in)
    if turn <= NEAR:
        return number - 1, number + 1
    return (number + 1,) if abs(turn - first.turn) <= NEAR else None


def _corner(part: Part) -> bool:
    return part.kind in TURNS and part.turn > NEAR and part.id is None and part.loss is None


def _free(layout: Layout, line: Line, parts: tuple[Part, ...], by: Vector) -> bool:
    """Whether no vessel whose place the file gives is in the way of pipe that is laid over."""
    blocks = bodies(layout, [end.name or "" for end in (line.start, line.end)])
    pipe = (part for part in parts if part.is_pipe)
    return not any(
        hits(add(part.start, by), add(part.end, by), block, part.pipe.bore) for part in pipe for block in blocks
    )


def _comes_in_as_before(layout: Layout, after: Layout, name: str) -> bool:
    """Whether a line gets into its vessels as it did, and where it comes over a rim no further off."""
    return all(
        _how(after, name, side)[0] == _how(layout, name, side)[0]
        and _how(after, name, side)[1] <= _how(layout, name, side)[1] + 0.01
        for side in SIDES
    )


def _how(layout: Layout, name: str, side: Side) -> tuple[str, float]:
    """How a line gets into its vessel, and how far from its end in plan it is where it first comes up to the rim [m]."""
    line = layout.lines[name]
    found, end = passage(layout, line, side), line.start if side == "from" else line.end
    if found is None or found.how != "rim":
        return "" if found is None else found.how, 0.0
    rim = brim(layout.vessels[found.vessel])
    high = (part.end if part.end[2] >= part.start[2] else part.start for part in line.parts if part.is_pipe)
    return "rim", min((math.dist(place[:2], end.place[:2]) for place in high if place[2] >= rim), default=0.0)
