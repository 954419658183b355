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
from ..report.words import enough_words
from ..units import Units, show
from .sketch.letters import text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ..upkeep.fouling import Fouling

__all__ = ["day_chart", "flows_chart", "fouling_chart", "grade_chart", "pump_chart"]

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
        total = [_head(point.total, units) for point in grade.points]
        span = max(*total, *static, *height) - min(*total, *static, *height)
        apart = max(t - s for t, s in zip(total, static, strict=True)) > 0.012 * span
        if apart:
            axes.plot(at, total, color=_BAD, lw=1.6, ls=(0, (5, 2)), label="energy line")
        # Where the velocity head is a hair's breadth both lines are one on paper, and the key says so.
        axes.plot(at, static, color=_UNDER, lw=1.6, label="grade line" if apart else "grade and energy line")
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
        looks = {
            "too little": (_BAD, _BAD, ""),
            "gets": (_BAND, _PIPE, ""),
            "far more than wanted": ("none", _BAD, "////"),
        }
        for said, (fill, edge, hatch) in looks.items():
            here = [k for k, vessel in enumerate(wanting) if _look(result, vessel.name) == said]
            if here:
                axes.barh([rows[k] for k in here], [_flow(got[k], units) for k in here], height=0.62, label=said, color=fill,
                          edgecolor=edge, hatch=hatch)  # fmt: skip
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

    rows = 2 + (len({_look(result, vessel.name) for vessel in wanting}) > 2)
    return _svg("flows", draw, legend=True, height=0.69 + 0.18 * rows + 0.27 * len(wanting), left=left, rows=rows)


def _look(result: CheckResult, vessel: str) -> str:
    got = result.flows.vessels[vessel]
    word = enough_words(result, vessel, got.inflow / (got.wanted or 1.0) - 1.0)
    return next((look for look in ("too little", "far more than wanted") if word.startswith(look)), "gets")


def fouling_chart(fouled: Fouling) -> str | None:
    """What each vessel that states a want gets, month by month as nothing is cleaned, with the range of the rates.

    Parameters:
        fouled: month by month.

    Returns:
        An `svg` element; None where no vessel states what it wants.
    """
    from matplotlib.ticker import MaxNLocator

    units = fouled.layout.units
    courses = [one for one in fouled.courses.values() if one.wanted][:6]
    if not courses or len(fouled.months) < 2:
        return None
    styles = ("-", (0, (6, 2)), (0, (2, 2)), (0, (6, 2, 2, 2)), (0, (1, 1)), (0, (8, 2, 1, 2, 1, 2)))

    def draw(axes: Axes) -> None:
        for one, style in zip(courses, styles, strict=False):
            likely = [_flow(flow, units) for flow in one.likely]
            axes.fill_between(fouled.months, [_flow(flow, units) for flow in one.low], [_flow(flow, units) for flow in one.high],
                              color=_BAND, alpha=0.5, lw=0)  # fmt: skip
            short = any(flow < (one.wanted or 0.0) * (1.0 - 1e-6) for flow in one.likely)
            name = one.vessel if len(one.vessel) <= 16 else one.vessel[:15] + "…"
            axes.plot(fouled.months, likely, color=_BAD if short else _PIPE, ls=style, lw=1.8, label=name)
            axes.plot([fouled.months[-1]], [_flow(one.wanted or 0.0, units)], "_", color=_INK, ms=12, mew=2.4)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        axes.set_xlabel("months without cleaning")
        axes.set_ylabel(f"flow, {units.flow}")
        axes.set_ylim(bottom=0.0)

    rows = -(-len(courses) // 2)
    return _svg("fouling", draw, legend=True, height=HEIGHT + 0.18 * (rows - 2), rows=rows)


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


def _svg(
    key: str, draw: Callable[[Axes], None], *, legend: bool, height: float = HEIGHT, left: float = 0.55, rows: int = 2
) -> str:
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
        # The key's rows stand above the drawing.
        figure.subplots_adjust(
            left=left / WIDTH, right=0.97, top=1.0 - (0.14 + 0.18 * rows) / height, bottom=0.45 / height
        )
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
