"""Bayes' rule over causes: how likely the readings are under each, its amount unknown, and so how likely each is.

p(c | y) ∝ p(c) ∫ p(y | c, a) p(a) da over the amounts that have a steady flow, with y normal about what the cause makes of the readings, and a covariance of the readings' own
errors and of the numbers behind the flows. Reference: Bayesian model choice by the evidence, MacKay, Information Theory, Inference and
Learning Algorithms (2003), ch. 28 (from memory).

And the next reading: how much each place that a mender gets at would tell, on the average, about which cause it is:
I = H(y) − Σ p(c) H(y | c) in bits, with y the reading to come, given those already taken. Reference: Lindley, "On a measure of the
information provided by an experiment", Annals of Mathematical Statistics 27 (1956) (from memory); MacKay (2003), ch. 8.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ..hydraulics.network import FloatArray
from ..hydraulics.together import side_by_side
from .answers import Answers, CauseSolver
from .places import Place, reading_sigma

__all__ = ["NextReading", "Seen", "Weighed", "chance_of", "chance_of_misfit", "further", "weigh"]

FINE = 181
"""Amounts at which the likelihood is summed."""

CLOSER = 0.02
"""Causes likelier than this are solved again at their likeliest amount; each takes some ten solves."""

ROUNDS = 3


@dataclass(frozen=True)
class Seen:
    """What was read: `values` (r,) [SI], and the standard deviations of the readings `sigma` (r,), all that is not behind the flows."""

    values: FloatArray
    sigma: FloatArray

    def without(self, number: int) -> Seen:
        """The same as if one reading told nothing."""
        sigma = self.sigma.copy()
        sigma[number] = 1e6 * max(float(np.max(np.abs(self.values))), 1.0)
        return replace(self, sigma=sigma)


@dataclass(frozen=True)
class Weighed:
    """One cause, weighed: its `chance`, and over its amounts, by place on its ladder `at` (m,), the `weights` (m,) that sum to one.
    `best` is the likeliest place, `misfit` the readings' squared distance from the nearest, in standard deviations: twice what the logarithm of
    their density lacks to the highest there is."""

    answers: Answers
    evidence: float
    at: FloatArray
    weights: FloatArray
    best: float
    misfit: float
    chance: float = 0.0


def weigh(solver: CauseSolver, answers: Sequence[Answers], seen: Seen) -> list[Weighed]:
    """Weigh causes against readings, the likeliest first; those that matter are solved again near their likeliest amounts."""
    found = _shared([weighed(one, seen) for one in answers])
    for _ in range(ROUNDS):
        closer = _closer(solver, found)
        if all(new is one.answers for new, one in zip(closer, found, strict=True)):
            break
        found = _shared(
            [one if new is one.answers else weighed(new, seen) for new, one in zip(closer, found, strict=True)]
        )
    # Those as likely as each other to all that is told stay in the order of the causes, whatever the last digits.
    order = {one.cause: number for number, one in enumerate(answers)}
    return sorted(found, key=lambda one: (-round(one.chance, 4), order[one.answers.cause]))


def _closer(solver: CauseSolver, found: Sequence[Weighed]) -> list[Answers]:
    """What was solved for each cause, with more for those that matter."""
    likely = [partial(solver.closer, one.answers, one.best) for one in found if one.chance > CLOSER]
    more = iter(side_by_side(likely))
    return [next(more) if one.chance > CLOSER else one.answers for one in found]


def weighed(answers: Answers, seen: Seen) -> Weighed:
    """The evidence for one cause."""
    at = np.linspace(answers.at[0], answers.at[-1], 1 if len(answers.at) == 1 else FINE)
    logs, highest = [], []
    for weight, values, moves in answers.parts(at, range(len(seen.values))):
        distance, log_size = _distance(values, moves, seen)
        highest.append(math.log(weight) - 0.5 * log_size)
        logs.append(highest[-1] - 0.5 * distance)
    log_likely = np.logaddexp.reduce(logs)
    most = float(np.max(log_likely))
    likely = np.exp(log_likely - most)
    likely[[0, -1]] *= 0.5  # by trapezoids
    total = float(np.sum(likely)) / max(len(at) - 1.0, 0.5)
    misfit = 2.0 * (np.max(highest, axis=0) - np.max(logs, axis=0))
    evidence, best = most + float(np.log(total * answers.able)), float(at[int(np.argmax(log_likely))])
    return Weighed(answers, evidence, at, likely / np.sum(likely), best, float(np.min(misfit)))


def covariance(moves: FloatArray, sigma: FloatArray) -> FloatArray:
    """Of the readings: their own errors, and the moves of the numbers behind them, (…, r, r)."""
    return np.asarray(moves @ np.swapaxes(moves, -1, -2) + np.diag(sigma**2))


def _distance(values: FloatArray, moves: FloatArray, seen: Seen) -> tuple[FloatArray, FloatArray]:
    """(y − μ)ᵀ C⁻¹ (y − μ) and log |C|, at each amount."""
    lower = np.linalg.cholesky(covariance(moves, seen.sigma))
    lack = np.linalg.solve(lower, (seen.values - values)[:, :, None])[:, :, 0]
    return np.sum(lack**2, axis=1), 2.0 * np.sum(np.log(np.diagonal(lower, axis1=1, axis2=2)), axis=1)


def _shared(found: Sequence[Weighed]) -> list[Weighed]:
    logs = np.array([np.log(one.answers.cause.share) + one.evidence for one in found])
    chances = np.exp(logs - np.max(logs))
    return [replace(one, chance=float(chance)) for one, chance in zip(found, chances / np.sum(chances), strict=True)]


def chance_of(one: Weighed, readings: int) -> float:
    """The chance of a misfit as large as a cause's or larger, if it is the cause: χ², less a degree for an amount that was fitted."""
    fitted = 0 if len(one.answers.at) == 1 else 1
    return chance_of_misfit(one.misfit, max(readings - fitted, 1))


def chance_of_misfit(misfit: float, degrees: int) -> float:
    """The chance that χ² of so many degrees of freedom is as large as a misfit or larger.

    >>> round(chance_of_misfit(5.991, 2), 4), round(chance_of_misfit(11.345, 3), 4)
    (0.05, 0.01)
    """
    from scipy.special import gammaincc

    return float(gammaincc(0.5 * degrees, 0.5 * max(misfit, 0.0)))


LEAST = 0.002
"""Causes less likely than this are left out."""

DRAWS = 32
"""Amounts that stand for a cause's, by their quantiles."""

READINGS = 400
"""Values of a reading to come at which its chance is summed, at the least."""


@dataclass(frozen=True)
class NextReading:
    """A reading to take: at a `place`, telling so many `bits`; and what each of the leading causes would have it be, in their order
    [SI], with how far it would be out."""

    place: Place
    bits: float
    expected: tuple[float, ...]
    sigma: float


def further(
    found: Sequence[Weighed],
    seen: Seen,
    places: Sequence[Place],
    extra: FloatArray,
    numbers: Sequence[int],
    openings: Mapping[Place, float],
) -> tuple[NextReading, ...]:
    """Rank the places still to be read, and the valves to look at.

    Parameters:
        extra: (k,) what else than the reading's own error and the numbers behind the flows has it out [SI].
        numbers: which places might be read next.
        openings: how far each valve that may stand otherwise is open as written [-].

    Returns:
        The one that tells most first.
    """
    leading = [one for one in found if one.chance >= LEAST]
    chances = np.array([one.chance for one in leading])
    chances = chances / np.sum(chances)

    def reading(place: Place, beside: float, coming: list[_Coming]) -> NextReading:
        means = tuple(float(np.sum(mean * weight)) for mean, _, weight in coming)
        sigma = float(np.hypot(reading_sigma(place, means[0]), beside))
        return NextReading(place, _information(chances, coming, sigma), means, sigma)

    made = [reading(places[n], float(extra[n]), [_coming(one, seen, n) for one in leading]) for n in numbers]
    made += [
        reading(valve, 0.0, [_looked_at(one, valve, opening) for one in leading])
        for valve, opening in openings.items()
        if any(_is_valve(one, valve) for one in leading)
    ]
    return tuple(sorted(made, key=lambda one: -one.bits))


_Coming = tuple[FloatArray, FloatArray, FloatArray]
"""A cause's mean and variance [SI] of a reading to come, given those taken, at some amounts with their weights."""


def _is_valve(one: Weighed, valve: Place) -> bool:
    cause = one.answers.cause
    return cause.kind == "valve" and (cause.line, cause.step) == (valve.line, valve.step)


def _looked_at(one: Weighed, valve: Place, opening: float) -> _Coming:
    """How far a valve is seen to be open: as written, but where it is the cause."""
    if not _is_valve(one, valve):
        return np.array([opening]), np.zeros(1), np.ones(1)
    picks, counts = _picks(one)
    seen = np.array([one.answers.cause.amount(at) for at in one.at[picks].tolist()])
    return seen, np.zeros(len(seen)), counts / DRAWS


def _picks(one: Weighed) -> tuple[FloatArray, FloatArray]:
    """Which of a cause's amounts stand for all, and for how many of the `DRAWS` each."""
    picks = np.searchsorted(np.cumsum(one.weights), (np.arange(DRAWS) + 0.5) / DRAWS).clip(0, len(one.at) - 1)
    return np.unique(picks, return_counts=True)


def _coming(one: Weighed, seen: Seen, number: int) -> _Coming:
    picks, counts = _picks(one)
    at, read = one.at[picks], len(seen.values)
    means, variances, logs = [], [], []
    for weight, values, moves in one.answers.parts(at, [*range(read), number]):
        whole = covariance(moves, np.append(seen.sigma, 0.0))
        gain = np.linalg.solve(whole[:, :read, :read], whole[:, :read, read:])[:, :, 0]
        means.append(values[:, read] + np.sum(gain * (seen.values - values[:, :read]), axis=1))
        variances.append(np.maximum(whole[:, read, read] - np.sum(gain * whole[:, :read, read], axis=1), 0.0))
        distance, log_size = _distance(values[:, :read], moves[:, :read], seen)
        logs.append(math.log(weight) - 0.5 * (distance + log_size))
    shares = np.exp(np.array(logs) - np.logaddexp.reduce(logs)) * counts / np.sum(counts)
    return np.concatenate(means), np.concatenate(variances), shares.ravel()


def _information(chances: FloatArray, coming: Sequence[_Coming], sigma: float) -> float:
    deviations = [np.sqrt(variance + sigma**2) for _, variance, _ in coming]
    low = min(float(np.min(mean - 5.0 * dev)) for (mean, _, _), dev in zip(coming, deviations, strict=True))
    high = max(float(np.max(mean + 5.0 * dev)) for (mean, _, _), dev in zip(coming, deviations, strict=True))
    fine = min(max(READINGS, int((high - low) / (0.25 * sigma))), 4000)
    y = np.linspace(low, high, fine)
    each = []
    for (mean, _, weight), dev in zip(coming, deviations, strict=True):
        bells = np.exp(-0.5 * ((y[:, None] - mean) / dev) ** 2) / (dev * np.sqrt(2.0 * np.pi))
        each.append(bells @ weight)
    densities = np.array(each)
    step = float(y[1] - y[0])
    bits = _entropy(chances @ densities, step) - float(np.sum(chances * [_entropy(one, step) for one in densities]))
    return max(bits, 0.0)


def _entropy(density: FloatArray, step: float) -> float:
    """−∫ p log₂ p."""
    positive = density[density > 0.0]
    return float(-np.sum(positive * np.log2(positive)) * step)
