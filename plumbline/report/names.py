"""Lists of the words that a layout may use."""

from __future__ import annotations

from .. import catalogue
from ..catalogue.rows import CauseRow
from .explain import rod_words, wrapped

__all__ = ["listing"]


def listing(what: str) -> str:
    """The catalogue's names of one sort, a line each, with what they stand for and their source."""
    match what:
        case "pipes":
            rows = [
                (row.name, f"bore {row.bore * 1000:.1f} mm, {row.material}", row.source)
                for row in catalogue.pipes().values()
            ]
        case "materials":
            rows = [
                (row.name, f"roughness {row.roughness * 1000:g} mm", row.source)
                for row in catalogue.materials().values()
            ]
        case "fittings":
            rows = [(row.name, row.parts, row.source) for row in catalogue.fittings().values() if row.place == "route"]
        case "rods":
            rows = [(row.name, rod_words(row), row.source) for row in catalogue.rods().values()]
        case "codes":
            rows = [
                (
                    code.name,
                    f"{code.cite(rule)}: {rule.what}",
                    f"{rule.source}; {rule.mark}; the code adopted where the system stands governs",
                )
                for code in catalogue.codes().values()
                for rule in code.rules
            ]
        case "fouling":
            rows = [
                (row.name, f"{row.shown}: {row.meaning}; {row.because}", f"{row.source}; {row.mark}")
                for row in catalogue.fouling().values()
            ]
        case "causes":
            rows = [
                (row.name, f"share {row.share:g}{_amounts(row)}; {row.cure}", f"{row.source}; {row.mark}")
                for row in catalogue.causes().values()
            ]
        case "readings":
            rows = [(row.name, f"{row.shown}: {row.meaning}", row.source) for row in catalogue.readings().values()]
        case _:
            rows = [(row.name, f"{row.shown}: {row.meaning}", row.source) for row in catalogue.limits().values()]
    wide = max(len(name) for name, _, _ in rows)
    indent = min(wide + 2, 30)
    lines = [wrapped(f"{name:<{wide}}  {says} ({source})", indent) for name, says, source in rows]
    return "\n".join([*lines, *([wrapped(_SELECTION, 0)] if what == "codes" else [])])


_SELECTION = (
    "These rules are a selection: those on access to drains that a layout can be asked. That none of them is broken does not say that a "
    "layout meets the code."
)


def _amounts(row: CauseRow) -> str:
    low, high = row.amounts
    return f", {low:g} to {high:g}: {row.of}" if row.of else ""
