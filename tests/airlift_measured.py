"""The airlift's model against what others measured: the table of docs/airlift.md, and the numbers that the tests hold.

`python tests/airlift_measured.py` prints the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from plumbline.hydraulics.airlift import Surroundings, free_flows, most_air

AROUND = Surroundings(998.2, 1.002e-3, 0.0727, 101_325.0)
INLET_K = 0.78
ROUGHNESS = 1.5e-6
LEAST_SHARE = 0.25
"""Points under this share of a series' greatest flow are left out: there a ratio says little."""

NAMES = {"stenning": "Stenning and Martin 1968", "kassab": "Kassab and others 2009", "goharzadeh": "Goharzadeh and Fernandes 2014",
         "todoroki": "Todoroki and others 1973"}  # fmt: skip

_DATA = Path(__file__).parent / "data" / "airlift_measured.yaml"
_TO_SI = {"ft3/s": (0.0283168466, 0.0283168466), "L/s": (1e-3, 1e-3), "m3/s": (1.0, 1.0), "kg/h": (1 / 3600 / 1.204, 1 / 3600 / 998.2)}  # fmt: skip


@dataclass(frozen=True)
class Series:
    """One riser at one submergence. `air` and `water` as measured, `model` the water by the model [m³/s]; `best_air` and
    `most` the model's air of the most water, and that."""

    who: str
    bore: float
    length: float
    submergence: float
    air: np.ndarray[Any, Any]
    water: np.ndarray[Any, Any]
    model: np.ndarray[Any, Any]
    best_air: float
    most: float

    @property
    def used(self) -> np.ndarray[Any, Any]:
        """The points within the model's range: no more air than gives the most water."""
        return (self.air <= self.best_air) & (self.water >= LEAST_SHARE * self.water.max())

    @property
    def ratios(self) -> np.ndarray[Any, Any]:
        """Model over measured, within its range."""
        return np.asarray(self.model[self.used] / self.water[self.used])


@cache
def series() -> tuple[Series, ...]:
    found = []
    for who, rig in yaml.safe_load(_DATA.read_text(encoding="utf-8")).items():
        to_air, to_water = _TO_SI[rig["unit"]]
        for share, points in rig["series"].items():
            air, water = np.array(points, dtype=float).T
            depth = share * rig["length"]
            riser = {"bore": rig["bore"], "length": rig["length"], "submergence": depth, "roughness": ROUGHNESS,
                     "inlet_k": INLET_K, "around": AROUND}  # fmt: skip
            best, most = most_air(**riser)
            model = free_flows(air * to_air, **riser)
            found.append(
                Series(who, rig["bore"], rig["length"], depth, air * to_air, water * to_water, model, best, most)
            )
    return tuple(found)


def rms(ratios: np.ndarray[Any, Any]) -> float:
    return float(np.sqrt(np.mean((ratios - 1.0) ** 2)))


def everything() -> np.ndarray[Any, Any]:
    return np.concatenate([one.ratios for one in series()])


def table() -> str:
    """The table of docs/airlift.md."""
    out = ["| rig | bore | riser | depth over length | points | median | least | most | off by (rms) | greatest flow |",
           "|---|---|---|---|---|---|---|---|---|---|"]  # fmt: skip
    for who in dict.fromkeys(one.who for one in series()):
        own = [one for one in series() if one.who == who]
        ratios = np.concatenate([one.ratios for one in own])
        shares = [one.submergence / one.length for one in own]
        peaks = [one.most / one.water.max() for one in own]
        out.append(
            f"| {NAMES[who]} | {own[0].bore * 1e3:.1f} mm | {own[0].length:.2f} m | {min(shares):.2f} to {max(shares):.2f} | "
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
