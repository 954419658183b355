"""What is around the pipe: light that goes through its wall, and heat."""

from __future__ import annotations

from collections.abc import Iterator

from ..catalogue import materials, weights
from ..catalogued import finding
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..layout.model import Layout, Line, Part
from ..units import show, warmth
from .words import dry_lines, listed

__all__ = ["surroundings"]


@as_tuple
def surroundings(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Report clear pipe in the light, where there is water in it, and pipe that gets hotter than its material stands under pressure."""
    dry = dry_lines(layout, flows)
    for line in layout.lines.values():
        lit = [part for part in line.parts if part.lit]
        if lit and line.name not in dry:
            yield _algae(layout, line, lit)
        yield from _hot(layout, line)


def _algae(layout: Layout, line: Line, lit: list[Part]) -> Finding:
    long, whole = sum(part.length for part in lit), sum(line.length for line in layout.lines.values())
    blocks = any(part.kind in ("spray bar", "strainer", "screen", "nozzle") for part in line.parts)
    return finding(
        "algae",
        f"{show(long, 'length', layout.units)} of '{line.name}' ({_steps(lit)}) is clear and lies in the light: algae grow in it, take head, and come "
        f"off in lumps{' that block what is on the line' if blocks else ''}.",
        "opaque hose or pipe in its place, or paint it or wrap it",
        line=line.name,
        step=lit[0].step,
        weight=weights()["algae"].of(long / whole),
    )


def _hot(layout: Layout, line: Line) -> Iterator[Finding]:
    table = materials()
    made = ((part, part.pipe.material) for part in line.parts if part.is_pipe)
    known = [(part, table[wall].hottest) for part, wall in made if wall is not None and wall in table]
    over = [(part, most) for part, most in known if most is not None and part.details.get("hot", most) > most]
    if over:
        part, most = max(over, key=lambda pair: pair[0].details["hot"] - pair[1])
        yield finding(
            "hot-pipe",
            f"'{line.name}' ({_steps([one for one, _ in over])}) gets {warmth(part.details['hot'], layout.units)} hot; {part.pipe.material} pipe is made for no "
            f"more than {warmth(most, layout.units)} under pressure, and sags before that.",
            "shade, or more way between it and the heat; or pipe that its maker names for that heat, on close clips",
            line=line.name,
            step=part.step,
        )


def _steps(parts: list[Part]) -> str:
    steps = list(dict.fromkeys(str(part.step) for part in parts))
    return f"step{'s' if len(steps) > 1 else ''} {listed(steps)}"
