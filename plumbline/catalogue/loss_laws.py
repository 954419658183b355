"""By which law a fitting's loss goes with the flow, and the law's own numbers: `hydraulics.fittings` works them out."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "Constant",
    "Crane",
    "FromBores",
    "Jet",
    "LossLaw",
    "NoLoss",
    "RennelsBend",
    "Stated",
    "ThreeK",
    "Through",
]


@dataclass(frozen=True, slots=True)
class ThreeK:
    """K = K1/Re + Ki·(1 + Kd/D^0.3), where D is the nominal size in inches; Kd [in^0.3]."""

    k1: float
    ki: float
    kd: float


@dataclass(frozen=True, slots=True)
class Crane:
    """K = n·fT, where fT is Crane's friction factor of complete turbulence for the size."""

    n: float


@dataclass(frozen=True, slots=True)
class RennelsBend:
    """A smooth bend of any turn; `radius` of its centre line in bores."""

    radius: float


@dataclass(frozen=True, slots=True)
class Constant:
    """A loss coefficient that knows neither size nor Reynolds number."""

    k: float


@dataclass(frozen=True, slots=True)
class FromBores:
    """A reducer or expander: the loss follows from its two bores."""


@dataclass(frozen=True, slots=True)
class Stated:
    """The layout has to state K or Kv."""


@dataclass(frozen=True, slots=True)
class NoLoss:
    """Nothing of its own: a tee's loss depends on the split and belongs to the junction."""


@dataclass(frozen=True, slots=True)
class Through:
    """A narrower bore inside: `share` of the hose's, or of the smaller bore beside it, unless its own is stated."""

    share: float


@dataclass(frozen=True, slots=True)
class Jet:
    """`k` on the velocity head in a stated bore, at whose speed the water leaves."""

    k: float


LossLaw = ThreeK | Crane | RennelsBend | Constant | FromBores | Stated | NoLoss | Through | Jet
