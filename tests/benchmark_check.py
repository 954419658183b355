"""How long a whole `plumbline check`, `balance` and `pumps` take against importing the run-time dependencies bare. Prints; asserts nothing.

    python tests/benchmark_check.py [LAYOUT …]

They are run in turn, so that whatever else the machine does falls on both alike, and as they are once installed: with the byte code of all
modules kept, in a folder that is thrown away. Last the processor's time of a check alone on farms of 16 to
256 beds, and the power by which it grows.
"""

from __future__ import annotations

import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmark_redesign import farm, layout_of

from plumbline import check, read_layout

ROOT = Path(__file__).parent.parent
ROUNDS = 15
BARE = "import numpy, scipy.sparse.linalg, networkx, fluids, pint, yaml, rich.console"
EMPTY = "pass"
COMMANDS = ("check", "balance", "pumps")


def seconds(command: list[str], kept: str) -> float:
    """Wall time of one process, with its byte code in a folder."""
    around = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    begun = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=False, env={**around, "PYTHONPYCACHEPREFIX": kept})
    return time.perf_counter() - begun


def farms() -> None:
    """Print what a check of a farm takes, by its size."""
    last = None
    check(layout_of(farm(4)))
    for beds in (16, 64, 256):
        layout = layout_of(farm(beds))
        begun = time.process_time()
        check(layout)
        taken = time.process_time() - begun
        steps = sum(len(line.parts) for line in layout.lines.values())
        growth = "" if last is None else f", as the size to the power {math.log(taken / last) / math.log(4.0):.2f}"
        print(f"farm of {beds} beds, {steps} steps: {taken:.2f} s{growth}")
        last = taken


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
        with tempfile.TemporaryDirectory() as kept:
            for turn in range(ROUNDS + 1):
                for label, command in commands.items():
                    taken = seconds(command, kept)
                    times[label] += [taken] if turn else []
        medians = {label: statistics.median(some) for label, some in times.items()}
        print(f"{Path(name).name}: {steps} steps, medians of {ROUNDS} runs in turn")
        for label, median in medians.items():
            print(f"  {label:<18} {median * 1000:6.0f} ms")
        for one in COMMANDS:
            print(f"  {one + ' / bare':<18} {medians[f'plumbline {one}'] / medians['dependencies bare']:6.2f}")
    farms()


if __name__ == "__main__":
    main()
