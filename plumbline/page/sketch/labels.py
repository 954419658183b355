"""Labels that do not collide: each has many places to choose from, and takes the cheapest that is free.

Greedy by importance, with eviction: a label that must be shown and finds no free place takes the one held by the fewest
lesser labels, which look again; at the end each looks once more for a cheaper place. Point-feature label placement is
NP-hard; greedy choice with local improvement is a usual answer (Christensen, Marks and Shieber 1995, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .hulls import Hull, on_hull

__all__ = ["Label", "PlacedLabel", "Rect", "around", "beside", "place_labels"]

Rect = tuple[float, float, float, float]
"""Left, top, right, bottom [px]."""

_Table = NDArray[np.float64]

_AIR = 1.5
"""Least distance of a label from pipe, marks and other labels [px]."""

_LEADER, _BESIDE = 15.0, 8.0
"""A label farther than this from what it names gets a line to it: from a place, and from a shape [px]."""

_BADLY, _TRIED = 12.0, 40
"""A label that stands at this cost or a higher one looks for another to change places with, among so many of its cheapest places."""

_MOST_SWAPS, _MANY = 40, 150
"""Labels that may change places; where there are many in all, none does: that would take longer than anyone waits."""
_NEAREST, _EVERY = 120, 6
"""Of the places that are free of pipe, the cheapest are looked at one by one, and of the others every so manyth."""


@dataclass(frozen=True, slots=True)
class Label:
    """A label of `width` × `height` [px] that names what is at `anchor`, in `lines`. Its `look` is "vessel", "pump", "numbers", "line", "part" or
    "level"; `whole` is the name uncut. `choices` are (x, y, cost) of its middle; `weight` its importance; `must` if it may not be left
    out; `led` if a line leads to it from afar, which is counted from `home` where that is given: the shape of the thing named. `over`
    are the vessels' outlines, by number, that it may stand on: it is never put on another. `findings` are the numbers from 1 of those
    whose badges it holds, side by side."""

    key: str
    lines: tuple[str, ...]
    look: str
    whole: str
    width: float
    height: float
    anchor: tuple[float, float]
    choices: tuple[tuple[float, float, float], ...]
    weight: float
    must: bool = False
    led: bool = True
    home: Hull | None = None
    over: frozenset[int] = frozenset()
    findings: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """Where a label stands, and the line that leads to it, if any."""

    label: Label
    rect: Rect
    leader: tuple[float, float, float, float] | None


class _Hits(NamedTuple):
    """The `others` that are placed, and which places of a label meet which of them, (n, m): hard, or `any` way, where only the line that
    leads to one of the two passes under the other too."""

    others: NDArray[np.intp]
    hard: NDArray[np.bool_]
    any: NDArray[np.bool_]


@dataclass
class _Board:
    """By label: its places (n, 4), what each costs (n), the line that leads there (n, 4), and which is chosen."""

    labels: Sequence[Label]
    rects: list[_Table] = field(default_factory=list)
    costs: list[_Table] = field(default_factory=list)
    leaders: list[_Table] = field(default_factory=list)
    chosen: dict[int, int] = field(default_factory=dict)

    def cost(self, label: int) -> float:
        return float(self.costs[label][self.chosen[label]])

    def hits(self, label: int) -> _Hits:
        others = [other for other in self.chosen if other != label]
        rects = np.array([self.rects[other][self.chosen[other]] for other in others]).reshape(-1, 4)
        leaders = np.array([self.leaders[other][self.chosen[other]] for other in others]).reshape(-1, 4)
        hard = _rects_meet(self.rects[label], rects)
        under = _segments_hit(self.rects[label], leaders) | _segments_hit(rects, self.leaders[label]).T
        return _Hits(np.array(others, dtype=np.intp), hard, hard | under)


def place_labels(
    labels: Sequence[Label], segments: _Table, widths: _Table, blocks: _Table, bounds: Rect, hulls: Sequence[Hull] = ()
) -> list[PlacedLabel]:
    """The labels that found a place within the `bounds` of the paper, in the order given; those that must be shown find one as long as it
    has room. They keep off pipe, `segments` (n, 4) of x, y, x, y with half `widths` (n), off marks and symbols, `blocks` (m, 4), and
    off the vessels' `hulls`, all in px."""
    board = _Board(labels)
    for label in labels:
        _offer(board, label, segments, widths, blocks, bounds, hulls)
    _fill(board, evictions=len(labels) * (1 if len(labels) > _MANY else 6))
    if len(labels) <= _MANY:
        _improve(board)
    out = []
    for i, label in enumerate(labels):
        if i in board.chosen:
            left, top, right, bottom = map(float, board.rects[i][board.chosen[i]])
            a, b, c, d = map(float, board.leaders[i][board.chosen[i]])
            out.append(PlacedLabel(label, (left, top, right, bottom), None if math.isnan(a) else (a, b, c, d)))
    return out


def _offer(
    board: _Board, label: Label, segments: _Table, widths: _Table, blocks: _Table, bounds: Rect, hulls: Sequence[Hull]
) -> None:
    """Put the places of a label on the board that are free of other vessels, pipe and marks."""
    rects, costs = _choices(label, bounds)
    free: NDArray[np.bool_] = np.ones(len(rects), dtype=bool)
    for number, hull in enumerate(hulls):
        if number not in label.over:
            free &= ~on_hull(rects, hull)
    rects, costs = rects[free], costs[free]
    hit = np.hstack((_segments_hit(rects, segments, widths + _AIR), _rects_meet(rects, blocks)))
    free = ~np.asarray(hit.any(axis=1), dtype=bool)
    leaders = _leaders(label, rects[free])
    costs = costs[free] + 1.5 * _crossings(leaders, segments)
    keep = np.argsort(costs, kind="stable")
    keep = np.concatenate((keep[:_NEAREST], keep[_NEAREST::_EVERY]))
    board.rects.append(rects[free][keep])
    board.costs.append(costs[keep])
    board.leaders.append(leaders[keep])


def _fill(board: _Board, *, evictions: int) -> None:
    """Give each label a place, those that must be shown and weigh most before the others."""
    labels = board.labels
    waiting = sorted(range(len(labels)), key=lambda i: (not labels[i].must, -labels[i].weight, len(board.rects[i]), i))
    while waiting:
        one = waiting.pop(0)
        place, evicted = _best(board, one, may_evict=labels[one].must and evictions > 0)
        if place is None:
            continue
        for other in evicted:
            del board.chosen[other]
        waiting += evicted
        evictions -= len(evicted)
        board.chosen[one] = place


def _improve(board: _Board) -> None:
    for one in [*board.chosen, *board.chosen]:
        place, _ = _best(board, one, may_evict=False)
        if place is not None and board.costs[one][place] < board.cost(one):
            board.chosen[one] = place
    for one in sorted(board.chosen, key=lambda one: -board.cost(one))[:_MOST_SWAPS]:
        _swap(board, one)


def _best(board: _Board, label: int, *, may_evict: bool) -> tuple[int | None, list[int]]:
    """The cheapest free place of a label; else the one that drives out the least, and whom."""
    costs = board.costs[label]
    if not len(costs):
        return None, []
    hits = board.hits(label)
    taken = hits.any.any(axis=1)
    if not taken.all():
        return int(np.argmin(np.where(taken, np.inf, costs))), []
    if not board.labels[label].must:
        return None, []
    met = [board.labels[other] for other in hits.others]
    prices = np.array([1e6 if other.must else 100.0 * other.weight + 50.0 for other in met])
    price = costs + hits.any @ prices
    place = int(np.argmin(price))
    if may_evict and price[place] < 1e6:
        return place, hits.others[hits.any[place]].tolist()
    # For want of anything better its line may pass under other labels.
    taken = hits.hard.any(axis=1)
    if not taken.all():
        return int(np.argmin(np.where(taken, np.inf, costs + 25.0 * hits.any.sum(axis=1)))), []
    if not may_evict:
        return None, []
    place = int(np.argmin(costs + hits.hard @ prices))
    return place, hits.others[hits.hard[place]].tolist()


def _swap(board: _Board, label: int) -> None:
    """Give a label that stands badly a better place that one or two others hold, where all of them together stand better then."""
    now = board.cost(label)
    if now < _BADLY:
        return
    hits = board.hits(label)
    for place in np.argsort(board.costs[label], kind="stable")[:_TRIED]:
        if board.costs[label][place] >= now:
            return
        moved = hits.others[hits.any[place]].tolist()
        if not 0 < len(moved) <= 2:
            continue
        kept = dict(board.chosen)
        before = now + sum(board.cost(other) for other in moved)
        for other in moved:
            del board.chosen[other]
        board.chosen[label] = int(place)
        after = board.cost(label)
        for other in moved:
            found, _ = _best(board, other, may_evict=False)
            if found is None:
                after = math.inf
                break
            board.chosen[other] = found
            after += board.cost(other)
        if after < before - 1e-9:
            return
        board.chosen = kept


def _choices(label: Label, bounds: Rect) -> tuple[_Table, _Table]:
    """Rectangles within the paper, and their costs; a label that must be shown may stand anywhere."""
    choices = list(label.choices)
    half = np.array([label.width / 2, label.height / 2])
    if label.must:
        step = max(label.height + 4.0, 14.0)
        xs = np.arange(bounds[0] + half[0], bounds[2] - half[0] + 1e-9, 1.5 * step)
        ys = np.arange(bounds[1] + half[1], bounds[3] - half[1] + 1e-9, step)
        choices += [(x, y, 20.0 + 0.35 * math.dist((x, y), label.anchor)) for x in xs for y in ys]
    table = np.array(choices, dtype=float).reshape(-1, 3)
    rects = np.hstack((table[:, :2] - half, table[:, :2] + half))
    inside = (rects[:, :2] >= bounds[:2]).all(axis=1) & (rects[:, 2:] <= bounds[2:]).all(axis=1)
    return rects[inside], table[inside, 2]


def _leaders(label: Label, rects: _Table) -> _Table:
    """The line from a label's anchor to each of its places; NaN where it is near enough to need none."""
    anchor = np.array(label.anchor)
    ends = np.clip(anchor, rects[:, :2], rects[:, 2:])
    out = np.hstack((np.broadcast_to(anchor, ends.shape), ends))
    far = np.hypot(*(ends - anchor).T) > _LEADER
    if label.home is not None:
        far = ~on_hull(rects + _BESIDE * np.array([-1.0, -1.0, 1.0, 1.0]), label.home)
    out[~far | (not label.led)] = np.nan
    return out


def _rects_meet(a: _Table, b: _Table) -> NDArray[np.bool_]:
    """Whether rectangles come nearer than `_AIR`, (n, m)."""
    one, other = a[:, None, :], b[None, :, :]
    met = (one[..., :2] < other[..., 2:] + _AIR) & (other[..., :2] < one[..., 2:] + _AIR)
    return np.asarray(met.all(axis=-1), dtype=bool)


def _segments_hit(rects: _Table, segments: _Table, widths: _Table | float = 0.5) -> NDArray[np.bool_]:
    """Whether segments of a half width touch rectangles, (n, m): the slab method. NaN segments touch nothing."""
    pad = np.broadcast_to(np.asarray(widths), (len(segments),))[None, :]
    low = np.zeros((len(rects), len(segments)))
    high = np.ones_like(low)
    inside = np.ones_like(low, dtype=bool)
    for axis in (0, 1):
        start, way = segments[None, :, axis], segments[None, :, axis + 2] - segments[None, :, axis]
        near, far = rects[:, None, axis] - pad, rects[:, None, axis + 2] + pad
        flat = np.abs(way) < 1e-9
        safe = np.where(flat, 1.0, way)
        t1, t2 = (near - start) / safe, (far - start) / safe
        low = np.where(flat, low, np.maximum(low, np.minimum(t1, t2)))
        high = np.where(flat, high, np.minimum(high, np.maximum(t1, t2)))
        inside &= ~flat | ((start >= near) & (start <= far))
    hit: NDArray[np.bool_] = inside & (low <= high) & ~np.isnan(segments[None, :, 0])
    return hit


def _crossings(leaders: _Table, segments: _Table) -> _Table:
    """How many segments each leader crosses."""

    def cross(a: _Table, b: _Table) -> _Table:
        return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])

    r, s = leaders[:, None, 2:] - leaders[:, None, :2], segments[None, :, 2:] - segments[None, :, :2]
    d = segments[None, :, :2] - leaders[:, None, :2]
    whole = cross(r, s)
    safe = np.where(np.abs(whole) < 1e-9, np.nan, whole)
    t, u = cross(d, s) / safe, cross(d, r) / safe
    with np.errstate(invalid="ignore"):
        met = (t > 0.05) & (t < 0.99) & (u > 0.0) & (u < 1.0)
    return np.asarray(met.sum(axis=1), dtype=float)


def around(
    anchor: tuple[float, float], width: float, height: float, near: float, *, far: float = 70.0
) -> tuple[tuple[float, float, float], ...]:
    """Places around a point, the nearest cheapest; right of it and above it before left and below."""
    out = []
    distance = near
    while distance <= far:
        for k in range(16):
            c, s = math.cos(2.0 * math.pi * k / 16), math.sin(2.0 * math.pi * k / 16)
            # The label's own half size in that direction, so that its edge is `distance` away.
            reach = min(size / 2 / abs(way) if abs(way) > 1e-9 else math.inf for size, way in ((width, c), (height, s)))
            x, y = anchor[0] + c * (distance + reach), anchor[1] + s * (distance + reach)
            out.append((x, y, (distance - near) * 0.6 + (0.8 if c < -0.1 else 0.0) + (0.5 if s > 0.1 else 0.0)))
        distance += 7.0
    return tuple(out)


def beside(box: Rect, width: float, height: float) -> Iterable[tuple[float, float, float]]:
    """Places in and around a rectangle: above and below it, at its sides, and inside."""
    left, top, right, bottom = box
    for gap in (4.0, 12.0, 22.0):
        for share in (0.5, 0.3, 0.7, 0.1, 0.9):
            x, y = left + share * (right - left), top + share * (bottom - top)
            cost = gap * 0.4 + abs(share - 0.5)
            yield (x, bottom + gap + height / 2, cost)
            yield (x, top - gap - height / 2, cost + 0.3)
            yield (right + gap + width / 2, y, cost + 0.6)
            yield (left - gap - width / 2, y, cost + 0.6)
    for across in (0.5, 0.35, 0.65, 0.2, 0.8):
        for down in (0.5, 0.65, 0.35, 0.8, 0.2):
            lean = 1.2 + abs(across - 0.5) + abs(down - 0.5)
            yield (left + across * (right - left), top + down * (bottom - top), lean)
