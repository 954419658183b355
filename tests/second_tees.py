"""Tee and wye losses by other published methods, beside the ones used. `python tests/second_tees.py` prints the table.

Where a run leg carries the combined flow. Crane's formulas, which are used, are Idelchik's in all but the run of a combining
wye, so that his are no second method. The ones here are fitted to other measurements:

* Gardel (1957), "Les pertes de charge dans les écoulements au travers de branchements en Té", Bulletin technique de la
  Suisse romande: formulas fitted to his own measurements, sharp corners here [M].
* The Munich measurements with equal bores: Vogel (1926, 1928), right-angled, and Petermann (1929), 45°, Mitteilungen des
  Hydraulischen Instituts der TH München, as smoothed in handbooks [M].
* Rennels and Hudson, Pipe Flow, 2012, ch. 16, dividing at a right angle, sharp corners [M; its terms for pressure, from
  which these follow by adding the velocity heads, read in public code, L].
"""

from __future__ import annotations

import numpy as np
from test_tees import coefficients, split

from plumbline.hydraulics.network import FloatArray

Pair = tuple[FloatArray, FloatArray]
"""K of branch and run, losses of total head over the combined leg's velocity head."""

SHARES = np.array([0.2, 0.4, 0.6, 0.8, 1.0])

MUNICH = {
    (90, True): ([0.88, 0.89, 0.95, 1.10, 1.28], [-0.08, -0.05, 0.07, 0.21, 0.35]),
    (90, False): ([-0.40, 0.08, 0.47, 0.72, 0.91], [0.17, 0.30, 0.41, 0.51, 0.60]),
    (45, True): ([0.68, 0.50, 0.38, 0.35, 0.48], [-0.06, -0.04, 0.07, 0.20, 0.33]),
    (45, False): ([-0.38, 0.00, 0.22, 0.37, 0.37], [0.17, 0.19, 0.09, -0.17, -0.54]),
}
"""At `SHARES`, by (angle, dividing): branch, run."""


def gardel(share: FloatArray, area: float, degrees: float, *, dividing: bool) -> Pair:
    """Gardel's K with sharp corners; `share` of the branch in the combined flow, `area` of the branch over that of the run."""
    q, rest, turn = share, 1.0 - share, np.radians(degrees)
    if dividing:
        cot = 1.0 / np.tan(0.5 * (np.pi - turn))
        branch = (
            0.95 * rest**2
            + q**2 * (1.3 * cot - 0.3 + (0.4 - 0.1 * area) / area**2)
            + 0.4 * q * rest * (1.0 + 1.0 / area) * cot
        )
        return branch, 0.03 * rest**2 + 0.35 * q**2 - 0.2 * q * rest
    cos = np.cos(turn)
    branch = -0.92 * rest**2 - q**2 * (
        1.2 * (cos / area - 1.0) + 0.8 * (1.0 - 1.0 / area**2) - (1.0 / area - 1.0) * cos
    )
    run = 0.03 * rest**2 - q**2 * (1.0 + 1.62 * (cos / area - 1.0) - 0.38 * (1.0 - area))
    return branch + (2.0 - area) * q * rest, run + (2.0 - area) * q * rest


def rennels(share: FloatArray, beta: float) -> Pair:
    """Rennels and Hudson's K of a sharp-cornered dividing tee; `beta` = branch bore over run bore."""
    q, rest = share, 1.0 - share
    own = 1.12 * beta - 1.08 * beta**3 + 0.57
    return 0.81 * q**2 - 1.13 * q + 1.0 + own * q**2 / beta**4, 0.36 - 0.98 * rest + 0.62 * rest**2 + 0.03 * rest**8


def ours(share: FloatArray, beta: float, degrees: float, *, dividing: bool) -> Pair:
    """What the program uses."""
    k = coefficients(split(0, share, dividing=dividing), [1.0, 1.0, beta], np.radians(degrees))
    return k[:, 2], k[:, 1]


def spread(betas: tuple[float, ...], angles: tuple[int, ...]) -> float:
    """Root mean square of what Crane and each other method differ by, over that of Crane's K, dividing and combining."""
    differences: list[FloatArray] = []
    values: list[FloatArray] = []
    for beta in betas:
        for degrees in angles:
            for dividing in (True, False):
                crane = np.concatenate(ours(SHARES, beta, degrees, dividing=dividing))
                others = [gardel(SHARES, beta**2, degrees, dividing=dividing)]
                if beta == 1.0 and (degrees, dividing) in MUNICH:
                    branch, run = MUNICH[degrees, dividing]
                    others.append((np.array(branch), np.array(run)))
                if dividing and degrees == 90:
                    others.append(rennels(SHARES, beta))
                for other in others:
                    differences.append(crane - np.concatenate(other))
                    values.append(crane)
    return float(np.sqrt(np.mean(np.concatenate(differences) ** 2) / np.mean(np.concatenate(values) ** 2)))


def table() -> str:
    """The comparison for equal bores, in Markdown."""
    rows = [
        "| flow | share in the branch | run: here | Gardel | difference | Munich | branch: here | Gardel | difference | Munich |",
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for degrees, name in ((90, "tee"), (45, "45° wye")):
        for dividing in (True, False):
            crane, second = (
                ours(SHARES, 1.0, degrees, dividing=dividing),
                gardel(SHARES, 1.0, degrees, dividing=dividing),
            )
            munich = MUNICH[degrees, dividing]
            for i, share in enumerate(SHARES):
                cells = [f"{name}, {'dividing' if dividing else 'combining'}", f"{share:.1f}"]
                for leg in (1, 0):
                    one, other = crane[leg][i], second[leg][i]
                    cells += [_two(one), _two(other), f"{_two(one - other, sign=True)}", _two(munich[leg][i])]
                rows.append("| " + " | ".join(cells) + " |")
    return "\n".join(rows)


def spreads() -> str:
    """What the methods differ by as one share of the losses, in Markdown."""
    rows = ["| branch bore over run bore | tees | wyes of 45° and 60° |", "| --- | --- | --- |"]
    for beta in (1.0, 0.8, 0.6):
        rows.append(f"| {beta:.1f} | {spread((beta,), (90,)):.0%} | {spread((beta,), (45, 60)):.0%} |")
    return "\n".join(rows)


def _two(value: float, *, sign: bool = False) -> str:
    text = f"{round(float(value), 2) + 0.0:{'+' if sign else ''}.2f}"
    return text.replace("-", "−")


if __name__ == "__main__":
    print(table(), spreads(), sep="\n\n")
