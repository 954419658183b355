"""How long a whole `plumbline check`, `balance` and `pumps` take against importing the run-time dependencies bare. Prints; asserts nothing.

    python tests/benchmark_check.py [LAYOUT …]

They are run in turn, so that whatever else the machine does falls on both alike.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

from plumbline import read_layout

ROOT = Path(__file__).parent.parent
ROUNDS = 15
BARE = "import numpy, scipy.sparse.linalg, networkx, fluids, pint, yaml, rich.console"
EMPTY = "pass"
COMMANDS = ("check", "balance", "pumps")


def seconds(command: list[str]) -> float:
    """Wall time of one process."""
    begun = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
    return time.perf_counter() - begun


def main() -> None:
    """Print medians and their ratio for each layout."""
    names = sys.argv[1:] or [str(ROOT / "layouts" / name) for name in ("tangle.yaml", "terraces.yaml")]
    for name in names:
        steps = sum(len(line.parts) for line in read_layout(name).lines.values())
        commands = {
            "python alone": [sys.executable, "-c", EMPTY],
            "dependencies bare": [sys.executable, "-c", BARE],
        }
        commands |= {f"plumbline {one}": [sys.executable, "-m", "plumbline", one, name] for one in COMMANDS}
        times: dict[str, list[float]] = {label: [] for label in commands}
        for _ in range(ROUNDS):
            for label, command in commands.items():
                times[label].append(seconds(command))
        medians = {label: statistics.median(some) for label, some in times.items()}
        print(f"{Path(name).name}: {steps} steps, medians of {ROUNDS} runs in turn")
        for label, median in medians.items():
            print(f"  {label:<18} {median * 1000:6.0f} ms")
        for one in COMMANDS:
            print(f"  {one + ' / bare':<18} {medians[f'plumbline {one}'] / medians['dependencies bare']:6.2f}")


if __name__ == "__main__":
    main()
