"""Times the mishaps of a farm of about 1,000 runs: `cd tests && python benchmark_mishaps.py [BEDS [--through]]`. CPU seconds, for docs/speed.md."""

from __future__ import annotations

import random
import sys
from functools import partial
from time import process_time

import numpy as np

from plumbline.day.moment import Waters
from plumbline.hydraulics.find import settle
from plumbline.hydraulics.together import side_by_side
from plumbline.layout import layout_of
from plumbline.mishaps import find_mishaps
from plumbline.mishaps.fault import faults_of
from plumbline.mishaps.running import first_moment, run


def farm_text(beds: int) -> str:
    """Beds side by side over one sump, each fed off one main by a throttled spur and drained by a standpipe."""
    vessels = [f"  sump: {{holds: sump, base: -1 m, rim: 0.95 m, water: 0.6 m, area: {0.8 * beds:g} m^2}}"]
    vessels += [
        f"  bed {n}: {{holds: plants, base: 0.6 m, rim: 0.3 m, water: 0.2 m, area: 1.5 m^2}}" for n in range(beds)
    ]
    steps = ", ".join(f"{{east: 0.5 m}}, tee: t{n}" for n in range(beds - 1))
    end = "elbow, {north: 1 m, pipe: pvc 25}, elbow, {down: 0.1 m, pipe: pvc 25}"
    lines = [
        f"  main: {{pipe: pvc 110, from: lift, route: [{{up: 2 m}}, elbow, {steps}, {{east: 0.5 m}}, {end}], to: bed {beds - 1}}}"
    ]
    spur = "{north: 0.6 m}, ball valve: {opening: 40 %}, {north: 0.6 m}, union, {north: 0.3 m}, elbow, {down: 0.1 m}"
    lines += [f"  feed {n}: {{pipe: pvc 25, from: t{n}, route: [{spur}], to: bed {n}}}" for n in range(beds - 1)]
    drop = "{down: 0.4 m}, elbow, {south: 1 m, down: 20 mm}, elbow, {down: 0.2 m}"
    lines += [
        f"  drain {n}: {{pipe: pvc 50, from: {{vessel: bed {n}, standpipe: 0.19 m}}, route: [{drop}], to: sump}}"
        for n in range(beds)
    ]
    curve = f"[[0 L/min, 8 m], [{6 * beds} L/min, 5 m], [{12 * beds} L/min, 0 m]]"
    pumps = f"pumps:\n  lift: {{in: sump, height: 0.1 m, curve: {curve}}}\n"
    return "water: 22 degC\nvessels:\n" + "\n".join(vessels) + f"\n{pumps}lines:\n" + "\n".join(lines) + "\n"


def main() -> None:
    """Print the times."""
    layout = layout_of(farm_text(int(sys.argv[1]) if len(sys.argv) > 1 else 110))
    running = run(layout, 12.0)
    faults = list({one.effect: one for one in faults_of(layout) if one.layout is layout}.values())
    begun = process_time()
    warm = side_by_side([partial(running.moment_with, fault) for fault in faults])
    warmly = (process_time() - begun) / len(faults)
    begun, apart = process_time(), 0.0
    some = random.Random(1).sample(list(zip(faults, warm, strict=True)), min(20, len(faults)))
    for fault, moment in some:
        waters = Waters(layout, fault.opened)
        cold = first_moment(waters, fault, levels=running.levels, vented=running.vented).solution.flows
        apart = max(apart, float(np.max(np.abs(cold - moment.solution.flows[: len(cold)])) / np.max(np.abs(cold))))
    coldly = (process_time() - begun) / len(some)
    begun = process_time()
    for _ in range(3):
        settle(layout, margins=False)
    steady = (process_time() - begun) / 3
    runs = sum(part.is_pipe for line in layout.lines.values() for part in line.parts)
    print(f"{runs} runs, {len(faults)} mishaps of the pipework as it is, each solved: {1e3 * warmly:.1f} ms")
    print(f"  cold: {1e3 * coldly:.0f} ms at the same levels, {1e3 * steady:.0f} ms to steady running")
    print(
        f"  {coldly / warmly:.0f} and {steady / warmly:.0f} times as long; largest difference of flows {apart:.1e} of the largest"
    )
    if "--through" not in sys.argv:
        return
    begun = process_time()
    found = find_mishaps(layout)
    whole = process_time() - begun
    print(f"{len(found.mishaps)} mishaps, {found.followed} of them different, through 12 h: {whole:.0f} s")
    print(f"  as many cold solves to steady running: {len(found.mishaps) * steady:.0f} s")


if __name__ == "__main__":
    main()
