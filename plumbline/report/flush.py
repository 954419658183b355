"""Every way to flush a layout, on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from ..hydraulics.opened import Opening
from ..layout.model import steps_said
from ..units import show
from ..upkeep.flushing import Flush, Flushing, Weak
from ..upkeep.groups import steps_of
from ..upkeep.intervals import Intervals, length
from .care import care, cautions_of
from .plain import about, fields, heading, in_units, plain_table, point

__all__ = ["FlushView", "flush_as_json"]

_FALL = 0.01
"""A vessel that falls by less than this [m] is not spoken of."""

_NOTES = (
    "Times are until three volumes of each stretch have passed (common practice, no source); go on until the water runs "
    "clear. Levels are taken as in normal running: a vessel that falls gives less as it does.",
    "Open the way out before the pump is switched on, stand aside of it, catch the water, and top up with water that fish can "
    "live in. Keep an eye on the fish and on the pump's intake.",
    "Drains are taken to run full: a cap that is open below a rise of its pipe may let out more than is said.",
)


class FlushView:
    """A rich renderable of the ways to flush a layout."""

    def __init__(self, found: Flushing) -> None:
        self.found = found
        self.units = found.layout.units

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        found = self.found
        yield Text(found.layout.name, style="bold")
        yield Text(self._answer())
        for title, ways in self._merged():
            yield heading(title)
            for way, word in ways:
                yield from self._way(way, word)
        if found.idle:
            yield heading("Scours nothing")
            yield self._idle()
        if found.unsolved:
            said = "; ".join(_opened(opened, hose) for opened, hose, _ in found.unsolved)
            yield Text(f"\nNo steady flow was found with {said}.", style="dim")
        if found.weak:
            yield heading("Not scoured by any of them")
            yield self._weak()
        yield from care("flush", found.layout, _NOTES)

    def _answer(self) -> str:
        found, limits = self.found, self.found.layout.limits
        total = sum(line.length for line in found.layout.lines.values())
        least = show(limits["scour speed"], "speed", self.units)
        wanted = f"{least} and {show(limits['scour shear'], 'shear', self.units)} of wall shear, and faster than usual"
        if not (found.ways or found.idle):
            return "There is no cap and no drain valve to open, and no standpipe that pulls out."
        return (
            f"{show(found.scoured, 'length', self.units)} of {show(total, 'length', self.units)} of pipe can be scoured: "
            f"at least {wanted}."
        )

    def _merged(self) -> Iterator[tuple[str, list[tuple[Flush, str]]]]:
        """The ways under their headings."""
        rows = self._rows(way for way in self.found.ways if way.hose is None)
        if rows:
            yield "Open", rows
        hose = [(way, "pumps off") for way in self.found.ways if way.hose is not None]
        if hose:
            yield "With the hose", hose

    def _rows(self, ways: Iterable[Flush]) -> list[tuple[Flush, str]]:
        """Each way with its word for the pumps; one that does the same with the pumps off is told once."""
        rows: list[tuple[Flush, str]] = []
        for way in ways:
            twin = next((at for at, (one, _) in enumerate(rows) if _same(one, way)), None)
            if twin is not None:
                rows[twin] = (rows[twin][0], "pumps on or off")
            else:
                rows.append((way, "pumps off" if way.stopped else "pumps on" if self.found.layout.pumps else ""))
        return rows

    def _way(self, way: Flush, word: str) -> Iterator[RenderableType]:
        head = Text(_opened(way.opened, way.hose), style="bold")
        if word:
            head.append(f", {word}", style="not bold")
        head.append(": " + self._cost(way), style="not bold")
        yield point(head)
        for line, pieces in way.scours.items():
            steps = self._steps(line, pieces)
            size = show(length(pieces), "length", self.units)
            yield point(f"scours {size} of '{line}' ({steps})", by=6)
        falls = [f"'{name}' by {show(fall, 'length', self.units)}" for name, fall in way.falls.items() if fall > _FALL]
        if falls:
            yield point(f"meanwhile falls {' and '.join(falls)}", by=6)

    def _cost(self, way: Flush) -> str:
        said = []
        if way.loses > 0.0:
            said.append(f"loses {show(way.loses, 'flow', self.units)}")
        if way.brings > 0.0:
            said.append(f"brings {show(way.brings, 'flow', self.units)}")
        said.append(f"for {_time(way.seconds)}")
        water = max(way.water, way.brings * way.seconds)
        return f"{', '.join(said)}: {show(water, 'volume', self.units)} in all"

    def _steps(self, line: str, pieces: Intervals) -> str:
        parts = [
            part
            for part in self.found.layout.lines[line].parts
            if part.is_pipe and any(low - 1e-9 <= part.at < high for low, high in pieces)
        ]
        return steps_said(part.step for part in parts)

    def _idle(self) -> Table:
        table = plain_table("open", "", ">loses", ">fastest that it hastens")
        for way, word in self._rows(self.found.idle):
            best = max((one.velocity for one in way.stretches.values() if one.hastened), default=0.0)
            table.add_row(
                Text(_opened(way.opened, way.hose)),
                word,
                show(max(way.loses, 0.0), "flow", self.units),
                show(best, "speed", self.units) if best > 0.0 else "nothing",
            )
        return table

    def _weak(self) -> Table:
        rows = []
        for weak in self.found.weak:
            best = ("", "", "nothing hastens it")
            if weak.best is not None:
                best = (
                    show(weak.velocity, "speed", self.units),
                    show(weak.shear, "shear", self.units),
                    _with(weak.best),
                )
            size = f"{show(length(weak.pieces), 'length', self.units)}, {steps_of(weak.stretches)}"
            rows.append((weak.line, size, show(weak.usual, "speed", self.units), *best))
        return plain_table("pipe", "", ">as it runs", ">at best", ">wall shear", "with", rows=rows)


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


def _with(way: Flush) -> str:
    word = ", pumps off" if way.stopped and way.hose is None else ""
    return _opened(way.opened, way.hose) + word


def _time(seconds: float) -> str:
    return f"{max(round(seconds), 1)} s" if seconds < 90.0 else f"{seconds / 60.0:.1f} min"


def flush_as_json(found: Flushing) -> dict[str, Any]:
    """Return the ways as plain data, every number finite or null."""
    layout, hose = found.layout, found.layout.hose
    return {
        **about(layout),
        "scour_speed_m_s": layout.limits["scour speed"],
        "scour_shear_pa": layout.limits["scour shear"],
        "hose": None if hose is None else {"pressure_bar": hose.pressure / 1e5, **fields(hose, "flow_l_min")},
        **fields(found, "scoured_m"),
        "ways": [_flush(way) for way in found.ways],
        "idle": [_flush(way) for way in found.idle],
        "unsolved": [_state(*state) for state in found.unsolved],
        "not_scoured": [_weak(weak) for weak in found.weak],
        "cautions": dict(cautions_of("flush", layout)),
    }


def _state(opened: tuple[Opening, ...], hose: Opening | None, stopped: bool) -> dict[str, Any]:
    return {
        "open": [one.id for one in opened],
        "hose_at": None if hose is None else hose.id,
        "pumps_on": not stopped,
    }


def _flush(way: Flush) -> dict[str, Any]:
    return in_units(
        {
            **_state(way.opened, way.hose, way.stopped),
            "loses_l_min": way.loses,
            "brings_l_min": way.brings,
            "scours_m": way.length,
            "minutes": way.seconds / 60.0,
            "water_l": way.water,
            "falls_m": way.falls,
            "scours": way.scours,
            "stretches": {
                name: fields(one, "velocity_m_s", "shear_pa", "scoured_m")
                | {"minutes": None if one.seconds is None else one.seconds / 60.0}
                for name, one in way.stretches.items()
            },
        }
    )


def _weak(weak: Weak) -> dict[str, Any]:
    best = weak.best
    return {
        **in_units({"line": weak.line, "pieces_m": weak.pieces, "usual_m_s": weak.usual}),
        "best_m_s": None if best is None else weak.velocity,
        "best_shear_pa": None if best is None else weak.shear,
        **(
            dict.fromkeys(("open", "hose_at", "pumps_on"))
            if best is None
            else _state(best.opened, best.hose, best.stopped)
        ),
    }
