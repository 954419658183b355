"""Sizes: what fits what, how deep sockets are, how much of the walk a fitting takes, and which tee a junction needs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from .. import catalogue
from ..catalogue.reading import data
from ..layout.model import Pipe, Tee

__all__ = [
    "TeeFit",
    "alike",
    "both",
    "coupling_gap",
    "is_hose",
    "joints",
    "lay_of",
    "outside_of",
    "socket_depth",
    "tee_fit",
]

HOSE = "hose"
"""The catalogue's material of what bends and is pushed on, not glued in."""
_SAME = 2e-4
"""Outsides that differ by less [m] are of one size."""
joints = partial(data, "joints.yaml")
"""The rows of the catalogue's joints, each with its source."""


def is_hose(pipe: Pipe) -> bool:
    """Whether it is hose, or tube as thin as hose: pushed on barbs and bought by its length."""
    return (pipe.material or "").startswith(HOSE) or pipe.name.startswith("microtube")


def outside_of(pipe: Pipe) -> float:
    """Outside diameter [m]; 1.1 bores where it is not known."""
    return pipe.outside if pipe.outside is not None else 1.1 * pipe.bore


def alike(one: Pipe, other: Pipe) -> bool:
    """Whether one fitting takes both: the same outside and material, or the same bore where an outside is not known."""
    if one.name == other.name:
        return True
    materials = {one.material, other.material} - {None}
    if is_hose(one) != is_hose(other) or len(materials) > 1:
        return False
    if one.outside is None or other.outside is None:
        return abs(one.bore - other.bore) < _SAME
    return abs(one.outside - other.outside) < _SAME


def both(one: Pipe, other: Pipe) -> str:
    """The name of a size with two pipes, the larger first.

    >>> both(Pipe("pvc 25", 0.0212, 1.5e-6, 0.025), Pipe("pvc 32", 0.0272, 1.5e-6, 0.032))
    'pvc 32 x pvc 25'
    """
    large, small = sorted((one, other), key=outside_of, reverse=True)
    return f"{large.name} x {small.name}"


def socket_depth(pipe: Pipe) -> float | None:
    """How far a pipe goes into a plain socket [m]: d/2 + 6 mm, at least 12 mm; None for hose and where the outside is not known.

    >>> socket_depth(Pipe("pvc 32", 0.0272, 1.5e-6, 0.032))
    0.022

    Reference:
        ISO 727-1 (from memory); `catalogue/joints.yaml`.
    """
    if pipe.outside is None or is_hose(pipe):
        return None
    row = joints()["socket depth"]
    return float(max(row["outside"] * pipe.outside + row["plus_mm"] / 1000.0, row["least_mm"] / 1000.0))


def coupling_gap() -> float:
    """What stands between the two pipe ends in a coupling [m]."""
    return float(joints()["coupling"]["plus_mm"]) / 1000.0


def lay_of(kind: str, pipe: Pipe, turn: float = 0.0) -> float | None:
    """From a fitting's centre to the stop in its socket [m]; None where it is not known.

    A cap or plug at a corner of 45° is a wye, of which nothing is known.

    >>> lay_of("elbow", Pipe("pvc 32", 0.0272, 1.5e-6, 0.032)), lay_of("wye", Pipe("pvc 32", 0.0272, 1.5e-6, 0.032))
    (0.017, None)
    """
    row = catalogue.fittings()[kind]
    slanted = kind in ("cap", "plug") and math.radians(10.0) < turn < math.radians(80.0)
    if row.lay is None or pipe.outside is None or is_hose(pipe) or slanted:
        return None
    return row.lay.length(pipe.outside)


@dataclass(frozen=True, slots=True)
class TeeFit:
    """The tee or wye (`kind`) that a junction needs: its `body`, the pipe of its run, and its `branch`, alike unless it is a reducing tee.

    `legs` tells, by the leg's line and side, what it takes of that leg's pipe [m] (None: not known), and `adapters` what is
    glued into a leg because its pipe is smaller than the tee's socket: the leg's line, side and pipe.
    """

    kind: str
    body: Pipe
    branch: Pipe
    legs: Mapping[tuple[str, str], float | None]
    adapters: tuple[tuple[str, str, Pipe], ...]

    @property
    def size(self) -> str:
        """The size as a parts list has it."""
        return self.body.name if alike(self.body, self.branch) else both(self.body, self.branch)


def tee_fit(tee: Tee) -> TeeFit:
    """Find the tee to buy for a junction: moulded tees have a run of one size and a branch no larger.

    Where a leg's pipe is smaller than the socket it goes into, a reducing bush goes in first, and moves the pipe's end out by the
    difference of the two sockets' depths. A reducing tee is taken to be as long as an equal one (common practice, no source).
    """
    legs = tee.legs
    rigid = [leg.pipe for leg in legs if not is_hose(leg.pipe)] or [leg.pipe for leg in legs]
    runs = [leg.pipe for leg in legs[:2] if leg.pipe in rigid]
    branch = legs[2].pipe if legs[2].pipe in rigid else None
    body = max(runs, key=outside_of) if runs else rigid[0]
    if branch is None or outside_of(branch) >= outside_of(body):
        body = branch = max(rigid, key=outside_of)
    own = lay_of(tee.kind, body)
    takes: dict[tuple[str, str], float | None] = {}
    adapters = []
    for k, leg in enumerate(legs):
        socket = branch if k == 2 else body
        take = own
        if not alike(leg.pipe, socket):
            adapters.append((leg.line, leg.side, leg.pipe))
            take = _after_bush(own, socket, leg.pipe)
        takes[leg.line, leg.side] = take
    return TeeFit(tee.kind, body, branch, takes, tuple(adapters))


def _after_bush(lay: float | None, socket: Pipe, pipe: Pipe) -> float | None:
    deep, shallow = socket_depth(socket), socket_depth(pipe)
    if lay is None or deep is None or shallow is None:
        return None
    return lay + deep - shallow
