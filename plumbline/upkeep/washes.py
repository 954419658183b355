"""From ways to flush to jobs of a cleaning round."""

from __future__ import annotations

from .flushing import Flushing
from .routine import WashJob

__all__ = ["wash_jobs"]


def wash_jobs(found: Flushing) -> tuple[WashJob, ...]:
    """Give the flushes that may be jobs: those without a hose, of one opening or of two; with the pumps on, but where a standpipe is pulled."""
    return tuple(
        WashJob(
            opened=tuple(one.id for one in way.opened),
            name=" and ".join(one.label for one in way.opened),
            line=way.opened[0].line,
            at=way.opened[0].at,
            scours=way.scours,
            seconds=way.seconds,
            water=way.water,
        )
        for way in found.ways
        if way.hose is None and way.stopped == any(one.kind == "standpipe" for one in way.opened)
    )
