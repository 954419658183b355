"""Trials of the diagnosis: a random system, one fault put in, readings with honest errors, and what is then said.

The truth is made apart from what weighs it: the fault is drawn from the shares and amounts of `catalogue/causes.yaml`, and none is thrown
away because it does not show, as a chance of what shows alone would be another one than that which is given; the whole layout is settled anew with it from the levels as written (not stepped from the healthy flows), the pumps' curves are drawn within their
uncertainty and solved, and every reading gets an error of its own. The other uncertain numbers move the readings along their
derivatives, all at once. What each cause makes of the places is solved once for a system, and weighed anew for each of its faults.

That is a calibration by simulation: faults, numbers and errors are drawn from what the weighing takes them to be, so that the chances are right if what
was drawn is as often so as they say, and ranks are evenly spread (Cook, Gelman and Rubin, Journal of Computational and Graphical Statistics 15, 2006;
Talts and others, Validating Bayesian inference algorithms with simulation-based calibration, 2018; both from memory).

    python tests/fault_trials.py FIRST_SEED LAST_SEED FAULTS OUT.json
    python tests/fault_trials.py OUT.json        # its tables
"""

from __future__ import annotations

import json
import random
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from small_systems import small_system

from plumbline import catalogue
from plumbline.diagnose.causes import Cause, causes_of
from plumbline.diagnose.diagnosis import SAME, Diagnosis, _beside, _told, ask
from plumbline.diagnose.places import Place, open_places, predicted, reading_sigma, spread
from plumbline.diagnose.weigh import Seen, Weighed, covariance, weigh, weighed
from plumbline.errors import PlumblineError, SolveError
from plumbline.hydraulics.find import Settled, nearby, settle
from plumbline.hydraulics.risers import curve_of
from plumbline.hydraulics.uncertain_numbers import HEAD_SHARE, LIMITS_TO_SIGMA
from plumbline.layout import layout_of
from plumbline.layout.model import Layout, Mark, Pump, Reading
from plumbline.threads import one_thread

MOST = 6
"""Readings on a visit: all the buckets first, then whatever else."""

SEEN = 9.0
"""A fault shows where it moves the readings by three standard deviations."""

CURVE = "the curve of pump "


@dataclass(frozen=True)
class Trial:
    """One trial. `seen` is the squared distance of the readings with the fault from those of the file as written, in standard deviations,
    both without errors; `other` the least such distance from the fault's readings of any cause that they can tell from it at all.
    `rank` and `size` of the group that holds the fault (rank 0: none does), `single` its own rank among the suspects; `groups` and
    `causes` the chances that were given, each with whether the fault was it. `scores` are those of the chances of all causes, by name. `above` is the chance given to all
    causes likelier than the fault and to a drawn share of it, and `milder` that given to amounts of it below its own, None where it has none: both are evenly spread
    from 0 to 1 where chances are right."""

    seed: int
    kind: str
    where: str
    amount: float
    readings: int
    seen: float
    other: float
    rank: int
    size: int
    single: int
    fits: bool
    explained: bool
    groups: list[tuple[float, bool]]
    causes: list[tuple[float, bool]]
    scores: dict[str, tuple[float, float, float]]
    above: float
    milder: float | None

    @property
    def told(self) -> bool:
        """Whether the readings can tell the fault: from no fault, and from every other kind of readings."""
        return self.kind != "as written" and self.seen > SEEN and self.other > SEEN


def trials(seed: int, count: int) -> Iterator[Trial]:
    """So many faults in one random system; none where it has no steady flow, or nowhere to read."""
    chance, rng = random.Random(f"fault {seed}"), np.random.default_rng(seed)
    try:
        layout = layout_of(small_system(seed))
        near = settle(layout, margins=False)
        places = list(open_places(layout, near.flows))
        if len(places) < 2 or any(duty.state != "on curve" for duty in near.flows.pumps.values()):
            return
        chance.shuffle(places)
        places = sorted(places, key=lambda place: place.what != "flow")[:MOST]
        causes = causes_of(layout, near.flows)
        written = predicted(layout, near.flows, places, layout, near.flows)
        extra = np.array([_beside(layout, place) for place in places])
        sigma = np.hypot([reading_sigma(*one) for one in zip(places, written, strict=True)], extra)
        usual = covariance(spread(layout, near.flows, places).moves, sigma)
        plain = tuple(read(place, value, 0.0, None) for place, value in zip(places, written, strict=True))
        solver, answers = ask(layout, plain, plain)
    except PlumblineError:
        return
    for _ in range(count):
        try:
            truth, at = drawn(causes, chance)
            pure, got = (true_values(layout, near, truth, at, places, solver.usual.names, one) for one in (None, rng))
        except PlumblineError:
            continue  # a pump that runs dry: that is heard, and no amount of a cause at which one does is weighed
        if not all(-0.2 < value < 1e3 for value in got):
            continue  # where the derivative is of no use: a pump about to run dry, and the like
        apart = pure - written
        seen = float(apart @ np.linalg.solve(usual, apart))
        beside = [float(rng.normal(0.0, more)) if more else 0.0 for more in extra]
        readings = tuple(read(*one, rng) for one in zip(places, got, beside, strict=True))
        seen_now = Seen(np.array([one.value for one in readings]), np.hypot([one.sigma for one in readings], extra))
        found = weigh(solver, answers, seen_now)
        clear = [weighed(one, Seen(pure, sigma)).misfit for one in answers if one.cause != truth]
        other = min((one for one in clear if one > SAME), default=1e9)
        said = _told(solver, readings, seen_now, found, ())
        yield judged(seed, truth, at, said, found, seen, other, chance.random())


def judged(
    seed: int, truth: Cause, at: float, said: Diagnosis, found: list[Weighed], seen: float, other: float, share: float
) -> Trial:
    groups = [
        (sum(one.chance for one in some), truth in [one.cause for one in some], len(some))
        for some in said.groups.values()
    ]
    silent = [one.cause for one in said.silent]
    groups.append((said.nothing_shows, truth.kind == "as written" or truth in silent, len(silent) + 1))
    singles = [(one.chance, one.cause == truth) for one in said.suspects] + [(said.chance, truth.kind == "as written")]
    ranked, alone = sorted(groups, reverse=True), sorted(singles, reverse=True)
    rank = next((n + 1 for n, one in enumerate(ranked) if one[1]), 0)
    return Trial(
        seed,
        truth.kind,
        truth.where,
        truth.amount(at),
        len(said.readings),
        seen,
        other,
        rank,
        ranked[rank - 1][2] if rank else 0,
        next((n + 1 for n, one in enumerate(alone) if one[1]), 0),
        said.fits,
        said.explained,
        [one[:2] for one in groups],
        singles,
        *_scored(truth, at, found, share),
    )


def _scored(
    truth: Cause, at: float, found: Sequence[Weighed], share: float
) -> tuple[dict[str, tuple[float, float, float]], float, float | None]:
    """The scores of the chances of all causes, each with what it is on the mean where they are right, and its variance then; and the two ranks."""
    chances = np.array([max(one.chance, 1e-12) for one in found])
    its = next((one for one in found if one.answers.cause == truth), None)
    own = max(its.chance, 1e-12) if its is not None else 1e-12

    def scored(each: np.ndarray, got: float) -> tuple[float, float, float]:
        mean = float(chances @ each)
        return got, mean, float(chances @ (each - mean) ** 2)

    def brier(chance: Any) -> Any:
        return 1.0 - 2.0 * chance + float(chances @ chances)

    scores = {"log": scored(np.log(chances), float(np.log(own))), "Brier": scored(brier(chances), float(brier(own)))}
    above = float(np.sum(chances[chances > own])) + share * own
    if its is None or len(its.at) == 1:
        return scores, above, None
    return scores, above, float(np.interp(at, its.at, np.cumsum(its.weights) - 0.5 * its.weights))


def drawn(causes: Sequence[Cause], chance: random.Random) -> tuple[Cause, float]:
    """A cause by its share, and a place in the range of its amounts."""
    return chance.choices(causes, [cause.share for cause in causes])[0], chance.random()


def true_values(
    layout: Layout, near: Settled, truth: Cause, at: float, places: list[Place], names: Sequence[str], rng: Any
) -> np.ndarray:
    """What would be read without errors of the readings: with every number as written, or those named drawn."""
    amount = truth.amount(at)
    faulty = truth.changed(amount)
    if rng is not None:
        faulty = replace(faulty, pumps={name: other_curve(layout, pump, rng) for name, pump in faulty.pumps.items()})
    if truth.leak is not None:
        flows = nearby(faulty, near, layout, leaks={truth.leak: amount}).flows
    else:
        settled = settle(faulty, margins=False)
        if settled.levels.keys() != near.levels.keys():
            raise SolveError("a pump that runs dry, or a vessel that runs away, is seen at once")
        flows = settled.flows
    values = predicted(faulty, flows, places, layout, near.flows)
    if rng is not None:
        moved = spread(faulty, flows, places, names)
        rest = [n for n, name in enumerate(moved.names) if not name.startswith(CURVE)]
        values = values + moved.moves[:, rest] @ rng.standard_normal(len(rest))
    return values


def other_curve(layout: Layout, pump: Pump, rng: Any) -> Pump:
    """A pump whose curve is out by what it may be."""
    row = "airlift" if pump.airlift is not None else "pump box" if pump.assumed else "pump curve"
    limit = layout.sureness.get(row, catalogue.uncertainty()[row].value) * LIMITS_TO_SIGMA
    a, b = rng.standard_normal(2) * limit
    a = 0.0 if pump.airlift is not None else HEAD_SHARE * a
    return replace(pump, curve=tuple((q * (1 + max(b, -0.8)), h * (1 + a)) for q, h in curve_of(layout, pump)))


def read(place: Place, value: float, beside: float, rng: Any) -> Reading:
    """A reading of a true value, with an error of its own."""
    got = value + beside + (float(rng.normal(0.0, reading_sigma(place, value))) if rng is not None else 0.0)
    if place.what in ("flow", "depth", "power"):
        got = max(got, 0.0)
    sigma = reading_sigma(place, got)  # as a file of a visit has it: by what was read
    return Reading(place.what, place.where, got, sigma, Mark(1, 1), place.line, place.step, place.vessel, place.pump)


# ---------------------------------------------------------------------- what it comes to


BANDS = (0.02, 0.1, 0.2, 0.35, 0.5, 0.65, 0.75, 0.85, 0.95, 1.0)
"""Between these, chances that were called are held against how often they were right."""


def summary(found: Sequence[Trial]) -> str:
    """How often the fault was first and among the first three, and how often what was called so likely was so: the tables of docs/diagnose.md."""
    shown = [one for one in found if one.kind != "as written" and one.seen > SEEN]
    rows = [
        ["trials", "number", "its group first", "among the first three", "first by itself", "causes in its group"],
        _ranks("all faults that show", shown),
        _ranks("those that the readings can tell", [one for one in shown if one.told]),
        _ranks("nothing wrong", [one for one in found if one.kind == "as written"]),
    ]
    heads = [["called", *(f"{what} so called, mean, right" for what in ("groups", "causes"))]]
    called = [[f"{low:.0%} to {high:.0%}", *_calls(found, low, high)] for low, high in pairwise(BANDS)]
    return "\n\n".join([_table(rows), _table(heads + called), _table(_scores(found))])


def _scores(found: Sequence[Trial]) -> list[list[str]]:
    """Scores beside what they would be if the chances were right, and ranks beside their even spread."""
    rows = [["score or rank", "trials", "found", "if the chances were right", "standard errors between"]]
    for name in ("log", "Brier"):
        got, mean, variance = (np.array([one.scores[name][n] for one in found]) for n in range(3))
        apart = np.sum(got - mean) / np.sqrt(max(np.sum(variance), 1e-12))
        rows.append([name, str(len(found)), f"{np.mean(got):.3f}", f"{np.mean(mean):.3f}", f"{apart:+.1f}"])
    ranks: tuple[tuple[str, Callable[[Trial], float | None]], ...] = (
        ("chance above the fault's", lambda one: one.above),
        ("chance below its amount", lambda one: one.milder),
    )
    for name, of in ranks:
        some = np.array([of(one) for one in found if of(one) is not None], dtype=float)
        tenths = np.histogram(some, np.linspace(0.0, 1.0, 11))[0]
        even = len(some) / 10.0
        square = float(np.sum((tenths - even) ** 2)) / max(even, 0.1)
        rows.append(
            [
                f"{name}, in tenths",
                str(len(some)),
                " ".join(map(str, tenths)),
                f"{even:.0f} each",
                f"χ² {square:.1f} of 9",
            ]
        )
    return rows


def _ranks(what: str, some: Sequence[Trial]) -> list[str]:
    def share(right: Sequence[bool]) -> str:
        return f"{sum(right) / len(some):.0%} ± {_error(sum(right) / len(some), len(some)):.0%}"

    if not some:
        return [what, "0", "", "", "", ""]
    first, three, alone = (
        share([1 <= getattr(one, name) <= most for one in some])
        for name, most in (("rank", 1), ("rank", 3), ("single", 1))
    )
    return [what, str(len(some)), first, three, alone, f"{sum(one.size for one in some) / len(some):.1f}"]


def _calls(found: Sequence[Trial], low: float, high: float) -> Iterator[str]:
    for what in ("groups", "causes"):
        pairs = [pair for one in found for pair in getattr(one, what) if low <= pair[0] < high + (high == 1.0)]
        mean, right = (sum(float(pair[n]) for pair in pairs) / max(len(pairs), 1) for n in (0, 1))
        yield f"{len(pairs)}, {mean:.0%}, {right:.0%} ± {_error(right, len(pairs)):.0%}" if pairs else "none"


def _error(share: float, count: int) -> float:
    """A standard error of a share: that with two more right and two more wrong, so that it is never nothing (Agresti and Coull, The American
    Statistician 52, 1998; from memory)."""
    near = (share * count + 2.0) / (count + 4.0)
    return float(np.sqrt(near * (1.0 - near) / (count + 4.0)))


def _table(rows: list[list[str]]) -> str:
    head, *rest = (f"| {' | '.join(row)} |" for row in rows)
    return "\n".join([head, f"|{' --- |' * len(rows[0])}", *rest])


def main() -> None:
    path = sys.argv[-1]
    if len(sys.argv) == 2:
        with open(path, encoding="utf-8") as file:
            print(summary([Trial(**one) for one in json.load(file)]))
        return
    first, last, count = map(int, sys.argv[1:4])
    found: list[Trial] = []
    begun = time.time()
    with one_thread():
        for seed in range(first, last):
            found += trials(seed, count)
            with open(path, "w", encoding="utf-8") as file:
                json.dump([asdict(one) for one in found], file, default=float)
            print(seed, len(found), round(time.time() - begun), flush=True)
    print(summary(found))


if __name__ == "__main__":
    main()
