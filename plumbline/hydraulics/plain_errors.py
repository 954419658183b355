"""Why there is no steady flow, in the layout's own names."""

from __future__ import annotations

import re
from contextlib import suppress

from ..errors import SolveError
from ..layout.model import Layout
from .assemble import Assembly
from .filling import static_reach
from .network import Network, Solution
from .solver import solve

__all__ = ["drawn_too_high", "solve_named"]

FROM_A_START = 100
"""Newton steps that a start is worth; one that leads nowhere in so many is dropped."""


def solve_named(network: Network, assembly: Assembly, start: Solution | None, tolerance: float) -> Solution:
    """Solve, from the beginning where it fails from a start; an error is told in the layout's names."""
    try:
        if start is not None:
            with suppress(SolveError):
                return solve(network, start=start, tolerance=tolerance, max_steps=FROM_A_START)
        return solve(network, tolerance=tolerance)
    except SolveError as error:
        raise _in_plain_names(error, assembly) from None


def _in_plain_names(error: SolveError, assembly: Assembly) -> SolveError:
    """Put the layout's names in place of the solver's numbers."""
    link_names = {link.link: f"stretch '{name}'" for name, link in assembly.links.items()}
    link_names |= {link: f"pump '{name}'" for name, link in (*assembly.pumps.items(), *assembly.intakes.items())}
    node_names = {node: f"'{name}'" for name, node in assembly.nodes.items()}

    def named(text: str) -> str:
        text = re.sub(r"\blink (\d+)", lambda m: link_names.get(int(m[1]), m[0]), text)
        return re.sub(r"\bnode (\d+)", lambda m: node_names.get(int(m[1]), m[0]), text)

    return SolveError(named(str(error)), iterations=error.iterations, residual=error.residual, worst=named(error.worst))


def drawn_too_high(layout: Layout) -> SolveError | None:
    """What there is to say where water is drawn off at a place that no water comes up to."""
    reached = static_reach(layout)
    dry = [
        point.rpartition(".")[0]
        for point, end in layout.ends.items()
        if end.kind == "draw" and end.draw > 0.0 and point not in reached
    ]
    if not dry:
        return None
    return SolveError(f"water is drawn off at the end of line '{dry[0]}', and none comes there: started from dry, it "
                      "stands lower than pipe on the way, whatever the pumps")  # fmt: skip
