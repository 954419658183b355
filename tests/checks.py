"""The check of each layout of the project, its card and its page, made once for all tests of a process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from plumbline import read_layout
from plumbline.catalogue.reading import data
from plumbline.check import CheckResult, check, flushes
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.flows import Flows
from plumbline.layout.model import Layout
from plumbline.page.extras import Extras
from plumbline.page.page import page
from plumbline.upkeep import Upkeep, look_after
from plumbline.upkeep.card import WallCard, wall_card, wash_jobs
from plumbline.upkeep.flushing import flush_ways

__all__ = ["LAYOUTS", "STANDBY", "card_of", "cautions", "checked", "once", "page_of", "page_with_card", "upkeep_of"]

LAYOUTS = Path(__file__).parent.parent / "layouts"


@cache
def _checked(stem: str) -> CheckResult:
    return check(read_layout(LAYOUTS / f"{stem}.yaml"))


def checked(name: str | Path) -> CheckResult:
    """By its name, or by that of its file."""
    return _checked(Path(name).stem)


_KNOWN: dict[tuple[str, str], Any] = {}


def once(work: Callable[..., Any]) -> Callable[..., Any]:
    """What is worked out of a layout, for all tests of a process once on the same layout and whatever else it is given, but for who is told on the
    way."""

    def known(layout: Layout, *given: Any, tell: object = None, progress: object = None, **named: Any) -> Any:
        key = (work.__qualname__, repr((replace(layout, path=""), given, sorted(named.items()))))
        if key not in _KNOWN:
            _KNOWN[key] = work(layout, *given, **named)
        return _KNOWN[key]

    return known


def upkeep_of(layout: Layout, flows: Flows | None = None) -> Upkeep:
    """What a check finds of the upkeep, without all else that it looks at."""
    there = find_flows(layout, margins=False) if flows is None else flows
    return look_after(layout, there, flushes(layout, there))


@cache
def card_of(name: str) -> WallCard:
    """Its wall card, with the washes."""
    result = checked(name)
    return wall_card(result.layout, result.flows, result.upkeep, wash_jobs(flush_ways(result.layout)))


@cache
def page_of(name: str) -> str:
    """Its page, with the check alone."""
    return page(checked(name))


@cache
def page_with_card(name: str) -> str:
    """Its page with the wall card."""
    return page(checked(name), Extras(card=card_of(name)))


def cautions() -> dict[str, str]:
    """The sentence of each hazard."""
    return {hazard: row["says"] for hazard, row in data("cautions.yaml").items()}


STANDBY = """\
vessels:
  sump: {holds: sump, base: -0.5 m, rim: 0.8 m, water: 0.6 m, area: 1 m^2}
  tank: {holds: fish, base: 0 m, rim: 1.0 m, water: 0.8 m, area: 1.2 m^2}
pumps:
  duty: {in: sump, height: 0.05 m, power: 50 W, curve: [[0 L/min, 3.2 m], [20 L/min, 2.6 m], [45 L/min, 0.8 m]]}
  spare: {in: sump, height: 0.05 m, curve: [[0 L/min, 3.2 m], [20 L/min, 2.6 m], [45 L/min, 0.8 m]], runs: no}
lines:
  feed: {pipe: pvc 32, from: duty, route: [{up: 1 m}, tee: j, {up: 0.65 m}, elbow, {east: 1 m}, elbow, {down: 0.1 m}], to: tank}
  spare line: {pipe: pvc 32, from: spare, route: [{check valve: c2}, {up: 1 m}, elbow, {east: 0.4 m}], to: j}
  back: {pipe: pvc 50, from: {vessel: tank, overflow: 0.8 m}, route: [{west: 0.3 m}, elbow, {down: 0.4 m}], to: sump}
"""
"""A pump and one that stands by in a line of its own, behind a check valve."""
