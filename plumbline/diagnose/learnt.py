"""What the readings fix, written into the layout's own text, so that a later check starts there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..errors import PlumblineError
from ..files import NewFile
from ..hydraulics.find import settle
from ..hydraulics.fittings import part_k
from ..hydraulics.network import FloatArray
from ..hydraulics.stretches import pump_sources
from ..layout import layout_of
from ..layout.model import Layout, Mark, Part
from ..layout.rewrite import put_in, set_openings, set_runs, set_values
from ..redesign.change import Change, Edit, apply
from ..redesign.rows import rows_of
from .causes import Cause
from .diagnosis import Diagnosis, Suspect
from .faulty import hole_loss
from .places import Place, place_of, predicted

__all__ = ["learnt", "text_with", "write_learnt"]

LIKELY = 0.5
"""A suspect is written into the file where it, with those that the readings cannot tell from it, is at least so likely."""

AGAIN = 0.25
"""The file as changed makes the readings that were reckoned with where it is nearer to them than this, in squared standard deviations."""

HOLE_CD = 0.62
"""Of a sharp-edged hole, as a leak is reckoned."""


def learnt(found: Diagnosis) -> Suspect:
    """The suspect that the readings fix: the likeliest of the likeliest group.

    Raises:
        PlumblineError: where none is likely enough, or it cannot be written.
    """
    groups = list(found.groups.values())
    if not found.explained:
        raise PlumblineError("Nothing explains the readings, so that nothing is learnt from them; no file was written.")
    if not groups or sum(one.chance for one in groups[0]) < max(LIKELY, found.nothing_shows):
        raise PlumblineError("The readings fix nothing yet: no cause is likely enough to be written into the file.")
    return groups[0][0]


def write_learnt(found: Diagnosis, file: NewFile) -> Suspect:
    """Write the layout with what is learnt to a new file; it is read and solved again before it appears.

    Raises:
        PlumblineError: where nothing is learnt, or the text does not allow it; then nothing is written.
    """
    suspect = learnt(found)
    for row, lines in rows_of(found.layout).items():
        if suspect.cause.line in lines:
            raise PlumblineError(
                f"'{suspect.cause.line}' is one of {len(lines)} lines that the file writes once, as '{row}', so that what is learnt of it alone "
                "cannot be written: give it a line of its own, and ask again."
            )
    text = text_with(found.layout, suspect.cause, suspect.amount)
    written = layout_of(text, file.path)
    values = _read_again(found, written)
    if np.sum(((values - suspect.values) / found.sigma) ** 2) > AGAIN:
        raise PlumblineError(
            f"The file as changed does not make the readings that were reckoned with; it was not written. Put it in by hand: {suspect.cause.where}."
        )
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
    alike = [new for new in written.lines[place.line].parts if (new.kind, new.loss) == (old.kind, old.loss)]
    return replace(place, step=min(alike, key=lambda new: abs(new.at - old.at)).step if alike else place.step)


def text_with(layout: Layout, cause: Cause, amount: float) -> str:
    """The layout's text with a cause written in: pipe by the bore it has left, a plug as a loss, a valve by its opening, a pump by its
    curve or speed, a vessel by its depth or its height, with the upright runs to it, pipe of another size by its bore, and a leak as a tee with
    a hole for a branch, beside the water as it then stands.

    Raises:
        PlumblineError: where it cannot be written, or the text does not allow it.
    """
    text = layout.text
    match cause.kind:
        case "narrowed":
            return set_runs(text, "bore left", _bores(layout, cause, amount))
        case "plug" | "air" | "choked":
            return _with_loss(layout, cause, hole_loss(amount))
        case "lets back":
            k = part_k(_part(cause.changed(amount), cause))
            text = f"fitting: {{K: {k.forward:.4g}}}"
            return _noted(
                layout,
                cause,
                "a check valve that lets back",
                (Edit("swap", cause.line or "", cause.step or 0, (text,)),),
            )
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
        case "size":
            runs = [
                part
                for part in cause.changed(amount).lines[cause.line or ""].parts
                if part.is_pipe and part.kind != "spray bar"
            ]
            edits = tuple(
                Edit(
                    "resize",
                    cause.line or "",
                    run.step,
                    (f"{{bore: {1000.0 * run.pipe.bore:.4g} mm, roughness: {1000.0 * run.pipe.roughness:.4g} mm}}",),
                )
                for run in runs
            )
            return _noted(layout, cause, "its size", edits)
        case "height":
            return _raised(layout, cause.vessel or "", amount)
        case "leak":
            return _leaking(layout, cause.leak or "", amount)
        case _:
            raise PlumblineError("This cannot be written into the file: put it in by hand.")


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
    return _noted(layout, cause, note, (edit,))


def _noted(layout: Layout, cause: Cause, note: str, edits: tuple[Edit, ...]) -> str:
    line, step = cause.line or "", edits[0].step
    return apply(layout.text, [Change("fitting", line, step, "", f"read on a visit: {note}", edits, 0.0, 0.0)])


def _raised(layout: Layout, vessel: str, by: float) -> str:
    """A vessel's floor, and the upright run next to each pipe end in it, so much higher."""
    base = f"{layout.vessels[vessel].base + by:.3f} m"
    text = set_values(layout.text, "vessels", "base", {vessel: base}, "The height of '{}'")
    for name, line in layout.lines.items():
        for end, sign, parts in ((line.start, -1.0, line.parts), (line.end, 1.0, line.parts[::-1])):
            if end.kind == "vessel" and end.name == vessel:
                text = _longer(text, name, parts, sign * by)
    return text


def _longer(text: str, line: str, parts: Sequence[Part], rises: float) -> str:
    """The first of some parts that goes straight up or down, made to rise so much more."""
    for part in parts:
        up = part.heading_in[2]
        length = part.length + up * rises
        if part.kind == "run" and abs(up) > 1.0 - 1e-9 and length > 0.01:
            # by its own word, counted along the walk
            return set_runs(text, "up" if up > 0.0 else "down", {part.mark: f"{length:.4f} m"})
    raise PlumblineError(
        f"The height cannot be written into the file: '{line}' has no upright run to change with it. Measure it again."
    )


def _leaking(layout: Layout, point: str, hole: float) -> str:
    """A tee in the last run before a place, with a hole for a branch: K = 1/Cd² − 1 and the speed of a free end."""
    runs = [
        (one.line, part)
        for one in layout.stretches
        if one.head == point
        for part in one.parts[::-1]
        if part.kind == "run" and part.length > 0.05
    ]
    if not runs:
        raise PlumblineError(
            f"The leak at '{point}' cannot be written into the file: no run of pipe leads there. Mend it, and look again."
        )
    line, run = runs[0]
    names = ("leak", *(f"leak {n}" for n in range(2, 99)))
    name = next(one for one in names if one not in layout.lines and one not in layout.tees)
    tee = Edit("split", line, run.step, (f"tee: {{id: {name}, K: 0}}",), run.length - 0.02)
    text = apply(layout.text, [Change("fitting", line, run.step, "", "read on a visit: a leak", (tee,), 0.0, 0.0)])
    aside = "east" if abs(run.heading_out[2]) > 0.5 else "down"
    route = f"[{{{aside}: 1 mm}}, fitting: {{K: {1.0 / HOLE_CD**2 - 1.0:.3f}}}]"
    text = put_in(
        text,
        ("lines",),
        f"{name}: {{pipe: {{bore: {1000.0 * hole:.4g} mm}}, from: {name}, route: {route}, to: open air}}",
    )
    levels = settle(layout, margins=False).levels
    stands = {one: f"{levels[one] - layout.vessels[one].base:.3f} m" for one in pump_sources(layout) if one in levels}
    return set_values(text, "vessels", "water", stands, "The water of '{}'")


def _part(layout: Layout, cause: Cause) -> Part:
    return next(part for part in layout.lines[cause.line or ""].parts if part.step == cause.step)
