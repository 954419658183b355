"""New layout files from old ones: written beside the user's own, read again and solved again before they appear."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .errors import PlumblineError
from .files import NewFile
from .hydraulics.balance import Balance
from .hydraulics.find import find_flows
from .layout import layout_of
from .layout.model import Layout, Mark
from .layout.rewrite import set_openings, set_values
from .units import show

if TYPE_CHECKING:
    from .husbandry.read import Asked
    from .husbandry.sizing import Sizing

__all__ = ["write_balanced", "write_wants"]

SAME = 1e-6
"""Flows of the written file and of the balance agree to this share of what a vessel wants."""


def write_balanced(result: Balance, file: NewFile) -> None:
    """Write a balanced layout to a new file: the user's text with only the valves' openings changed.

    Parameters:
        result: of `balance`.
        file: the new file.

    Raises:
        PlumblineError: where the file cannot be written, or where the text, read again, does not say what it should;
            then nothing is written.
    """
    openings: dict[Mark, float] = {}
    for one in result.settings:
        if openings.setdefault(one.mark, one.after) != one.after:
            raise _not_so(one.mark, "it stands for two valves that are to be set differently, repeated by a *name")
    text = set_openings(result.layout.text, openings)
    try:
        written = layout_of(text, file.path)
    except PlumblineError:
        raise PlumblineError(
            "The file cannot be changed safely: with the openings put in it could not be read. "
            "Set the valves in it by hand."
        ) from None
    wrong = _differs(written, result.layout)
    if wrong is not None:
        raise _not_so(wrong, "with the opening put in it reads otherwise than meant")
    flows = find_flows(written, margins=False)
    for vessel in result.vessels:
        if abs(flows.vessels[vessel.name].inflow - vessel.after) > SAME * vessel.wants:
            raise PlumblineError(
                f"The file as changed does not give '{vessel.name}' what was found; it was not written."
            )
    file.write(text)


def write_wants(asked: Asked, found: Sizing, file: NewFile) -> dict[str, float]:
    """Write a layout to a new file with what its vessels want: those with fish share the flow by their water, those with
    plants by their area.

    Parameters:
        asked: with a layout.
        found: of `size`.
        file: the new file.

    Returns:
        What each vessel wants in the new file [m³/s].

    Raises:
        PlumblineError: where there is no layout, no vessel of a known size, or no way to write the file.
    """
    layout = asked.layout
    if layout is None:
        raise PlumblineError(
            "There is no layout to write the wants into: give a layout's file, or start one with 'plumbline new'."
        )
    flow = found.flow.likely
    wants: dict[str, float] = {}
    for holds in ("fish", "plants"):
        weights = {
            name: (vessel.area or 0.0) * (vessel.water if holds == "fish" else 1.0)
            for name, vessel in layout.vessels.items()
            if vessel.holds == holds
        }
        if any(weight <= 0.0 for weight in weights.values()):
            nameless = next(name for name, weight in weights.items() if weight <= 0.0)
            raise PlumblineError(f"'{nameless}' has no area in the file, so that its share of the flow is not known.")
        wants |= {name: flow * weight / sum(weights.values()) for name, weight in weights.items()}
    if not wants:
        raise PlumblineError("No vessel of the layout holds fish or plants, so that none is given a want.")
    said = {name: show(want, "flow", layout.units) for name, want in wants.items()}
    text = set_values(layout.text, "vessels", "wants", said, "What '{}' wants")
    written = layout_of(text, file.path)
    for name, want in wants.items():
        if abs((written.vessels[name].wants or 0.0) - want) > 0.02 * want:
            raise PlumblineError(f"What '{name}' wants cannot be set in the file safely. Set it by hand: {said[name]}.")
    file.write(text)
    return wants


def _not_so(mark: Mark, why: str) -> PlumblineError:
    return PlumblineError(f"The valve on line {mark.line} of the file cannot be set there: {why}. Set it by hand.")


def _differs(written: Layout, meant: Layout) -> Mark | None:
    """The mark of the first part in which two layouts differ."""
    for name, line in meant.lines.items():
        there = written.lines[name].parts if name in written.lines else ()
        for k, part in enumerate(line.parts):
            other = there[k] if k < len(there) else None
            if other is None or (part.kind, part.step, part.id) != (other.kind, other.step, other.id):
                return part.mark
            if abs(part.opening - other.opening) > 1e-9:
                return part.mark
    return None
