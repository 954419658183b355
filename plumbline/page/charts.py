"""Charts for the page, drawn by matplotlib as SVG that takes its colours from the page. Computes no hydraulics."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from ..check import CheckResult
from ..day import Course
from ..hydraulics.grade import GradeLine
from ..hydraulics.pumps import PumpCurves
from ..hydraulics.system_curve import SystemCurve
from ..units import Units, show
from .sketch.letters import text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["day_chart", "flows_chart", "grade_chart", "pump_chart"]

_COLOURS = {
    "#010101": "--page-ink", "#020202": "--page-soft", "#030303": "--page-pipe", "#040404": "--page-band",
    "#050505": "--page-bad", "#060606": "--page-rule", "#070707": "--page-under",
}  # fmt: skip
_INK, _SOFT, _PIPE, _BAND, _BAD, _RULE, _UNDER = _COLOURS
"""Stand-ins that the page's own colours are put in place of, so that a chart is dark where the page is."""

WIDTH, HEIGHT = 3.7, 2.6
"""Of a chart [in of 100 px]: as wide as a phone, so that its letters keep their size there."""


def pump_chart(result: CheckResult, pump: str, system: SystemCurve) -> str:
    """A pump's curve with the system's, the range that the flow is in most likely, and the duty point.

    Parameters:
        result: of a check.
        pump: its name.
        system: its system curve.

    Returns:
        An `svg` element.
    """
    import numpy as np

    units = result.layout.units
    curve, duty = result.layout.pumps[pump].curve, result.flows.pumps[pump]

    def draw(axes: Axes) -> None:
        flows = np.linspace(curve[0][0], curve[-1][0], 60)
        heads, _ = PumpCurves((curve,)).heads(np.zeros(1))
        heads = np.array([PumpCurves((curve,)).heads(np.array([flow]))[0][0] for flow in flows])
        sure = result.sure.pumps.get(pump) if result.sure is not None else None
        if sure is not None and sure.flow.sigma > 0.0:
            axes.axvspan(_flow(max(sure.flow.low, 0.0), units), _flow(sure.flow.high, units), color=_BAND, lw=0,
                         label="most likely here")  # fmt: skip
        axes.plot(
            [_flow(q, units) for q in flows],
            [_head(h, units) for h in heads],
            color=_PIPE,
            lw=2.0,
            label="the pump gives",
        )
        axes.plot([_flow(q, units) for q, _ in curve], [_head(h, units) for _, h in curve], "o", color=_PIPE, ms=3.5)
        if len(system.points) > 1:
            inside = [(q, h) for q, h in system.points if h <= 1.15 * curve[0][1]]
            axes.plot([_flow(q, units) for q, _ in inside], [_head(h, units) for _, h in inside], color=_BAD, lw=1.8,
                      ls=(0, (5, 2)), label="the pipe asks")  # fmt: skip
        axes.plot([_flow(duty.flow, units)], [_head(duty.head, units)], "D", color=_INK, ms=6, label="works here")
        axes.set_xlabel(f"flow, {units.flow}")
        axes.set_ylabel(f"head, {units.length}")
        axes.set_xlim(left=min(0.0, _flow(duty.flow, units)))
        axes.set_ylim(bottom=0.0)

    return _svg(f"pump-{pump}", draw, legend=True)


def grade_chart(grade: GradeLine, units: Units, key: str) -> str:
    """The pipe, the static head and the total head along a route.

    Parameters:
        grade: of the route.
        units: to show.
        key: that no other chart of the page has.

    Returns:
        An `svg` element.
    """

    def draw(axes: Axes) -> None:
        at = [_head(point.at, units) for point in grade.points]
        height = [_head(point.height, units) for point in grade.points]
        static = [_head(point.static, units) for point in grade.points]
        axes.plot(
            at,
            [_head(point.total, units) for point in grade.points],
            color=_BAD,
            lw=1.6,
            ls=(0, (5, 2)),
            label="energy line",
        )
        axes.plot(at, static, color=_UNDER, lw=1.6, label="grade line")
        axes.plot(at, height, color=_PIPE, lw=2.6, label="pipe")
        below = [s < h - 1e-6 for s, h in zip(static, height, strict=True)]
        axes.fill_between(
            at, height, static, where=below, color=_BAND, lw=0, label="less than the air" if any(below) else None
        )
        axes.set_xlabel(f"along the route, {units.length}")
        axes.set_ylabel(f"above the datum, {units.length}")

    return _svg(key, draw, legend=True)


def flows_chart(result: CheckResult) -> str | None:
    """What each vessel gets, with its range, beside what it wants.

    Parameters:
        result: of a check.

    Returns:
        An `svg` element; None where no vessel states what it wants.
    """
    units = result.layout.units
    wanting = [vessel for vessel in result.layout.vessels.values() if vessel.wants]
    if not wanting:
        return None

    names = [vessel.name if len(vessel.name) <= 16 else vessel.name[:15] + "…" for vessel in wanting]
    left = 0.2 + max(text_width(name, 8.5 / 72.0) for name in names)

    def draw(axes: Axes) -> None:
        rows = list(range(len(wanting)))
        got = [result.flows.vessels[vessel.name].inflow for vessel in wanting]
        short = [flow < (vessel.wants or 0.0) * (1.0 - 1e-6) for flow, vessel in zip(got, wanting, strict=True)]
        axes.barh(rows, [_flow(flow, units) for flow in got], height=0.62, label="gets",
                  color=[_BAND if not bad else _BAD for bad in short], edgecolor=[_PIPE if not bad else _BAD for bad in short])  # fmt: skip
        if result.sure is not None:
            ranges = [result.sure.vessels[vessel.name].inflow for vessel in wanting]
            axes.hlines(rows, [_flow(max(one.low, 0.0), units) for one in ranges], [_flow(one.high, units) for one in ranges],
                        color=_INK, lw=1.4, label="most likely")  # fmt: skip
        axes.plot(
            [_flow(vessel.wants or 0.0, units) for vessel in wanting],
            rows,
            "|",
            color=_INK,
            ms=15,
            mew=2.6,
            label="wants",
        )
        axes.set_yticks(rows, names)
        axes.invert_yaxis()
        axes.set_xlim(left=0.0)
        axes.set_xlabel(f"flow, {units.flow}")

    return _svg("flows", draw, legend=True, height=1.05 + 0.27 * len(wanting), left=left)


def day_chart(result: CheckResult, day: Course, name: str) -> str:
    """A vessel's depth of water through the day, with its rim.

    Parameters:
        result: of a check.
        day: the course of its day.
        name: of the vessel.

    Returns:
        An `svg` element.
    """
    units, vessel = result.layout.units, result.layout.vessels[name]

    def draw(axes: Axes) -> None:
        times = [time / 3600.0 for time in day.times]
        depths = [_head(level - vessel.base, units) for level in day.vessels[name].level]
        axes.fill_between(times, depths, color=_BAND, lw=0)
        axes.plot(times, depths, color=_PIPE, lw=1.2, label=f"depth of water in {name}")
        if vessel.rim is not None:
            axes.axhline(_head(vessel.rim, units), color=_BAD, lw=1.2, ls=(0, (5, 2)), label="rim")
        axes.set_xlim(0.0, times[-1])
        axes.set_ylim(bottom=0.0)
        axes.set_xlabel("hours from midnight")
        axes.set_ylabel(units.length)

    return _svg(f"day-{name}", draw, legend=True, height=2.1)


def _flow(value: float, units: Units) -> float:
    return float(show(value, "flow", units, decimals=4, unit=False))


def _head(value: float, units: Units) -> float:
    return float(show(value, "length", units, decimals=4, unit=False))


def _svg(key: str, draw: Callable[[Axes], None], *, legend: bool, height: float = HEIGHT, left: float = 0.55) -> str:
    """Draw on a fresh figure, never through pyplot's shared state, and make the text fit a page."""
    import hashlib

    from matplotlib import rc_context
    from matplotlib.figure import Figure

    name = "c" + hashlib.sha256(key.encode()).hexdigest()[:8]
    settings: Any = {
        "svg.fonttype": "none", "svg.hashsalt": name, "text.parse_math": False, "font.size": 8.5, "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"], "axes.edgecolor": _SOFT, "axes.labelcolor": _INK, "text.color": _INK,
        "xtick.color": _SOFT, "ytick.color": _SOFT, "xtick.labelcolor": _INK, "ytick.labelcolor": _INK, "axes.unicode_minus": True,
        "axes.spines.top": False, "axes.spines.right": False, "axes.grid": True, "grid.color": _RULE, "grid.linewidth": 0.6,
        "axes.axisbelow": True, "path.simplify": True,
    }  # fmt: skip
    with rc_context(settings), warnings.catch_warnings():
        # The page's reader has letters for other scripts, even where this machine's measure of them has none.
        warnings.simplefilter("ignore", UserWarning)
        figure = Figure(figsize=(WIDTH, height), dpi=100)
        # Fixed margins: finding them by measuring takes half of the time that a chart takes.
        figure.subplots_adjust(left=left / WIDTH, right=0.97, top=1.0 - 0.5 / height, bottom=0.45 / height)
        figure.patch.set_alpha(0.0)
        axes = figure.add_subplot()
        axes.patch.set_alpha(0.0)
        draw(axes)
        if legend:
            figure.legend(
                loc="upper left",
                bbox_to_anchor=(0.0, 1.02),
                ncols=2,
                frameon=False,
                fontsize=8,
                handlelength=2.2,
                columnspacing=1.2,
            )
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    return _tidy(out.getvalue(), name)


def _tidy(text: str, name: str) -> str:
    """The `svg` element alone, with ids that are its own, the page's colours and no size but its shape."""
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{name}-", text)
    width, height = (float(found) for found in re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', text)[0])
    text = re.sub(r'^<svg [^>]*?(viewBox="[^"]*")[^>]*>',
                  rf'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" \1 '
                  rf'width="{width * 100 / 72:.0f}" height="{height * 100 / 72:.0f}" class="chart">', text)  # fmt: skip
    for stand_in, colour in _COLOURS.items():
        text = text.replace(stand_in, f"var({colour})")
    return re.sub(r">\s+<", "><", text).strip()
