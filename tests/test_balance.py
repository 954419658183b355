"""The balance of valves: against a second way to the same openings, against a search over all of them, and what must hold.

No published values for a whole balance are known; the valves' tables and every loss in the networks have theirs elsewhere.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from plumbline import catalogue, read_layout
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.hydraulics import throttle
from plumbline.hydraulics.balance import Balance, balance
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.losses import valve_opening
from plumbline.hydraulics.valve_heads import opening_for, units_of
from plumbline.hydraulics.valve_service import find_service, with_openings
from plumbline.layout import layout_of
from plumbline.layout.model import Layout, Mark
from plumbline.layout.rewrite import set_openings

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
TABLES = catalogue.openings()
LPM = 1.0 / 60000.0


def manifold(
    heights: tuple[float, ...] = (0.6, 0.8, 1.1),
    *,
    wants: float = 8.0,
    pump: str = "[[0 L/min, 3 m], [30 L/min, 2.4 m], [50 L/min, 1.6 m], [60 L/min, 0.8 m]]",
    valve: str = "ball valve",
    without: tuple[int, ...] = (),
    trunk: str = "",
    more_lines: str = "",
    more_vessels: str = "",
) -> str:
    """Beds in a row on one manifold, each on a tee with its own valve; the bed `without` one has a plain pipe."""
    beds = "".join(
        f"  bed {i}: {{base: {z} m, water: 0.2 m, rim: 0.4 m, area: 2 m^2, wants: {wants} L/min}}\n"
        for i, z in enumerate(heights)
    )
    last = len(heights) - 1
    # Of one height, whatever the beds' heights: each branch goes up or down to its bed.
    steps = "".join(f"      - {{east: 1 m}}\n      - tee: t{i}\n" for i in range(last))
    valves = [f"      - {valve}: {{id: v{i}}}\n" if i not in without else "" for i in range(len(heights))]
    rises = [f"      - elbow\n      - up: {z + 0.3:.3f} m\n" for z in heights]
    lines = "".join(
        f"  feed {i}:\n    pipe: pvc 25\n    from: t{i}\n    route:\n      - south: 0.3 m\n{valves[i]}{rises[i]}    to: bed {i}\n"
        for i in range(last)
    )
    drains = "".join(
        f"  drain {i}: {{pipe: pvc 50, from: {{vessel: bed {i}, standpipe: 0.2 m}}, route: [down: {z + 0.1:.3f} m], to: sump}}\n"
        for i, z in enumerate(heights)
    )
    return (
        "name: row of beds\nwater: 20 degC\nvessels:\n"
        "  sump: {base: -1 m, water: 0.8 m, rim: 1 m, area: 4 m^2}\n"
        + beds
        + more_vessels
        + f"pumps:\n  p: {{in: sump, curve: {pump}}}\n"
        "lines:\n  main:\n    pipe: pvc 25\n    from: p\n    route:\n      - up: 1 m\n      - elbow\n      - {east: 0.4 m}\n"
        + trunk
        + steps
        + f"      - {{east: 1 m}}\n{valves[last]}{rises[last]}    to: bed {last}\n"
        + lines
        + drains
        + more_lines
    )


@cache
def exact(text: str) -> Balance:
    """A layout given as text, with its valves where they are found."""
    return balance(layout_of(text), rounding=0.0)


def shares(result: Balance) -> list[float]:
    return [one.share for one in result.vessels]


def by_id(result: Balance) -> dict[str, float]:
    return {one.label.strip("'"): one.after for one in result.settings}


# ---------------------------------------------------------------------- the table turned round


@pytest.mark.second_method
@pytest.mark.parametrize("name", TABLES)
@given(opening=st.floats(0.01, 1.0), k_open=st.floats(0.0, 5.0))
def test_the_opening_found_is_that_from_which_the_loss_came(name: str, opening: float, k_open: float) -> None:
    table = TABLES[name]
    k = valve_opening(k_open, opening, table.points, table.shut_at)
    assume(opening > table.shut_at + 0.01)
    assert opening_for(k - k_open, table.points, table.shut_at) == pytest.approx(opening, abs=1e-9)


@pytest.mark.invariant
@pytest.mark.parametrize("name", TABLES)
def test_no_more_loss_than_when_open_is_fully_open(name: str) -> None:
    table = TABLES[name]
    assert opening_for(0.0, table.points, table.shut_at) == 1.0
    assert opening_for(-1e-9, table.points, table.shut_at) == 1.0
    assert table.shut_at < opening_for(1e12, table.points, table.shut_at) < table.shut_at + 1e-3


# ---------------------------------------------------------------------- against other ways to the same


def newton_on_openings(layout: Layout, keys: list[tuple[str, int]], beds: list[str]) -> np.ndarray:
    """A second way: the ordinary solver alone, and Newton by finite differences on how far each valve is open, until all beds
    get the same share of what they want. Openings may pass 1 by nothing: the widest is put at 1 and held there."""

    def logs(openings: np.ndarray) -> np.ndarray:
        flows = find_flows(with_openings(layout, dict(zip(keys, openings.tolist(), strict=True))), margins=False)
        return np.log([flows.vessels[bed].inflow / (layout.vessels[bed].wants or math.nan) for bed in beds])

    x, n = np.full(len(keys), 0.35), len(keys)
    for _ in range(40):
        now = logs(x)
        widest = int(np.argmax(x))
        slope = np.array([(logs(x + e) - logs(x - e)) / 2e-6 for e in np.eye(n) * 1e-6]).T
        # Unknown: the n changes and the logarithm of the common share; the widest goes to 1, a little short of it while trying.
        system = np.zeros((n + 1, n + 1))
        system[:n, :n], system[:n, n], system[n, widest] = slope, -1.0, 1.0
        step = np.linalg.solve(system, np.append(-now, min(1.0 - 2e-6 - x[widest], 0.1)))[:n]
        x = np.clip(x + step * min(1.0, 0.1 / np.abs(step).max()), 0.15, 1.0 - 2e-6)
        if np.abs(step).max() < 1e-9:
            break
    return x


@pytest.mark.second_method
@pytest.mark.slow
@pytest.mark.parametrize("valve", ["ball valve", "gate valve", "diaphragm valve"])
def test_newton_on_the_openings_with_the_ordinary_solver_comes_to_the_same(read_text: ReadText, valve: str) -> None:
    layout = read_text(manifold(valve=valve))
    result = balance(layout, rounding=0.0)
    keys = [(one.line, one.step) for one in result.settings]
    second = newton_on_openings(layout, keys, [one.name for one in result.vessels])
    # The second way stops 2e-6 short of full open, and so a little short everywhere.
    np.testing.assert_allclose([result.openings[key] for key in keys], second, atol=2e-5)


@pytest.mark.second_method
@pytest.mark.slow
def test_no_other_openings_give_the_worst_off_bed_more(read_text: ReadText) -> None:
    # All pairs of fourteen openings.
    layout = read_text(manifold((0.6, 1.1)))
    result = balance(layout, rounding=0.0)
    best = 0.0
    for one in np.linspace(0.07, 1.0, 14):
        for other in np.linspace(0.07, 1.0, 14):
            flows = find_flows(
                with_openings(layout, {("feed 0", 2): float(one), ("main", 6): float(other)}), margins=False
            )
            best = max(best, min(flows.vessels[f"bed {i}"].inflow / (8.0 * LPM) for i in (0, 1)))
    assert best <= min(shares(result)) * (1.0 + 1e-9)
    assert best >= 0.9 * min(shares(result))  # the search comes near it, so it did look in the right place


@pytest.mark.second_method
def test_one_bed_by_hand(read_text: ReadText) -> None:
    # Two lines out of one header that holds its level, so that neither knows of the other: every valve full open.
    layout = read_text("""
        name: two lines
        water: 20 degC
        vessels:
          header: {base: 2 m, water: 0.5 m}
          near: {base: 0 m, water: 0.2 m, wants: 5 L/min}
          far: {base: 0 m, water: 0.2 m, wants: 5 L/min}
        lines:
          a: {pipe: pvc 25, from: {vessel: header, height: 0.1 m}, route: [{east: 1 m}, ball valve: {opening: 40 %}], to: near}
          b: {pipe: pvc 25, from: {vessel: header, height: 0.1 m}, route: [{east: 9 m}, ball valve: {opening: 60 %}], to: far}
        """)
    result = balance(layout)
    assert [one.after for one in result.settings] == [1.0, 1.0]
    assert shares(result)[0] > shares(result)[1] > 1.0


# ---------------------------------------------------------------------- what must hold


@pytest.mark.invariant
def test_every_bed_gets_the_same_share_and_one_valve_is_open() -> None:
    result = exact(manifold())
    assert shares(result) == pytest.approx([shares(result)[0]] * 3, rel=1e-7)
    assert max(result.openings.values()) == pytest.approx(1.0, abs=1e-6)
    assert [one.after for one in result.settings] == sorted((one.after for one in result.settings), reverse=True)
    assert result.enough


@pytest.mark.second_method
def test_what_is_reported_is_what_the_ordinary_solver_finds(read_text: ReadText) -> None:
    layout = read_text(manifold())
    result = balance(layout)
    flows = find_flows(with_openings(layout, result.openings))
    assert {one.name: one.after for one in result.vessels} == {
        one.name: flows.vessels[one.name].inflow for one in result.vessels
    }
    assert all(one.after == round(one.after, 3) for one in result.settings)
    assert shares(result) == pytest.approx([shares(result)[0]] * 3, rel=0.02)  # what rounding to 0.1 % costs


@pytest.mark.invariant
@pytest.mark.parametrize("factor", [0.5, 3.0])
def test_what_is_wanted_in_all_changes_no_opening(factor: float) -> None:
    one, other = (exact(manifold(wants=8.0 * f)) for f in (1.0, factor))
    assert by_id(other) == pytest.approx(by_id(one), abs=1e-7)
    assert shares(other) == pytest.approx([share / factor for share in shares(one)], rel=1e-7)


@pytest.mark.invariant
def test_a_weak_pump_says_by_how_much_it_cannot() -> None:
    result = exact(manifold(wants=30.0))
    assert not result.enough
    assert shares(result) == pytest.approx([shares(result)[0]] * 3, rel=1e-7)
    assert 0.3 < shares(result)[0] < 0.8


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize("now", [0.0, 0.2, 0.6])
def test_how_the_valves_stand_now_does_not_matter(read_text: ReadText, now: float) -> None:
    layout = read_text(manifold())
    turned = with_openings(layout, {("feed 0", 2): now, ("main", 8): now})
    assert by_id(balance(turned, rounding=0.0)) == pytest.approx(by_id(exact(manifold())), abs=1e-6)


@pytest.mark.invariant
@pytest.mark.slow
def test_a_shut_valve_before_an_end_under_water_is_opened_and_set(read_text: ReadText) -> None:
    layout = read_text(manifold((0.6, 1.1)).replace("- up: 0.900 m", "- up: 0.700 m"))
    shut = with_openings(layout, {("feed 0", 2): 0.0})
    assert find_flows(shut).ends["feed 0.to"].flow == 0.0
    assert by_id(balance(shut, rounding=0.0)) == pytest.approx(by_id(balance(layout, rounding=0.0)), abs=1e-6)


@pytest.mark.invariant
def test_two_valves_of_one_bed_share_alike_where_they_tell_nothing_open(read_text: ReadText) -> None:
    text = manifold(
        (0.6, 1.0),
        more_lines="  second feed: {pipe: pvc 20, from: again, route: [{north: 0.5 m}, ball valve: "
        "{id: v0b}, elbow, {up: 0.9 m}], to: bed 0}\n",
        trunk="      - tee: again\n      - {east: 0.2 m}\n",
    )
    layout = read_text(text)
    flows = find_flows(layout)
    servings = find_service(layout, flows).servings
    open_shares = units_of(layout, servings, flows)[0].shares
    assert sum(open_shares) == pytest.approx(1.0)
    assert open_shares[0] != open_shares[1]
    key = next(stretch.id for stretch in layout.stretches if stretch.line == "second feed")
    still = replace(flows, stretches={**flows.stretches, key: replace(flows.stretches[key], flow=0.0)})
    assert units_of(layout, servings, still)[0].shares == (0.5, 0.5)


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_a_throttled_main_is_opened(read_text: ReadText) -> None:
    plain = balance(read_text(manifold()))
    result = balance(
        read_text(manifold(trunk="      - ball valve: {id: pinch, opening: 40 %}\n      - {east: 0.01 m}\n"))
    )
    pinch = next(one for one in result.settings if one.label == "'pinch'")
    assert (pinch.after, pinch.serves) == (1.0, ())
    assert shares(result) == pytest.approx(shares(plain), rel=0.02)


@pytest.mark.invariant
def test_a_line_walked_from_the_bed_is_set_alike(read_text: ReadText) -> None:
    text = manifold((0.6, 1.1))
    route = "from: t0\n    route:\n      - south: 0.3 m\n      - ball valve: {id: v0}\n      - elbow\n      - up: 0.900 m\n    to: bed 0"
    back = (
        "from: {vessel: bed 0, height: 0.3 m}\n    route:\n      - down: 0.900 m\n      - elbow\n      - ball valve: {id: v0}\n"
        "      - north: 0.3 m\n    to: t0"
    )
    assert text.count(route) == 1
    one, other = (balance(read_text(said), rounding=0.0) for said in (text, text.replace(route, back)))
    assert by_id(other) == pytest.approx(by_id(one), abs=1e-7)


@pytest.mark.invariant
def test_the_last_of_two_valves_in_a_branch_is_set_and_the_other_opened(read_text: ReadText) -> None:
    text = manifold().replace(
        "- ball valve: {id: v0}",
        "- ball valve: {id: first, opening: 50 %}\n      - south: 0.1 m\n"
        "      - gate valve: {id: second, opening: 20 %}",
    )
    result = balance(read_text(text), rounding=0.0)
    assert by_id(result)["first"] == 1.0
    assert by_id(result)["second"] < 0.9
    assert shares(result) == pytest.approx([shares(result)[0]] * 3, rel=1e-7)


# ---------------------------------------------------------------------- where it is not so simple


@pytest.mark.invariant
@pytest.mark.slow
def test_a_bed_without_a_valve_is_helped_but_not_at_the_others_cost(read_text: ReadText) -> None:
    layout = read_text(manifold((0.6, 0.8, 1.6), without=(2,), wants=7.0))
    result = balance(layout, rounding=0.0)
    opened = find_flows(layout).vessels["bed 2"].inflow
    bare = result.vessels[2]
    assert bare.why == "no valve with an opening stands on the way to it"
    assert bare.valves == ()
    assert bare.after > 1.2 * opened
    assert shares(result) == pytest.approx([bare.share] * 3, rel=1e-3)  # all have as much more than they want
    assert bare.share > 1.0
    starved = balance(read_text(manifold((0.6, 0.8, 1.6), without=(2,), wants=12.0)), rounding=0.0)
    assert shares(starved)[:2] == pytest.approx([1.0, 1.0], abs=1e-6)  # not below what they want
    assert shares(starved)[2] < 0.99
    assert not starved.enough


@pytest.mark.slow(1)
@pytest.mark.second_method
def test_a_bed_beyond_reach_is_left_out_and_the_others_balanced(read_text: ReadText) -> None:
    layout = read_text(manifold((0.6, 0.8, 3.4)))
    result = balance(layout, rounding=0.0)
    assert shares(result)[2] == 0.0
    assert result.vessels[2].why.startswith("water cannot get to it, however far the others are shut: ")
    # From the sump's water to the pipe's end at 3.7 m is a little more than 3.9 m, as the beds hold what stands over their
    # crests; the pump gives 3 m without flow.
    before = find_flows(layout).vessels
    held = sum(2.0 * (before[name].level - base - 0.2) for name, base in (("bed 0", 0.6), ("bed 1", 0.8)))
    assert f"{3.9 + held / 4.0 - 3.0:.2f} m of head is missing" in result.vessels[2].why
    assert shares(result)[0] == pytest.approx(shares(result)[1], rel=1e-7)
    assert not result.enough


@pytest.mark.invariant
def test_beds_that_share_a_valve_are_set_for_the_smaller_share(read_text: ReadText) -> None:
    text = manifold(
        (0.6, 1.0),
        more_vessels="  twin: {base: 0.6 m, water: 0.2 m, rim: 0.4 m, area: 2 m^2, wants: 8 L/min}\n",
        more_lines="  twin feed: {pipe: pvc 20, from: split, route: [{west: 2 m}, elbow, {up: 0.9 m}], to: twin}\n"
        "  twin drain: {pipe: pvc 50, from: {vessel: twin, standpipe: 0.2 m}, route: [down: 0.7 m], to: sump}\n",
    )
    text = text.replace("{id: v0}\n", "{id: v0}\n      - south: 0.2 m\n      - tee: split\n      - south: 0.2 m\n")
    result = balance(read_text(text), rounding=0.0)
    got = {one.name: one.share for one in result.vessels}
    assert min(got["bed 0"], got["twin"]) == pytest.approx(got["bed 1"], rel=1e-5)
    assert got["bed 0"] > 1.02 * got["twin"]
    assert [
        note for note in result.notes if note.startswith("'bed 0' and 'twin' share 'v0': it is set for the one with")
    ]


@pytest.mark.invariant
def test_a_bed_fed_twice_has_both_its_valves_set(read_text: ReadText) -> None:
    text = manifold(
        (0.6, 1.0),
        more_lines="  second feed: {pipe: pvc 20, from: again, route: [{north: 0.5 m}, ball valve: "
        "{id: v0b}, elbow, {up: 0.9 m}], to: bed 0}\n",
        trunk="      - tee: again\n      - {east: 0.2 m}\n",
    )
    result = balance(read_text(text), rounding=0.0)
    assert shares(result)[0] == pytest.approx(shares(result)[1], rel=1e-6)
    assert set(result.vessels[0].valves) == {"'v0'", "'v0b'"}


@pytest.mark.invariant
def test_water_that_comes_besides_counts(read_text: ReadText) -> None:
    # The upper bed drains into the lower one, whose own valve then gives only the rest.
    text = manifold((0.3, 1.0)).replace("route: [down: 1.100 m], to: sump}", "route: [down: 0.5 m], to: bed 0}")
    layout = read_text(text.replace("wants: 8.0", "wants: 16.0", 1))
    result = balance(layout, rounding=0.0)
    assert shares(result)[0] == pytest.approx(shares(result)[1], rel=1e-5)
    through = result.flows.ends["feed 0.to"].flow
    assert through == pytest.approx(result.vessels[0].after - result.vessels[1].after, rel=1e-6)
    assert shares(result)[0] > 1.0


@pytest.mark.pinned
def test_a_bypass_is_named_when_the_pump_falls_short(read_text: ReadText) -> None:
    extra = "  bypass: {pipe: pvc 20, from: again, route: [{north: 0.5 m}, ball valve: {id: waste, opening: 50 %}, {north: 0.2 m}], to: sump}\n"
    text = manifold((0.6, 0.9), wants=40.0, more_lines=extra, trunk="      - tee: again\n      - {east: 0.2 m}\n")
    result = balance(read_text(text))
    assert not result.enough
    (note,) = result.notes
    assert note.startswith("'waste' lets ")
    assert note.endswith(" go where nothing wants it: shut it further and the others get more.")
    assert "'waste'" not in {one.label for one in result.settings}


@pytest.mark.invariant
def test_a_ring_feeds_two_beds_each_by_its_own_valve(read_text: ReadText) -> None:
    text = manifold(
        (0.6, 0.9, 1.0),
        more_lines="  loop: {pipe: pvc 25, from: again, route: [{north: 0.5 m}, elbow, {east: 2.8 m}, "
        "elbow, {south: 0.5 m}], to: close}\n",
        trunk="      - tee: again\n      - {east: 0.2 m}\n",
    )
    text = text.replace(
        "      - tee: t1\n      - {east: 1 m}\n",
        "      - tee: t1\n      - {east: 0.6 m}\n      - tee: close\n      - {east: 0.4 m}\n",
    )
    result = balance(read_text(text), rounding=0.0)
    assert shares(result) == pytest.approx([shares(result)[0]] * 3, rel=1e-7)


@pytest.mark.invariant
def test_a_spray_bar_under_water_and_a_submerged_feed(read_text: ReadText) -> None:
    text = manifold((0.6, 1.0)).replace(
        "      - up: 0.900 m\n    to: bed 0",
        "      - up: 0.62 m\n      - elbow\n      - spray bar: "
        "{east: 0.6 m, holes: 12, hole: 5 mm, in: bed 0}\n    to: cap end",
    )
    result = balance(read_text(text), rounding=0.0)
    assert shares(result)[0] == pytest.approx(shares(result)[1], rel=1e-7)


HEADER = """
    name: from a header tank
    water: 20 degC
    vessels:
      sump: {{base: -1 m, water: 0.6 m, area: 4 m^2}}
      header: {{base: 1.6 m, water: 0.5 m, rim: 0.9 m, area: 1 m^2}}
      low: {{base: 0.2 m, water: 0.2 m, rim: 0.4 m, area: 2 m^2, wants: {low} L/min}}
      high: {{base: 1.0 m, water: 0.2 m, rim: 0.4 m, area: 2 m^2, wants: {high} L/min}}
    pumps:
      p: {{in: sump, curve: [[0 L/min, 6 m], [30 L/min, 4.5 m], [60 L/min, 1 m]]}}
    lines:
      riser: {{pipe: pvc 32, from: p, route: [{{up: 3.3 m}}, elbow, {{east: 0.5 m}}], to: header}}
      a: {{pipe: pvc 32, from: {{vessel: header, height: 0.05 m}}, route: [{{east: 1 m}}, ball valve: va, elbow, {{down: 1.1 m}}], to: low}}
      b: {{pipe: pvc 32, from: {{vessel: header, height: 0.05 m}}, route: [{{north: 3 m}}, ball valve: vb, {{north: 0.2 m}}], to: high}}
      low drain: {{pipe: pvc 50, from: {{vessel: low, standpipe: 0.2 m}}, route: [down: 0.6 m], to: sump}}
      high drain: {{pipe: pvc 50, from: {{vessel: high, standpipe: 0.2 m}}, route: [down: 1.4 m], to: sump}}
      {overflow}
"""
OVERFLOW = "overflow: {pipe: pvc 50, from: {vessel: header, standpipe: 0.5 m}, route: [down: 2 m], to: sump}"


@pytest.mark.invariant
@pytest.mark.parametrize("overflow", [OVERFLOW, ""])
def test_a_header_shares_out_no_more_than_it_gets(read_text: ReadText, overflow: str) -> None:
    result = balance(read_text(HEADER.format(low=20, high=20, overflow=overflow)), rounding=0.0)
    received = result.flows.vessels["header"].inflow
    given_out = sum(one.after for one in result.vessels)
    if overflow:  # the level stands at the standpipe: two lines that no pipe joins share what comes in
        assert shares(result)[0] == pytest.approx(shares(result)[1], rel=1e-5)
        assert given_out == pytest.approx(0.995 * received, rel=1e-4)
        assert result.notes == (
            "'header' gives no more than it gets: what feeds it sets the limit, not the pipes that leave it.",
        )
    else:  # the level finds itself: all of it goes out, and nobody falls short for the other's sake
        assert given_out == pytest.approx(received, rel=1e-6)
    assert result.enough


@pytest.mark.invariant
def test_a_header_without_a_standpipe_holds_one_bed_back_for_the_other(read_text: ReadText) -> None:
    # Wide open, the low bed takes more than half again what it wants and the high one goes short.
    layout = read_text(HEADER.format(low=14, high=26, overflow=""))
    before = find_flows(layout).vessels
    assert before["high"].inflow < 0.95 * 26 * LPM
    result = balance(layout, rounding=0.0)
    assert result.enough
    assert min(shares(result)) >= 1.0 - 1e-4


@pytest.mark.slow
@pytest.mark.invariant
def test_a_header_that_ran_dry_with_its_valves_open_is_set_as_full_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    # All valves open, the header of the terraces stands under its standpipe. It was to creep up, some mm at a time.
    rounds = []
    monkeypatch.setattr(throttle, "find_flows", lambda layout, **more: rounds.append(1) or find_flows(layout, **more))
    result = balance(read_layout(LAYOUTS / "terraces.yaml"))
    assert (result.flows.vessels["header"].level or 0.0) >= 4.6
    # The levels as they stand, first. Once full, each round leaves a twentieth of the last one's move, from 0.6 mm down to the
    # 1e-8 m that is asked for.
    assert len(rounds) <= 7


def narrow_drain() -> str:
    """The upper bed gets next to nothing with the valves open, and has a drain that carries little."""
    return manifold((0.2, 1.6)).replace("drain 1: {pipe: pvc 50,", "drain 1: {pipe: {bore: 12 mm, material: pvc},")


@pytest.mark.slow
@pytest.mark.invariant
def test_what_fails_with_the_valves_so_set_is_told(
    read_text: ReadText, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "narrow.yaml"
    path.write_text(narrow_drain(), encoding="utf-8")
    result = balance(read_layout(path))
    assert result.enough
    assert [one.kind for one in result.fails] == ["overtops"]
    assert main(["balance", str(path)]) == 1
    out = capsys.readouterr().out
    assert "spare, but something else fails\n" in out
    assert "  With the valves so set: 'bed 1' overtops: " in out
    assert main(["balance", str(path), "--json"]) == 1
    assert [one["kind"] for one in json.loads(capsys.readouterr().out)["fails"]] == ["overtops"]


@pytest.mark.slow(1)
@pytest.mark.pinned
def test_what_no_valve_can_mend_is_said(read_text: ReadText) -> None:
    weak = balance(read_text(manifold(wants=30.0)))
    assert weak.notes == (
        "No valve can give 'bed 0', 'bed 1' and 'bed 2' more: that takes a stronger pump, wider or shorter pipe on "
        "the way, or less height.",
    )
    assert balance(read_text(manifold())).notes == ()


# ---------------------------------------------------------------------- who serves whom


@pytest.mark.pinned
def test_the_valve_in_a_loop_serves_nobody_alone(read_text: ReadText) -> None:
    text = manifold(
        (0.6, 0.9),
        without=(0, 1),
        more_lines="  loop: {pipe: pvc 25, from: again, route: [{north: 0.5 m}, elbow, "
        "{east: 1.8 m}, ball valve: looped, elbow, {south: 0.5 m}], to: close}\n",
        trunk="      - tee: again\n      - {east: 0.2 m}\n",
    )
    text = text.replace(
        "      - {east: 1 m}\n      - elbow\n      - up: 1.200 m",
        "      - {east: 0.6 m}\n      - tee: close\n      - {east: 0.4 m}\n      - elbow\n      - up: 1.200 m",
    )
    layout = read_text(text)
    assert find_service(layout, find_flows(layout)).valves == ()
    with pytest.raises(PlumblineError) as caught:
        balance(layout)
    assert str(caught.value) == (
        "No valve can be set for any vessel that wants water:\n"
        "  bed 0: no valve with an opening stands on the way to it\n"
        "  bed 1: no valve with an opening stands on the way to it\n"
        "Put a ball valve into the line to each of them."
    )


@pytest.mark.pinned
def test_a_drain_cannot_be_throttled(read_text: ReadText) -> None:
    text = (
        manifold((0.6,))
        .replace("area: 4 m^2}", "area: 4 m^2, wants: 5 L/min}")
        .replace("route: [down: 0.700 m]", "route: [{down: 0.5 m}, ball valve, {down: 0.2 m}]")
    )
    result = balance(read_text(text))
    sump = next(one for one in result.vessels if one.name == "sump")
    assert sump.why == "it is fed by drains, which bring what comes down them"
    assert [one.label for one in result.settings] == ["'v0'"]


@pytest.mark.pinned
def test_valves_in_a_drain_that_parts_are_left_to_the_bucket_and_the_pumped_vessel_alone_wants_one(
    read_text: ReadText,
) -> None:
    with pytest.raises(PlumblineError) as caught:
        balance(
            read_text("""
vessels:
  tank: {base: 1 m, rim: 1 m, water: 0.8 m, area: 2 m^2, wants: 20 L/min}
  bed: {again: 2, base: 0.7 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: 5 L/min}
  sump: {base: -0.4 m, rim: 0.8 m, water: 0.6 m, area: 1.5 m^2}
pumps:
  lift: {in: sump, height: 0.05 m, curve: [[0 L/min, 4 m], [60 L/min, 1.6 m]]}
lines:
  riser: {pipe: pvc 32, from: lift, route: [{up: 2.5 m}, elbow, {east: 1 m}], to: tank}
  parted: {pipe: pvc 50, from: {vessel: tank, standpipe: 0.8 m}, route: [{down: 0.8 m}, elbow, {west: 1 m}, tee: t, {west: 0.5 m}], to: bed 1}
  arm: {pipe: pvc 50, from: t, route: [{north: 0.3 m}, gate valve: {opening: 50 %}, {north: 0.3 m}], to: bed 2}
  back: {again: 2, pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.6 m}], to: sump}
""")
        )
    assert str(caught.value) == (
        "No valve can be set for any vessel that wants water:\n"
        "  tank: no valve with an opening stands on the way to it\n"
        "  bed 1: it is fed by drains, which bring what comes down them\n"
        "  bed 2: it is fed by a drain that parts: how its valves share out what comes down is not reckoned here; trim them with "
        "bucket and stopwatch\n"
        "Put a ball valve into the line to 'tank'."
    )


@pytest.mark.slow(3)
@pytest.mark.second_method
def test_a_vessel_without_a_valve_gets_as_large_a_share_as_the_one_that_has_it(read_text: ReadText) -> None:
    """Both would get enough with the valve open, the bare one 6 % more than it wants: nobody is throttled less for that than makes them even."""
    text = manifold((0.6, 0.8), without=(1,), wants=8.0).replace(
        "rim: 0.4 m, area: 2 m^2, wants: 8.0", "rim: 0.4 m, area: 2 m^2, wants: 3.0", 1
    )
    layout = read_text(text)

    def shares(opening: float) -> tuple[float, float]:
        got = find_flows(with_openings(layout, {balance_key: opening})).vessels
        return got["bed 0"].inflow / (3 * LPM), got["bed 1"].inflow / (8 * LPM)

    result = balance(layout, rounding=0.0)
    (balance_key,) = result.openings
    valved, bare = shares(1.0)
    assert valved > bare > 1.0
    low, high = 0.2, 1.0
    for _ in range(40):
        half = (low + high) / 2
        valved, bare = shares(half)
        low, high = (half, high) if valved < bare else (low, half)
    assert result.openings[balance_key] == pytest.approx(low, rel=2e-3)


@pytest.mark.pinned
def test_nothing_wanted_nothing_balanced(read_text: ReadText) -> None:
    layout = read_text(manifold().replace(", wants: 8.0 L/min", ""))
    with pytest.raises(PlumblineError) as caught:
        balance(layout)
    assert str(caught.value) == (
        "No vessel says what it wants, so there is nothing to balance: give each bed its flow, for instance wants: 14 L/min."
    )


# ---------------------------------------------------------------------- every layout of the repository, and new files


def balanced(name: str) -> Balance | None:
    try:
        return balance(read_layout(LAYOUTS / name))
    except PlumblineError:
        return None


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(path.name for path in LAYOUTS.glob("*.yaml")))
def test_layouts_of_the_repository_are_balanced_and_written_true(name: str, tmp_path: Path) -> None:
    result = balanced(name)
    if result is None:  # no valve of its own for any vessel that wants water
        assert main(["balance", str(LAYOUTS / name)]) == 2
        return
    set_for = [one for one in result.vessels if one.aim is not None]
    before = min(one.before / one.wants for one in result.vessels)
    assert min(one.share for one in result.vessels) >= min(before, 1.0 - 0.005)
    assert [one.share for one in set_for] == pytest.approx([one.aim for one in set_for], rel=0.02)
    new = tmp_path / "new.yaml"
    assert main(["balance", str(LAYOUTS / name), "-o", str(new)]) == (0 if result.enough else 1)
    flows = find_flows(read_layout(new))
    for one in result.vessels:
        assert flows.vessels[one.name].inflow == pytest.approx(one.after, rel=1e-6)
    old_lines, new_lines = (path.read_text(encoding="utf-8").splitlines() for path in (LAYOUTS / name, new))
    changed = {k + 1 for k, (a, b) in enumerate(zip(old_lines, new_lines, strict=True)) if a != b}
    assert changed <= {one.mark.line for one in result.settings}
    assert [path.name for path in tmp_path.iterdir()] == ["new.yaml"]


@pytest.mark.pinned
def test_a_new_file_is_written_where_a_file_can_have_one_name_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    new = tmp_path / "new.yaml"
    assert main(["balance", str(LAYOUTS / "unbalanced.yaml"), "-o", str(new)]) == 0
    assert f"Written to {new}: your file with these openings in it, the rest as you typed it." in "".join(
        capsys.readouterr().out.replace("\n", " ").split("  ")
    ).replace("  ", " ")
    text = new.read_text(encoding="utf-8")
    assert read_layout(new).name == "Four beds on one manifold"
    assert main(["balance", str(LAYOUTS / "unbalanced.yaml"), "-o", str(new)]) == 2
    assert new.read_text(encoding="utf-8") == text
    assert [path.name for path in tmp_path.iterdir()] == ["new.yaml"]


@pytest.mark.invariant
def test_the_unbalanced_manifold_comes_right(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = tmp_path / "new.yaml"
    assert main(["check", str(LAYOUTS / "unbalanced.yaml")]) == 1
    assert main(["balance", str(LAYOUTS / "unbalanced.yaml"), "-o", str(new)]) == 0
    capsys.readouterr()
    assert main(["check", str(new)]) == 0
    assert "Every vessel gets what it wants." in capsys.readouterr().out


@pytest.mark.pinned
def test_nothing_is_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = tmp_path / "new.yaml"
    new.write_text("mine", encoding="utf-8")
    assert main(["balance", str(LAYOUTS / "unbalanced.yaml"), "-o", str(new)]) == 2
    assert capsys.readouterr() == ("", f"'{new}' is there already, and nothing is written over. Give another name.\n")
    assert new.read_text(encoding="utf-8") == "mine"
    assert main(["balance", str(LAYOUTS / "unbalanced.yaml"), "-o", str(tmp_path / "no folder" / "new.yaml")]) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["new.yaml"]


@pytest.mark.pinned
def test_a_step_that_stands_for_two_valves_is_not_written(
    read_text: ReadText, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (
        manifold((0.6, 0.7))
        .replace("- ball valve: {id: v0}", "- *v")
        .replace("- ball valve: {id: v1}", "- &v ball valve")
    )
    path = tmp_path / "twice.yaml"
    path.write_text(text, encoding="utf-8")
    assert main(["balance", str(path), "-o", str(tmp_path / "new.yaml")]) == 2
    line = text[: text.index("&v")].count("\n") + 1
    assert capsys.readouterr().err == (
        f"The valve on line {line} of the file cannot be set there: it stands for two valves that are to be set differently, "
        "repeated by a *name. Set it by hand.\n"
    )
    assert [one.name for one in tmp_path.iterdir()] == ["twice.yaml"]


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("- ball valve: 35 %  # half shut", "- ball valve: 34.2 %  # half shut"),
        ("- ball valve: shut", "- ball valve: 34.2 %"),
        ("- ball valve", "- ball valve: {opening: 34.2 %}"),
        ("- ball valve   # by hand", "- ball valve: {opening: 34.2 %}   # by hand"),
        ("- ball valve:", "- ball valve: {opening: 34.2 %}"),
        ("- ball valve: main valve # here", "- ball valve: {id: main valve, opening: 34.2 %} # here"),
        ("- ball valve: 'a, b'", "- ball valve: {id: 'a, b', opening: 34.2 %}"),
        ("- ball valve: a, b's", "- ball valve: {id: 'a, b''s', opening: 34.2 %}"),
        ("- ball valve: {}", "- ball valve: {opening: 34.2 %}"),
        ("- ball valve: {id: x}", "- ball valve: {id: x, opening: 34.2 %}"),
        ("- ball valve: {opening: shut, id: x}  # why", "- ball valve: {opening: 34.2 %, id: x}  # why"),
        ("- {ball valve: {opening: 0.5}}", "- {ball valve: {opening: 34.2 %}}"),
        ("- ball valve:\n    id: x # n\n", "- ball valve:\n    opening: 34.2 %\n    id: x # n\n"),
        ("- ball valve:\r\n    id: x\r\n", "- ball valve:\r\n    opening: 34.2 %\r\n    id: x\r\n"),
        (
            "- ball valve:\n    opening: 20 %   # now\n    id: x",
            "- ball valve:\n    opening: 34.2 %   # now\n    id: x",
        ),
    ],
)
def test_every_way_to_write_a_valve_can_be_set(before: str, after: str) -> None:
    assert set_openings(before, {Mark(1, 3): 0.342}) == after


@pytest.mark.pinned
def test_a_valve_in_a_bracketed_route_can_be_set() -> None:
    text = "route: [{east: 1 m}, ball valve, {east: 1 m}] # ünï"
    assert (
        set_openings(text, {Mark(1, 22): 1.0})
        == "route: [{east: 1 m}, ball valve: {opening: 100 %}, {east: 1 m}] # ünï"
    )


# ---------------------------------------------------------------------- what is said


@pytest.mark.pinned
def test_json_is_plain_and_complete(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["balance", str(LAYOUTS / "unbalanced.yaml"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["enough"] is True
    assert [one["valve"] for one in said["valves"]] == [
        "cress valve",
        "rocket valve",
        "spinach valve",
        "strawberries valve",
    ]
    for one in said["valves"]:
        assert one["degrees_from_open"] == pytest.approx(90 * (1 - one["opening"]))
    assert {name: one["share"] > 1.1 for name, one in said["vessels"].items()} == dict.fromkeys(said["vessels"], True)
    assert said["residuals"]["head_m"] < 1e-6


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("wants", "headline"),
    [(8.0, "every vessel gets what it wants, with "), (30.0, "it cannot give all that is wanted: every vessel gets ")],
)
def test_the_answer_stands_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], wants: float, headline: str
) -> None:
    path = tmp_path / "row.yaml"
    path.write_text(manifold(wants=wants, valve="gate valve"), encoding="utf-8")
    status = main(["balance", str(path)])
    out = capsys.readouterr().out
    assert out.splitlines()[0].startswith(f"row of beds: {headline}")
    assert status == (0 if wants < 20 else 1)
    assert "°" not in out  # a gate valve has turns, not degrees
