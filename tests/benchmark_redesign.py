"""How long a redesign takes, in seconds and in checks of the same layout. Prints; asserts nothing.

    python tests/benchmark_redesign.py [BEDS or FILE …]

The layouts are the tangle, and farms of so many beds along one main: each bed has a feed with a valve, two elbows and a union, and a drain with two
elbows; every third feed is of pipe too thin, and every fifth bed has a dead end beside it. Time is that of this process alone (CPU), so
that what else the machine does counts less.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from plumbline.check import check
from plumbline.layout import layout_of, read_layout
from plumbline.redesign.choices import Choices
from plumbline.redesign.cover import Answer, Problem, Provider, atoms, least
from plumbline.redesign.prices import read_prices
from plumbline.redesign.search import Redesign, Targets, search


def farm(beds: int) -> str:
    """A layout of so many beds, as text."""
    vessels = ["  tank: {base: -1 m, rim: 1.2 m, water: 0.9 m, area: 20 m^2}"]
    main = ["      - up: 1.4 m", "      - elbow"]
    lines = []
    for n in range(beds):
        vessels.append(f"  bed {n}: {{base: 0.4 m, rim: 0.3 m, water: 0.2 m, area: 2 m^2, wants: 8 L/min}}")
        last = n == beds - 1
        main += ["      - east: 0.9 m", "      - elbow" if last else f"      - tee: t{n}"]
        route = [
            "      - north: 0.7 m",
            "      - elbow" if n % 2 else "      - sweep",
            "      - up: 0.5 m",
            "      - elbow",
            "      - north: 0.4 m",
            f"      - ball valve: {{id: v{n}, opening: {35 if n % 4 == 1 else 70} %}}",
            "      - north: 0.2 m",
        ]
        pipe = "pvc 20" if n % 3 == 2 else "pvc 25"
        if last:
            main += [
                f"      - {{north: 0.7 m, pipe: {pipe}}}",
                *[
                    step
                    if step.startswith("      - b") or step in ("      - elbow", "      - sweep")
                    else f"      - {{{step[8:]}, pipe: {pipe}}}"
                    for step in route[1:]
                ],
            ]
        else:
            lines += [f"  feed {n}:", f"    pipe: {pipe}", f"    from: t{n}", "    route:", *route, f"    to: bed {n}"]
        drain = [
            "      - down: 0.5 m",
            "      - elbow",
            "      - {south: 1.2 m, down: 40 mm}",
            "      - elbow",
            "      - down: 0.4 m",
        ]
        lines += [
            f"  drain {n}:",
            "    pipe: pvc 50",
            f"    from: {{vessel: bed {n}, standpipe: 0.2 m}}",
            "    route:",
            *drain,
            "    to: tank",
        ]
        if n % 5 == 4 and not last:
            main[-1:-1] = [f"      - tee: d{n}", "      - east: 0.4 m"]
            lines += [
                f"  dead {n}:",
                "    pipe: pvc 25",
                f"    from: d{n}",
                "    route: [{south: 0.5 m}]",
                "    to: plug",
            ]
    flow, bore = 11.0 * beds, "pvc 50" if beds < 12 else "pvc 110"
    head = f"[[0 L/min, 5 m], [{flow:.0f} L/min, 4 m], [{1.6 * flow:.0f} L/min, 1 m]]"
    return "\n".join(
        [
            f"name: Farm of {beds} beds",
            "vessels:",
            *vessels,
            "pumps:",
            f"  pump: {{in: tank, curve: {head}}}",
            "lines:",
            "  main:",
            f"    pipe: {bore}",
            "    from: pump",
            "    route:",
            *main,
            f"    to: bed {beds - 1}",
            *lines,
            "",
        ]
    )


def seconds(work: Callable[[], object]) -> tuple[float, object]:
    """CPU time of a piece of work, and what it gives."""
    begun = time.process_time()
    got = work()
    return time.process_time() - begun, got


def measure(said: str) -> None:
    """Print the times for a farm of a number of beds, or for a file."""
    prices = read_prices()
    layout = layout_of(farm(int(said))) if said.isdigit() else read_layout(said)
    steps = sum(len(line.parts) for line in layout.lines.values())
    before = check(layout)
    one = sorted(seconds(lambda: check(layout))[0] for _ in range(3))[1]
    print(
        f"{layout.name}, {steps} steps: score {before.score.points:.1f}, {before.score.cleanable:.0%} of the pipe cleanable"
    )
    print(f"  a check                     {one:8.3f} s")

    def accesses() -> object:
        choices = Choices(before, Targets().wanted(layout), prices, cleaning=True, tell=lambda _: None)
        choices.begin()
        return least(choices.problem(choices.most(), []))

    took, answer = seconds(accesses)
    assert isinstance(answer, Answer)
    print(f"  set cover of accesses       {took:8.3f} s  {took / one:6.1f} checks   {answer.cost:.2f}")
    took, found = seconds(lambda: search(layout, Targets(), prices))
    print(f"  the whole search            {took:8.3f} s  {took / one:6.1f} checks   ", end="")
    if not isinstance(found, Redesign):
        print("nothing found")
        return
    print(
        f"{len(found.changes)} changes for {found.cost:.2f}, gap {found.gap:.1%}, {found.tried} choices solved, "
        f"then {found.result.score.cleanable:.0%} cleanable, score {found.result.score.points:.1f}"
    )


def main() -> None:
    """Print times for each."""
    least(
        Problem([1.0], atoms({"a": 1.0}, [Provider(0, {"a": ((0.0, 1.0),)})]))
    )  # what is imported at first use is not part of the time
    tangle = str(Path(__file__).parent.parent / "layouts" / "tangle.yaml")
    for said in sys.argv[1:] or [tangle, "4", "40"]:
        measure(said)


if __name__ == "__main__":
    main()
