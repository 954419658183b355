"""Small pieces of the sentences that findings are made of: accesses, and pipe told together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from ..hydraulics.flows import Flows
from ..layout.faults import listed as in_a_row
from ..layout.model import Access, Layout, Stretch, steps_said

__all__ = ["access_name", "adjoining", "degrees", "dry_lines", "listed", "steps_of"]


def access_name(layout: Layout, access: Access) -> str:
    """Name a place where a rod goes in: a cap or union by its own name, an end of a line by where it is."""
    if access.kind in ("cap", "union"):
        return access.id
    if access.kind == "standpipe":
        return f"the standpipe of '{access.line}' in '{layout.lines[access.line].start.name}'"
    if access.kind == "hose end":
        return f"the hose end of '{access.line}' at step {access.step}"
    line = layout.lines[access.line]
    end = line.start if access.step == 0 else line.end
    where = f"in '{end.name}'" if access.kind == "vessel" else "in open air"
    return f"the end of '{line.name}' {where}"


def degrees(angle: float) -> str:
    """Write an angle [rad] in degrees, to half a degree and no further.

    >>> degrees(math.pi / 2), degrees(math.pi / 8)
    ('90°', '22.5°')
    """
    return f"{round(math.degrees(angle) * 2) / 2:g}°"


def listed(words: Iterable[str]) -> str:
    """Join words as a sentence does.

    >>> listed(["2"]), listed(["2", "4", "6"])
    ('2', '2, 4 and 6')
    """
    return in_a_row(words, "and")


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
