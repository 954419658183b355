"""The network solver: worked examples, a plain second way, and what must not change the answer."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from fluids.friction import friction_factor as fluids_friction
from hypothesis import example, given, settings
from hypothesis import strategies as st
from networks import farm, lattice
from scipy.optimize import root

from plumbline.errors import SolveError
from plumbline.hydraulics import laws, newton
from plumbline.hydraulics.islands import has_loops
from plumbline.hydraulics.linear import SingularStep, StepSolver
from plumbline.hydraulics.network import Network, make_network
from plumbline.hydraulics.pumps import PumpCurves
from plumbline.hydraulics.solver import solve
from plumbline.hydraulics.tees import tee_drops

G = 9.80665
NU = 1001.6e-6 / 998.207


def residuals(network: Network, heads: np.ndarray, flows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Energy residual of each link [m] and balance of each node [m³/s], written out again, one law after the other."""
    from plumbline.hydraulics.friction import friction_loss

    loss = np.where(flows > 0, network.square, network.square_back) * flows * np.abs(flows) + network.linear * flows
    friction, _ = friction_loss(
        flows[network.run_link],
        network.run_bore,
        network.run_length,
        network.run_roughness,
        network.viscosity / network.density,
        network.gravity,
    )
    np.add.at(loss, network.run_link, friction)
    if len(network.pump_link):
        lift, _ = PumpCurves(network.pump_curves).heads(flows[network.pump_link])
        np.subtract.at(loss, network.pump_link, lift)
    if len(network.tee_link):
        drops, _ = tee_drops(
            network.tee_sign * flows[network.tee_link], network.tee_bore, network.tee_angle, network.gravity
        )
        np.add.at(loss, network.tee_link, network.tee_sign * drops)
    energy = heads[network.tail] - heads[network.head] - loss
    mass = -network.draw.copy()
    np.add.at(mass, network.head, flows)
    np.subtract.at(mass, network.tail, flows)
    return energy, mass


def proven(network: Network) -> None:
    """Solve, and hold the answer against the equations."""
    found = solve(network)
    energy, mass = residuals(network, np.nan_to_num(found.heads), found.flows)
    open_links = ~found.closed & ~(found.floating[network.tail] | found.floating[network.head])
    # Against a check valve without flow any head may stand, little or much.
    energy = np.where(network.one_way & (found.flows == 0.0), np.maximum(energy, 0.0), energy)
    known = ~np.isnan(network.fixed_head)
    scale = max(np.ptp(network.fixed_head[known]), 1e-3) if known.any() else 1.0
    falls = np.abs(found.heads[network.tail] - found.heads[network.head])[open_links]
    scale = max([scale, *falls, *(curve[0][1] for curve in network.pump_curves)])
    assert np.max(np.abs(energy[open_links]), initial=0.0) <= 1e-9 * scale
    assert np.max(np.abs(mass[~known]), initial=0.0) <= 1e-9 * max(np.max(np.abs(found.flows), initial=0.0), 1e-6)
    assert np.all(found.flows[found.closed] == 0.0)
    assert np.all(found.flows[network.one_way] >= 0.0)


def two_loops(**changes: object) -> Network:
    """Five runs in two loops between a source and two draws."""
    keys: dict[str, object] = {
        "fixed_head": [10.0, np.nan, np.nan, np.nan],
        "draw": [0.0, 2e-4, 6e-4, 6e-4],
        "tail": [0, 1, 0, 1, 2],
        "head": [1, 3, 2, 2, 3],
        "run_link": [0, 1, 2, 3, 4],
        "run_bore": [0.025, 0.02, 0.025, 0.015, 0.02],
        "run_length": [10.0, 12.0, 8.0, 5.0, 9.0],
        "run_roughness": [1.5e-6] * 5,
    }
    return make_network(**(keys | changes))  # type: ignore[arg-type]


# ---------------------------------------------------------------------- published


@pytest.mark.published
def test_pumps_of_white_examples_11_6_to_11_8() -> None:
    """White, Ex. 11.6–11.8 [M][V]: one pump 15.2 at 430 ft; two in parallel 16.3; in series, lift 500 ft, 16.1 at 845 ft.

    Thousands of gallons a minute and feet stand for m³/s and m: the equations do not mind.
    """
    curve = tuple((q / 2, 490 - 0.26 * (q / 2) ** 2) for q in range(0, 87))
    one = make_network(
        fixed_head=[0.0, 120.0, np.nan],
        tail=[0, 2],
        head=[2, 1],
        square=[0.0, 1.335],
        pump_link=[0],
        pump_curves=[curve],
    )
    found = solve(one)
    assert found.flows[0] == pytest.approx(15.2, abs=0.05)
    assert found.heads[2] == pytest.approx(430, abs=0.5)
    both = make_network(
        fixed_head=[0.0, 120.0, np.nan],
        tail=[0, 0, 2],
        head=[2, 2, 1],
        square=[0.0, 0.0, 1.335],
        pump_link=[0, 1],
        pump_curves=[curve, curve],
    )
    assert solve(both).flows[2] == pytest.approx(16.3, abs=0.05)
    series = make_network(
        fixed_head=[0.0, 500.0, np.nan, np.nan],
        tail=[0, 2, 3],
        head=[2, 3, 1],
        square=[0.0, 0.0, 1.335],
        pump_link=[0, 1],
        pump_curves=[curve, curve],
    )
    found = solve(series)
    assert found.flows[0] == pytest.approx(16.1, abs=0.05)
    assert found.heads[3] == pytest.approx(845, abs=0.5)


# ---------------------------------------------------------------------- a second, plain, slow way


@pytest.mark.second_method
def test_two_loops_by_the_method_of_hardy_cross() -> None:
    """Loop corrections by hand (Cross 1936), friction from fluids, from flows that balance."""
    network = two_loops()
    bores, lengths = network.run_bore, network.run_length

    def loss(link: int, q: float) -> float:
        re = abs(q) * 4 / (math.pi * bores[link] * NU)
        f = fluids_friction(re, 1.5e-6 / bores[link])
        return math.copysign(8 * f * lengths[link] * q * q / (math.pi**2 * G * bores[link] ** 5), q)

    flows = [7e-4, 3e-4, 7e-4, 2e-4, 3e-4]
    for _ in range(3000):
        for loop in (((0, 1), (3, 1), (2, -1)), ((1, 1), (4, -1), (3, -1))):
            total = sum(sign * loss(link, flows[link]) for link, sign in loop)
            slope = sum(
                abs(loss(link, flows[link] * 1.001) - loss(link, flows[link])) / abs(0.001 * flows[link])
                for link, _ in loop
            )
            for link, sign in loop:
                flows[link] -= sign * total / slope
    found = solve(network)
    assert all(abs(q) * 4 / (math.pi * b * NU) > 4000 for q, b in zip(flows, bores, strict=True))
    assert found.flows == pytest.approx(flows, rel=1e-6)


@pytest.mark.second_method
def test_a_small_lattice_against_a_general_root_finder() -> None:
    network = lattice(60)
    found = solve(network)
    unknown = np.flatnonzero(np.isnan(network.fixed_head))
    m = len(network.tail)

    def equations(x: np.ndarray) -> np.ndarray:
        heads = network.fixed_head.copy()
        heads[unknown] = x[:-m]
        energy, mass = residuals(network, heads, x[-m:] * 1e-3)
        return np.concatenate([mass[unknown] * 1e3, energy])

    start = np.concatenate([np.nan_to_num(found.heads)[unknown] + 0.3, found.flows * 1e3 * 0.7 + 0.05])
    other = root(equations, start, method="hybr", options={"xtol": 1e-13})
    assert other.success
    assert other.x[-m:] * 1e-3 == pytest.approx(found.flows, abs=1e-8 * np.max(np.abs(found.flows)))


# ---------------------------------------------------------------------- what must not change the answer


def turned(network: Network) -> Network:
    """The same network with every link written the other way round (no pumps, no one-way links)."""
    return replace(
        network,
        tail=network.head,
        head=network.tail,
        square=network.square_back,
        square_back=network.square,
        tee_sign=-network.tee_sign,
    )


@pytest.mark.invariant
@pytest.mark.parametrize("network", [two_loops(), lattice(200), farm(120, tees=True)])
def test_links_written_the_other_way_round(network: Network) -> None:
    found, other = solve(network), solve(turned(network))
    assert other.flows == pytest.approx(-found.flows, abs=1e-9 * np.max(np.abs(found.flows)))


@pytest.mark.invariant
def test_a_run_split_in_two() -> None:
    found = solve(two_loops())
    split = two_loops(
        fixed_head=[10.0, np.nan, np.nan, np.nan, np.nan],
        draw=[0.0, 2e-4, 6e-4, 6e-4, 0.0],
        tail=[0, 1, 0, 1, 2, 4],
        head=[4, 3, 2, 2, 3, 1],
        run_link=[0, 1, 2, 3, 4, 5],
        run_bore=[0.025, 0.02, 0.025, 0.015, 0.02, 0.025],
        run_length=[4.0, 12.0, 8.0, 5.0, 9.0, 6.0],
        run_roughness=[1.5e-6] * 6,
    )
    assert solve(split).flows[:5] == pytest.approx(found.flows, rel=1e-10)


@pytest.mark.invariant
def test_a_lossless_link_added() -> None:
    found = solve(two_loops())
    longer = two_loops(
        fixed_head=[10.0, np.nan, np.nan, np.nan, np.nan],
        draw=[0.0, 2e-4, 6e-4, 6e-4, 0.0],
        tail=[0, 1, 0, 1, 2, 4],
        head=[4, 3, 2, 2, 3, 1],
    )
    assert solve(longer).flows[:5] == pytest.approx(found.flows, rel=1e-10)


@pytest.mark.invariant
def test_head_falls_along_the_flow() -> None:
    network = lattice(500)
    found = solve(network)
    fall = found.heads[network.tail] - found.heads[network.head]
    assert np.all(fall * found.flows >= 0.0)


@pytest.mark.invariant
def test_heads_lifted_together_change_no_flow() -> None:
    network = lattice(200)
    lifted = replace(network, fixed_head=network.fixed_head + 50.0)
    assert solve(lifted).flows == pytest.approx(solve(network).flows, rel=1e-8)


@pytest.mark.invariant
def test_a_warm_start_gives_the_same_answer_in_fewer_steps() -> None:
    network = lattice(1000)
    cold = solve(network)
    warm = solve(network, start=cold)
    assert warm.flows == pytest.approx(cold.flows, rel=1e-9)
    assert warm.steps < cold.steps


# ---------------------------------------------------------------------- valves, islands, dead ends


def pipe(**keys: object) -> Network:
    """A network whose links are all 10 m of 20 mm pipe."""
    m = len(keys["tail"])  # type: ignore[arg-type]
    return make_network(
        run_link=range(m), run_bore=[0.02] * m, run_length=[10.0] * m, run_roughness=[1.5e-6] * m, **keys
    )  # type: ignore[arg-type]


@pytest.mark.invariant
def test_a_one_way_link_against_the_flow_is_shut_exactly() -> None:
    found = solve(pipe(fixed_head=[1.0, 2.0], tail=[0], head=[1], one_way=[True]))
    assert found.flows[0] == 0.0
    assert found.closed[0]


@pytest.mark.invariant
def test_one_way_links_settle_in_parallel_loops() -> None:
    """Three levels meet at a joint; only what can flow down flows, and the joint is where that balances."""
    network = pipe(fixed_head=[3.0, 2.0, 0.0, np.nan], tail=[0, 1, 3], head=[3, 3, 2], one_way=[True, True, False])
    found = solve(network)
    assert found.flows[0] > 0.0
    assert found.flows[1] == pytest.approx(found.flows[2] - found.flows[0], rel=1e-12)
    proven(network)
    wide = replace(network, run_bore=np.array([0.04, 0.02, 0.02]))
    assert solve(wide).closed.tolist() == [False, True, False]


@pytest.mark.invariant
def test_a_dead_end_carries_nothing() -> None:
    found = solve(pipe(fixed_head=[3.0, np.nan, 1.0, np.nan], tail=[0, 1, 1], head=[1, 2, 3]))
    assert found.flows[2] == 0.0
    assert found.heads[3] == pytest.approx(found.heads[1], rel=1e-12)


@pytest.mark.invariant
def test_an_island_floats_and_carries_nothing() -> None:
    found = solve(pipe(fixed_head=[3.0, 1.0, np.nan, np.nan], tail=[0, 2], head=[1, 3]))
    assert found.floating.tolist() == [False, False, True, True]
    assert np.isnan(found.heads[2:]).all()
    assert found.flows[1] == 0.0


@pytest.mark.invariant
def test_a_closed_pump_loop_circulates() -> None:
    curve = ((0.0, 3.0), (3e-4, 2.0), (6e-4, 0.0))
    network = make_network(
        fixed_head=[np.nan, np.nan],
        tail=[0, 1],
        head=[1, 0],
        run_link=[1],
        run_bore=[0.02],
        run_length=[10.0],
        run_roughness=[1.5e-6],
        pump_link=[0],
        pump_curves=[curve],
    )
    found = solve(network)
    lift, _ = PumpCurves((curve,)).heads(found.flows[:1])
    assert found.flows[0] == pytest.approx(found.flows[1], rel=1e-12)
    energy, _ = residuals(network, np.array([0.0, float(lift[0])]), found.flows)
    assert np.max(np.abs(energy)) < 1e-9


@pytest.mark.invariant
def test_a_draw_on_an_island_is_an_error() -> None:
    with pytest.raises(SolveError, match="draw"):
        solve(pipe(fixed_head=[3.0, 1.0, np.nan, np.nan], draw=[0, 0, 0, 1e-4], tail=[0, 2], head=[1, 3]))


@pytest.mark.invariant
def test_a_falling_jet_brings_water_and_no_head() -> None:
    """Water falls into a vessel (node 2) whose outlet carries just that, whatever the height it fell from."""
    for height in (6.0, 8.0):
        network = pipe(
            fixed_head=[10.0, np.nan, 0.0],
            tail=[0, 1],
            head=[1, 2],
            open_ended=[True, False],
            tip_head=[height, -np.inf],
        )
        found = solve(network)
        assert found.flows[1] == pytest.approx(found.flows[0], rel=1e-12)
        assert found.falls.tolist() == [True, False]
        energy, _ = residuals(network, np.array([10.0, height, 0.0]), found.flows)
        assert energy[0] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.invariant
def test_what_has_no_single_answer_is_refused() -> None:
    with pytest.raises(SolveError):
        solve(make_network(fixed_head=[2.0, 1.0], tail=[0], head=[1]))


@pytest.mark.invariant
def test_nothing_at_all() -> None:
    found = solve(make_network(fixed_head=[], tail=[], head=[]))
    assert len(found.flows) == 0


@pytest.mark.invariant
def test_too_few_steps_is_an_error_and_never_a_number() -> None:
    with pytest.raises(SolveError) as caught:
        solve(lattice(500), max_steps=2)
    assert caught.value.iterations <= 3
    assert caught.value.worst


# ---------------------------------------------------------------------- random networks


@pytest.mark.invariant
@pytest.mark.parametrize("network", [lattice(5000), farm(2000, tees=False), farm(2000, tees=True)])
def test_large_networks_satisfy_their_equations(network: Network) -> None:
    proven(network)


def random_network(seed: int, *, tees: bool) -> Network:
    """A tree with some loops, random bores, valves, draws, one-way links, and tees where three links meet."""
    random = np.random.default_rng(seed)
    n = int(random.integers(3, 25))
    tail = [int(random.integers(0, node)) for node in range(1, n)]
    head = list(range(1, n))
    for _ in range(int(random.integers(0, 4))):
        a, b = random.choice(n, 2, replace=False)
        tail.append(int(a))
        head.append(int(b))
    m = len(tail)
    fixed = np.where(random.random(n) < 0.3, random.uniform(0.0, 5.0, n), np.nan)
    if np.isnan(fixed).all():
        fixed[0] = 2.0
    swap = random.random(m) < 0.5
    tails, heads = np.where(swap, head, tail), np.where(swap, tail, head)
    bore = random.choice([0.013, 0.02, 0.03, 0.05], m)
    network = make_network(
        fixed_head=fixed,
        draw=np.where(random.random(n) < 0.2, random.uniform(-1e-4, 1e-4, n), 0.0),
        tail=tails,
        head=heads,
        square=random.uniform(0.0, 5.0, m) / (2 * G * (np.pi / 4 * bore**2) ** 2),
        square_back=random.uniform(0.0, 5.0, m) / (2 * G * (np.pi / 4 * bore**2) ** 2),
        linear=random.uniform(0.0, 800.0, m) * NU / (2 * G * bore * np.pi / 4 * bore**2),
        one_way=random.random(m) < 0.1,
        shut=random.random(m) < 0.05,
        run_link=np.arange(m),
        run_bore=bore,
        run_length=random.uniform(0.1, 5.0, m),
        run_roughness=np.full(m, 1.5e-6),
    )
    if not tees:
        return network
    legs, signs = [], []
    for node in range(n):
        touching = [(link, 1.0) for link in np.flatnonzero(heads == node)]
        touching += [(link, -1.0) for link in np.flatnonzero(tails == node)]
        if len(touching) == 3 and np.isnan(fixed[node]):
            order = random.permutation(3)
            legs.append([touching[i][0] for i in order])
            signs.append([touching[i][1] for i in order])
    end = np.array(legs, dtype=np.int64).reshape(-1, 3)
    return replace(
        network,
        tee_link=end,
        tee_sign=np.array(signs).reshape(-1, 3),
        tee_bore=bore[end],
        tee_angle=random.choice([np.pi / 4, np.pi / 2], len(end)),
    )


@pytest.mark.invariant
@pytest.mark.parametrize("seed", [462, 3610, 6332, 6467, 10757, 12233, 19708])
def test_one_way_links_that_a_single_step_to_the_barrier_does_not_settle(seed: int) -> None:
    """Networks whose one-way links have to be tightened little by little."""
    proven(random_network(seed, tees=False))


@pytest.mark.invariant
def test_draws_that_one_way_links_forbid_are_refused_for_that_reason() -> None:
    with pytest.raises(SolveError, match="draw"):
        solve(
            pipe(
                fixed_head=[3.0, np.nan, np.nan], draw=[0.0, 0.0, 1e-4], tail=[1, 2], head=[0, 1], one_way=[True, False]
            )
        )


@pytest.mark.invariant
@settings(max_examples=150)
@given(st.integers(0, 2**31), st.booleans())
@example(88475, True)  # heads along wide pipe that differ by next to nothing
@example(2248, True)
@example(2197, True)
def test_random_networks_are_solved_or_refused_with_a_reason(seed: int, tees: bool) -> None:
    reason = "draw"
    try:
        proven(random_network(seed, tees=tees))
    except SolveError as refused:
        reason = str(refused)
    # A draw that nothing can meet, or valves that never settle, is a reason; failing to converge is not.
    assert "draw" in reason or "settle" in reason


def loop_of_three() -> Network:
    """A level, a joint, and three links between them that meet at a tee's legs: water has two ways."""
    return pipe(fixed_head=[1.0, np.nan], draw=[0.0, 1e-4], tail=[0, 0, 0], head=[1, 1, 1])


@pytest.mark.invariant
@pytest.mark.parametrize("lost", [1.0, 1e-6, 0.0])
def test_equations_that_leave_a_loop_open_are_doubted(lost: float) -> None:
    """Two of three links whose heads do not depend on their flows: how the flow parts is anyone's guess."""
    network = loop_of_three()
    network = replace(
        network,
        tee_link=np.array([[0, 1, 2]]),
        tee_sign=np.ones((1, 3)),
        tee_bore=np.full((1, 3), 0.02),
        tee_angle=np.array([np.pi / 2]),
    )
    open_links = np.ones(3, dtype=bool)
    step = StepSolver(network, open_links, np.array([False, True]), open_links, 1.0, 1e-4)
    slope = np.array([1e4, 1e4, 1e4])
    tee = np.zeros((1, 3, 3))
    tee[0, 0, 0] = tee[0, 1, 1] = -1e4 * (1.0 - lost)
    try:
        step.step(slope, tee, np.zeros(2), np.zeros(3))
        doubted = step.doubtful()
    except SingularStep:
        doubted = True
    assert doubted == (lost == 0.0)


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("keys", "loops"),
    [
        ({"fixed_head": [1.0, np.nan, np.nan], "tail": [0, 1], "head": [1, 2]}, False),
        ({"fixed_head": [1.0, np.nan, 2.0], "tail": [0, 1], "head": [1, 2]}, True),
        ({"fixed_head": [1.0, np.nan, np.nan], "tail": [0, 1, 2], "head": [1, 2, 0]}, True),
        (
            {"fixed_head": [1.0, np.nan, np.nan], "tail": [0, 1, 2], "head": [1, 2, 0], "shut": [False, True, False]},
            False,
        ),
    ],
)
def test_loops_are_known(keys: dict[str, object], loops: bool) -> None:
    network = pipe(**keys)
    assert has_loops(network, ~network.shut) == loops


@pytest.mark.invariant
@pytest.mark.slow
def test_few_of_thousands_of_random_tee_networks_are_given_up() -> None:
    """None of these, nor of 10,000."""
    given_up = 0
    for seed in range(2000):
        try:
            proven(random_network(seed, tees=True))
        except SolveError as refused:
            given_up += "draw" not in str(refused)
    assert given_up == 0


# ---------------------------------------------------------------------- laws that are kept


ONE = make_network(
    fixed_head=[2.0, np.nan, np.nan, 0.0, 0.0],
    tail=[0, 1, 1, 2],
    head=[1, 2, 3, 4],
    square=1e4,
    linear=10.0,
    run_link=[0, 1, 2],
    run_bore=[0.02, 0.02, 0.016],
    run_length=[2.0, 3.0, 4.0],
    run_roughness=[1e-6, 1e-5, 1e-4],
    pump_link=[3],
    pump_curves=[[(0.0, 1.0), (1e-3, 0.2)]],
    tee_link=[[0, 1, 2]],
    tee_sign=[[1.0, -1.0, -1.0]],
    tee_bore=[[0.02, 0.02, 0.016]],
    tee_angle=[1.5],
)
OTHERS = {
    "square": ONE.square * 3.0,
    "linear": ONE.linear * 3.0,
    "run_bore": ONE.run_bore * 1.5,
    "run_length": ONE.run_length * 2.0,
    "run_roughness": ONE.run_roughness * 9.0,
    "run_link": np.array([0, 2, 1]),
    "viscosity": 2.0 * ONE.viscosity,
    "gravity": 1.6,
    "density": 800.0,
    "pump_curves": (((0.0, 3.0), (1e-3, 0.1)),),
    "tee_bore": ONE.tee_bore * 1.2,
    "open_ended": np.array([False, False, False, True]),
}


@pytest.mark.invariant
@pytest.mark.parametrize("name", OTHERS)
def test_laws_kept_of_one_network_are_not_those_of_another(name: str) -> None:
    """Whatever of its pipe, pumps or water differs, a network asked for after another has the laws that it has when asked for alone."""
    other = replace(ONE, **{name: OTHERS[name]})
    laws._ready.cache_clear()
    alone = laws.build_laws(other)
    laws._ready.cache_clear()
    first, after = laws.build_laws(ONE), laws.build_laws(other)
    flows = np.array([3e-4, -2e-4, 1e-4, 4e-4])
    for field in ("guess", "secant", "keeps"):
        np.testing.assert_array_equal(getattr(after, field), getattr(alone, field))
    for field in ("head", "slope", "tee"):
        np.testing.assert_array_equal(
            getattr(laws.losses(after, flows), field), getattr(laws.losses(alone, flows), field)
        )
    differs = [*(getattr(first, field) for field in ("guess", "secant", "keeps")), laws.losses(first, flows).head]
    same = [*(getattr(after, field) for field in ("guess", "secant", "keeps")), laws.losses(after, flows).head]
    assert any(not np.array_equal(a, b) for a, b in zip(differs, same, strict=True))


@pytest.mark.invariant
def test_of_ways_that_stall_the_nearest_to_an_answer_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def way(size: float) -> Callable[[], newton.Point]:
        def stalls() -> newton.Point:
            raise newton.Stalled(cast(newton.Point, SimpleNamespace(size=size)))

        return stalls

    monkeypatch.setattr(newton, "_ways", lambda *_, **__: [way(2.0), way(1.0), way(3.0)])
    with pytest.raises(newton.Stalled) as stop:
        newton.find(cast(newton.Problem, None), np.zeros(1), None, newton.Tally(1))
    assert stop.value.point is not None
    assert stop.value.point.size == 1.0
