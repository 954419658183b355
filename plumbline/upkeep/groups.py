"""Pipe told together: neighbouring stretches of one line, and the lines that stand empty."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..hydraulics.flows import Flows
from ..layout.model import Layout, Stretch, steps_said

__all__ = ["adjoining", "dry_lines", "steps_of"]


def adjoining(stretches: Iterable[Stretch]) -> tuple[tuple[Stretch, ...], ...]:
    """Group stretches that follow each other without a gap along one line; order is the given one's."""
    groups: list[list[Stretch]] = []
    for stretch in stretches:
        last = groups[-1][-1] if groups else None
        if last is not None and last.line == stretch.line and abs(last.stop - stretch.start) < 1e-9:
            groups[-1].append(stretch)
        else:
            groups.append([stretch])
    return tuple(tuple(group) for group in groups)


def steps_of(group: Sequence[Stretch]) -> str:
    """Name the pipe of a group by its steps, such as "steps 3 to 7"."""
    steps = [part.step for stretch in group for part in stretch.parts if part.is_pipe]
    return steps_said(steps) if steps else "no pipe"


def dry_lines(layout: Layout, flows: Flows) -> set[str]:
    """Name the lines that no water comes into: emergency ways out, and drains of vessels that get nothing."""
    return set(layout.lines) - {stretch.line for stretch in layout.stretches if not flows.stretches[stretch.id].dry}
