"""Drip lines: each dripper gives what its maker states at the stated pressure, and the root of that at another."""

from __future__ import annotations

import math

import pytest
from conftest import ReadText
from scipy.optimize import root as find_root

from plumbline import check
from plumbline.errors import LayoutError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.friction import one_friction_loss
from plumbline.hydraulics.tank_current import tank_currents
from plumbline.layout.model import Layout
from plumbline.parts import bill_of

G = 9.80665

SYSTEM = """
water: {density: 998 kg/m^3, viscosity: 1.0e-3 Pa s}
vessels:
  sump: {base: -0.6 m, rim: 1 m, water: 0.8 m, area: 2 m^2}
  towers: {holds: plants, base: 0.5 m, rim: 0.3 m, water: 0.05 m, area: 1 m^2}
pumps:
  lift: {in: sump, curve: [[0 L/min, 6 m], [20 L/min, 1 m]]}
lines:
  drip:
    pipe: {bore: BORE mm, roughness: 0.0015 mm}
    from: lift
    route: [{up: 2.6 m}, elbow, {drip line: {DRIP, in: towers}}]
    to: cap
  back:
    pipe: pvc 50
    from: {vessel: towers, overflow: 0.05 m}
    route: [{west: 0.5 m, down: 20 mm}]
    to: sump
"""


def system(
    read_text: ReadText, drip: str = "east: 3 m, drippers: 12, dripper: 8 L/h, at: 1 bar", bore: str = "16"
) -> Layout:
    return read_text(SYSTEM.replace("DRIP", drip).replace("BORE", bore).replace("west: 0.5 m", "west: 3.5 m"))


@pytest.mark.second_method
def test_drippers_in_a_wide_pipe_all_give_what_their_pressure_asks_for(read_text: ReadText) -> None:
    layout = system(read_text, bore="40")
    flows = find_flows(layout)
    flow = flows.stretches["drip.1"].flow
    head = flows.ends["drip.to"].head - 2.0
    # q = q₀ √(p/p₀): nothing but the root of the pressure abreast of the drippers.
    assert flow == pytest.approx(12 * 8e-3 / 3600 * math.sqrt(998 * G * head / 1e5), rel=2e-4)
    assert flows.vessels["towers"].inflow == pytest.approx(flow, rel=1e-12)


@pytest.mark.second_method
def test_a_drip_line_followed_dripper_by_dripper_with_a_general_solver(read_text: ReadText) -> None:
    """The heads abreast of all drippers at once, by scipy, from the head at the line's inlet, with all speed recovered."""
    bore, n, length, nu = 0.008, 12, 3.0, 1.0e-3 / 998
    layout = system(read_text, drip="east: 3 m, drippers: 12, dripper: 30 L/h, at: 1 bar", bore="8")
    flows = find_flows(layout)
    total = flows.stretches["drip.1"].flow
    gaps = [0.5 * length / n, *[length / n] * (n - 1)]
    area = math.pi / 4 * bore**2

    def flows_for(heads: list[float]) -> list[float]:
        return [30e-3 / 3600 * math.sqrt(998 * G * max(head, 1e-12) / 1e5) for head in heads]

    def left(guess: list[float]) -> list[float]:
        inlet, heads = guess[0], guess[1:]
        each = flows_for(heads)
        going = sum(each)
        out = [going - total]
        static = inlet - (going / area) ** 2 / (2 * G)
        for gap, head, q in zip(gaps, heads, each, strict=True):
            static -= one_friction_loss(going, bore, gap, 1.5e-6, nu, G)[0]
            after = static + ((going / area) ** 2 - ((going - q) / area) ** 2) / (2 * G)
            out.append(0.5 * (static + after) - head)
            static, going = after, going - q
        return out

    head = 998 * G / 1e5
    guess = (total / n / (30e-3 / 3600)) ** 2 / head
    found = find_root(left, [guess + 0.2, *[guess] * n], tol=1e-13)
    assert found.success
    # Behind the last dripper the water stands still: half of the speed lost there is regained past its middle.
    last = flows_for([found.x[-1]])[0]
    assert flows.ends["drip.to"].head - 2.0 == pytest.approx(found.x[-1] + 0.5 * (last / area) ** 2 / (2 * G), abs=1e-7)


@pytest.mark.invariant
def test_a_stated_pressure_of_a_quarter_halves_nothing_but_the_law(read_text: ReadText) -> None:
    """8 L/h at 1 bar and 4 L/h at a quarter of it are the same dripper."""
    one = find_flows(system(read_text)).stretches["drip.1"].flow
    same = (
        find_flows(system(read_text, "east: 3 m, drippers: 12, dripper: 4 L/h, at: 0.25 bar")).stretches["drip.1"].flow
    )
    left_out = find_flows(system(read_text, "east: 3 m, drippers: 12, dripper: 8 L/h")).stretches["drip.1"].flow
    assert same == pytest.approx(one, rel=1e-9)
    assert left_out == pytest.approx(one, rel=1e-12)


@pytest.mark.invariant
def test_it_turns_no_tank_and_is_no_bar_to_drill(read_text: ReadText) -> None:
    layout = system(read_text)
    assert tank_currents(layout, find_flows(layout)) == ()
    assert "12 drippers of 8 L/h at 1 bar" in {piece.note for piece in bill_of(layout).pieces}
    assert not [one for one in check(layout).findings if one.kind.startswith("current-")]


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("drip", "said"),
    [
        ("east: 3 m, drippers: 12", "dripper"),
        ("east: 3 m, dripper: 8 L/h", "drippers"),
        ("east: 3 m, drippers: 12, dripper: 0 L/h", "dripper"),
        ("east: 3 m, drippers: 12, dripper: 8 L/h, hole: 1 mm", "hole"),
    ],
)
def test_faults(read_text: ReadText, drip: str, said: str) -> None:
    with pytest.raises(LayoutError) as told:
        system(read_text, drip)
    assert said in str(told.value)


@pytest.mark.pinned
def test_an_unknown_vessel_is_told_of_the_drip_line(read_text: ReadText) -> None:
    with pytest.raises(LayoutError, match="for the drip line"):
        read_text(
            SYSTEM.replace("DRIP", "east: 3 m, drippers: 12, dripper: 8 L/h")
            .replace("BORE", "16")
            .replace("in: towers}", "in: tower}")
        )
