"""The program against the water cases, whose answers were found apart from it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from water_cases import CASES, PAIRS, Case, Pair

from plumbline.cli import main


def _checked(text: str, path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """What `check --json` says of a layout."""
    path.write_text(text, encoding="utf-8")
    status = main(["check", str(path), "--json"])
    printed = capsys.readouterr()
    assert status in (0, 1), printed.err
    return json.loads(printed.out)


def _level(vessel: dict[str, Any]) -> float:
    """Where it stays in steady running: told as such, or as found, or as stated."""
    return next(vessel[key] for key in ("settles_m", "level_found_m", "level_m") if vessel.get(key) is not None)


@pytest.mark.some(20)
@pytest.mark.second_method
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_flows_levels_and_findings(case: Case, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answer = _checked(case.text, tmp_path / "case.yaml", capsys)
    amiss = []
    for end, flow in case.flows.items():
        found = answer["ends"][end]["flow_l_min"]
        if found != pytest.approx(flow, rel=case.within, abs=0.02):
            amiss.append(f"{end} carries {found:.2f} L/min, not {flow:.2f}")
    for name, level in case.levels.items():
        found = _level(answer["vessels"][name])
        if found != pytest.approx(level, abs=case.level_within):
            amiss.append(f"{name} stands at {found:.4f} m, not {level:.4f}")
    for name, least in case.at_least.items():
        found = answer["vessels"][name]["drains_carry_l_min"]
        if found is None or found < least:
            amiss.append(f"{name} could carry {found} L/min, which is at least {least}")
    kinds = {finding["kind"] for finding in answer["findings"]}
    amiss += [f"'{kind}' is said" for kind in case.absent if kind in kinds]
    if case.said and not kinds & set(case.said):
        amiss.append(f"none of {case.said} is said")
    if answer["verdict"] not in case.verdicts:
        amiss.append(f"the verdict is '{answer['verdict']}'")
    if case.both:
        end, low, high = case.both
        vessel = next(v for v in answer["vessels"].values() if v["wanted_l_min"] is not None)
        likely = vessel["likely_l_min"]
        if not likely[0] <= 1.01 * low or not likely[1] >= 0.99 * high:
            amiss.append(f"{end}: the range {likely} does not hold both {low} and {high}")
        if vessel["word"] == "surely":
            amiss.append(f"{end}: 'surely' is said")
    assert not amiss, "; ".join(amiss) + f" ({case.why})"


@pytest.mark.invariant
@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)
def test_one_pipework_told_two_ways(pair: Pair, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first = _checked(pair.first, tmp_path / "first.yaml", capsys)
    second = _checked(pair.second, tmp_path / "second.yaml", capsys)
    for end, (other, sign) in pair.ends.items():
        flow = first["ends"][end]["flow_l_min"]
        assert sign * second["ends"][other]["flow_l_min"] == pytest.approx(flow, rel=pair.within, abs=1e-6), end
    for name, vessel in first["vessels"].items():
        assert _level(second["vessels"][name]) == pytest.approx(_level(vessel), abs=1e-6), name
    assert [f["kind"] for f in second["findings"]] == [f["kind"] for f in first["findings"]]
    if pair.same_score:
        assert second["score"]["points"] == pytest.approx(first["score"]["points"], abs=1e-6)
