"""Notches and weirs: their law against others', and what stands behind them in a layout."""

from __future__ import annotations

import math

import numpy as np
import pytest
from conftest import ReadText
from fluids.open_flow import Cs_Shen, Q_weir_V_Shen, angles_Shen, k_Shen

from plumbline.check import check
from plumbline.errors import LayoutError
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.weirs import FILM, WEIRS, Shape, drowned_head, notch_numbers, weir_flow, weir_head
from plumbline.mishaps.fault import faults_of
from plumbline.parts import bill_of

LPM = 60_000.0
FOOT = 0.3048

TROUGH = """
vessels:
  tank: {holds: fish, base: 0 m, rim: 0.9 m, water: 0.7 m, area: 1.5 m^2}
  trough: {holds: plants, base: 1 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2}
pumps:
  lift: {in: tank, curve: [[0 L/min, 3 m], [60 L/min, 1 m]]}
lines:
  feed: {pipe: pvc 32, from: lift, route: [up: 1.4 m], to: trough}
  fall: {FALL, to: tank}
"""
NOTCH = "from: {vessel: trough, notch: 0.2 m, width: 100 mm}"


def flow(shape: Shape, head: float, wide: float, deep: float) -> float:
    return float(weir_flow(shape, np.array([head]), np.array([wide]), np.array([deep]))[0][0])


@pytest.mark.published
def test_whole_width_as_fluids_has_kindsvater_and_carter() -> None:
    """The worked number in the docstring of fluids.open_flow: h 0.3, p 0.4, b 2 m (from Blevins 1984, looked up there),
    with b − 1 mm where the crest here is 0.9 mm narrower: 0.1 mm of 2 m."""
    assert flow("weir", 0.3, 2.0, 0.4) * 1.999 / 1.9991 == pytest.approx(0.641560300081563, rel=1e-9)


@pytest.mark.published
@pytest.mark.parametrize("head", [0.2, 0.5, 1.0, 1.25])
def test_a_v_of_a_right_angle_as_the_bureau_of_reclamation_has_it(head: float) -> None:
    """Q = 2.49 h^2.48 in feet, fully contracted, 0.2 to 1.25 ft (USBR Water Measurement Manual, ch. 7; looked up at second hand)."""
    v = flow("v-notch", head * FOOT, *notch_numbers(math.radians(90.0)))
    assert v == pytest.approx(2.49 * head**2.48 * FOOT**3, rel=0.03)


@pytest.mark.published
@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0, 100.0])
def test_a_v_of_any_angle_as_kindsvater_and_shen_have_it(angle: float) -> None:
    """Q = 4.28 Ce tan(θ/2) (h + k)^2.5 in feet (the same chapter, at second hand), with Ce from 0.574 to 0.592 and k up to 3 mm, whatever the angle.
    fluids.open_flow leaves (8/15) √2 out of it, and gives a third more for the same Ce."""
    v, head = flow("v-notch", 0.5 * FOOT, *notch_numbers(math.radians(angle))), 0.5
    least, most = (
        4.28 * ce * math.tan(math.radians(angle) / 2.0) * (head + k / FOOT) ** 2.5 * FOOT**3
        for ce, k in ((0.574, 0.0), (0.592, 0.003))
    )
    assert least <= v <= most


@pytest.mark.published
@pytest.mark.parametrize("head", [0.2, 0.5, 1.0])
def test_a_notch_as_francis_has_it(head: float) -> None:
    """Q = 3.33 (L − 0.2 h) h^1.5 in feet, two end contractions (Francis 1883, USBR Water Measurement Manual, ch. 7; from memory), for h up to a
    third of L and p over 2 h: he gave it to 2 or 3 %, and no velocity of approach is in it."""
    long = 4.0
    expected = 3.33 * (long - 0.2 * head) * head**1.5 * FOOT**3
    assert flow("notch", head * FOOT, long * FOOT, 4.0 * FOOT) == pytest.approx(expected, rel=0.03)


@pytest.mark.second_method
@pytest.mark.parametrize("head", [0.03, 0.1, 0.25])
def test_a_notch_beside_blevins_s_form(head: float) -> None:
    """fluids.open_flow has another fit of the same measurements, which sets the width 2.5 mm and the depth 0.1 mm larger."""
    from fluids.open_flow import Q_weir_rectangular_Kindsvater_Carter as blevins

    assert flow("notch", head, 0.3, 0.3) == pytest.approx(blevins(head, 0.3, 0.3), rel=0.05)


@pytest.mark.second_method
def test_a_crest_on_the_floor_is_a_brink() -> None:
    """A channel that ends in the air runs at its critical depth, with the energy of the still water before it: Q = b √g (2h/3)^1.5 (Chow 1959,
    ch. 3; from memory), which the crest's law meets within 5 %."""
    brink = 0.4 * math.sqrt(9.80665) * (2.0 * 0.05 / 3.0) ** 1.5
    assert flow("weir", 0.05, 0.4, 0.0) == pytest.approx(brink, rel=0.08)


@pytest.mark.invariant
def test_no_pipe_of_no_length_runs_slow(read_text: ReadText) -> None:
    kinds = {one.kind for one in check(read_text(TROUGH.replace("FALL", NOTCH))).findings if one.line == "fall"}
    assert "slow-flow" not in kinds


@pytest.mark.invariant
@pytest.mark.parametrize("shape", WEIRS)
@pytest.mark.parametrize("deep", [0.02, 0.2])
def test_the_law_turned_round_is_the_law(shape: Shape, deep: float) -> None:
    """Heads from flows give the flows again, they rise without a jump, and the slope is theirs by central differences."""
    wide, deep = notch_numbers(1.2) if shape == "v-notch" else (0.1, deep)
    flows = np.concatenate([[0.0], np.geomspace(1e-7, 3e-2, 2000)])
    heads, slopes = weir_head(shape, flows, np.full(2001, wide), np.full(2001, deep))
    assert heads[0] == 0.0
    assert np.all(np.diff(heads) > 0.0)
    over = heads > FILM
    back, _ = weir_flow(shape, heads, np.full(2001, wide), np.full(2001, deep))
    assert back[over] == pytest.approx(flows[over], rel=1e-9)
    step = 1e-6 * flows
    up, down = (
        weir_head(shape, flows + sign * step, np.full(2001, wide), np.full(2001, deep))[0] for sign in (1.0, -1.0)
    )
    off = np.abs((up - down)[1:] / (2.0 * step[1:]) - slopes[1:]) > 1e-4 * slopes[1:]
    assert np.count_nonzero(off) <= 2  # at the film, and where Ce stays


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("said", "shape", "wide"),
    [
        (NOTCH, "notch", 0.1),
        ("from: {vessel: trough, weir: 0.2 m, width: 0.5 m}", "weir", 0.5),
        ("from: {vessel: trough, notch: 0.2 m, angle: 60 deg}", "v-notch", 0.0),
        (
            "pipe: pvc 75, from: {vessel: trough, notch: 0.2 m, width: 100 mm}, route: [{down: 0.3 m}, elbow, {west: 1 m, fall: 2 %}]",
            "notch",
            0.1,
        ),
    ],
)
def test_the_level_is_where_the_weir_lets_go_what_comes(
    read_text: ReadText, said: str, shape: Shape, wide: float
) -> None:
    """With nothing but a fall behind it, and with a drain wide enough, by bisection on the published law."""
    found = find_flows(read_text(TROUGH.replace("FALL", said)))
    trough = found.vessels["trough"]
    numbers = notch_numbers(math.radians(60.0)) if shape == "v-notch" else (wide, 0.2)
    low, high = 0.0, 0.3
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if flow(shape, middle, *numbers) < trough.inflow else (low, middle)
    assert trough.inflow > 20.0 / LPM
    assert trough.level == pytest.approx(1.2 + low, abs=2e-4)


@pytest.mark.invariant
def test_what_it_could_carry_is_what_goes_over_it_at_the_rim(read_text: ReadText) -> None:
    """A notch 50 mm wide, with 30 mm to the rim: the pump brings more, and the rest runs over the rim."""
    result = check(
        read_text(TROUGH.replace("FALL", NOTCH.replace("100 mm", "50 mm")).replace("rim: 0.3 m", "rim: 0.23 m"))
    )
    over = next(one for one in result.findings if one.kind == "overtops")
    most = flow("notch", 0.03, 0.05, 0.2)
    carried = result.flows.vessels["trough"].carries
    assert carried == pytest.approx(most, rel=0.2)  # over the rim stands a film besides
    assert "'trough' overtops" in over.message


@pytest.mark.second_method
@pytest.mark.parametrize("share", [0.1, 0.2, 0.35, 0.5, 0.65, 0.8])
def test_a_drowned_weir_beside_du_buat_s_sum(share: float) -> None:
    """A free weir down to the tail water and a drowned hole below it, Q = c b √(2g) ((2/3)(h₁ − h₂)^1.5 + h₂ √(h₁ − h₂)) (Unwin,
    Encyclopædia Britannica, 11th ed., "Hydraulics", § 44; from memory): over what the same c gives a free fall, within 5 %."""
    head = np.array([0.1])
    free = weir_flow("weir", head, np.array([1.0]), np.array([0.5]))[0]
    falls = 1.0 - share
    du_buat = falls**1.5 + 1.5 * share * math.sqrt(falls)
    found, _, _ = drowned_head("weir", du_buat * free, share * head, np.array([1.0]), np.array([0.5]))
    assert (head / found)[0] ** 1.5 == pytest.approx(1.0, abs=0.05)


@pytest.mark.invariant
@pytest.mark.parametrize("shape", WEIRS)
def test_a_drowned_weir_keeps_its_law_and_its_slopes(shape: Shape) -> None:
    """Put back into the formula the depth gives the flow; without tail water it is a free fall; at rest both sides stand level; the slopes are
    those of central differences."""
    wide, deep = notch_numbers(1.2) if shape == "v-notch" else (0.1, 0.2)
    flows, behind = (one.ravel() for one in np.meshgrid(np.geomspace(1e-5, 3e-2, 30), np.geomspace(1e-5, 0.3, 30)))
    wides, deeps = np.full(900, wide), np.full(900, deep)
    heads, by_flow, by_depth = drowned_head(shape, flows, behind, wides, deeps)
    free = np.where(heads < FILM, heads / FILM, 1.0) * weir_flow(shape, np.maximum(heads, FILM), wides, deeps)[0]
    assert free * (1.0 - (behind / heads) ** (2.5 if shape == "v-notch" else 1.5)) ** 0.385 == pytest.approx(
        flows, rel=1e-6
    )
    assert np.all(heads >= np.maximum(behind, weir_head(shape, flows, wides, deeps)[0]) - 1e-12)
    assert drowned_head(shape, flows, np.full(900, 1e-9), wides, deeps)[0] == pytest.approx(
        weir_head(shape, flows, wides, deeps)[0], rel=1e-6
    )
    assert drowned_head(shape, 0.0 * flows, behind, wides, deeps)[0] == pytest.approx(behind, rel=1e-9)
    for step, slope, at in ((1e-5 * flows, by_flow, 0), (1e-5 * behind, by_depth, 1)):
        up, down = (
            drowned_head(shape, flows + (at == 0) * sign * step, behind + (at == 1) * sign * step, wides, deeps)[0]
            for sign in (1, -1)
        )
        off = np.abs((up - down) / (2.0 * step) - slope) > 1e-3 * np.abs(slope) + 1e-10 / step
        assert np.count_nonzero(off) <= 5  # at the film, and where Ce stays


WALLS = """
vessels:
  upper: {base: 0.5 m, rim: 0.4 m, water: 0.25 m, area: 4 m^2}
  lower: {base: 0.5 m, rim: 0.4 m, water: 0.25 m, area: 4 m^2}
  sump: {base: -0.4 m, rim: 0.9 m, water: 0.6 m, area: 1 m^2}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 3 m], [80 L/min, 0 m]]}
lines:
  riser: {pipe: {bore: 36 mm}, from: lift, route: [{up: 1.35 m}, elbow, {east: 1 m}], to: upper}
  stand: {pipe: {bore: 57 mm}, from: {vessel: lower, standpipe: 0.25 m}, route: [{down: 0.6 m}], to: sump}
"""


@pytest.mark.invariant
def test_two_drowned_weirs_between_the_same_troughs_are_one_as_wide_as_both(read_text: ReadText) -> None:
    """Whichever trough each is written from; but for the 0.9 mm that stickiness takes off each."""
    one = find_flows(read_text(WALLS + "  w: {from: {vessel: upper, weir: 0.25 m, width: 0.1991 m}, to: lower}\n"))
    two = find_flows(
        read_text(
            WALLS
            + "  w: {from: {vessel: upper, weir: 0.25 m, width: 0.1 m}, to: lower}\n"
            + "  v: {from: {vessel: lower, weir: 0.25 m, width: 0.1 m}, to: upper}\n"
        )
    )
    assert two.ends["w.to"].flow == pytest.approx(-two.ends["v.to"].flow, rel=1e-6)
    assert two.ends["w.to"].flow == pytest.approx(0.5 * one.ends["w.to"].flow, rel=1e-5)
    for name in ("upper", "lower", "sump"):
        assert two.vessels[name].level == pytest.approx(one.vessels[name].level, abs=1e-5)


@pytest.mark.invariant
@pytest.mark.parametrize(("high", "low"), [(0.79, 0.77), (0.77, 0.77), (0.76, 0.74), (0.74, 0.70), (0.751, 0.7509)])
def test_a_wall_between_two_held_levels_carries_as_much_either_way(
    read_text: ReadText, high: float, low: float
) -> None:
    """Drowned, level, free, dry, and as good as level; with nothing else in the line to take head."""
    layout = read_text(WALLS + "  w: {from: {vessel: upper, weir: 0.25 m, width: 0.1 m}, to: lower}\n")
    there, back = (
        find_flows(layout, levels={"upper": a, "lower": b}).ends["w.to"].flow for a, b in ((high, low), (low, high))
    )
    assert there == pytest.approx(-back, rel=1e-6)
    behind, over = max(low - 0.75, 0.0), high - 0.75
    free = flow("weir", over, 0.1, 0.25) if over > 0.0 else 0.0
    assert there == pytest.approx(free * (1.0 - (behind / over) ** 1.5) ** 0.385 if over > FILM else there, rel=1e-4)
    assert (there > 0.0) == (over > 0.0 and high > low)


@pytest.mark.invariant
def test_a_weir_drowned_further_than_was_measured_is_told(read_text: ReadText) -> None:
    """Its base at 0.36 m, the tank's water stands 58 mm over the crest and the trough's 62."""
    drowned = TROUGH.replace("base: 1 m", "base: 0.36 m").replace("up: 1.4 m", "up: 0.9 m").replace("FALL", NOTCH)
    kinds = [one.message for one in check(read_text(drowned)).findings if one.kind == "outside-range"]
    assert any("The notch of 'fall' in 'trough' is drowned" in one for one in kinds)
    assert not any("drowned" in one.message for one in check(read_text(TROUGH.replace("FALL", NOTCH))).findings)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ("from: {vessel: trough, notch: 0.2 m}", "a notch that does not say how wide it is"),
        ("from: {vessel: trough, notch: 0.2 m, width: 1 m, angle: 90 deg}", "a notch with both a width and an angle"),
        ("from: {vessel: trough, weir: 0.2 m, angle: 90 deg}", "a weir that does not say how wide it is"),
        ("from: {vessel: trough, height: 0.2 m, width: 90 mm}", "'width' without a notch or a weir"),
        ("from: {vessel: trough, notch: 0.4 m, width: 90 mm}", "the notch in 'trough' is above its rim"),
        ("from: {vessel: trough, notch: 0.1 m, weir: 0.2 m, width: 90 mm}", "both a notch and a weir"),
        ("from: {vessel: trough, notch: 0.1 m, angle: 140 deg}", "a value not above 100"),
    ],
)
def test_faults_of(read_text: ReadText, said: str, fault: str) -> None:
    with pytest.raises(LayoutError, match=fault):
        read_text(TROUGH.replace("FALL", said))


@pytest.mark.pinned
def test_it_is_sawn_and_not_bought(read_text: ReadText) -> None:
    bill = bill_of(read_text(TROUGH.replace("FALL", NOTCH)))
    assert (
        "'fall' leaves 'trough' by a notch 100 mm wide, 0.20 m above the floor: saw it with a sharp, level edge."
        in bill.notes
    )


@pytest.mark.pinned
def test_leaves_lie_in_a_notch_and_stop_no_whole_edge(read_text: ReadText) -> None:
    parts = [
        [fault.part for fault in faults_of(read_text(TROUGH.replace("FALL", said)))]
        for said in (NOTCH, NOTCH.replace("notch", "weir"))
    ]
    assert "the notch of 'fall' in 'trough'" in parts[0]
    assert not any("'fall'" in part for part in parts[1])


@pytest.mark.second_method
@pytest.mark.parametrize("angle", [20.0, 30.0, 40.0, 52.0, 60.0, 80.0, 90.0, 100.0])
def test_the_numbers_of_a_v_are_those_of_its_table(angle: float) -> None:
    """Shen, USGS Water-Supply Paper 1617-B, by the library's own rows and its own flow, which leaves out 8√2 / 15 [L]."""
    wide, deeper = notch_numbers(math.radians(angle))
    assert wide == pytest.approx(np.interp(angle, angles_Shen, Cs_Shen) * math.tan(math.radians(angle) / 2.0))
    assert deeper == pytest.approx(np.interp(angle, angles_Shen, k_Shen))
    head = 0.12
    mine = wide * math.sqrt(9.80665) * (head + deeper) ** 2.5
    assert mine == pytest.approx(Q_weir_V_Shen(head, angle), rel=1e-4)
