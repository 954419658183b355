"""What the water asks for where it enters a link: weir, orifice, and places that stand open to the air; all links at once.

A way out of a vessel is one law: the head that a flow needs there is the largest that its stages ask, so it rises with the
flow and is continuous, and any number of ways out share one level. The stages of a link are

    h = height + mouth(Q) + square·Q² + linear·Q + friction of the runs up to there

with `mouth` the head over a crest or over the axis of a hole in a wall. The last stage, the full pipe's, is the link's own law.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..water import GRAVITY
from .weirs import WEIRS, Shape, weir_head

__all__ = ["HOLE_CD", "MOUTHS", "Mouth", "Stages", "mouth_head", "mouth_heads", "no_stages", "stage_heads"]

FloatArray = NDArray[np.float64]

Mouth = Literal["plain", "crest", "wall", "overflow", "siphon"] | Shape
MOUTHS: tuple[Mouth, ...] = ("plain", "crest", "wall", "overflow", "siphon", *WEIRS)
"""plain: no head of its own. crest: a standpipe or a hole in a floor. wall: a pipe's mouth in a wall. overflow: a hole in a
wall whose pipe falls away. siphon: a crest that the full pipe draws from once it is under water. Weirs: see `weirs`; their
`bore` and `k` are its `wide` and `deep`."""

HOLE_CD = 0.62
"""Discharge coefficient of a sharp round hole (Unwin, Encyclopædia Britannica, 11th ed., "Hydraulics")."""

TRICKLE = 1e-3
"""Under this share of √(g D⁵) a mouth's head goes with the flow itself, so that its slope at rest has an end."""


@dataclass(frozen=True)
class Stages:
    """k stages. `link` (k,) each one's link; `back` (k,) True where it is of the water that enters at the link's head end;
    `height` (k,) [m]; `mouth` (k,) a number in `MOUTHS`, with its `bore` (k,) [m] and entrance coefficient `k` (k,), below
    nothing for a crest's usual one;
    `square` (k,) [s²/m⁵] and `linear` (k,) [s/m²]; the friction of the runs `first` ≤ r < `last` (k,) is counted too."""

    link: NDArray[np.int64]
    back: NDArray[np.bool_]
    height: FloatArray
    mouth: NDArray[np.int64]
    bore: FloatArray
    k: FloatArray
    square: FloatArray
    linear: FloatArray
    first: NDArray[np.int64]
    last: NDArray[np.int64]

    def only(self, mask: NDArray[np.bool_]) -> Stages:
        """Those in a (k,) mask."""
        return Stages(*(getattr(self, one.name)[mask] for one in fields(self)))


def no_stages() -> Stages:
    """No stage at all."""
    whole, real, no = np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0, dtype=bool)
    return Stages(whole, no, real, whole, real, real, real, real, whole, whole)


def stage_heads(
    stages: Stages, flow: FloatArray, friction: FloatArray, slopes: FloatArray, gravity: float
) -> tuple[FloatArray, FloatArray]:
    """Give the head that each stage asks for, and its derivative.

    Parameters:
        flow: (k,) into the link [m³/s]; below nothing counts as nothing.
        friction, slopes: (r + 1,) the friction of the runs added up from the first [m], and its derivative [s/m²].
        gravity: [m/s²].

    Returns:
        (k,) heads [m], (k,) [s/m²].
    """
    flow = np.maximum(flow, 0.0)
    head, slope = mouth_heads(stages.mouth, flow, stages.bore, stages.k, gravity)
    head = stages.height + head + (stages.square * flow + stages.linear) * flow
    slope = slope + 2.0 * stages.square * flow + stages.linear
    head = head + friction[stages.last] - friction[stages.first]
    return head, slope + slopes[stages.last] - slopes[stages.first]


def mouth_heads(
    mouth: NDArray[np.int64], flow: FloatArray, bore: FloatArray, k: FloatArray, gravity: float
) -> tuple[FloatArray, FloatArray]:
    """Give the head over a mouth's height at a flow, and its derivative.

    A crest as BS EN 12056-3 has it for outlets of gutters: Q = D h^1.5/7500 up to h = D/2, D² h^0.5/15000 above (L/s and mm; from memory). In a wall y + (1 + K) V²/2g − D/2 at the critical depth y, up to its
    top edge, then (1 + K) V²/2g in the full bore; an overflow asks for (V/Cd)²/2g there. Under
    `TRICKLE` straight. A weir as `weirs.weir_head` has it.

    Parameters:
        mouth, bore, k: (k,) as in `Stages`.
        flow: (k,) [m³/s], not below nothing.
        gravity: [m/s²].

    Returns:
        (k,) [m], (k,) [s/m²].

    Reference: Chow, *Open-Channel Hydraulics* (1959), ch. 3 and 4 (from memory). Against the inlet control of a square-edged culvert
    (FHWA HDS-5, table A.1) an overflow is out by at most 0.15 of the bore up to a head of twice the bore.
    """
    head, slope = np.zeros(len(flow)), np.zeros(len(flow))
    if not len(flow):
        return head, slope
    wide = np.where(bore > 0.0, bore, 1.0)
    scale = np.sqrt(gravity * wide**5)
    least = TRICKLE * scale
    tried = np.maximum(flow, least)
    kinds = frozenset(mouth.tolist())
    for number, law in ((1, _crest), (2, _wall), (3, _overflow), (4, _siphon)):
        if number in kinds:
            here = mouth == number
            height, steep = law(tried[here], wide[here], k[here], gravity)
            at_rest = -0.5 * wide[here] if law in (_wall, _overflow) else 0.0
            slow = flow[here] < least[here]
            chord = (height - at_rest) / least[here]
            head[here] = np.where(slow, at_rest + chord * flow[here], height)
            slope[here] = np.where(slow, chord, steep)
    for shape in WEIRS:
        if MOUTHS.index(shape) in kinds:
            here = mouth == MOUTHS.index(shape)
            head[here], slope[here] = weir_head(shape, flow[here], bore[here], k[here], gravity)
    return head, slope


@lru_cache(maxsize=10_000)
def mouth_head(mouth: Mouth, flow: float, bore: float, k: float = -1.0, gravity: float = GRAVITY) -> float:
    """Give the head that one mouth asks for, as `mouth_heads` does [m].

    >>> [round(1000.0 * mouth_head("overflow", flow, 0.1, 0.5), 1) for flow in (0.0, 1e-3, 4e-3, 16e-3)]
    [-50.0, -1.5, 57.0, 550.5]
    """
    number, at, wide, loss = np.array([MOUTHS.index(mouth)]), np.array([flow]), np.array([bore]), np.array([k])
    return float(mouth_heads(number, at, wide, loss, gravity)[0][0])


def _crest(flow: FloatArray, bore: FloatArray, k: FloatArray, gravity: float) -> tuple[FloatArray, FloatArray]:
    q, d = flow * 1e3, bore * 1e3
    weir = (7500.0 * q / d) ** (2.0 / 3.0) / 1e3
    hole = (15000.0 * q / d**2) ** 2 / 1e3
    stated = (1.0 + k) * (flow / (0.25 * np.pi * bore**2)) ** 2 / (2.0 * gravity)
    hole = np.where(k < 0.0, hole, stated)
    # Of a mouth whose loss is stated the hole may ask for more than the weir at any depth; where it asks for less, the water rises no
    # further than half the bore until it asks for that.
    low, by_low = np.minimum(weir, 0.5 * bore), np.where(weir < 0.5 * bore, weir / 1.5, 0.0)
    return np.maximum(low, hole), np.where(hole > low, 2.0 * hole, by_low) / flow


def _siphon(flow: FloatArray, bore: FloatArray, k: FloatArray, gravity: float) -> tuple[FloatArray, FloatArray]:
    weir = (7500.0 * flow / bore) ** (2.0 / 3.0) / 1e3
    return np.minimum(weir, 0.5 * bore), np.where(weir < 0.5 * bore, weir / 1.5, 0.0) / flow


def _table() -> tuple[FloatArray, ...]:
    """Critical flow in round pipe: √Q/(g D⁵)^¼, depth over bore and velocity head over bore, up to nearly full."""
    theta = np.linspace(1e-3, 2.0 * np.pi * 0.985, 6000)
    area, width = (theta - np.sin(theta)) / 8.0, np.sin(0.5 * theta)
    flow = np.sqrt(area**3 / width)
    return np.sqrt(flow), np.sin(0.25 * theta) ** 2, area / (2.0 * width)


_ROOT_FLOW, _DEPTH, _SPEED_HEAD = _table()


def _critical(flow: FloatArray, bore: FloatArray, k: FloatArray, gravity: float) -> tuple[FloatArray, FloatArray]:
    """y + (1 + K) V²/2g − D/2 at the critical depth, and its derivative."""
    scale = np.sqrt(gravity * bore**5)
    number = flow / scale
    root = np.sqrt(number)
    at = np.clip(np.searchsorted(_ROOT_FLOW, root) - 1, 0, len(_ROOT_FLOW) - 2)
    step = _ROOT_FLOW[at + 1] - _ROOT_FLOW[at]
    share = np.clip((root - _ROOT_FLOW[at]) / step, 0.0, 1.0)
    rise = (_DEPTH[at + 1] - _DEPTH[at]) + (1.0 + k) * (_SPEED_HEAD[at + 1] - _SPEED_HEAD[at])
    head = _DEPTH[at] + (1.0 + k) * _SPEED_HEAD[at] + rise * share - 0.5
    slope = rise / step / (2.0 * root)
    # Beyond the table the pipe is as good as full: the depth stays, the velocity head goes with the square.
    full = root > _ROOT_FLOW[-1]
    per_square = (1.0 + k) / (2.0 * (0.25 * np.pi) ** 2)
    head = head + np.where(full, per_square * (number**2 - _ROOT_FLOW[-1] ** 4), 0.0)
    slope = np.where(full, 2.0 * per_square * number, slope)
    return head * bore, slope * bore / scale


def _wall(flow: FloatArray, bore: FloatArray, k: FloatArray, gravity: float) -> tuple[FloatArray, FloatArray]:
    weir, by_weir = _critical(flow, bore, k, gravity)
    full = (1.0 + k) * (flow / (0.25 * np.pi * bore**2)) ** 2 / (2.0 * gravity)
    # Once the mouth is under water it is the full pipe's: until that asks for more, the water stands at its top edge.
    drowned, level = weir > 0.5 * bore, np.maximum(full, 0.5 * bore)
    return np.where(drowned, level, weir), np.where(drowned, np.where(full >= level, 2.0 * full / flow, 0.0), by_weir)


def _overflow(flow: FloatArray, bore: FloatArray, k: FloatArray, gravity: float) -> tuple[FloatArray, FloatArray]:
    weir, by_weir = _critical(flow, bore, k, gravity)
    hole = (flow / (HOLE_CD * 0.25 * np.pi * bore**2)) ** 2 / (2.0 * gravity)
    drowned = (weir > 0.5 * bore) & (hole > weir)
    return np.where(drowned, hole, weir), np.where(drowned, 2.0 * hole / flow, by_weir)
