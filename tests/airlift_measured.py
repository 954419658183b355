"""The airlift's model against what others measured: the table of docs/airlift.md, and the numbers that the tests hold.

`python tests/airlift_measured.py` prints the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from plumbline.hydraulics.airlift import Surroundings, free_flows, most_air

AROUND = Surroundings(998.2, 1.002e-3, 0.0727, 101_325.0)
INLET_K = 0.78
ROUGHNESS = 1.5e-6
L_MIN = 1.0 / 60_000.0

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Rig:
    """A riser that others measured: `bore` and `length` [m]; by submergence over length, points of (free air, water) and the greatest
    flow of water [L/min]."""

    paper: str
    bore: float
    length: float
    series: dict[float, tuple[Points, float]]


RIGS = (
    Rig(
        "Stenning and Martin 1968",
        0.0254,
        4.27,
        {
            0.44: (((30.6, 6.38), (38.5, 8.76), (79.1, 13.6)), 14.3),
            0.53: (((21.6, 6.28), (29, 11.8), (53.3, 17.1)), 18.6),
            0.63: (((17.9, 13.6), (21.6, 16.4), (58, 25.6)), 26.8),
            0.71: (((9.5, 11.3), (17.9, 20.4), (43.3, 29.1)), 31),
        },
    ),
    Rig(
        "Kassab and others 2009",
        0.0254,
        3.75,
        {
            0.30: (((24.8, 2.8), (38.9, 4.77), (54.7, 5.98)), 6.64),
            0.40: (((22.4, 3.83), (34.4, 6.45), (47.1, 8.04)), 8.88),
            0.48: (((20.3, 6.26), (46.8, 12.5), (67.1, 15)), 16.3),
            0.57: (((17.5, 7.48), (37.1, 15.1), (70.2, 20.7)), 21.6),
            0.67: (((16.2, 7.66), (33.4, 16.4), (55, 23.8)), 25),
            0.75: (((16.2, 12.7), (31.6, 22.3), (57.8, 30.4)), 33),
        },
    ),
    Rig(
        "Goharzadeh and Fernandes 2014",
        0.019,
        0.80,
        {
            0.58: (((5.6, 2.05), (11.2, 3.85), (34.7, 5.29)), 5.66),
            0.74: (((2.66, 2.53), (5.74, 5.12), (10.8, 6.96)), 7.62),
        },
    ),
    Rig(
        "Todoroki and others 1973",
        0.0283,
        7.50,
        {
            0.40: (((24.7, 6.4), (43, 11.6), (78.2, 16)), 16.6),
            0.50: (((18.3, 8.18), (32, 15.3), (63.6, 23.4)), 25.4),
            0.60: (((17.4, 12.9), (28.8, 21.2), (61.3, 31.5)), 33.7),
            0.70: (((12.8, 15.8), (26.1, 28.2), (71.4, 41.4)), 42.5),
        },
    ),
)
"""Check values, read from the papers' charts at second hand, to three digits; the papers themselves were not read:

* Stenning and Martin, J. Eng. Power 90, 1968, 106
* Kassab, Kandil, Warda and Ahmed, Int. J. Heat Fluid Flow 30, 2009, 88
* Goharzadeh and Fernandes, ASME IMECE2014-39899, 2014
* Todoroki, Sato and Honda, Bulletin of JSME 16, 1973, 733

Of each series the first points on or over 30, 60 and 90 % of its greatest flow, whatever the model says of them. Told of the
rigs are a bore, a length, water at 20 °C and the submergence over the length; nothing of how the air came in, nor of bends at the top.
"""

PAST = {0.44: (309.0, 13.5), 0.53: (284.0, 16.9), 0.63: (313.0, 19.8), 0.71: (313.0, 24.5)}
"""Stenning and Martin's points of the most air, at several times the air of the most water."""


@dataclass(frozen=True)
class Series:
    """One riser at one submergence [m]. `air` and `water` as measured, `model` the water by the model, `greatest` the most that was
    measured [m³/s]; `best_air` and `most` the model's air of the most water, and that."""

    paper: str
    bore: float
    length: float
    submergence: float
    air: np.ndarray[Any, Any]
    water: np.ndarray[Any, Any]
    greatest: float
    model: np.ndarray[Any, Any]
    best_air: float
    most: float

    @property
    def ratios(self) -> np.ndarray[Any, Any]:
        """Model over measured, within the model's range: no more air than gives the most water."""
        within = self.air <= self.best_air
        return np.asarray(self.model[within] / self.water[within])


def riser(rig: Rig, share: float) -> dict[str, Any]:
    """A rig's riser at a submergence over length, as the model takes it."""
    return {
        "bore": rig.bore,
        "length": rig.length,
        "submergence": share * rig.length,
        "roughness": ROUGHNESS,
        "inlet_k": INLET_K,
        "around": AROUND,
    }


@cache
def series() -> tuple[Series, ...]:
    found = []
    for rig in RIGS:
        for share, (points, greatest) in rig.series.items():
            air, water = np.array(points).T * L_MIN
            best, most = most_air(**riser(rig, share))
            model = free_flows(air, **riser(rig, share))
            depth = share * rig.length
            found.append(
                Series(rig.paper, rig.bore, rig.length, depth, air, water, greatest * L_MIN, model, best, most)
            )
    return tuple(found)


def rms(ratios: np.ndarray[Any, Any]) -> float:
    return float(np.sqrt(np.mean((ratios - 1.0) ** 2)))


def everything() -> np.ndarray[Any, Any]:
    return np.concatenate([one.ratios for one in series()])


def table() -> str:
    """The table of docs/airlift.md."""
    out = [
        "| rig | bore | riser | depth over length | points | median | least | most | off by (rms) | greatest flow |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for rig in RIGS:
        own = [one for one in series() if one.paper == rig.paper]
        ratios = np.concatenate([one.ratios for one in own])
        peaks = [one.most / one.greatest for one in own]
        out.append(
            f"| {rig.paper} | {rig.bore * 1e3:.1f} mm | {rig.length:.2f} m | {min(rig.series):.2f} to {max(rig.series):.2f} | "
            f"{len(ratios)} | {np.median(ratios):.2f} | {ratios.min():.2f} | {ratios.max():.2f} | {rms(ratios):.0%} | "
            f"{min(peaks):.2f} to {max(peaks):.2f} |"
        )
    ratios = everything()
    within = float(np.mean(np.abs(ratios - 1.0) <= 0.3))
    out.append(
        f"| all | | | | {len(ratios)} | {np.median(ratios):.2f} | {ratios.min():.2f} | {ratios.max():.2f} | {rms(ratios):.0%} | |"
    )
    return "\n".join([*out, "", f"Within 30 %: {within:.0%} of the points."])


if __name__ == "__main__":
    print(table())
