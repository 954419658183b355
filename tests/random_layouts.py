"""Layouts made at random, each a text that can be read: a sump, a pump, a manifold with one to twelve beds, and their drains."""

from __future__ import annotations

import random

__all__ = ["random_layout"]

WAYS = ("north", "south", "east", "west")


def random_layout(seed: int) -> str:
    """The text of a layout; the same for the same seed."""
    dice = random.Random(seed)
    beds = dice.choice((1, 2, 3, 4, 5, 6, 8, 12))
    rise = dice.uniform(1.2, 2.5)
    lines, vessels = [], ["  sump: {holds: sump, base: -0.5 m, rim: 0.9 m, water: 0.6 m, area: 1.5 m^2}"]
    main = [
        "  main:",
        f"    pipe: {dice.choice(('pvc 32', 'pvc 40', 'pvc 25'))}",
        "    from: pump",
        "    route:",
        f"      - up: {rise:.2f} m",
        f"      - {dice.choice(('elbow', 'sweep', 'cap: top cap'))}",
    ]
    along = dice.choice(WAYS)
    aside = ("north", "south") if along in ("east", "west") else ("east", "west")
    height = -0.5 + 0.05 + rise
    for number in range(beds):
        main.append(f"      - {along}: {dice.uniform(0.3, 2.5):.2f} m")
        last = number == beds - 1
        down, to_side = dice.uniform(0.05, 0.3), dice.uniform(0.3, 2.0)
        base = height - down - dice.uniform(0.35, 0.6)
        depth = dice.uniform(0.1, 0.28)
        name = f"bed {number + 1}" if dice.random() < 0.6 else f"bed number {number + 1} by the wall"
        vessels.append(
            f"  {name}: {{holds: plants, base: {base:.3f} m, rim: 0.32 m, water: {depth:.2f} m, "
            f"area: {dice.uniform(0.3, 4.0):.1f} m^2, wants: {dice.randint(2, 12)} L/min}}"
        )
        if last:
            main += [f"      - {dice.choice(('elbow', 'sweep'))}", f"      - down: {down:.2f} m", f"    to: {name}"]
        else:
            main.append(f"      - tee: t{number + 1}")
            valve = f"      - ball valve: {{opening: {dice.randint(20, 100)} %}}\n" if dice.random() < 0.7 else ""
            lines.append(
                f"  feed {number + 1}:\n    pipe: {dice.choice(('pvc 20', 'pvc 25'))}\n    from: t{number + 1}\n"
                f"    route:\n      - {dice.choice(aside)}: {to_side:.2f} m\n{valve}      - elbow\n"
                f"      - down: {down:.2f} m\n    to: {name}"
            )
        drop = max(base + depth - dice.uniform(0.2, 0.5), 0.05)
        back = dice.choice(WAYS)
        lines.append(
            f"  drain {number + 1}:\n    pipe: {dice.choice(('pvc 40', 'pvc 50'))}\n"
            f"    from: {{vessel: {name}, standpipe: {depth:.2f} m}}\n    route:\n      - down: {drop:.2f} m\n      - elbow\n"
            f"      - {{{back}: {dice.uniform(0.4, 3.0):.2f} m, down: 20 mm}}\n    to: sump"
        )
    return "\n".join(
        [
            f"name: Site {seed}",
            "water: 20 degC",
            "vessels:",
            *vessels,
            "pumps:",
            "  pump: {in: sump, height: 0.05 m, curve: [[0 L/min, 4 m], [60 L/min, 3 m], [120 L/min, 1 m]]}",
            "lines:",
            *main,
            *lines,
            "",
        ]
    )
