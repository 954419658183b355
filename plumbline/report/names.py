"""Lists of the words that a layout may use."""

from __future__ import annotations

import math

from .. import catalogue

__all__ = ["listing"]


def listing(what: str) -> str:
    """The catalogue's names of one sort, a line each, with what they stand for and their source."""
    match what:
        case "pipes":
            rows = [(row.name, f"bore {row.bore * 1000:.1f} mm, {row.material}", row.source) for row in
                    catalogue.pipes().values()]  # fmt: skip
        case "materials":
            rows = [(row.name, f"roughness {row.roughness * 1000:g} mm", row.source) for row in
                    catalogue.materials().values()]  # fmt: skip
        case "fittings":
            rows = [(row.name, row.parts, row.source) for row in catalogue.fittings().values() if row.place == "route"]
        case "rods":
            rows = [(row.name, f"{row.length:g} m, bends to {math.degrees(row.bend):g}°, {math.degrees(row.turns):g}° in all, "
                     f"bores {row.bores[0] * 1000:g} to {row.bores[1] * 1000:g} mm", row.source) for row in
                    catalogue.rods().values()]  # fmt: skip
        case _:
            rows = [(row.name, f"{row.shown}: {row.meaning}", row.source) for row in catalogue.limits().values()]
    wide = max(len(name) for name, _, _ in rows)
    return "\n".join(f"{name:<{wide}}  {says} ({source})" for name, says, source in rows)
