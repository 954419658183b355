"""Film and deposit: how a pipe's wall roughens and its bore narrows, month by month. Plain laws on floats.

What is assumed, plainly. A film grows on every wall that water flows past, up to a limit that is lower where the water is
faster; it roughens the wall and takes its thickness from the bore. Where the water is slower than solids need to be carried,
solids settle in runs that are not steep and fill a share of the section. A rod takes away both, a flush the deposit alone.
Pipe in which nothing flows is left as it is: nothing is brought to it, and it loses no head.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .. import catalogue
from ..layout.model import Layout, Pipe

__all__ = ["RATES", "ROUGHEST", "Film", "Growth", "film_limit", "fouled_pipe", "grown", "growth", "silted"]

RATES = ("slow", "likely", "fast")
"""The three rates, in the order of the catalogue's values."""

ROUGHEST = 0.05
"""The roughest wall, over the bore, that the friction law speaks for: the end of Moody's chart."""


@dataclass(frozen=True, slots=True)
class Growth:
    """One rate of fouling. `roughness` [m] of the film at 1 m/s, falling with the speed to the `power`, at `most` [m];
    `thickness` of the film over its roughness; `months` in which it comes 63 % of the way; `deposit` the share of the section
    that settles each month, up to `deposit_most`; `algae` how many times as rough a film is that grows in the light."""

    roughness: float
    power: float
    most: float
    thickness: float
    months: float
    deposit: float
    deposit_most: float
    algae: float = 1.0


@dataclass(frozen=True, slots=True)
class Film:
    """What is on the wall of a piece of pipe: the film's equivalent sand `roughness` [m], and the share of the section that a
    `deposit` fills."""

    roughness: float = 0.0
    deposit: float = 0.0


WORDS = {
    "roughness": "film roughness",
    "power": "film falls with speed",
    "most": "film roughness at most",
    "thickness": "film thickness",
    "algae": "film in the light",
    "months": "film time",
    "deposit": "deposit a month",
    "deposit_most": "deposit at most",
}
"""What the catalogue, and a file, call each number of a `Growth`."""


def growth(layout: Layout, rate: str) -> Growth:
    """Give one of the three rates, from the catalogue with the layout's own numbers on top."""
    place = RATES.index(rate)
    known = {name: row.values for name, row in catalogue.fouling().items()} | dict(layout.fouling)
    return Growth(**{field: known[word][place] for field, word in WORDS.items()})


def film_limit(speed: float, bore: float, rate: Growth, *, lit: bool = False) -> float:
    """Give the roughness that a film comes to in the end, k = k₁ (V / 1 m/s)⁻ⁿ, at most kₘ, in the light a times that, and at most 0.05 D.

    Parameters:
        speed: V, of the water [m/s], above 0
        bore: D, of the clean pipe [m]
        rate: k₁, n, kₘ and a
        lit: whether light goes through the pipe's wall

    Returns:
        equivalent sand roughness [m]

    Published for plastic sewers slimed to half their depth: 0.6 mm at 0.75 m/s; for sewage mains 0.3 mm at 1 m/s (HR
    Wallingford, from memory).

    >>> rate = Growth(0.3e-3, 2.34, 1.5e-3, 1.0, 2.0, 0.0, 0.0)
    >>> round(film_limit(0.75, 0.15, rate) * 1e3, 1), round(film_limit(1.0, 0.15, rate) * 1e3, 1)
    (0.6, 0.3)
    """
    slime = min(rate.roughness * speed**-rate.power, rate.most)
    return float(min(slime * (rate.algae if lit else 1.0), ROUGHEST * bore))


def grown(film: float, limit: float, months: float, rate: Growth) -> float:
    """Let a film's roughness go on towards its limit, k + (kₗ − k)(1 − e^(−t/T)).

    >>> rate = Growth(0.3e-3, 2.34, 1.5e-3, 1.0, 2.0, 0.0, 0.0)
    >>> round(grown(0.0, 1.0, 2.0, rate), 3)
    0.632
    """
    return limit + (film - limit) * math.exp(-months / rate.months)


def silted(deposit: float, months: float, rate: Growth) -> float:
    """Let a deposit go on where the water is slow, at most to its limit; one that is larger already stays."""
    return min(deposit + months * rate.deposit, max(rate.deposit_most, deposit))


def fouled_pipe(pipe: Pipe, film: Film, rate: Growth) -> Pipe:
    """Give a pipe with what is on its wall: bore (D − 2 t)√(1 − d), roughness k₀ + k, at most 0.05 of that bore.

    A deposit lies on the floor; what it leaves of the section is taken as round. t is the film's thickness, d the share that
    the deposit fills, k₀ the clean wall's roughness.

    >>> rate = Growth(0.3e-3, 2.34, 1.5e-3, 1.0, 2.0, 0.0, 0.0)
    >>> fouled = fouled_pipe(Pipe("26", 0.026, 1.5e-6), Film(0.5e-3, 0.0), rate)
    >>> round(fouled.bore * 1e3, 3), round(fouled.roughness * 1e3, 4)
    (25.0, 0.5015)
    """
    if film.roughness == 0.0 and film.deposit == 0.0:
        return pipe
    bore = (pipe.bore - 2.0 * rate.thickness * film.roughness) * math.sqrt(1.0 - film.deposit)
    rough = min(pipe.roughness + film.roughness, max(pipe.roughness, ROUGHEST * bore))
    return Pipe(pipe.name, bore, rough, pipe.outside, pipe.material)
