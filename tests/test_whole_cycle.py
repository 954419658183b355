"""The whole cycle, pump to beds to drains to sump, against a plain formulation of its own: equations written out here
and handed to scipy as they stand, sharing no code with the project.

The laws are those of `docs/methods/`, each from its source: Colebrook (1939), Darby's three K (Silverberg and Darby 1999),
Crane TP-410 (2009) for the tee, BS EN 12056-3 for the crest of a standpipe (from memory), Manning's elements of round pipe
(Chow 1959, from memory). And in every layout of the repository water comes round, and each question is answered in words.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest
from checks import checked
from conftest import ReadText
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, root

from plumbline import check
from plumbline.check import CheckResult
from plumbline.cli import main
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.flows import Flows
from plumbline.hydraulics.power_cut import power_cut
from plumbline.layout.model import Layout

LAYOUTS = sorted((Path(__file__).parent.parent / "layouts").glob("*.yaml"))
SIX_DIGITS = 1e-6
G = 9.80665
RHO, MU = 998.2, 1.002e-3
NU = MU / RHO
D, ROUGH = 0.02664, 1.5e-6
"""Bore of 1 in schedule 40 pipe, so that the nominal size in Darby's law is 1 in exactly; drawn plastic."""
CURVE = ((0.0, 5.0), (20.0, 4.6), (40.0, 3.9), (60.0, 2.6), (80.0, 0.8))
"""[L/min], [m]"""

AREAS = {"sump": 2.0, "low": 1.0, "high": 1.0}
"""Of the vessels of `CYCLE` [m²]."""
WRITTEN = {"low": 0.8, "high": 1.3}
"""Where its beds stand as written [m]."""

CYCLE = f"""
water: {{density: {RHO} kg/m^3, viscosity: {MU} Pa s}}
vessels:
  sump: {{holds: sump, base: 0 m, rim: 1 m, water: 0.5 m, area: 2 m^2}}
  low bed: {{holds: plants, base: 0.5 m, rim: 0.7 m, water: 0.3 m, area: 1 m^2, wants: 10 L/min}}
  high bed: {{holds: plants, base: 1 m, rim: 0.6 m, water: 0.3 m, area: 1 m^2, wants: 10 L/min}}
pumps:
  lift: {{in: sump, height: 0.1 m, curve: [{", ".join(f"[{q} L/min, {h} m]" for q, h in CURVE)}]}}
lines:
  feed:
    pipe: &pipe {{bore: {1000 * D} mm, roughness: {1000 * ROUGH} mm}}
    from: lift
    route:
      - {{up: 1.9 m}}
      - elbow
      - {{east: 1 m}}
      - tee: fork
      - {{east: 1.5 m}}
      - elbow
      - {{down: 1.4 m}}
    to: low bed
  spur:
    pipe: *pipe
    from: fork
    route:
      - {{north: 0.8 m}}
      - fitting: {{K: 3}}
      - {{north: 0.1 m}}
      - elbow
      - {{down: 0.85 m}}
    to: high bed
  low drain:
    pipe: *pipe
    from: {{vessel: low bed, height: 0.1 m}}
    route:
      - {{west: 4 m, down: 50 mm}}
      - elbow
      - {{down: 0.4 m}}
    to: sump
  high drain:
    pipe: {{bore: {{STANDPIPE}} mm, roughness: {1000 * ROUGH} mm}}
    from: {{vessel: high bed, standpipe: 0.3 m}}
    route:
      - {{down: 0.9 m}}
      - elbow
      - {{west: 1 m, down: 20 mm}}
    to: sump
"""


def speed_head(flow: float, bore: float = D) -> float:
    """V²/2g [m]."""
    return (4.0 * flow / (math.pi * bore**2)) ** 2 / (2.0 * G)


def friction(flow: float, length: float, bore: float = D) -> float:
    """Darcy–Weisbach, with Colebrook's f found by halving; turbulent flow only [m]."""
    reynolds = 4.0 * flow / (math.pi * bore * NU)
    assert reynolds > 4000.0
    inverse_root = brentq(
        lambda x: x + 2.0 * math.log10(ROUGH / (3.7 * bore) + 2.51 * x / reynolds), 2.0, 20.0, xtol=1e-14
    )
    return length / bore / inverse_root**2 * speed_head(flow, bore)


def elbow(flow: float) -> float:
    """A screwed elbow by three K, K1 800, Ki 0.14, Kd 4.0, nominal size 1 in [m]."""
    reynolds = 4.0 * flow / (math.pi * D * NU)
    return (800.0 / reynolds + 0.14 * (1.0 + 4.0 / 1.0**0.3)) * speed_head(flow)


def crest(flow: float, bore: float) -> float:
    """Head over a standpipe's crest: weir up to half its bore, orifice above [m]."""
    litres, wide = flow * 1e3, bore * 1e3
    weir = (7500.0 * litres / wide) ** (2.0 / 3.0)
    return (weir if weir <= wide / 2.0 else (15000.0 * litres / wide**2) ** 2) / 1e3


def pump_head(flow: float) -> float:
    """Monotone cubic through the points, tilted by a millionth of highest head over largest flow [m]."""
    flows, heads = np.array(CURVE).T
    tilt = 1e-6 * heads[0] / (flows[-1] / 60000.0)
    return float(PchipInterpolator(flows / 60000.0, heads)(flow)) - tilt * flow


def cycle(standpipe: float) -> dict[str, float]:
    """Flows [m³/s], heads and levels [m] of `CYCLE`, from its equations."""

    def heads(x: np.ndarray) -> tuple[float, ...]:
        run, branch, low, high = x[0] * 1e-4, x[1] * 1e-4, x[2], x[3]
        # All water stays: what the beds take up over what is written the sump gives.
        sump = (
            0.5
            - sum(AREAS[bed] * (level - WRITTEN[bed]) for bed, level in (("low", low), ("high", high))) / AREAS["sump"]
        )
        whole, r = run + branch, branch / (run + branch)
        out = sump + pump_head(whole)
        before = out - friction(whole, 2.9) - elbow(whole)
        # Crane, tee with equal legs: K_branch = G (1 + 0.3 r²), G = 1 + 0.3 r²; K_run = M r², M = 2 (2r − 1) for r ≤ ½.
        assert r < 0.49
        to_run = before - 2.0 * (2.0 * r - 1.0) * r**2 * speed_head(whole)
        to_branch = before - (1.0 + 0.3 * r**2) ** 2 * speed_head(whole)
        at_low = to_run - friction(run, 2.9) - elbow(run)
        at_high = to_branch - friction(branch, 1.75) - elbow(branch) - 3.0 * speed_head(branch)
        # Back from the sump, both ends under water and no air to be had: full pipe, which the drop may pull on.
        drained = sump + friction(run, 0.4 + math.hypot(4.0, 0.05)) + elbow(run) + 1.5 * speed_head(run)
        over = 1.3 + crest(branch, standpipe)
        return whole, out, before, at_low, at_high, drained - low, over - high

    def equations(x: np.ndarray) -> list[float]:
        _, _, _, at_low, at_high, low, high = heads(x)
        return [at_low - speed_head(x[0] * 1e-4) - x[2], at_high - speed_head(x[1] * 1e-4) - x[3], low, high]

    found = root(equations, [5.0, 3.5, 0.8, 1.32], method="hybr", options={"xtol": 1e-13})
    assert max(map(abs, equations(found.x))) < 1e-10
    whole, out, before, at_low, at_high, _, _ = heads(found.x)
    return {
        "run": found.x[0] * 1e-4,
        "branch": found.x[1] * 1e-4,
        "whole": whole,
        "out": out,
        "before": before,
        "at low": at_low,
        "at high": at_high,
        "low": found.x[2],
        "high": found.x[3],
    }


@pytest.mark.second_method
@pytest.mark.parametrize("standpipe", [0.060, 0.028], ids=["weir", "orifice"])
def test_a_whole_cycle_agrees_with_its_equations_to_six_digits(read_text: ReadText, standpipe: float) -> None:
    wanted = cycle(standpipe)
    result = check(read_text(CYCLE.replace("{STANDPIPE}", f"{1000 * standpipe}")))
    flows = result.flows
    same = {
        "run": flows.ends["feed.to"].flow,
        "branch": flows.ends["spur.to"].flow,
        "whole": flows.pumps["lift"].flow,
        "out": flows.ends["feed.from"].head,
        "at low": flows.ends["feed.to"].head,
        "at high": flows.ends["spur.to"].head,
        "low": flows.vessels["low bed"].level,
        "high": flows.vessels["high bed"].level,
        "before": flows.stretches["feed.1"].head_head,
    }
    assert set(same) == set(wanted)
    for name, value in same.items():
        assert value == pytest.approx(wanted[name], rel=SIX_DIGITS), name
    assert flows.pumps["lift"].head == pytest.approx(pump_head(wanted["whole"]), rel=SIX_DIGITS)
    # All that goes up comes down again.
    down = flows.ends["low drain.to"].flow + flows.ends["high drain.to"].flow
    assert down == pytest.approx(wanted["whole"], rel=1e-9)


@pytest.mark.second_method
def test_the_regimes_are_the_ones_meant() -> None:
    """The low drain is backed up by its friction; the two standpipes are a weir and an orifice."""
    weir, orifice = cycle(0.060), cycle(0.028)
    assert weir["low"] > 0.6 + 1.5 * speed_head(weir["run"])
    assert 4.0 * weir["run"] / (math.pi * D**2) / math.sqrt(G * D) > 1.0  # so fast that no air stays
    assert weir["high"] - 1.3 < 0.060 / 2
    assert orifice["high"] - 1.3 > 0.028 / 2


# ---------------------------------------------------------------------- the same cycle when the power fails


def manning(flow: float, fall: float, bore: float) -> float:
    """Mean speed of a part-full stream: the full pipe's speed by Colebrook, and Manning's elements of the circle [m/s]."""
    smooth = math.sqrt(2.0 * G * bore * fall)
    full = -2.0 * smooth * math.log10(ROUGH / (3.7 * bore) + 2.51 * NU / (bore * smooth))
    area = math.pi / 4.0 * bore**2

    def carried(angle: float) -> float:
        radius = 1.0 - math.sin(angle) / angle
        return full * radius ** (2.0 / 3.0) * area * (angle - math.sin(angle)) / (2.0 * math.pi)

    assert flow < full * area
    angle = brentq(lambda angle: carried(angle) - flow, 1e-3, math.pi, xtol=1e-14)
    return flow / (area * (angle - math.sin(angle)) / (2.0 * math.pi))


@pytest.mark.second_method
def test_what_runs_down_at_a_power_cut_agrees_with_its_equations(read_text: ReadText) -> None:
    bore = 0.060
    layout = read_text(f"""
water: {{density: {RHO} kg/m^3, viscosity: {MU} Pa s}}
vessels:
  sump: {{base: 0 m, rim: 1 m, water: 0.5 m, area: 2 m^2}}
  bed: {{base: 1 m, rim: 0.6 m, water: 0.3 m, area: 1.2 m^2}}
pumps:
  lift: {{in: sump, height: 0.1 m, curve: [{", ".join(f"[{q} L/min, {h} m]" for q, h in CURVE)}]}}
lines:
  feed:
    pipe: {{bore: {1000 * D} mm, roughness: {1000 * ROUGH} mm}}
    from: lift
    route: [{{up: 1.9 m}}, elbow, {{east: 1 m}}]
    to: bed
  drain:
    pipe: {{bore: {1000 * bore} mm, roughness: {1000 * ROUGH} mm}}
    from: {{vessel: bed, standpipe: 0.3 m}}
    route: [{{down: 0.5 m}}, elbow, {{west: 2 m, down: 40 mm}}]
    to: sump
""")
    # The sump gives what stands over the crest.
    sump = lambda q: 0.5 - 1.2 * crest(q, bore) / 2.0  # noqa: E731
    flow = brentq(
        lambda q: sump(q) + pump_head(q) - friction(q, 2.9) - elbow(q) - speed_head(q) - 2.0, 2e-4, 1.3e-3, xtol=1e-16
    )
    flows = find_flows(layout)
    assert flows.pumps["lift"].flow == pytest.approx(flow, rel=SIX_DIGITS)
    cut = power_cut(layout, flows)
    rows = {row.vessel: row for row in cut.vessels}
    sloping = math.hypot(2.0, 0.04)
    stream = flow * 0.5 / manning(flow, 1.0, bore) + flow * sloping / manning(flow, 0.04 / sloping, bore)
    over = 1.2 * crest(flow, bore)
    pipe = math.pi / 4.0 * D**2
    # The riser keeps what stands under the sump's new level z: 2 (z − s) = over + stream + pipe (2 − z + 1).
    s = sump(flow)
    z = (2.0 * s + over + stream + pipe * 3.0) / (2.0 + pipe)
    after = rows["sump"].after
    assert after is not None
    assert 2.0 * (after - s) == pytest.approx(2.0 * (z - s), rel=SIX_DIGITS)
    assert cut.drained == pytest.approx(stream + pipe * (3.0 - z), rel=SIX_DIGITS)
    assert rows["bed"].gains == pytest.approx(-over, rel=SIX_DIGITS)
    (start,) = cut.starts
    assert start.from_normal == pytest.approx(0.5 - (over + stream + pipe * (3.0 - z)) / 2.0, rel=SIX_DIGITS)


# ---------------------------------------------------------------------- every layout of the repository


def leaves(layout: Layout, result: CheckResult) -> float:
    """What the system loses: out of open ends, and by draws [m³/s]."""
    total = 0.0
    for line in layout.lines.values():
        for side, end, sign in (("from", line.start, -1.0), ("to", line.end, 1.0)):
            if end.kind in ("open air", "draw"):
                total += sign * result.flows.ends[f"{line.name}.{side}"].flow
    return total


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_water_comes_round(path: Path) -> None:
    result = checked(path)
    flows = result.flows
    largest = max(abs(one.flow) for one in flows.stretches.values())
    for name, got in flows.vessels.items():
        if got.level is not None and got.outflow > 0.0 and got.balanced:
            assert got.inflow == pytest.approx(got.outflow + got.spilt, abs=1e-9 * largest), name
    gained = sum(got.inflow - got.outflow for got in flows.vessels.values())
    assert gained == pytest.approx(-leaves(result.layout, result), abs=1e-9 * largest)


def levels_are_felt(layout: Layout, flows: Flows) -> int:
    """Check that each pipe end under a vessel's water feels the level that is told for it; count those that carry water in."""
    count = 0
    for name, line in layout.lines.items():
        for side, end, sign, part in (("from", line.start, -1.0, line.parts[0]), ("to", line.end, 1.0, line.parts[-1])):
            at = flows.ends[f"{name}.{side}"]
            if end.kind == "vessel" and end.submerged and end.loss is None and sign * at.flow > 1e-9:
                found = flows.vessels[end.name or ""].level
                level = layout.vessels[end.name or ""].level if found is None else found
                bore = part.pipe.bore if side == "from" else part.pipe_out.bore
                assert at.head == pytest.approx(max(level, at.height) + speed_head(at.flow, bore), abs=1e-6), (
                    f"{name}.{side}"
                )
                count += 1
    return count


@pytest.mark.slow
@pytest.mark.invariant
def test_the_levels_that_drains_set_are_felt_in_every_layout() -> None:
    assert sum(levels_are_felt(checked(path).layout, checked(path).flows) for path in LAYOUTS) >= 7


FELT = """
vessels:
  sump: {{base: 0 m, rim: 1 m, water: 0.3 m, area: 2 m^2}}
  filter: {{base: 1 m, rim: 1.6 m, water: 0.5 m, area: 0.5 m^2}}
  bed: {{base: 0.7 m, rim: 1.6 m, water: 0.5 m, area: 1 m^2}}
pumps:
  lift: {{in: sump, height: 0.1 m, curve: [[0 L/min, {head} m], [20 L/min, {head} m], [60 L/min, 0.6 m]]}}
lines:
  feed:
    pipe: pvc 32
    from: lift
    route: [up: 1.9 m, elbow, east: 1 m, elbow, down: 0.7 m]
    to: filter
  over:
    pipe: {over}
    from: {{vessel: filter, height: {height} m}}
    route: [west: 0.3 m, elbow, down: {down:.3f} m]
    to: bed
  back:
    pipe: {back}
    from: {{vessel: bed, height: 0.2 m}}
    route: [west: {long} m, elbow, down: 0.8 m]
    to: sump
"""


@pytest.mark.some(8)
@pytest.mark.invariant
@pytest.mark.parametrize("head", [1.9, 2.4, 4.0])
@pytest.mark.parametrize("over", ["pvc 32", "pvc 50"])
@pytest.mark.parametrize("back, long", [("pvc 32", 0.3), ("pvc 32", 9), ("pvc 40", 3), ("pvc 63", 3)])
def test_a_port_that_takes_air_in_holds_the_level_that_its_feed_feels(
    read_text: ReadText, head: float, over: str, back: str, long: float
) -> None:
    """Two vessels in a row, each emptied by a port over a drop, which does not suck: the pipes that end under their water
    push against the level over the port."""
    layout = read_text(FELT.format(head=head, over=over, height=0.3, down=0.45, back=back, long=long))
    flows = find_flows(layout)
    assert levels_are_felt(layout, flows) == 3
    level = flows.vessels["filter"].level
    assert level is not None
    assert level > 1.3 + speed_head(flows.pumps["lift"].flow, layout.lines["over"].parts[0].pipe.bore)
    assert flows.vessels["filter"].inflow == pytest.approx(flows.vessels["filter"].outflow, rel=1e-9)


@pytest.mark.invariant
@pytest.mark.few
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_levels_found_are_those_of_vessels_that_balance(path: Path) -> None:
    """A level is found for each vessel that a standpipe or a port empties of what it receives, and for no other."""
    for name, got in checked(path).flows.vessels.items():
        if got.level is not None and got.inflow > 0.0 and got.outflow > 0.0:
            assert got.balanced, name


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_each_bed_each_drain_and_the_power_cut_are_answered_in_words(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = checked(path)
    main(["check", str(path), "--all"])
    said = capsys.readouterr().out
    lifts = section(said, "Does it lift")
    for name, vessel in result.layout.vessels.items():
        if vessel.wants:
            (row,) = (row for row in lifts.splitlines() if row.startswith(f"{name} "))
            assert re.search(
                r"(too little|just enough|enough, (surely|probably|that is doubtful)|far more than wanted)", row
            ), row
    levels = [name for name, got in result.flows.vessels.items() if got.level is not None and got.outflow > 0.0]
    if levels:
        back = section(said, "Does it come back")
        for name in levels:
            (row,) = (row for row in back.splitlines() if row.startswith(f"{name} "))
            assert result.layout.vessels[name].rim is None or re.search(r"(to spare|overtops: .* over its rim)", row), (
                row
            )
    cut = section(said, "If the power fails")
    assert re.search(r"(Nothing siphons back|siphons? out)\.", cut)
    assert re.search(r"(Nothing overtops( where that is known)?|overtops?)\.", cut)


def section(said: str, title: str) -> str:
    """The part of the screen under a title."""
    after = said.split(f"\n{title}", 1)[1]
    return re.split(r"\n\n", after, maxsplit=1)[0]
