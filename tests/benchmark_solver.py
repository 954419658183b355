"""How fast the solver is: a lattice of 100,000 runs, growth of a farm-like tree, and a general root finder beside it.

    python tests/benchmark_solver.py

Prints; asserts nothing. Ratios are of times taken in the same run.
"""

from __future__ import annotations

import os
import platform
from time import perf_counter

import numpy as np
from networks import farm, lattice
from test_solver import residuals

from plumbline.hydraulics.network import Network
from plumbline.hydraulics.solver import solve


def main() -> None:
    """Print every figure."""
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy {np.__version__}")
    solve(lattice(1_000))
    print("\nlattice")
    for runs in (1_000, 10_000, 100_000):
        told(lattice(runs))
    print("\nfarm-like tree, plain joints")
    for runs in (1_000, 10_000, 100_000):
        told(farm(runs, tees=False))
    print("\nfarm-like tree, every joint a tee")
    for runs in (1_000, 10_000, 100_000):
        told(farm(runs, tees=True))
    against_root()


def told(network: Network) -> None:
    """Solve five times and tell the median."""
    rounds = []
    for _ in range(5):
        begun = perf_counter()
        found = solve(network)
        rounds.append((perf_counter() - begun, found.factor_seconds))
    seconds, factoring = sorted(rounds)[len(rounds) // 2]
    print(
        f"  {len(network.tail):>7} runs: {seconds:7.3f} s, {found.steps} Newton steps, "
        f"{seconds / max(factoring, 1e-12):5.2f} × its factorisations, "
        f"residual {found.energy_residual:.1e} m, {found.mass_residual:.1e} m³/s"
    )


def against_root() -> None:
    """The same equations for scipy's general root finder, from the same kind of start."""
    from scipy.optimize import root

    network = lattice(1_000)
    best = min(timed(network) for _ in range(5))
    ours = solve(network)
    unknown = np.flatnonzero(np.isnan(network.fixed_head))
    m = len(network.tail)
    head_scale, flow_scale = 20.0, 1e-4

    def equations(x: np.ndarray) -> np.ndarray:
        heads = network.fixed_head.copy()
        heads[unknown] = x[:-m] * head_scale
        energy, mass = residuals(network, heads, x[-m:] * flow_scale)
        return np.concatenate([mass[unknown] / flow_scale, energy / head_scale])

    start = np.concatenate([np.full(len(unknown), 1.0), np.full(m, 1.0)])
    begun = perf_counter()
    found = root(equations, start, method="hybr", options={"xtol": 1e-12, "maxfev": 200_000})
    seconds = perf_counter() - begun
    apart = np.max(np.abs(found.x[-m:] * flow_scale - ours.flows)) / np.max(np.abs(ours.flows))
    print(
        f"\n1,000-run lattice: scipy.optimize.root (hybr) {seconds:.2f} s ({found.message.strip()}), this solver {best * 1000:.1f} ms"
    )
    print(f"  ratio {seconds / best:.0f}, largest difference of flows {apart:.1e} of the largest flow")


def timed(network: Network) -> float:
    """Seconds of one solve."""
    begun = perf_counter()
    solve(network)
    return perf_counter() - begun


if __name__ == "__main__":
    main()
