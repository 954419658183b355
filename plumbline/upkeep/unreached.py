"""Pipe that neither rod nor flush cleans: each piece with its reasons and the cheapest way to open it up."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..catalogue import weights
from ..catalogued import finding
from ..findings import Finding, as_tuple
from ..layout.model import Access, Layout, steps_said
from ..units import show
from .cures import Cures, brush_words
from .intervals import Interval, Intervals, subtract
from .openings import SLACK, Opening
from .reach import Push, refusal
from .stakes import Stakes
from .tools import least_bore
from .track import Track, runs_in
from .why import Failure, Neighbours, entry_failure, failures

__all__ = ["Gap", "blind", "gaps", "unreached"]

NEAREST = 3
"""How many accesses a message speaks of."""

SLIVER = 0.005
"""A piece shorter than this [m] is less than a tape tells, and nothing is said of it."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Pipe that is not cleanable, from `start` to `stop` [m along `line`]: `volume` [m³] of water in it, why each access near
    it fails, the new opening that would help most, if any, and what is said of it."""

    line: str
    start: float
    stop: float
    volume: float
    why: tuple[Failure, ...]
    opening: Opening | None
    finding: Finding


def gaps(layout: Layout, cleanable: Mapping[str, Intervals]) -> tuple[tuple[str, Interval], ...]:
    """Give every piece of pipe that is not cleanable, as (line, interval)."""
    return tuple(
        (name, gap)
        for name, line in layout.lines.items()
        for gap in subtract([(0.0, line.length)], cleanable.get(name, ()), slack=SLACK)
    )


@as_tuple
def unreached(track: Track, cleanable: Mapping[str, Intervals], weighed: Stakes | None = None) -> Iterator[Gap]:
    """Find every gap in the cleanable pipe, with why the nearest accesses do not serve it and what would.

    Where one new opening helps two gaps of a line, the second refers to the first. `weighed` tells what each piece counts; all pipe alike where it
    is left out.
    """
    layout = track.layout
    weighed = weighed or Stakes(layout, {})
    near, cures = Neighbours(track), Cures(track)
    told: dict[tuple[str, str], str] = {}
    for name, gap in gaps(layout, cleanable):
        if gap[1] - gap[0] < SLIVER:
            continue
        why = failures(near, name, gap)
        runs = runs_in(layout, name, gap)
        steps = [part.step for _, part, _ in runs]
        volume = math.fsum(math.pi / 4.0 * part.pipe.bore**2 * (high - low) for _, part, (low, high) in runs)
        place = _place(layout, name, gap, steps, show(volume, "volume", layout.units))
        cure = cures.cure(name, gap, why)
        text = cure.text
        if cure.opening is not None:
            key = (name, cure.opening.text)
            if key in told:
                text = text.replace(cure.opening.text, f"do as for {told[key]}: one {cure.opening.fitting} serves both")
            else:
                told[key] = place[0].lower() + place[1:]
        said = finding(
            "unreachable",
            f"{place} cannot be cleaned: {_reason(layout, why)}.",
            text,
            more="; ".join(f"{failure.access}: {failure.reason}" for failure in why[1:NEAREST]),
            line=name,
            step=steps[0],
            weight=weights()["unreachable"].of(weighed.share(name, gap)),
            start=gap[0],
            stop=gap[1],
        )
        yield Gap(name, *gap, volume, why, cure.opening, said)


def blind(track: Track, done: tuple[Push, ...], flushed: Mapping[str, Mapping[str, Intervals]]) -> tuple[Finding, ...]:
    """Report caps and unions that let no rod into any pipe and serve no flush."""
    out = []
    useful = {push.access for push in done} | {push.to for push in done if push.to is not None}
    useful |= {access for access, pipe in flushed.items() if any(pipe.values())}
    # What cannot be opened safely is told of by itself.
    useful |= {access for access, spill in track.spills.items() if not spill.safe}
    for line in track.layout.lines.values():
        out += [
            finding(
                "blind-access",
                f"Nobody gets at {part.kind} '{part.id}': it is {part.around}, as the file says.",
                "bring it to where a hand reaches it",
                line=line.name,
                step=part.step,
            )
            for part in line.parts
            if part.kind in ("cap", "union") and part.around
        ]
    for access in track.layout.accesses:
        if access.kind not in ("cap", "union") or access.id in useful:
            continue
        out.append(
            finding(
                "blind-access",
                f"No rod goes in at {access.id}: {entry_failure(track, access)}.",
                _turn_it(track, access),
                line=access.line,
                step=access.step
                if any(part.step == access.step for part in track.layout.lines[access.line].parts)
                else None,
            )
        )
    return tuple(out)


def _turn_it(track: Track, access: Access) -> str:
    if access.id in track.closed:
        return "move it to where a hand reaches it, or take the pipe out to clean it"
    refused = [refusal(track, rod, access) for rod in track.tools]
    if None in refused:
        return "turn it so that it opens along the pipe, or get a rod that passes its turn"
    if any(access.bore >= least_bore(rod) - 1e-9 for rod in track.tools):
        return (
            "turn it to where there is room for a hand and a rod, or use a tool that takes less, such as a sprung cable"
        )
    return f"get {brush_words(track.layout, [access.bore])}"


def _reason(layout: Layout, why: tuple[Failure, ...]) -> str:
    if not layout.rods:
        return "the layout has no rod"
    if not why:
        return "no access leads to it"
    return f"{why[0].access}: {why[0].reason}"


def _place(layout: Layout, line: str, gap: Interval, steps: list[int], volume: str) -> str:
    size = show(gap[1] - gap[0], "length", layout.units)
    if gap[0] <= SLACK and gap[1] >= layout.lines[line].length - SLACK:
        return f"All {size} of '{line}' ({volume})"
    return f"{size} of '{line}' ({steps_said(steps)}, {volume})"
