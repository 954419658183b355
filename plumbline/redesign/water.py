"""Whether the water does what is asked in a changed layout: what is wanted, what is unmet, and how the flows are judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..errors import PlumblineError, SolveError
from ..findings import Finding
from ..hydraulics import find
from ..hydraulics.flows import Flows
from ..hydraulics.judge import judge
from ..hydraulics.power_cut import power_cut
from ..hydraulics.power_cut_findings import judge_power_cut
from ..hydraulics.valve_service import with_openings
from ..layout.model import Layout
from ..upkeep.dead_legs import by_shape, dead_legs

__all__ = ["Settled", "Unmet", "Wanted", "failures", "judged", "levels_of", "safely", "short_of", "unmet", "unmet_of"]

_ENOUGH = 1e-9


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of the water: the `margin` above what each vessel wants, `but` for some; no dead leg over the limit (`legs`). No finding that
    fails, always."""

    margin: float
    legs: bool = True
    but: frozenset[str] = frozenset()

    def aims(self, layout: Layout) -> dict[str, float]:
        """What each vessel should get [m³/s]."""
        return {
            name: (1.0 + self.margin) * vessel.wants
            for name, vessel in layout.vessels.items()
            if vessel.wants and name not in self.but
        }


@dataclass(frozen=True, slots=True)
class Unmet:
    """Something asked for that is not so: the `kind` of finding, or "margin"; its `line`; `place` the vessel or line; and `lacks`, a size
    by which two of a kind can be told apart in harm."""

    kind: str
    line: str | None
    place: str
    lacks: float
    words: str


@dataclass(frozen=True)
class Settled:
    """Water that was settled: the `openings` of the valves set, by (line, step) of the layout judged and by the vessel served (`set`), its `flows`,
    what is `unmet`, and whether any were `turned` that are no vessel's own."""

    openings: Mapping[tuple[str, int], float]
    flows: Flows | None
    unmet: tuple[Unmet, ...]
    set: Mapping[str, float] = field(default_factory=dict)
    turned: bool = False


def unmet_of(one: Finding) -> Unmet:
    """What a finding says, as something asked for that is not so."""
    return Unmet(one.kind, one.line, one.line or one.vessel or one.kind, one.weight, one.message)


def short_of(layout: Layout, flows: Flows, name: str, wanted: Wanted) -> Unmet:
    """Say how far a vessel is below what is asked for it."""
    wants = layout.vessels[name].wants or 1.0
    got = flows.vessels[name].inflow
    words = f"'{name}' has {got / wants - 1.0:+.0%} where {wanted.margin:+.0%} is asked."
    return Unmet("margin", None, name, (1.0 + wanted.margin) - got / wants, words)


def judged(
    layout: Layout, openings: Mapping[tuple[str, int], float], wanted: Wanted, near: find.Settled | None = None
) -> Settled:
    """Judge a layout with valves set by (line, step); that it was found `near` other openings only saves time."""
    turned = with_openings(layout, openings)
    try:
        flows = find.settle(
            turned, near=near, spare=False
        ).flows  # of drains that carry hardly enough there is a warning alone
    except SolveError as error:
        return Settled(openings, None, (Unmet("no steady flow", None, "", 1.0, str(error)),))
    return Settled(openings, flows, unmet(turned, flows, failures(turned, flows), wanted))


def failures(layout: Layout, flows: Flows) -> list[Finding]:
    """The findings about water that fail, with the pumps on and with them off."""
    found = list(judge(layout, flows))
    try:
        cut = power_cut(layout, flows) if flows.pumps else None
    except SolveError:
        cut = None
    if cut is not None:
        found += judge_power_cut(layout, flows, cut)
    return [finding for finding in found if finding.level == "fail"]


def unmet(layout: Layout, flows: Flows, fails: Sequence[Finding], wanted: Wanted) -> tuple[Unmet, ...]:
    """Tell what is asked for and not so."""
    out = [*map(unmet_of, fails)]
    for name, aim in wanted.aims(layout).items():
        if flows.vessels[name].inflow < aim * (1.0 - _ENOUGH):
            out.append(short_of(layout, flows, name, wanted))
    if wanted.legs:
        wet = (leg for leg in by_shape(layout) if any(stretch.id not in flows.cut_off for stretch, _, _ in leg.pieces))
        told = [leg for leg in wet if not leg.drained]
        out += [Unmet("dead-leg", one.line, one.line or "", 1.0, one.message) for one in dead_legs(layout, told)]
    return tuple(out)


def levels_of(flows: Flows) -> dict[str, float]:
    """Where the water stands in the vessels whose level was found."""
    return {name: got.level for name, got in flows.vessels.items() if got.level is not None}


def safely(layout: Layout, near: find.Settled | None = None) -> find.Settled | None:
    """The water of a layout, None where none settles; that of one much like it, `near`, only saves time."""
    try:
        return find.settle(layout, near=near, spare=False)
    except PlumblineError:
        return None
