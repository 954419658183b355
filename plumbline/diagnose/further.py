"""The next reading: how much each place that a mender gets at would tell, on the average, about which cause it is.

I = H(y) − Σ p(c) H(y | c) in bits, with y the reading to come, given those already taken. Reference: Lindley, "On a measure of the
information provided by an experiment", Annals of Mathematical Statistics 27 (1956) (from memory); MacKay (2003), ch. 8.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..hydraulics.network import FloatArray
from .places import Place, reading_sigma
from .weigh import Seen, Weighed, covariance

__all__ = ["NextReading", "further"]

LEAST = 0.002
"""Causes less likely than this are left out."""

DRAWS = 32
"""Amounts that stand for a cause's, by their quantiles."""

FINE = 400


@dataclass(frozen=True)
class NextReading:
    """A reading to take: at a `place`, telling so many `bits`; and what each of the leading causes would have it be, in their order
    [SI], with how far it would be out."""

    place: Place
    bits: float
    expected: tuple[float, ...]
    sigma: float


def further(
    found: Sequence[Weighed], seen: Seen, places: Sequence[Place], extra: FloatArray, numbers: Sequence[int]
) -> tuple[NextReading, ...]:
    """Rank the places still to be read.

    Parameters:
        found: causes, weighed.
        seen: the readings, at the first of the places.
        places: all of them.
        extra: (k,) what else than the reading's own error and the numbers behind the flows has it out [SI].
        numbers: which places might be read next.

    Returns:
        The one that tells most first.
    """
    leading = [one for one in found if one.chance >= LEAST]
    chances = np.array([one.chance for one in leading])
    made = []
    for number in numbers:
        coming = [_coming(one, seen, number) for one in leading]
        means = tuple(float(np.sum(mean * weight)) for mean, _, weight in coming)
        sigma = float(np.hypot(reading_sigma(places[number], means[0]), extra[number]))
        made.append(NextReading(places[number], _information(chances / np.sum(chances), coming, sigma), means, sigma))
    return tuple(sorted(made, key=lambda one: -one.bits))


def _coming(one: Weighed, seen: Seen, number: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A cause's mean and variance [SI] of a reading to come, given those taken, at some amounts with their weights."""
    picks = np.searchsorted(np.cumsum(one.weights), (np.arange(DRAWS) + 0.5) / DRAWS).clip(0, len(one.at) - 1)
    picks, counts = np.unique(picks, return_counts=True)
    at, read = one.at[picks], len(seen.values)
    values, moves = (get(at, [*range(read), number]) for get in (one.answers.value, one.answers.move))
    whole = covariance(moves, np.append(seen.sigma, 0.0))
    gain = np.linalg.solve(whole[:, :read, :read], whole[:, :read, read:])[:, :, 0]
    mean = values[:, read] + np.sum(gain * (seen.values - values[:, :read]), axis=1)
    variance = whole[:, read, read] - np.sum(gain * whole[:, :read, read], axis=1)
    return mean, np.maximum(variance, 0.0), counts / np.sum(counts)


def _information(
    chances: FloatArray, coming: Sequence[tuple[FloatArray, FloatArray, FloatArray]], sigma: float
) -> float:
    deviations = [np.sqrt(variance + sigma**2) for _, variance, _ in coming]
    low = min(float(np.min(mean - 5.0 * dev)) for (mean, _, _), dev in zip(coming, deviations, strict=True))
    high = max(float(np.max(mean + 5.0 * dev)) for (mean, _, _), dev in zip(coming, deviations, strict=True))
    fine = min(max(FINE, int((high - low) / (0.25 * sigma))), 4000)
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
