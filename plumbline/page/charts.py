"""Charts for the page, drawn by matplotlib as SVG that takes its colours from the page. Computes no hydraulics."""

from __future__ import annotations

import hashlib
import io
import re
import warnings
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from ..check import CheckResult
from ..day import Course
from ..hydraulics.grade import GradeLine
from ..hydraulics.pumps import PumpCurves
from ..hydraulics.system_curve import SystemCurve
from ..report.words import gets_enough
from ..units import Shown, Units, show
from .sketch.letters import text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ..upkeep.fouling import Fouling

__all__ = ["day_chart", "flows_chart", "fouling_chart", "grade_chart", "pump_chart"]

_COLOURS = {
    "#010101": "--page-ink",
    "#020202": "--page-soft",
    "#030303": "--page-pipe",
    "#040404": "--page-band",
    "#050505": "--page-bad",
    "#060606": "--page-rule",
    "#070707": "--page-under",
}
_INK, _SOFT, _PIPE, _BAND, _BAD, _RULE, _UNDER = _COLOURS
"""Stand-ins that the page's own colours are put in place of, so that a chart is dark where the page is."""

_SETTINGS: Any = {
    "svg.fonttype": "none",
    "text.parse_math": False,
    "font.size": 8.5,
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "axes.edgecolor": _SOFT,
    "axes.labelcolor": _INK,
    "text.color": _INK,
    "xtick.color": _SOFT,
    "ytick.color": _SOFT,
    "xtick.labelcolor": _INK,
    "ytick.labelcolor": _INK,
    "axes.unicode_minus": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": _RULE,
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "path.simplify": True,
}

WIDTH, HEIGHT = 3.7, 2.6
"""Of a chart [in of 100 px]: as wide as a phone, so that its letters keep their size there."""

_DASHED = (0, (5, 2))


def pump_chart(result: CheckResult, pump: str, system: SystemCurve) -> str:
    """A pump's curve with the `system`'s, the range that the flow is in most likely, and the duty point, as an `svg` element."""
    import numpy as np

    units = result.layout.units
    duty = result.flows.pumps[pump]
    curve = duty.curve

    def line(axes: Axes, points: Sequence[tuple[float, float]], *look: str, **looks: Any) -> None:
        axes.plot(_flows([q for q, _ in points], units), _lengths([h for _, h in points], units), *look, **looks)

    def draw(axes: Axes) -> None:
        sure = result.sure.pumps.get(pump) if result.sure is not None else None
        if sure is not None and sure.flow.sigma > 0.0:
            low, high = _flows((max(sure.flow.low, 0.0), sure.flow.high), units)
            axes.axvspan(low, high, color=_BAND, lw=0, label="most likely here")
        flows = np.linspace(curve[0][0], curve[-1][0], 60)
        heads = [PumpCurves((curve,)).heads(np.array([flow]))[0][0] for flow in flows]
        line(axes, list(zip(flows, heads, strict=True)), color=_PIPE, lw=2.0, label="the pump gives")
        line(axes, curve, "o", color=_PIPE, ms=3.5)
        inside = [(q, h) for q, h in system.points if h <= 1.15 * curve[0][1]]
        if len(inside) > 1:
            line(axes, inside, color=_BAD, lw=1.8, ls=_DASHED, label="the pipe asks")
        line(axes, [(duty.flow, duty.head)], "D", color=_INK, ms=6, label="works here")
        axes.set(xlabel=f"flow, {units.flow}", ylabel=f"head, {units.length}")
        axes.set_xlim(left=min(0.0, *_flows([duty.flow], units)))
        axes.set_ylim(bottom=0.0)

    return _svg(f"pump-{pump}", draw)


def grade_chart(grade: GradeLine, units: Units, key: str) -> str:
    """The pipe, the static head and the total head along a route, as an `svg` element; no other chart of the page has its `key`."""

    def draw(axes: Axes) -> None:
        at, height, static, total = (
            _lengths([getattr(point, name) for point in grade.points], units)
            for name in ("at", "height", "static", "total")
        )
        span = max(*total, *static, *height) - min(*total, *static, *height)
        apart = max(t - s for t, s in zip(total, static, strict=True)) > 0.012 * span
        if apart:
            axes.plot(at, total, color=_BAD, lw=1.6, ls=_DASHED, label="energy line")
        # Where the velocity head is a hair's breadth both lines are one on paper, and the key says so.
        axes.plot(at, static, color=_UNDER, lw=1.6, label="grade line" if apart else "grade and energy line")
        axes.plot(at, height, color=_PIPE, lw=2.6, label="pipe")
        below = [s < h - 1e-6 for s, h in zip(static, height, strict=True)]
        said = "less than the air" if any(below) else None
        axes.fill_between(at, height, static, where=below, color=_BAND, lw=0, label=said)
        axes.set(xlabel=f"along the route, {units.length}", ylabel=f"above the datum, {units.length}")

    return _svg(key, draw)


def flows_chart(result: CheckResult) -> str | None:
    """What each vessel gets, with its range, beside what it wants, as an `svg` element; None where no vessel states what it wants."""
    units = result.layout.units
    wanting = {vessel.name: vessel.wants for vessel in result.layout.vessels.values() if vessel.wants}
    if not wanting:
        return None
    looks = {"too little": (_BAD, _BAD, ""), "gets": (_BAND, _PIPE, ""), "far more than wanted": ("none", _BAD, "////")}
    enough = {name: gets_enough(result, name) for name in wanting}
    said = [enough[name] if enough[name] in looks else "gets" for name in wanting]
    got = _flows([result.flows.vessels[name].inflow for name in wanting], units)
    rows = range(len(wanting))

    def draw(axes: Axes) -> None:
        for look, (fill, edge, hatch) in looks.items():
            here = [row for row in rows if said[row] == look]
            if here:
                wide = [got[row] for row in here]
                axes.barh(here, wide, height=0.62, label=look, color=fill, edgecolor=edge, hatch=hatch)
        if result.sure is not None:
            ranges = [result.sure.vessels[name].inflow for name in wanting]
            low, high = (
                _flows([max(end, 0.0) for end in ends], units)
                for ends in zip(*(one.ends for one in ranges), strict=True)
            )
            axes.hlines(rows, low, high, color=_INK, lw=1.4, label="most likely")
        axes.plot(_flows(wanting.values(), units), rows, "|", color=_INK, ms=15, mew=2.6, label="wants")
        axes.set_yticks(rows, names)
        axes.invert_yaxis()
        axes.set_xlim(left=0.0)
        axes.set_xlabel(f"flow, {units.flow}")

    names = [_short(name) for name in wanting]
    left = 0.2 + max(text_width(name, 8.5 / 72.0) for name in names)
    key = 2 + (len(set(said)) > 2)
    return _svg("flows", draw, height=0.69 + 0.18 * key + 0.27 * len(wanting), left=left, rows=key)


def fouling_chart(fouled: Fouling) -> str | None:
    """What each vessel that states a want gets, month by month as nothing is cleaned, with the range of the rates, as an `svg` element; None
    where no vessel states what it wants."""
    from matplotlib.ticker import MaxNLocator

    units = fouled.layout.units
    courses = [(one, one.wanted) for one in fouled.courses.values() if one.wanted][:6]
    if not courses or len(fouled.months) < 2:
        return None
    styles = ("-", (0, (6, 2)), (0, (2, 2)), (0, (6, 2, 2, 2)), (0, (1, 1)), (0, (8, 2, 1, 2, 1, 2)))

    def draw(axes: Axes) -> None:
        for (one, wanted), style in zip(courses, styles, strict=False):
            low, likely, high = (_flows(flows, units) for flows in (one.low, one.likely, one.high))
            axes.fill_between(fouled.months, low, high, color=_BAND, alpha=0.5, lw=0)
            colour = _BAD if any(flow < wanted * (1.0 - 1e-6) for flow in one.likely) else _PIPE
            axes.plot(fouled.months, likely, color=colour, ls=style, lw=1.8, label=_short(one.vessel))
            axes.plot(fouled.months[-1:], _flows([wanted], units), "_", color=_INK, ms=12, mew=2.4)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        axes.set(xlabel="months without cleaning", ylabel=f"flow, {units.flow}")
        axes.set_ylim(bottom=0.0)

    rows = -(-len(courses) // 2)
    return _svg("fouling", draw, height=HEIGHT + 0.18 * (rows - 2), rows=rows)


def day_chart(result: CheckResult, day: Course, name: str) -> str:
    """The depth of water in a vessel through the day, with its rim, as an `svg` element."""
    units, vessel = result.layout.units, result.layout.vessels[name]

    def draw(axes: Axes) -> None:
        begin, end, said = day.window
        whole = said == "through the day"
        times = [time / 3600.0 if whole else (time - begin) / 60.0 for time in day.times]
        depths = _lengths([level - vessel.base for level in day.vessels[name].level], units)
        axes.fill_between(times, depths, color=_BAND, lw=0)
        axes.plot(times, depths, color=_PIPE, lw=1.2, label=f"depth of water in {name}")
        if vessel.rim is not None:
            axes.axhline(*_lengths([vessel.rim], units), color=_BAD, lw=1.2, ls=_DASHED, label="rim")
        axes.set_xlim(0.0, (end - begin) / (3600.0 if whole else 60.0))
        axes.set_ylim(bottom=0.0)
        axes.set(xlabel="hours from midnight" if whole else f"minutes, {said}", ylabel=units.length)

    return _svg(f"day-{name}", draw, height=2.1)


def _short(name: str) -> str:
    return name if len(name) <= 16 else name[:15] + "…"


def _flows(values: Iterable[float], units: Units, what: Shown = "flow") -> list[float]:
    return [float(show(value, what, units, decimals=4, unit=False)) for value in values]


def _lengths(values: Iterable[float], units: Units) -> list[float]:
    return _flows(values, units, "length")


def _svg(key: str, draw: Callable[[Axes], None], *, height: float = HEIGHT, left: float = 0.55, rows: int = 2) -> str:
    """Draw on a fresh figure, never through pyplot's shared state, with so many `rows` of the key above the drawing."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    name = "c" + hashlib.sha256(key.encode()).hexdigest()[:8]
    with rc_context(_SETTINGS | {"svg.hashsalt": name}), warnings.catch_warnings():
        # The page's reader has letters for other scripts, even where this machine's measure of them has none.
        warnings.simplefilter("ignore", UserWarning)
        figure = Figure(figsize=(WIDTH, height), dpi=100)
        # Fixed margins: finding them by measuring takes half of the time that a chart takes.
        top = 1.0 - (0.14 + 0.18 * rows) / height
        figure.subplots_adjust(left=left / WIDTH, right=0.97, top=top, bottom=0.45 / height)
        figure.patch.set_alpha(0.0)
        axes = figure.add_subplot()
        axes.patch.set_alpha(0.0)
        draw(axes)
        place: Any = {"loc": "upper left", "bbox_to_anchor": (0.0, 1.02), "ncols": 2}
        figure.legend(**place, frameon=False, fontsize=8, handlelength=2.2, columnspacing=1.2)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    return _tidy(out.getvalue(), name)


def _tidy(text: str, name: str) -> str:
    """The `svg` element alone, with ids that are its own, the page's colours and no size but its shape."""
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{name}-", text)
    width, height = (float(found) for found in re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', text)[0])
    text = re.sub(
        r'^<svg [^>]*?(viewBox="[^"]*")[^>]*>',
        rf'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" \1 '
        rf'width="{width * 100 / 72:.0f}" height="{height * 100 / 72:.0f}" class="chart">',
        text,
    )
    for stand_in, colour in _COLOURS.items():
        text = text.replace(stand_in, f"var({colour})")
    return re.sub(r">\s+<", "><", text).strip()
