"""Loss coefficients against Crane TP-410, Rennels' limits and the `fluids` functions that they wrap."""

import re
from itertools import pairwise
from math import inf, pi, radians

import fluids
import fluids.fittings
import pytest

from plumbline.hydraulics import loss_units, losses

RIGHT = pi / 2
GATE = ((0.25, 17.0), (0.5, 2.1), (0.75, 0.26), (1.0, 0.15))


@pytest.mark.second_method
@pytest.mark.parametrize("bore", [0.0078, 0.0158, 0.0266, 0.05248, 0.1023, 0.25])
@pytest.mark.parametrize("reynolds", [100.0, 1e4, 1e6])
@pytest.mark.parametrize(("K1", "Ki", "Kd"), [(800.0, 0.14, 4.0), (950.0, 0.25, 4.0), (300.0, 0.02, 3.5)])
def test_three_k_as_in_fluids(bore, reynolds, K1, Ki, Kd):
    k_inf, k1 = losses.three_k(bore, K1, Ki, Kd)
    expected = fluids.fittings.Darby3K(Di=bore, Re=reynolds, K1=K1, Ki=Ki, Kd=Kd)
    assert k_inf + k1 / reynolds == pytest.approx(expected, rel=1e-12)


@pytest.mark.published
def test_three_k_written_out():
    # Silverberg & Darby 1999, as printed in the documentation of `fluids` [L]: 12 in, Re 10,000, 950/0.25/4 →
    # 0.8195. Schedule 40 pipe of 12 in has a bore of 303.18 mm.
    k_inf, k1 = losses.three_k(0.30318, 950.0, 0.25, 4.0)
    assert k_inf + k1 / 1e4 == pytest.approx(0.8195, abs=5e-5)


@pytest.mark.invariant
def test_three_k_goes_on_without_a_step_below_the_smallest_pipe():
    above, below = (losses.three_k(bore, 800.0, 0.14, 4.0)[0] for bore in (6.8401e-3, 6.8399e-3))
    assert above == pytest.approx(below, rel=1e-4)
    assert losses.three_k(2e-3, 800.0, 0.14, 4.0)[0] > below


@pytest.mark.published
@pytest.mark.parametrize(
    ("bore", "friction"),
    # Crane TP-410 (2009), appendix A, complete turbulence, ½, 1, 2, 3, 4 in schedule 40: its three digits [M]
    [(0.0158, 0.026), (0.0266, 0.022), (0.0525, 0.019), (0.0779, 0.017), (0.1023, 0.016)],
)
def test_crane_friction_factors(bore, friction):
    assert losses.crane(bore, 1.0) == pytest.approx(friction, abs=5e-4)


@pytest.mark.second_method
def test_crane_numbers_as_in_fluids():
    # The full-bore gate valve is 8 f_T and the ball valve 3 f_T in both.
    for bore in (0.0266, 0.0525, 0.1023):
        gate = fluids.fittings.K_gate_valve_Crane(D1=bore, D2=bore, angle=0.0)
        ball = fluids.fittings.K_ball_valve_Crane(D1=bore, D2=bore, angle=0.0)
        assert losses.crane(bore, 8.0) == pytest.approx(gate, rel=1e-9)
        assert losses.crane(bore, 3.0) == pytest.approx(ball, rel=1e-9)


@pytest.mark.second_method
def test_bend_as_in_fluids():
    expected = fluids.fittings.bend_rounded(Di=0.026, angle=45.0, rc=0.039, Re=1e5, roughness=1.5e-6)
    assert losses.bend(0.026, pi / 4, 1.5, 1.5e-6) == pytest.approx(expected, rel=1e-12)


@pytest.mark.second_method
@pytest.mark.parametrize("ratio", [1.0, 1.5, 5.0])
def test_bend_formula_by_hand(ratio):
    # Rennels & Hudson 2012, ch. 15, for a right angle, written out [L]
    f = fluids.friction_factor(Re=1e5, eD=0.0)
    half = 0.5**0.5
    by_hand = f * RIGHT * ratio + (0.10 + 2.4 * f) * half + 6.6 * f * (half**0.5 + half) / ratio**2
    assert losses.bend(0.026, RIGHT, ratio) == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.invariant
def test_bend_grows_with_the_turn_and_with_slower_flow():
    turns = [losses.bend(0.026, radians(a), 1.0, 1.5e-6) for a in (0, 11.25, 22.5, 45, 90, 180)]
    assert turns[0] == 0.0
    assert all(a < b for a, b in pairwise(turns))
    slow = losses.bend(0.026, RIGHT, 1.0, 1.5e-6, reynolds=1e4)
    assert slow / losses.bend(0.026, RIGHT, 1.0, 1.5e-6) == pytest.approx(1.5, abs=0.05)


@pytest.mark.published
def test_reducer_limits_entrance_and_exit():
    # Pipe into a reservoir: exit 1.0; reservoir into a flush pipe: entrance 0.57 (Rennels) [L]
    exit_loss, entrance = losses.reducer(0.05, 50.0)
    assert exit_loss == pytest.approx(1.0, abs=1e-5)
    assert entrance == pytest.approx(0.57, abs=0.005)


@pytest.mark.second_method
@pytest.mark.parametrize("ratio", [0.3, 0.5, 0.8])
def test_sudden_widening_is_borda_carnot(ratio):
    # Borda–Carnot: (1 − β²)² on the narrow bore's velocity head
    assert losses.reducer(0.05 * ratio, 0.05)[0] == pytest.approx((1 - ratio**2) ** 2, rel=1e-12)


@pytest.mark.invariant
@pytest.mark.parametrize("angle", [None, radians(20.0), radians(60.0)])
def test_reducer_walked_from_the_other_end_is_the_same_reducer(angle):
    # Same head for the same flow: only the reference bore changes.
    forward, back = losses.reducer(0.025, 0.05, angle)
    forward_2, back_2 = losses.reducer(0.05, 0.025, angle)
    assert loss_units.to_square(forward, 0.025) == pytest.approx(loss_units.to_square(back_2, 0.05), rel=1e-12)
    assert loss_units.to_square(back, 0.025) == pytest.approx(loss_units.to_square(forward_2, 0.05), rel=1e-12)


@pytest.mark.invariant
def test_a_gentle_cone_loses_less_than_a_step_and_no_change_nothing():
    sudden, cone = losses.reducer(0.025, 0.05), losses.reducer(0.025, 0.05, radians(10.0))
    assert cone[0] < sudden[0]
    assert cone[1] < sudden[1]
    assert losses.reducer(0.05, 0.05) == (0.0, 0.0)


@pytest.mark.second_method
@pytest.mark.parametrize("bore", [0.015, 0.05])
def test_flow_coefficients_as_in_fluids(bore):
    # `fluids` rounds 200 (3600 π/4)² = 1.5989e9 up to the customary 1.6e9; hence the tolerance.
    assert loss_units.from_kv(2.312, bore) == pytest.approx(fluids.Kv_to_K(2.312, bore), rel=8e-4)


@pytest.mark.published
def test_kv_is_0_865_cv():
    # IEC 60534: Kv = 0.865 Cv [M]
    assert fluids.Cv_to_K(100.0, 0.05) == pytest.approx(loss_units.from_kv(86.5, 0.05), rel=1e-3)


@pytest.mark.second_method
def test_kv_means_one_bar():
    flow, bore = 10.0 / 3600, 0.026
    head = loss_units.to_square(loss_units.from_kv(10.0, bore), bore, 9.80665) * flow**2
    assert head * 1000 * 9.80665 == pytest.approx(1e5, rel=1e-12)


@pytest.mark.second_method
@pytest.mark.parametrize("table", [GATE, GATE[::-1]])
@pytest.mark.parametrize(("opening", "k"), GATE)
def test_opening_passes_through_its_table(opening, k, table):
    assert losses.valve_opening(0.4, opening, table) == pytest.approx(0.4 + k - 0.15, rel=1e-12)


@pytest.mark.invariant
def test_opening_is_exactly_the_open_loss_when_open_and_shuts_for_good():
    assert losses.valve_opening(0.4, 1.0, GATE) == 0.4
    assert losses.valve_opening(0.0, 1.0, GATE) == 0.0
    assert losses.valve_opening(0.4, 0.0, GATE) == inf
    assert losses.valve_opening(0.4, 0.1, GATE, 0.1) == inf
    assert losses.valve_opening(0.4, 0.1 + 1e-9, GATE, 0.1) > 1e15


@pytest.mark.second_method
def test_below_its_last_row_a_gate_goes_on_as_weisbachs():
    # Weisbach's gate, as in Unwin, Encyclopædia Britannica 11th ed. [M]: 17.0 a quarter open, 97.8 an eighth.
    # From the quarter alone the rule has 4 (1 + 17) − 1 = 71 there by hand: short of the measured loss by 27 %.
    table = ((0.25, 17.0), (0.5, 2.06), (0.75, 0.26), (1.0, 0.0))
    assert losses.valve_opening(0.0, 0.125, table) == pytest.approx(71.0, rel=1e-12)
    assert 1.0 - losses.valve_opening(0.0, 0.125, table) / 97.8 == pytest.approx(0.27, abs=0.005)


@pytest.mark.invariant
@pytest.mark.parametrize("shut_at", [0.0, 0.1])
def test_opening_falls_without_steps(shut_at):
    openings = [i / 10000 for i in range(1, 10001) if i / 10000 > shut_at]
    ks = [losses.valve_opening(0.4, x, GATE, shut_at) for x in openings]
    assert all(a > b for a, b in pairwise(ks))
    assert all(b > 0.99 * a for a, b in list(pairwise(ks))[500:])


@pytest.mark.second_method
def test_coefficients_add_up_to_the_definition():
    bore, flow, nu = 0.026, 4e-4, 1e-6
    velocity = flow / (pi / 4 * bore**2)
    head = (2.0 + 800.0 / (velocity * bore / nu)) * velocity**2 / (2 * 9.8)
    ours = loss_units.to_square(2.0, bore, 9.8) * flow**2 + loss_units.to_linear(800.0, bore, nu, 9.8) * flow
    assert ours == pytest.approx(head, rel=1e-12)


TABLE = "a valve's table needs openings above its shut one, up to 1, and a K that falls to there"


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: losses.bend(0.02, RIGHT, 0.4),
            "a bend's radius must be at least half its bore, not 0.4 bores",
        ),
        (lambda: losses.bend(0.02, -0.1, 1.0), "a bend turns by 0° to 180°, not by -5.72958°"),
        (lambda: losses.bend(0.02, 4.0, 1.0), "a bend turns by 0° to 180°, not by 229.183°"),
        (
            lambda: losses.reducer(0.02, 0.03, 0.0),
            "a reducer's cone must open by more than 0° and at most 180°, not 0°",
        ),
        (lambda: loss_units.from_kv(0.0, 0.02), "a flow coefficient must be above zero"),
        (
            lambda: losses.valve_opening(0.1, 1.2, GATE),
            "a valve's opening lies between 0 (shut) and 1 (open), not at 1.2",
        ),
        (lambda: losses.valve_opening(0.1, 0.5, ()), TABLE),
        (lambda: losses.valve_opening(0.1, 0.5, GATE, 0.3), TABLE),
        (lambda: losses.valve_opening(0.1, 0.5, ((0.5, 1.0), (0.9, 0.5))), TABLE),
        (lambda: losses.valve_opening(0.1, 0.5, ((0.5, 1.0), (1.0, 1.5))), TABLE),
    ],
)
def test_what_cannot_be_is_said(call, said):
    with pytest.raises(ValueError, match=f"^{re.escape(said)}$"):
        call()
