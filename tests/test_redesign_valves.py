"""Valves turned by a redesign: no further than they must be, and further where that saves an opening; held to all settings in steps."""

from __future__ import annotations

import itertools
import random

import pytest
from checks import upkeep_of
from test_redesign_second import FIFTHS, PRICES, beds, right, sets, spent

from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.valve_service import with_openings
from plumbline.layout import layout_of
from plumbline.layout.model import Layout
from plumbline.redesign.change import changed
from plumbline.redesign.search import Targets, search
from plumbline.redesign.settings import settle, taps_of
from plumbline.redesign.water import Wanted

pytestmark = [pytest.mark.second_method, pytest.mark.slow(30)]


def varied(seed: int) -> Layout:
    """Two or three beds on one pump that may rest: feeds with and without a ball or gate valve, one for all beds, one for all but the first, a by-pass, or none of
    them; pipe that is just wide enough or not."""
    dice = random.Random(5000 + seed)
    count = dice.choice([2, 2, 3])
    size = dice.choice(["pvc 20", "pvc 25", "pvc 32"])

    def valve(name: str) -> str:
        kind = dice.choice(["ball valve", "gate valve"])
        return f"{{{kind}: {{id: {name}, opening: {dice.choice([30, 50, 60, 80, 100])} %}}}}"

    past, fork, late, timed = (dice.random() < share for share in (0.5, 0.45, 0.3, 0.25))
    heights = [dice.choice([0.9, 1.0, 1.3]) for _ in range(count)]
    wants = [dice.randint(4, 12) for _ in range(count)]
    own = [dice.random() < 0.5 for _ in range(count)]
    if not any((*own, past, fork, late)):
        own[dice.randrange(count)] = True
    lines = []
    for n, height in enumerate(heights):
        up = height + 0.35 - 1.3
        mine = f", {valve(f'v{n}')}, {{south: 0.3 m}}" if own[n] else ""
        lines.append(f"""\
  feed {n}:
    pipe: {dice.choice(["pvc 20", "pvc 20", "pvc 25"])}
    from: tee {n}
    route: [{{{"up" if up > 0 else "down"}: {abs(up) or 0.05:.3f} m}}, elbow, {{south: 0.5 m}}{mine}]
    to: bed {n}
  drain {n}:
    pipe: {dice.choice(["pvc 32", "pvc 40"])}
    from: {{vessel: bed {n}, standpipe: 0.2 m}}
    route: [{{down: 0.4 m}}, elbow, {{west: {1 + n} m, down: 50 mm}}]
    to: tank
""")
    if past:
        route = f"[{{south: 0.6 m}}, {valve('past')}, {{south: 0.3 m}}]"
        lines.append(f"  past: {{pipe: pvc 20, from: past tee, route: {route}, to: tank}}\n")
    main = ["{up: 1.2 m}, elbow, {east: 0.5 m}", *(["{tee: past tee}, {east: 0.3 m}"] if past else [])]
    main += [f"{valve('fork')}, {{east: 0.3 m}}"] if fork else []
    for n in range(count):
        main.append(f"{{tee: tee {n}}}, {{east: {0.4 if n == 0 and late else 0.5} m}}")
        main += [f"{valve('late')}, {{east: 0.3 m}}"] if n == 0 and late else []
    vessels = "\n".join(
        f"  bed {n}: {{base: {height} m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: {want} L/min}}"
        for n, (height, want) in enumerate(zip(heights, wants, strict=True))
    )
    runs = ", runs: {on: 30 min, off: 30 min}" if timed else ""
    return layout_of(f"""\
name: Varied
vessels:
  tank: {{holds: fish, base: 0 m, rim: 0.8 m, water: 0.6 m, area: 2 m^2}}
{vessels}
pumps:
  pump: {{in: tank, height: 0.1 m, curve: [[0 L/min, 2.6 m], [20 L/min, 2.1 m], [45 L/min, 0.7 m]]{runs}}}
lines:
  main: {{pipe: {size}, from: pump, route: [{", ".join(main)}], to: cap end}}
{"".join(lines)}""")


@pytest.mark.parametrize(
    ("seed", "share", "cost"),
    [
        # A bed's own valve throttled further than its neighbour needs spares a union: 21.67 with valves for the water alone.
        (0, 0.9, 17.0),
        # Three valves full open scour the main's end and let a rod by: 11.67 with a union.
        (15, 0.683, 5.0),
    ],
)
def test_valves_are_turned_where_that_spares_an_opening(seed: int, share: float, cost: float) -> None:
    """Every set of pipe, valves in fifths and openings that costs less is without the water or the cleaning; the cost is pinned, so that it is seen if it grows."""
    layout, wanted, turn = varied(seed), Wanted(0.1), 5 / 60 * PRICES.hour
    found = search(layout, Targets(margin=0.1, cleanable=share, legs=False), PRICES)
    assert found.proven
    assert not found.left
    assert found.cost <= cost + 1e-6
    choices, most, tried = found.choices, found.cost - 1e-6, 0
    taps = [choices.offers.valves[name].valve for name in choices.taps.values()]
    openings = [found.candidates[n] for n in choices.openings]
    for some in sets([found.candidates[n] for n in choices.pipes], most):
        after = changed(layout, some)
        for settings in itertools.product(*((valve.part.opening, *FIFTHS) for valve in taps)):
            turned = {valve.key: at for valve, at in zip(taps, settings, strict=True) if at != valve.part.opening}
            money = most - spent(some) - turn * len(turned)
            if money < 0.0 or not right(with_openings(after, turned), wanted):
                continue
            for accesses in sets([choices.priced(change, some) for change in openings], money):
                made = with_openings(changed(after, accesses), turned)
                tried += 1
                cleaned = upkeep_of(made, find_flows(made, margins=False)).cleanable_fraction
                assert cleaned < share - 1e-6 or not right(made, wanted), (
                    [c.words for c in (*some, *accesses)],
                    turned,
                )
    assert tried


def test_a_by_pass_is_shut_no_further_than_the_water_asks() -> None:
    """At a twentieth nearer to where it stands no setting in twentieths of the bed's own valve brings the water; as far as it was set it does."""
    layout, wanted = beds(9), Wanted(0.1)
    taps = taps_of(layout, find_flows(layout))
    (past,) = [name for name, tap in taps.items() if tap.role == "bypass"]
    (own,) = [name for name, tap in taps.items() if tap.role == "own"]
    got, far = (settle(layout, taps, wanted, goal=goal) for goal in ("stands", None))
    assert far.set[past] < got.set[past] < taps[past].valve.part.opening
    assert right(with_openings(layout, got.openings), wanted)
    nearer = taps[past].at(round(got.set[past] + 0.05, 9))
    assert not any(right(with_openings(layout, {**nearer, **taps[own].at(n / 20)}), wanted) for n in range(1, 21))
