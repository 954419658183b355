"""Which lines share one pressure, which vessels pumps draw from, and at which ends water only comes out."""

from __future__ import annotations

import numpy as np

from ..layout.model import End, Layout
from .islands import components

__all__ = ["BARE", "only_out", "pipes_joined", "pump_sources"]

BARE = 1e-4
"""A pump whose intake has so little water over it draws air: its vessel is down to it [m]."""


def only_out(end: End) -> bool:
    """Whether water can leave a line there but not enter it: an end in air. A standpipe is the other way round."""
    return (end.kind == "vessel" and not end.submerged and end.port == "open") or end.kind == "open air"


def pump_sources(layout: Layout) -> set[str]:
    """The vessels that pumps draw from: those they stand in, and those their suction lines begin in."""
    groups = pipes_joined(layout)
    sucking = {groups[name] for name, line in layout.lines.items() if line.end.kind == "pump"}
    sources = {pump.vessel for pump in layout.pumps.values() if pump.vessel is not None}
    return sources | {end.name or "" for point, end in layout.ends.items()
                      if end.kind == "vessel" and end.submerged and groups[point.rpartition(".")[0]] in sucking}  # fmt: skip


def pipes_joined(layout: Layout) -> dict[str, int]:
    """Number the groups of lines that tees join: lines in one group share one pressure."""
    number = {name: at for at, name in enumerate(layout.lines)}
    joins = np.array([(number[tee.legs[0].line], number[leg.line]) for tee in layout.tees.values() for leg in tee.legs[1:]],
                     dtype=np.int64).reshape(-1, 2)  # fmt: skip
    labels = components(len(number), joins[:, 0], joins[:, 1]).tolist()
    order = {label: at for at, label in enumerate(dict.fromkeys(labels))}
    return {name: order[label] for name, label in zip(number, labels, strict=True)}
