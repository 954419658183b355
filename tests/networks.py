"""Networks for tests and benchmarks: a lattice, and a farm-like tree with few loops, with or without tees' losses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbline.hydraulics.network import Network, make_network

BORES = np.array([0.0212, 0.0272, 0.0348, 0.0426, 0.057])


def lattice(runs: int, seed: int = 1) -> Network:
    """About `runs` runs on a square lattice, fed at one corner, let out at the other, with small draws between."""
    side = max(2, round(np.sqrt(runs / 2)))
    random = np.random.default_rng(seed)
    number = np.arange(side * side).reshape(side, side)
    tail = np.concatenate([number[:, :-1].ravel(), number[:-1, :].ravel()])
    head = np.concatenate([number[:, 1:].ravel(), number[1:, :].ravel()])
    fixed = np.full(side * side, np.nan)
    fixed[0], fixed[-1] = 30.0, 10.0
    draw = random.uniform(0.0, 2e-8, side * side)
    m = len(tail)
    return make_network(
        fixed_head=fixed,
        draw=draw,
        tail=tail,
        head=head,
        run_link=np.arange(m),
        run_bore=random.choice(BORES, m),
        run_length=random.uniform(0.5, 5.0, m),
        run_roughness=np.full(m, 1.5e-6),
    )


def farm(runs: int, seed: int = 1, *, tees: bool) -> Network:
    """About `runs` runs as mains with a spur at each joint that lets water out, and a loop every hundred joints.

    With `tees` each joint loses head as a tee does.
    """
    random = np.random.default_rng(seed)
    joints = runs // 2
    main = 50
    tail, head, legs = [], [], []
    fixed = [np.nan] * joints
    source = joints
    fixed.append(20.0)
    for joint in range(joints):
        before = source if joint % main == 0 else joint - 1
        link = len(tail)
        tail.append(before)
        head.append(joint)
        outlet = len(fixed)
        fixed.append(float(random.uniform(0.0, 1.0)))
        tail.append(joint)
        head.append(outlet)
        last = joint % main == main - 1 or joint == joints - 1
        if not last:
            legs.append((link, link + 2, link + 1))
    m = len(tail)
    for joint in range(main - 1, joints - main, 100):
        tail.append(joint)
        head.append(joint + main)
    links = len(tail)
    # Large bores for the mains; all legs of a joint that is a tee are known.
    bore = np.where(np.arange(links) % 2 == 0, 0.0994, 0.0212)
    bore[m:] = 0.057
    end = np.array(legs).reshape(-1, 3)
    network = make_network(
        fixed_head=fixed,
        tail=tail,
        head=head,
        square=np.where(np.arange(links) % 2 == 1, 4e5, 0.0),
        run_link=np.arange(links),
        run_bore=bore,
        run_length=random.uniform(0.5, 3.0, links),
        run_roughness=np.full(links, 1.5e-6),
    )
    if not tees:
        return network
    return replace(
        network,
        tee_link=end,
        tee_sign=np.tile([1.0, -1.0, -1.0], (len(end), 1)),
        tee_bore=bore[end],
        tee_angle=np.full(len(end), np.pi / 2),
    )
