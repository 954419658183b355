"""Part-full round pipe against the printed table, and against the laws it comes from."""

from __future__ import annotations

import math

import pytest
from conftest import ReadText
from scipy.optimize import brentq, minimize_scalar

from plumbline.check import check
from plumbline.hydraulics.friction import friction_loss
from plumbline.hydraulics.part_full import capacity, part_full_speed, shares


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("depth", "area", "radius", "speed", "flow"),
    [
        (0.1, 0.0520, 0.2541, 0.4012, 0.0209),
        (0.25, 0.1955, 0.5865, 0.7007, 0.1370),
        (0.5, 0.5, 1.0, 1.0, 0.5),
        (0.7, 0.7477, 1.1849, 1.1198, 0.8372),
        (0.82, 0.8776, 1.2171, 1.1399, 1.0004),
        (0.938, 0.9743, 1.1601, 1.1041, 1.0757),
    ],
)
def test_the_table_of_part_full_pipe(depth: float, area: float, radius: float, speed: float, flow: float) -> None:
    """Elements of round pipe with constant Manning n, recomputed independently [V]."""
    assert shares(depth) == pytest.approx((area, radius, speed, flow), abs=6e-5)


@pytest.mark.second_method
def test_greatest_flow_and_speed() -> None:
    """Greatest flow 1.0757 at .9382, greatest speed 1.1400 at .8128, full flow again at .8196 [V]."""
    flow = minimize_scalar(lambda y: -shares(y)[3], bounds=(0.5, 0.999), method="bounded", options={"xatol": 1e-9})
    speed = minimize_scalar(lambda y: -shares(y)[2], bounds=(0.5, 0.999), method="bounded", options={"xatol": 1e-9})
    assert (flow.x, -flow.fun) == pytest.approx((0.9382, 1.0757), abs=6e-5)
    assert (speed.x, -speed.fun) == pytest.approx((0.8128, 1.1400), abs=6e-5)
    assert brentq(lambda y: shares(y)[3] - 1.0, 0.7, 0.9) == pytest.approx(0.8196, abs=6e-5)


@pytest.mark.published
def test_a_large_drain_of_crane_example_7_26() -> None:
    """Crane TP-410, Ex. 7.26 [L]: 24 in pipe two thirds full, ¾ in per ft, f 0.0155 → 24,500 gpm.

    Crane's f is put in by Darcy's law on the hydraulic radius: V = √(8 g R S/f), on a bore of 24 in.
    """
    bore, fall, f = 24 * 0.0254, 0.75 / 12, 0.0155
    area, radius, _, _ = shares(2 / 3)
    speed = math.sqrt(8 * 9.80665 * radius * bore / 4 * fall / f)
    gpm = speed * area * math.pi / 4 * bore**2 / (231 * 0.0254**3 / 60)
    assert gpm == pytest.approx(24_500, abs=50)


@pytest.mark.second_method
@pytest.mark.parametrize("bore", [0.03, 0.05, 0.1])
@pytest.mark.parametrize("fall", [0.01, 0.1])
def test_capacity_is_friction_equal_to_fall(bore: float, fall: float) -> None:
    q = capacity(bore, fall, 1.5e-6, 1e-6)
    loss, _ = friction_loss(q, bore, 1.0, 1.5e-6, 1e-6, 9.80665)
    assert float(loss) == pytest.approx(fall, rel=1e-9)


@pytest.mark.invariant
def test_speed_meets_that_of_the_full_pipe_where_it_fills() -> None:
    full = capacity(0.05, 0.02, 1.5e-6, 1e-6)
    area = math.pi / 4 * 0.05**2
    assert part_full_speed(full * 1.001, 0.05, 0.02, 1.5e-6, 1e-6) == pytest.approx(full * 1.001 / area, rel=1e-12)
    # Just below, it runs at depth 0.8196, an eighth faster.
    assert part_full_speed(full * 0.999, 0.05, 0.02, 1.5e-6, 1e-6) == pytest.approx(1.14 * full / area, rel=3e-3)


@pytest.mark.invariant
def test_without_fall_it_runs_full_and_without_flow_stands() -> None:
    assert part_full_speed(1e-4, 0.05, 0.0, 1.5e-6, 1e-6) == pytest.approx(1e-4 / (math.pi / 4 * 0.05**2))
    assert part_full_speed(-1e-4, 0.05, -0.1, 1.5e-6, 1e-6) == pytest.approx(1e-4 / (math.pi / 4 * 0.05**2))
    assert part_full_speed(0.0, 0.05, 0.1, 1.5e-6, 1e-6) == 0.0


@pytest.mark.invariant
def test_half_of_the_full_flow_runs_half_full() -> None:
    full = capacity(0.05, 0.02, 1.5e-6, 1e-6)
    speed = part_full_speed(0.5 * full, 0.05, 0.02, 1.5e-6, 1e-6)
    assert speed == pytest.approx(full / (math.pi / 4 * 0.05**2), rel=1e-6)


@pytest.mark.pinned
@pytest.mark.parametrize(("down", "said"), [("100 mm", []), ("8 mm", ["runs part-full at"]), ("0 mm", ["runs at"])])
def test_a_drain_is_judged_by_its_part_full_stream(read_text: ReadText, down: str, said: list[str]) -> None:
    """4 m of 57 mm drain at 12 L/min: 0.08 m/s as if full, over 0.3 m/s with a fall of 1 in 40."""
    result = check(
        read_text(f"""
vessels:
  tank: {{base: 0 m, water: 0.5 m, rim: 1 m, area: 1 m^2}}
  bed: {{base: 1 m, water: 0.2 m, rim: 0.5 m, area: 2 m^2}}
pumps: {{lift: {{in: tank, curve: [[0 L/min, 1.5 m], [12 L/min, 0.9 m], [12.5 L/min, 0 m]]}}}}
lines:
  riser: {{pipe: pvc 25, from: lift, route: [{{up: 1.6 m}}, union], to: {{vessel: bed}}}}
  drain:
    pipe: {{bore: 57 mm}}
    from: {{vessel: bed, standpipe: 0.2 m}}
    route: [{{down: 0.6 m}}, sweep, {{west: 4 m, down: {down}}}]
    to: tank
""")
    )
    found = [finding for finding in result.findings if finding.kind == "slow-flow" and finding.line == "drain"]
    assert len(found) == len(said)
    assert all(words in finding.message for finding, words in zip(found, said, strict=True))


@pytest.mark.second_method
@pytest.mark.parametrize(("flow", "told"), [(8.806, []), (8.54, ["0.29 m/s: solids settle below 0.30 m/s"])])
def test_a_speed_is_held_against_the_limit_to_the_hundredth(read_text: ReadText, flow: float, told: list[str]) -> None:
    """8.806 L/min run in 25 mm at 0.299 m/s, 8.54 at 0.290."""
    result = check(
        read_text(f"""
vessels: {{tank: {{base: 1 m, water: 0.5 m}}}}
lines:
  feed: {{pipe: {{bore: 25 mm}}, from: {{vessel: tank, height: 0.1 m}}, route: [east: 5 m], to: {{draws: {flow} L/min}}}}
""")
    )
    found = [finding.message for finding in result.findings if finding.kind == "slow-flow"]
    assert [words in message for words, message in zip(told, found, strict=True)] == [True] * len(told)
