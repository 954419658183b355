"""How long parts lists and cutting plans take: `python tests/benchmark_parts.py`; figures for docs/speed.md."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path
from statistics import median
from time import perf_counter

from plumbline import read_layout
from plumbline.parts import bill_of, plan_of
from plumbline.parts.stock import pack


def main() -> None:
    """Time the repository's layouts, and random lists of pieces from 3 m with a kerf of 3 mm."""
    for name in ("courtyard", "tangle", "terraces"):
        layout = read_layout(Path(__file__).parent.parent / "layouts" / f"{name}.yaml")
        counts, plans = [], []
        for _ in range(15):
            start = perf_counter()
            bill = bill_of(layout)
            middle = perf_counter()
            plan_of(bill)
            counts.append(middle - start)
            plans.append(perf_counter() - middle)
        print(
            f"{name}: {len(bill.pieces)} pieces, bill {1e3 * median(counts):.1f} ms, plan {1e3 * median(plans):.1f} ms"
        )
    for count, low, high in (
        (30, 60, 2400),
        (60, 60, 2400),
        (300, 60, 2400),
        (60, 500, 1500),
        (100, 500, 1500),
        (200, 500, 1500),
    ):
        ways: Counter[str] = Counter()
        times, most = [], 0
        for seed in range(8):
            chance = random.Random(seed)
            lengths = [chance.randint(low, high) for _ in range(count)]
            start = perf_counter()
            packing = pack(lengths, 3000, 3)
            times.append(perf_counter() - start)
            ways[packing.way] += 1
            most = max(most, len(packing.bins) - packing.bound)
        some = ", ".join(f"{ways[way]} {way}" for way in ("counting", "columns", "patterns", "gap") if ways[way])
        print(
            f"{count} pieces of {low} to {high} mm: median {median(times):.2f} s, longest {max(times):.1f} s; {some}; largest gap {most}"
        )


if __name__ == "__main__":
    main()
