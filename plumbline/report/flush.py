"""Every way to flush a layout, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from ..catalogue import notes
from ..hydraulics.opened import Opening
from ..layout.model import steps_said
from ..units import Units, show
from ..upkeep.flushing import Flush, Flushing, Weak
from ..upkeep.intervals import length
from ..upkeep.words import steps_of
from .plain import about, care, cautions_of, fields, heading, in_units, plain_table, point, view

__all__ = ["flush_as_json", "flush_view"]

_FALL = 0.01
"""A vessel that falls by less than this [m] is not spoken of."""


@view
def flush_view(found: Flushing) -> Iterator[RenderableType]:
    """The ways to flush a layout, what each scours, and what none does."""
    units, on = found.layout.units, "pumps on" if found.layout.pumps else ""
    yield Text(found.layout.name, style="bold")
    yield Text(_answer(found))
    hose = [(way, "pumps off") for way in found.ways if way.hose is not None]
    ways = _told_once((way for way in found.ways if way.hose is None), on)
    for title, some in (("Open", ways), ("With the hose", hose)):
        if some:
            yield heading(title)
        for way, word in some:
            yield from _way(found, way, word)
    if found.idle:
        yield heading("Scours nothing")
        rows = (
            (
                _opened(way.opened, way.hose),
                word,
                show(max(way.loses, 0.0), "flow", units),
                _speed(max((one.velocity for one in way.stretches.values() if one.hastened), default=0.0), units),
            )
            for way, word in _told_once(found.idle, on)
        )
        yield plain_table("open", "", ">loses", ">fastest that it hastens", rows=rows)
    if found.shut:
        heads = [f"{one.label}: {why}" for one, why in found.shut]
        yield heading("Not to be opened for a flush")
        yield from (point(Text(head)) for head in heads)
    if found.unsolved:
        said = "; ".join(_opened(opened, hose) for opened, hose, _ in found.unsolved)
        yield Text(f"\nNo steady flow was found with {said}.", style="dim")
    if found.weak:
        yield heading("Not scoured by any of them")
        yield plain_table(
            "pipe",
            "",
            ">as it runs",
            ">at best",
            ">wall shear",
            "with",
            rows=(_weak_row(weak, units) for weak in found.weak),
        )
    yield from care("flush", found.layout, notes("flush"))


def _answer(found: Flushing) -> str:
    limits, units = found.layout.limits, found.layout.units
    if found.shut and not (found.ways or found.idle):
        return "Nothing here can be opened for a flush, and shut again."
    if not (found.ways or found.idle):
        return "There is no cap and no drain valve to open, and no standpipe that pulls out."
    total = sum(line.length for line in found.layout.lines.values())
    return (
        f"{show(found.scoured, 'length', units)} of {show(total, 'length', units)} of pipe can be scoured: at least "
        f"{show(limits['scour speed'], 'speed', units)} and {show(limits['scour shear'], 'shear', units)} of wall shear, and faster "
        "than usual."
    )


def _told_once(ways: Iterable[Flush], on: str) -> list[tuple[Flush, str]]:
    """Each way with its word for the pumps, `on` where they run; one that does the same with the pumps off is told once."""
    rows: list[tuple[Flush, str]] = []
    for way in ways:
        twin = next((at for at, (one, _) in enumerate(rows) if _same(one, way)), None)
        if twin is not None:
            rows[twin] = (rows[twin][0], "pumps on or off")
        else:
            rows.append((way, "pumps off" if way.stopped and on else on))
    return rows


def _way(found: Flushing, way: Flush, word: str) -> Iterator[RenderableType]:
    units = found.layout.units
    costs = [
        f"{verb} {show(flow, 'flow', units)}"
        for verb, flow in (("loses", way.loses), ("brings", way.brings))
        if flow > 0.0
    ]
    water = show(max(way.water, way.brings * way.seconds), "volume", units)
    head = Text(_opened(way.opened, way.hose), style="bold")
    yield point(
        head.append(
            f"{word and f', {word}'}: {', '.join([*costs, f'for {_time(way.seconds)}'])}: {water} in all",
            style="not bold",
        )
    )
    for line, pieces in way.scours.items():
        steps = steps_said(
            part.step
            for part in found.layout.lines[line].parts
            if part.is_pipe and any(low - 1e-9 <= part.at < high for low, high in pieces)
        )
        yield point(f"scours {show(length(pieces), 'length', units)} of '{line}' ({steps})", by=6)
    falls = [f"'{name}' by {show(fall, 'length', units)}" for name, fall in way.falls.items() if fall > _FALL]
    if falls:
        yield point(f"meanwhile falls {' and '.join(falls)}", by=6)


def _speed(speed: float, units: Units) -> str:
    return show(speed, "speed", units) if speed > 0.0 else "nothing"


def _weak_row(weak: Weak, units: Units) -> tuple[str, ...]:
    best = ("", "", "nothing hastens it")
    if weak.best is not None:
        off = ", pumps off" if weak.best.stopped and weak.best.hose is None else ""
        said = _opened(weak.best.opened, weak.best.hose) + off
        best = (show(weak.velocity, "speed", units), show(weak.shear, "shear", units), said)
    size = f"{show(length(weak.pieces), 'length', units)}, {steps_of(weak.stretches)}"
    return (weak.line, size, show(weak.usual, "speed", units), *best)


def _same(one: Flush, other: Flush) -> bool:
    """Whether two ways differ in the pumps alone, and come to the same."""
    alike = one.opened == other.opened and one.hose == other.hose and dict(one.scours) == dict(other.scours)
    if not alike or abs(one.loses - other.loses) > 0.01 * max(one.loses, other.loses):
        return False
    return all(one.stretches[name].hastened == other.stretches[name].hastened for name in one.stretches)


def _opened(opened: tuple[Any, ...], hose: Any) -> str:
    labels = " and ".join(one.label for one in opened)
    if hose is None:
        return labels
    return f"the hose at {hose.label}" + (f", {labels} open" if labels else "")


def _time(seconds: float) -> str:
    return f"{max(round(seconds), 1)} s" if seconds < 90.0 else f"{seconds / 60.0:.1f} min"


def flush_as_json(found: Flushing) -> dict[str, Any]:
    """Return the ways as plain data, every number finite or null."""
    layout, hose = found.layout, found.layout.hose
    return {
        **about(layout),
        **in_units({"scour_speed_m_s": layout.limits["scour speed"], "scour_shear_pa": layout.limits["scour shear"]}),
        "hose": None if hose is None else {"pressure_bar": hose.pressure / 1e5, **fields(hose, "flow_l_min")},
        **fields(found, "scoured_m"),
        "ways": [_flush(way) for way in found.ways],
        "idle": [_flush(way) for way in found.idle],
        "shut": [{"open": one.id, "why": why} for one, why in found.shut],
        "unsolved": [_state(*state) for state in found.unsolved],
        "not_scoured": [_weak(weak) for weak in found.weak],
        "cautions": dict(cautions_of("flush", layout)),
    }


def _state(opened: tuple[Opening, ...], hose: Opening | None, stopped: bool) -> dict[str, Any]:
    return {"open": [one.id for one in opened], **fields(hose, "hose_at=id"), "pumps_on": not stopped}


def _flush(way: Flush) -> dict[str, Any]:
    return {
        **_state(way.opened, way.hose, way.stopped),
        **fields(way, "loses_l_min brings_l_min scours_m=length"),
        "minutes": way.seconds / 60.0,
        **fields(way, "water_l falls_m scours"),
        "stretches": {
            name: fields(one, "velocity_m_s shear_pa scoured_m")
            | {"minutes": None if one.seconds is None else one.seconds / 60.0}
            for name, one in way.stretches.items()
        },
    }


def _weak(weak: Weak) -> dict[str, Any]:
    best = weak.best
    unknown = dict.fromkeys(("open", "hose_at", "pumps_on"))
    return {
        **fields(weak, "line pieces_m usual_m_s"),
        **fields(None if best is None else weak, "best_m_s=velocity best_shear_pa=shear"),
        **(unknown if best is None else _state(best.opened, best.hose, best.stopped)),
    }
