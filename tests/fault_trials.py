"""Trials of the diagnosis: a random system, one fault put in, readings with honest errors, and what is then said.

The truth is made apart from what weighs it: the fault is drawn from the shares and amounts of `catalogue/causes.yaml`, the whole layout is
settled anew with it from the levels as written (not stepped from the healthy flows), the pumps' curves are drawn within their
uncertainty and solved, and every reading gets an error of its own. The other uncertain numbers move the readings along their
derivatives, all at once.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from random_systems import random_system

from plumbline.diagnose.causes import Cause, causes_of, ladder
from plumbline.diagnose.diagnosis import Diagnosis, _beside, ask, told
from plumbline.diagnose.places import Place, open_places, predicted, reading_sigma, spread
from plumbline.diagnose.weigh import Seen, covariance, weighed
from plumbline.errors import PlumblineError
from plumbline.hydraulics.find import nearby, settle
from plumbline.layout import layout_of
from plumbline.layout.model import Layout, Mark, Reading

MOST = 6
TRIES = 60
SEEN = 9.0
"""A fault is drawn until it moves the readings by three standard deviations: nobody calls a mender for what nobody sees."""

CURVE = "the curve of pump "


@dataclass(frozen=True)
class Trial:
    """One trial. `seen` is the squared distance of the true readings from those of the file as written, in standard deviations; `rank` of
    the true cause's group (1 is the first; 0 where it is none), `alike` how many are in it, `chance` what its group was given;
    `near` the least such distance of any cause that is not of the group of those within 1 of the truth."""

    seed: int
    truth: Cause
    amount: float
    diagnosis: Diagnosis
    seen: float
    near: float
    rank: int
    alike: int
    chance: float
    top: float


def trial(seed: int) -> Trial | None:
    """One trial; None where this system has no steady flow, or nowhere to read."""
    chance, rng = random.Random(f"fault {seed}"), np.random.default_rng(seed)
    try:
        layout = layout_of(random_system(seed))
        near = settle(layout, margins=False)
        places = list(open_places(layout, near.flows))
        causes = causes_of(layout, near.flows)
        if len(places) < 2 or any(duty.state != "on curve" for duty in near.flows.pumps.values()):
            return None
        chance.shuffle(places)
        places = sorted(places, key=lambda place: place.what != "flow")[:MOST]
        usual = spread(layout, near.flows, places).moves
        written = predicted(layout, near.flows, places, layout, near.flows)
        sure = np.array([np.hypot(reading_sigma(*one), _beside(layout, one[0])) for one in zip(places, written, strict=True)])
        faults = [cause for cause in causes if cause.kind != "as written"]
        for attempt in range(TRIES):
            truth, amount = drawn(faults if attempt else causes, chance)
            faulty = truth.changed(amount)
            pure = true_values(faulty, layout, near, truth, amount, places, None)
            apart = pure - written
            seen = float(apart @ np.linalg.solve(covariance(usual, sure), apart))
            if seen > SEEN or truth.kind == "as written":
                break
        got = true_values(faulty, layout, near, truth, amount, places, rng)
        if not all(-0.2 < value < 1e3 for value in got):
            return None  # where the derivative is of no use: a pump about to run dry, and the like
        extra = np.array([_beside(layout, place) for place in places])
        readings = tuple(read(place, value, float(rng.normal(0.0, more)) if more else 0.0, rng)
                         for place, value, more in zip(places, got, extra, strict=True))  # fmt: skip
        bench, answers = ask(layout, readings, readings)
        said = told(bench, answers, readings)
    except PlumblineError:
        return None
    sigma = bench.sigma[: len(readings)]
    clear = [weighed(one, Seen(pure, sigma)).misfit for one in answers]
    return judged(seed, truth, amount, said, seen, min((one for one in clear if one > 1.0), default=np.inf))


def drawn(causes: Sequence[Cause], chance: random.Random) -> tuple[Cause, float]:
    """A cause by its share, and an amount of it."""
    truth = chance.choices(causes, [cause.share for cause in causes])[0]
    steps = ladder(truth) if truth.kind != "as written" else (0.0,)
    return truth, float(np.interp(chance.uniform(0, len(steps) - 1), range(len(steps)), steps))


def judged(seed: int, truth: Cause, amount: float, said: Diagnosis, seen: float, near: float) -> Trial:
    groups = list(said.groups.values())
    if truth.kind == "as written":
        order = sorted([said.chance, *(sum(one.chance for one in some) for some in groups)], reverse=True)
        return Trial(seed, truth, amount, said, seen, near, 1 + order.index(said.chance), 1, said.chance, order[0])
    top = max([said.chance, *(sum(one.chance for one in some) for some in groups)])
    for rank, some in enumerate(groups):
        if truth in [one.cause for one in some]:
            total = sum(one.chance for one in some)
            rank += 1 + (said.chance > total)
            return Trial(seed, truth, amount, said, seen, near, rank, len(some), total, top)
    return Trial(seed, truth, amount, said, seen, near, 0, 0, 0.0, top)


def true_values(
    faulty: Layout, layout: Layout, near, truth: Cause, amount: float, places: list[Place], rng
) -> np.ndarray:
    """What would be read without errors of the readings: with every number as written, or drawn."""
    if rng is not None:
        pumps = {name: replace(pump, curve=tuple((q * (1 + b), h * (1 + a)) for q, h in pump.curve))
                 for name, pump in faulty.pumps.items()
                 for a, b in [curve_errors(layout, pump, rng)]}  # fmt: skip
        faulty = replace(faulty, pumps=pumps)
    if truth.leak is not None:
        flows = nearby(faulty, near, layout, leaks={truth.leak: amount}).flows
    else:
        flows = settle(faulty, margins=False).flows
    values = predicted(faulty, flows, places, layout, near.flows)
    if rng is not None:
        moved = spread(faulty, flows, places)
        rest = [n for n, name in enumerate(moved.names) if not name.startswith(CURVE)]
        values = values + moved.moves[:, rest] @ rng.standard_normal(len(rest))
    return values


def curve_errors(layout: Layout, pump, rng) -> tuple[float, float]:
    from plumbline import catalogue
    from plumbline.hydraulics.unsure import HEAD_SHARE, LIMITS_TO_SIGMA

    row = "airlift" if pump.airlift is not None else "pump box" if pump.assumed else "pump curve"
    limit = layout.sureness.get(row, catalogue.uncertainty()[row].value) * LIMITS_TO_SIGMA
    a, b = rng.standard_normal(2) * limit
    return (0.0 if pump.airlift is not None else HEAD_SHARE * a), max(b, -0.8)


def read(place: Place, value: float, more: float, rng) -> Reading:
    """A reading of a true value, with an error of its own."""
    sigma = reading_sigma(place, value)
    got = value + more + float(rng.normal(0.0, sigma))
    if place.what in ("flow", "depth", "power"):
        got = max(got, 0.0)
    return Reading(place.what, place.where, got, sigma, Mark(1, 1), place.line, place.step, place.vessel, place.pump)


def main() -> None:
    import pickle
    import sys
    import time

    first, last, path = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    for seed in range(first, last):
        begun = time.time()
        one = trial(seed)
        if one is None:
            continue
        said = one.diagnosis
        firsts = [
            (some[0].cause.kind, some[0].cause.where, sum(s.chance for s in some), len(some))
            for some in said.groups.values()
        ][:3]
        probs = [(s.chance, s.cause == one.truth) for s in said.suspects] + [
            (said.chance, one.truth.kind == "as written")
        ]
        gprobs = [(sum(s.chance for s in some), one.truth in [s.cause for s in some]) for some in said.groups.values()]
        gprobs += [(said.chance, one.truth.kind == "as written")]
        row = dict(seed=seed, kind=one.truth.kind, where=one.truth.where, amount=one.amount, seen=one.seen, near=one.near, rank=one.rank,
                   alike=one.alike, single=1 + sum(s.chance > p for s in said.suspects) if (p := next((s.chance for s in said.suspects if s.cause == one.truth), None)) is not None else 0, same=[s.group for s in said.suspects], kinds=[(s.cause.kind, s.cause.where) for s in said.suspects], best=said.next[0].bits if said.next else 0.0, chance=one.chance, top=one.top, said=said.chance, n=len(said.readings), firsts=firsts, probs=probs,
                   gprobs=gprobs, fits=said.fits, explained=said.explained, seconds=time.time() - begun)  # fmt: skip
        with open(path, "ab") as file:
            pickle.dump(row, file)


if __name__ == "__main__":
    main()
