"""Labels that do not collide: each has many places to choose from, and takes the cheapest that is free.

Greedy by importance, with eviction: a label that must be shown and finds no free place takes the one held by the fewest
lesser labels, which look again; at the end each looks once more for a cheaper place. Point-feature label placement is
NP-hard; greedy choice with local improvement is a usual answer (Christensen, Marks and Shieber 1995, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .hulls import Hull, on_hull

__all__ = ["Label", "PlacedLabel", "Rect", "around", "beside", "place_labels"]

Rect = tuple[float, float, float, float]
"""Left, top, right, bottom [px]."""

_AIR = 1.5
"""Least distance of a label from pipe, marks and other labels [px]."""

_LEADER = 15.0
"""A label farther than this from what it names gets a line to it [px]."""

_BADLY, _TRIED = 12.0, 40
"""A label that stands at this cost or a higher one looks for another to change places with, among so many of its cheapest places."""

_MOST_SWAPS, _MANY = 40, 150
"""Labels that may change places; where there are many in all, none does: that would take longer than anyone waits."""
_NEAREST, _EVERY = 120, 6
"""Of the places that are free of pipe, the cheapest are looked at one by one, and of the others every so manyth."""


@dataclass(frozen=True, slots=True)
class Label:
    """A label of `width` × `height` [px] that names what is at `anchor`. `choices` are (x, y, cost) of its middle;
    `weight` its importance; `must` if it may not be left out; `led` if a line leads to it from afar, which is counted from
    `home` where that is given: the rectangle of the thing named. `over` are the vessels' outlines, by number, that it may stand
    on: it is never put on another."""

    key: str
    width: float
    height: float
    anchor: tuple[float, float]
    choices: tuple[tuple[float, float, float], ...]
    weight: float
    must: bool = False
    led: bool = True
    home: Rect | None = None
    over: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """Where a label stands, and the line that leads to it, if any."""

    label: Label
    rect: Rect
    leader: tuple[float, float, float, float] | None


@dataclass
class _Board:
    labels: Sequence[Label]
    rects: list[NDArray[np.float64]] = field(default_factory=list)
    costs: list[NDArray[np.float64]] = field(default_factory=list)
    leaders: list[NDArray[np.float64]] = field(default_factory=list)
    chosen: dict[int, int] = field(default_factory=dict)

    def hits(self, label: int) -> tuple[list[int], NDArray[np.bool_], NDArray[np.bool_]]:
        """The other placed labels; which places of `label` collide with which of them, (n, m); and where only the line that
        leads to one of the two passes under the other, (n, m)."""
        others = [other for other in self.chosen if other != label]
        if not others:
            none = np.zeros((len(self.costs[label]), 0), dtype=bool)
            return [], none, none
        rects = np.array([self.rects[other][self.chosen[other]] for other in others])
        leaders = np.array([self.leaders[other][self.chosen[other]] for other in others])
        bad = _rects_meet(self.rects[label], rects)
        return (
            others,
            bad,
            ~bad & (_segments_hit(self.rects[label], leaders) | _segments_hit(rects, self.leaders[label]).T),
        )


def place_labels(
    labels: Sequence[Label],
    segments: NDArray[np.float64],
    widths: NDArray[np.float64],
    blocks: NDArray[np.float64],
    bounds: Rect,
    hulls: Sequence[Hull] = (),
) -> list[PlacedLabel]:
    """Place labels.

    Parameters:
        labels: to be placed, with their choices.
        segments: pipe, (n, 4) of x, y, x, y [px], and their half widths (n).
        widths: see `segments`.
        blocks: marks and symbols, (m, 4) of left, top, right, bottom [px].
        bounds: of the paper [px].
        hulls: what each vessel's outline covers.

    Returns:
        The labels that found a place, in the order given. Those that must be shown find one as long as the paper has room.
    """
    board = _Board(labels)
    for label in labels:
        rects, costs = _choices(label, bounds)
        free: NDArray[np.bool_] = np.ones(len(rects), dtype=bool)
        for number, hull in enumerate(hulls):
            if number not in label.over:
                free &= ~on_hull(rects, hull)
        rects, costs = rects[free], costs[free]
        hit = np.hstack((_segments_hit(rects, segments, widths + _AIR), _rects_meet(rects, blocks, _AIR)))
        free = ~np.asarray(hit.any(axis=1), dtype=bool)
        leaders = _leaders(label, rects[free])
        crossed = _crossings(leaders, segments)
        costs = costs[free] + 1.5 * crossed
        keep = np.argsort(costs, kind="stable")
        keep = np.concatenate((keep[:_NEAREST], keep[_NEAREST::_EVERY]))
        board.rects.append(rects[free][keep])
        board.costs.append(costs[keep])
        board.leaders.append(leaders[keep])
    waiting = sorted(range(len(labels)), key=lambda i: (not labels[i].must, -labels[i].weight, len(board.rects[i]), i))
    many = len(labels) > _MANY
    evictions = len(labels) if many else 6 * len(labels)
    while waiting:
        one = waiting.pop(0)
        place, evicted = _best(board, one, may_evict=labels[one].must and evictions > 0)
        if place is None:
            continue
        for other in evicted:
            del board.chosen[other]
            waiting.append(other)
            evictions -= 1
        board.chosen[one] = place
    for _ in range(0 if many else 2):
        for one in list(board.chosen):
            place, _evicted = _best(board, one, may_evict=False)
            if place is not None and board.costs[one][place] < board.costs[one][board.chosen[one]]:
                board.chosen[one] = place
    for one in sorted(board.chosen, key=lambda one: -board.costs[one][board.chosen[one]])[: 0 if many else _MOST_SWAPS]:
        _swap(board, one)
    out = []
    for i, label in enumerate(labels):
        if i in board.chosen:
            rect, leader = board.rects[i][board.chosen[i]], board.leaders[i][board.chosen[i]]
            drawn = tuple(map(float, leader)) if not np.isnan(leader[0]) else None
            out.append(PlacedLabel(label, tuple(map(float, rect)), drawn))  # type: ignore[arg-type]
    return out


def _best(board: _Board, label: int, *, may_evict: bool) -> tuple[int | None, list[int]]:
    """The cheapest free place of a label; else the one that drives out the least, and whom."""
    costs = board.costs[label]
    if not len(costs):
        return None, []
    others, hits, passed = board.hits(label)
    taken = (hits | passed).any(axis=1)
    if not taken.all():
        return int(np.argmin(np.where(taken, np.inf, costs))), []
    if not board.labels[label].must:
        return None, []
    prices = np.array(
        [1e6 if board.labels[other].must else 100.0 * board.labels[other].weight + 50.0 for other in others]
    )
    price = costs + (hits | passed) @ prices
    place = int(np.argmin(price))
    if may_evict and price[place] < 1e6:
        return place, [other for other, bad in zip(others, (hits | passed)[place], strict=True) if bad]
    # For want of anything better its line may pass under other labels.
    taken = hits.any(axis=1)
    if not taken.all():
        return int(np.argmin(np.where(taken, np.inf, costs + 25.0 * passed.sum(axis=1)))), []
    if not may_evict:
        return None, []
    place = int(np.argmin(costs + hits @ prices))
    return place, [other for other, bad in zip(others, hits[place], strict=True) if bad]


def _swap(board: _Board, label: int) -> None:
    """Give a label that stands badly a better place that one or two others hold, where all of them together stand better then."""
    now = board.costs[label][board.chosen[label]]
    if now < _BADLY:
        return
    others, hits, passed = board.hits(label)
    in_the_way = hits | passed
    for place in np.argsort(board.costs[label], kind="stable")[:_TRIED]:
        moved = [other for other, bad in zip(others, in_the_way[place], strict=True) if bad]
        if board.costs[label][place] >= now:
            return
        if not 0 < len(moved) <= 2:
            continue
        kept = dict(board.chosen)
        before = now + sum(board.costs[other][board.chosen[other]] for other in moved)
        board.chosen[label] = int(place)
        for other in moved:
            del board.chosen[other]
        after = board.costs[label][place]
        for other in moved:
            found, _ = _best(board, other, may_evict=False)
            if found is None:
                after = math.inf
                break
            board.chosen[other] = found
            after += board.costs[other][found]
        if after < before - 1e-9:
            return
        board.chosen = kept


def _choices(label: Label, bounds: Rect) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Rectangles within the paper, and their costs; a label that must be shown may stand anywhere."""
    choices = list(label.choices)
    if label.must:
        step = max(label.height + 4.0, 14.0)
        xs = np.arange(bounds[0] + label.width / 2, bounds[2] - label.width / 2 + 1e-9, 1.5 * step)
        ys = np.arange(bounds[1] + label.height / 2, bounds[3] - label.height / 2 + 1e-9, step)
        choices += [(x, y, 20.0 + 0.35 * math.dist((x, y), label.anchor)) for x in xs for y in ys]
    table = np.array(choices, dtype=float).reshape(-1, 3)
    half = np.array([label.width / 2, label.height / 2])
    rects = np.hstack((table[:, :2] - half, table[:, :2] + half))
    inside = (
        (rects[:, 0] >= bounds[0])
        & (rects[:, 1] >= bounds[1])
        & (rects[:, 2] <= bounds[2])
        & (rects[:, 3] <= bounds[3])
    )
    return rects[inside], table[inside, 2]


def _leaders(label: Label, rects: NDArray[np.float64]) -> NDArray[np.float64]:
    """The line from a label's anchor to each of its places; NaN where it is near enough to need none."""
    x, y = label.anchor
    ends = np.column_stack((np.clip(x, rects[:, 0], rects[:, 2]), np.clip(y, rects[:, 1], rects[:, 3])))
    out = np.column_stack((np.full(len(rects), x), np.full(len(rects), y), ends))
    gap = np.hypot(ends[:, 0] - x, ends[:, 1] - y)
    far = gap > _LEADER
    if label.home is not None:
        left, top, right, bottom = label.home
        away = np.maximum(
            np.maximum(left - rects[:, 2], rects[:, 0] - right), np.maximum(top - rects[:, 3], rects[:, 1] - bottom)
        )
        far = away > 6.0
    out[~far | (not label.led)] = np.nan
    return out


def _rects_meet(a: NDArray[np.float64], b: NDArray[np.float64], air: float = _AIR) -> NDArray[np.bool_]:
    """Whether rectangles come nearer than `air`, (n, m)."""
    return (
        (a[:, None, 0] < b[None, :, 2] + air) & (b[None, :, 0] < a[:, None, 2] + air)
        & (a[:, None, 1] < b[None, :, 3] + air) & (b[None, :, 1] < a[:, None, 3] + air)
    )  # fmt: skip


def _segments_hit(
    rects: NDArray[np.float64], segments: NDArray[np.float64], widths: NDArray[np.float64] | float = 0.5
) -> NDArray[np.bool_]:
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


def _crossings(leaders: NDArray[np.float64], segments: NDArray[np.float64]) -> NDArray[np.float64]:
    """How many segments each leader crosses."""
    if not len(leaders) or not len(segments):
        return np.zeros(len(leaders))
    p, r = leaders[:, None, :2], leaders[:, None, 2:] - leaders[:, None, :2]
    q, s = segments[None, :, :2], segments[None, :, 2:] - segments[None, :, :2]
    cross = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    safe = np.where(np.abs(cross) < 1e-9, np.nan, cross)
    d = q - p
    t, u = (
        (d[..., 0] * s[..., 1] - d[..., 1] * s[..., 0]) / safe,
        (d[..., 0] * r[..., 1] - d[..., 1] * r[..., 0]) / safe,
    )
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
            angle = 2.0 * math.pi * k / 16
            c, s = math.cos(angle), math.sin(angle)
            # The label's own half size in that direction, so that its edge is `distance` away.
            reach = min(
                width / 2 / abs(c) if abs(c) > 1e-9 else math.inf, height / 2 / abs(s) if abs(s) > 1e-9 else math.inf
            )
            x, y = anchor[0] + c * (distance + reach), anchor[1] + s * (distance + reach)
            out.append((x, y, (distance - near) * 0.6 + (0.8 if c < -0.1 else 0.0) + (0.5 if s > 0.1 else 0.0)))
        distance += 7.0
    return tuple(out)


def beside(box: Rect, width: float, height: float) -> Iterable[tuple[float, float, float]]:
    """Places in and around a rectangle: above and below it, at its sides, and inside."""
    left, top, right, bottom = box
    for gap in (4.0, 12.0, 22.0):
        for share in (0.5, 0.3, 0.7, 0.1, 0.9):
            x = left + share * (right - left)
            y = top + share * (bottom - top)
            lean = abs(share - 0.5)
            yield (x, bottom + gap + height / 2, gap * 0.4 + lean)
            yield (x, top - gap - height / 2, gap * 0.4 + lean + 0.3)
            yield (right + gap + width / 2, y, gap * 0.4 + lean + 0.6)
            yield (left - gap - width / 2, y, gap * 0.4 + lean + 0.6)
    for across in (0.5, 0.35, 0.65, 0.2, 0.8):
        for down in (0.5, 0.65, 0.35, 0.8, 0.2):
            yield (
                left + across * (right - left),
                top + down * (bottom - top),
                1.2 + abs(across - 0.5) + abs(down - 0.5),
            )
