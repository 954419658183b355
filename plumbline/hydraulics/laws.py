"""The head that every link of a network loses at given flows, with derivatives, all links at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .friction import friction_loss
from .network import FloatArray, IntArray, Network
from .spray_bar import inlet_head

if TYPE_CHECKING:
    from .pumps import PumpCurves

__all__ = ["GUESSED_SPEED", "Laws", "Losses", "build_laws", "first_losses", "losses"]

GUESSED_SPEED = 0.5
"""Speed [m/s] at which the laws are made linear for the very first step. Any value of that order serves."""


@dataclass(frozen=True)
class Losses:
    """What m links lose at given flows.

    `head` (m,) [m] is H[tail] − H[head] as the link's law asks for it; `slope` (m,) [s/m²] its derivative by the
    link's own flow without the tees' share; `tee` (t, 3, 3) [s/m²] the tees' share, ∂ head of leg i / ∂ flow of
    leg j, signed along the links.
    """

    head: FloatArray
    slope: FloatArray
    tee: FloatArray


@dataclass(frozen=True)
class Laws:
    """A network's laws made ready for use.

    `guess` (m,) [m³/s] is the size of flow expected in each link, and `secant` (m,) [s/m²] what it loses there per
    flow; `keeps` (m,) is True where a link's flow has to stay an unknown of its own, because its law depends on other links' flows, or
    because its loss may have no derivative to divide by.
    """

    network: Network
    kinematic_viscosity: float
    pumps: PumpCurves | None
    guess: FloatArray
    secant: FloatArray
    keeps: np.ndarray


def build_laws(network: Network) -> Laws:
    """Make a network's laws ready.

    Parameters
    ----------
    network : any `Network`

    Returns
    -------
    its `Laws`
    """
    m = len(network.tail)
    nu = network.viscosity / network.density
    pumps: PumpCurves | None = None
    if len(network.pump_link):
        from .pumps import PumpCurves

        pumps = PumpCurves(network.pump_curves)
    guess = _guess_flows(network, m)
    bare = Laws(network, nu, pumps, guess, np.zeros(m), np.zeros(m, dtype=bool))
    at_guess, at_rest = _passive(bare, guess), _passive(bare, np.zeros(m))
    secant = at_guess.head / guess
    keeps = at_rest.slope <= 1e-8 * _typical(secant)
    keeps[network.tee_link] = True
    tee_loss = 0.5 * np.abs(guess[network.tee_link]) / (2.0 * network.gravity * _area(network.tee_bore) ** 2)
    secant = secant + _per_link(network.tee_link.ravel(), tee_loss.ravel(), m)
    return Laws(network, nu, pumps, guess, secant, keeps)


def losses(laws: Laws, flows: FloatArray) -> Losses:
    """Give every link's loss and its derivatives.

    loss = Σ friction over the link's runs + `square`·Q·|Q| (`square_back` when Q < 0) + `linear`·Q + its share of the tees at its
    ends + what its spray bar asks for − its pump's head.

    Parameters
    ----------
    laws : from `build_laws`
    flows : (m,) [m³/s]

    Returns
    -------
    the `Losses`
    """
    network = laws.network
    m = len(flows)
    passive = _passive(laws, flows)
    head, slope = passive.head, passive.slope
    if laws.pumps is not None:
        lift, falls = laws.pumps.heads(flows[network.pump_link])
        head = head - _per_link(network.pump_link, lift, m)
        slope = slope - _per_link(network.pump_link, falls, m)
    tee = np.zeros((len(network.tee_link), 3, 3))
    if len(tee):
        from .tees import tee_drops

        sign = network.tee_sign
        drop, by_flow = tee_drops(sign * flows[network.tee_link], network.tee_bore, network.tee_angle, network.gravity)
        head = head + _per_link(network.tee_link.ravel(), (sign * drop).ravel(), m)
        tee = sign[:, :, None] * by_flow * sign[:, None, :]
    return Losses(head, slope, tee)


def first_losses(laws: Laws) -> Losses:
    """Give straight-line laws for the first step, as they stand at zero flow.

    A passive link loses `secant`·Q, so the line does not depend on which way the water goes; a pump follows its
    tangent at half of its curve's largest flow.

    Parameters
    ----------
    laws : from `build_laws`

    Returns
    -------
    the `Losses` of the straight lines at Q = 0
    """
    network = laws.network
    m = len(laws.guess)
    head, slope = np.zeros(m), laws.secant.copy()
    if laws.pumps is not None:
        middle = np.array([0.5 * curve[-1][0] for curve in network.pump_curves])
        lift, falls = laws.pumps.heads(middle)
        head = head - _per_link(network.pump_link, lift - falls * middle, m)
        slope = slope - _per_link(network.pump_link, falls, m)
    return Losses(head, slope, np.zeros((len(network.tee_link), 3, 3)))


def _passive(laws: Laws, flows: FloatArray) -> Losses:
    """Friction, `square`, `linear` and spray bars: what depends on the link alone and opposes the flow."""
    network = laws.network
    m = len(flows)
    link = network.run_link
    lost, by_flow = friction_loss(
        flows[link],
        network.run_bore,
        network.run_length,
        network.run_roughness,
        laws.kinematic_viscosity,
        network.gravity,
    )
    speed = np.abs(flows)
    square = np.where(flows < 0.0, network.square_back, network.square)
    head = _per_link(link, lost, m) + (square * speed + network.linear) * flows
    slope = _per_link(link, by_flow, m) + 2.0 * square * speed + network.linear
    for at, bar in zip(network.bar_link.tolist(), network.bars, strict=True):
        asked, by_its_flow = inlet_head(bar, float(flows[at]))
        head[at] += asked
        slope[at] += by_its_flow
    return Losses(head, slope, np.zeros((0, 3, 3)))


def _guess_flows(network: Network, m: int) -> FloatArray:
    """The size of flow to expect in each link: its narrowest run at the guessed speed."""
    area = np.full(m, np.inf)
    np.minimum.at(area, network.run_link, _area(network.run_bore))
    known = np.isfinite(area)
    if known.any():
        typical = GUESSED_SPEED * float(np.median(area[known]))
    elif len(network.pump_link):
        typical = float(np.median([0.5 * curve[-1][0] for curve in network.pump_curves]))
    elif np.any(network.draw):
        typical = float(np.max(np.abs(network.draw)))
    else:
        fixed = network.fixed_head[np.isfinite(network.fixed_head)]
        spread = float(np.ptp(fixed)) if len(fixed) else 0.0
        square, linear = _typical(network.square), _typical(network.linear)
        typical = np.sqrt(spread / square) if square else spread / linear if linear else 0.0
    guess = np.where(known, GUESSED_SPEED * np.where(known, area, 0.0), typical)
    return np.where(guess > 0.0, guess, 1e-4)


def _typical(values: FloatArray) -> float:
    """The median of the positive values, 0 if there are none."""
    positive = values[values > 0.0]
    return float(np.median(positive)) if len(positive) else 0.0


def _area(bore: FloatArray) -> FloatArray:
    return 0.25 * np.pi * bore**2


def _per_link(link: IntArray, values: FloatArray, m: int) -> FloatArray:
    """Add values up by link."""
    return np.asarray(np.bincount(link, weights=values, minlength=m), dtype=np.float64)
