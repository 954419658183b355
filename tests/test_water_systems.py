"""The program against random systems of joined vessels, which the slow model has solved."""

from __future__ import annotations

from pathlib import Path

import pytest
from water_systems import random_answer

from plumbline import read_layout
from plumbline.hydraulics.find import find_flows


@pytest.mark.some(8)
@pytest.mark.second_method
@pytest.mark.parametrize("seed", [*range(20), *(pytest.param(n, marks=pytest.mark.slow) for n in range(20, 240))])
def test_random_systems(seed: int, tmp_path: Path) -> None:
    """Flows to a two-hundredth or 0.02 L/min, levels to 2 mm."""
    answer = random_answer(seed)
    path = tmp_path / f"system_{seed}.yaml"
    path.write_text(answer.text, encoding="utf-8")
    layout = read_layout(path)
    flows = find_flows(layout)
    amiss = []
    for end, flow in answer.flows.items():
        found = flows.ends[end].flow * 60000
        if found != pytest.approx(flow, rel=0.005, abs=0.02):
            amiss.append(f"{end} carries {found:.2f} L/min, not {flow:.2f}")
    for name, level in answer.levels.items():
        settled = flows.vessels[name].level
        found = layout.vessels[name].level if settled is None else settled
        if found != pytest.approx(level, abs=0.002):
            amiss.append(f"{name} stands at {found:.4f} m, not {level:.4f}")
    assert not amiss, "; ".join(amiss)
