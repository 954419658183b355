"""What the readings fix, written into the layout's own text, so that a later check starts there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import PlumblineError
from ..files import NewFile
from ..hydraulics.find import settle
from ..hydraulics.network import FloatArray
from ..layout import layout_of
from ..layout.model import Layout, Mark, Part
from ..layout.rewrite import set_openings, set_runs, set_values
from ..redesign.change import Change, Edit, apply
from .causes import Cause, hole_loss
from .diagnosis import Diagnosis, Suspect
from .places import Place, place_of, predicted

__all__ = ["learnt", "text_with", "write_learnt"]

LIKELY = 0.5
"""A suspect is written into the file where it, with those that the readings cannot tell from it, is at least so likely."""

CLOSE = 0.2
"""The file as written anew makes the suspect's readings within this share of their standard deviations, which takes up rounding."""

_BY_HAND = {
    "leak": "a leak is mended, not written down",
    "height": "a vessel's height is tied to the walks of its pipe: measure both again and put them right by hand",
    "size": "measure the pipe's outside and put its size right by hand",
}


def learnt(found: Diagnosis) -> Suspect:
    """The suspect that the readings fix: the likeliest of the likeliest group.

    Raises:
        PlumblineError: where none is likely enough, or it cannot be written.
    """
    groups = list(found.groups.values())
    if not found.explained:
        raise PlumblineError("Nothing explains the readings, so that nothing is learnt from them; no file was written.")
    if not groups or sum(one.chance for one in groups[0]) < max(LIKELY, found.chance):
        raise PlumblineError("The readings fix nothing yet: no cause is likely enough to be written into the file.")
    return groups[0][0]


def write_learnt(found: Diagnosis, file: NewFile) -> Suspect:
    """Write the layout with what is learnt to a new file; it is read and solved again before it appears.

    Raises:
        PlumblineError: where nothing is learnt, or the text does not allow it; then nothing is written.
    """
    suspect = learnt(found)
    text = text_with(found.layout, suspect.cause, suspect.amount)
    written = layout_of(text, file.path)
    values = _read_again(found, written)
    if np.any(np.abs(values - suspect.values) > CLOSE * np.array(found.sigma) + 1e-9):
        raise PlumblineError(f"The file as changed does not make the readings that were reckoned with; it was not written. Put it in by hand: {suspect.cause.where}.")  # fmt: skip
    file.write(text)
    return suspect


def _read_again(found: Diagnosis, written: Layout) -> FloatArray:
    places = [_moved(place_of(one), found.layout, written) for one in found.readings]
    usual = settle(found.layout, margins=False).flows
    return predicted(written, settle(written, margins=False).flows, places, found.layout, usual)


def _moved(place: Place, before: Layout, written: Layout) -> Place:
    """A place by the steps of the new file, into which a step may have been put."""
    parts = [part for part in before.lines[place.line].parts if part.step == place.step] if place.step > 0 else []
    if not parts:
        return place
    old = parts[-1]
    same = [
        new.step
        for new in written.lines[place.line].parts
        if (new.kind, new.end, new.loss) == (old.kind, old.end, old.loss)
    ]
    return replace(place, step=same[-1] if same else place.step)


def text_with(layout: Layout, cause: Cause, amount: float) -> str:
    """The layout's text with a cause written in: pipe by the bore it has left, a plug as a loss, a valve by its opening, a pump by its
    curve or speed, a vessel by its depth.

    Raises:
        PlumblineError: where it cannot be written, or the text does not allow it.
    """
    text = layout.text
    match cause.kind:
        case "narrowed":
            return set_runs(text, "bore left", _bores(layout, cause, amount))
        case "plug" | "air" | "choked":
            return _with_loss(layout, cause, hole_loss(amount))
        case "valve":
            return set_openings(text, {_part(layout, cause).mark: round(amount, 3)})
        case "slowed":
            speed = layout.pumps[cause.pump or ""].speed * amount
            return set_values(
                text, "pumps", "speed", {cause.pump or "": f"{100.0 * speed:.1f} %"}, "The speed of pump '{}'"
            )
        case "worn" | "curve":
            points = cause.changed(amount).pumps[cause.pump or ""].curve
            speed = layout.pumps[cause.pump or ""].speed  # the file's curve is that at full speed
            said = ", ".join(f"[{q / speed * 60000.0:.4g} L/min, {h / speed**2:.4g} m]" for q, h in points)
            return set_values(text, "pumps", "curve", {cause.pump or "": f"[{said}]"}, "The curve of pump '{}'")
        case "water":
            water = layout.vessels[cause.vessel or ""].water + amount
            return set_values(text, "vessels", "water", {cause.vessel or "": f"{water:.3f} m"}, "The water of '{}'")
        case _:
            raise PlumblineError(
                f"This cannot be written into the file: {_BY_HAND.get(cause.kind, 'put it in by hand')}."
            )


def _bores(layout: Layout, cause: Cause, share: float) -> dict[Mark, str]:
    changed = cause.changed(share)
    return {
        new.mark: f"{1000.0 * new.pipe.bore:.3g} mm"
        for name, line in changed.lines.items()
        for old, new in zip(layout.lines[name].parts, line.parts, strict=True)
        if new.pipe.bore != old.pipe.bore
    }


def _with_loss(layout: Layout, cause: Cause, k: float) -> str:
    part = _part(layout, cause)
    before = part.step + 1 if part.is_pipe else part.step
    edit = Edit("insert", cause.line or "", max(before, 1), (f"fitting: {{K: {k:.4g}}}",))
    note = {"air": "air", "choked": "the pump's inlet, choked"}.get(cause.kind, "a plug")
    return apply(
        layout.text, [Change("fitting", cause.line or "", part.step, "", f"read on a visit: {note}", (edit,), 0.0, 0.0)]
    )


def _part(layout: Layout, cause: Cause) -> Part:
    return next(part for part in layout.lines[cause.line or ""].parts if part.step == cause.step)
