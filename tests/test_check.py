"""The verdict, the promised JSON, and the command as a process."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from threadpoolctl import threadpool_info, threadpool_limits

import plumbline
from plumbline.check import check
from plumbline.report.json import as_json

ROOT = Path(__file__).parent.parent
COURTYARD = ROOT / "layouts" / "courtyard.yaml"
TANGLE = ROOT / "layouts" / "tangle.yaml"
GALLONS = ROOT / "layouts" / "gallons.yaml"


def run(*arguments: str | Path, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the command as a user does, without a terminal."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100"}
    return subprocess.run(
        [sys.executable, "-m", "plumbline", *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=cwd,
        env=environment,
        check=False,
    )


# ---------------------------------------------------------------------- exit statuses


@pytest.mark.invariant
def test_status_0_for_nothing_worse_than_advice() -> None:
    done = run("check", COURTYARD)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Two-bed courtyard: sound\n")


@pytest.mark.invariant
def test_status_1_for_a_finding_that_fails() -> None:
    done = run("check", TANGLE)
    assert (done.returncode, done.stderr) == (1, "")
    assert ": fails\n" in done.stdout


@pytest.mark.invariant
def test_status_2_for_a_file_that_is_no_layout(tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("lines:\n  a: {pipe: pvc 25, from: tnak, route: [{up: 2 kg}], to: open air}\n", encoding="utf-8")
    done = run("check", bad, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert f"{bad}:2:" in done.stderr
    assert "2 kg" in done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.yaml"]


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("arguments", [["check"], ["check", "no such file.yaml"], ["fly"], ["explain", "ded-leg"], []])
def test_status_2_for_what_is_not_understood(arguments: list[str], tmp_path: Path) -> None:
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr + done.stdout


@pytest.mark.invariant
def test_status_2_for_a_layout_without_a_steady_flow(tmp_path: Path) -> None:
    path = tmp_path / "stuck.yaml"
    path.write_text(
        "vessels: {tank: {base: 1 m, water: 0.5 m}}\n"
        "lines:\n  a: {pipe: pvc 25, from: tank, route: [{down: 1 m}, ball valve: 0 %], to: {draws: 5 L/min}}\n",
        encoding="utf-8",
    )
    done = run("check", path, "--json")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr


@pytest.mark.invariant
@pytest.mark.slow
def test_a_closed_pipe_is_no_error() -> None:
    done = subprocess.run(
        f"{sys.executable} -m plumbline check {TANGLE} --all | head -1",
        shell=True,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert done.stderr == ""


@pytest.mark.invariant
def test_a_program_that_checks_keeps_its_own_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    """Within, matrices take one thread, since several only wait for each other; before and after as many as the program has."""

    def threads() -> set[int]:
        return {library["num_threads"] for library in threadpool_info() if library["user_api"] == "blas"}

    within = []
    module = sys.modules["plumbline.check"]
    find = module.find_flows  # type: ignore[attr-defined]
    monkeypatch.setattr(module, "find_flows", lambda layout: within.append(threads()) or find(layout))
    with threadpool_limits(limits=2, user_api="blas"):
        check(plumbline.read_layout(COURTYARD))
        assert (within, threads()) == ([{1}], {2})


# ---------------------------------------------------------------------- JSON

NUMBER = (int, float)
PROMISED: dict[str, Any] = {
    "stretches": {
        "id": str,
        "line": str,
        "length_m": NUMBER,
        "bore_mm": NUMBER,
        "flow_l_min": NUMBER,
        "velocity_m_s": NUMBER,
        "head_loss_m": NUMBER,
        "reached_m": NUMBER,
        "flushed_m": NUMBER,
    },
    "findings": {
        "kind": str,
        "level": str,
        "line": (str, type(None)),
        "step": (int, type(None)),
        "message": str,
        "cure": str,
        "source": str,
    },
    "pumps": {"flow_l_min": NUMBER, "head_m": NUMBER, "power_w": (*NUMBER, type(None))},
    "vessels": {"inflow_l_min": NUMBER, "wanted_l_min": (*NUMBER, type(None))},
    "ends": {"height_m": NUMBER, "head_m": (*NUMBER, type(None)), "flow_l_min": NUMBER},
}


@pytest.fixture(scope="module")
def printed() -> dict[str, Any]:
    done = run("check", TANGLE, "--json")
    return json.loads(done.stdout)  # type: ignore[no-any-return]


@pytest.mark.pinned
def test_json_holds_what_is_promised(printed: dict[str, Any]) -> None:
    assert printed["layout"]
    assert printed["plumbline"] == plumbline.__version__
    assert printed["verdict"] == "fail"
    for section, keys in PROMISED.items():
        rows = printed[section] if isinstance(printed[section], list) else list(printed[section].values())
        assert rows
        for row in rows:
            for key, kind in keys.items():
                assert isinstance(row[key], kind), (section, key)
    assert set(printed["residuals"]) == {"mass_l_min", "head_m"}
    assert {finding["level"] for finding in printed["findings"]} <= {"fail", "warn", "advice"}


@pytest.mark.invariant
def test_json_ledger_adds_up(printed: dict[str, Any]) -> None:
    score = printed["score"]
    assert sum(round(row["points"] * 10) for row in score["ledger"]) == round((100 - score["points"]) * 10)
    assert 0.0 <= score["cleanable_fraction"] <= 1.0
    assert all({"points", "kind", "line", "reason"} <= set(row) for row in score["ledger"])


@pytest.mark.invariant
def test_json_heads_fall_along_the_flow(printed: dict[str, Any]) -> None:
    """Between a line's ends the head falls by what its stretches lose, and by what its tees take or give."""
    for line in {stretch["line"] for stretch in printed["stretches"]}:
        pieces = [stretch for stretch in printed["stretches"] if stretch["line"] == line]
        if len(pieces) == 1 and pieces[0]["flow_l_min"] > 0.0:
            fall = printed["ends"][f"{line}.from"]["head_m"] - printed["ends"][f"{line}.to"]["head_m"]
            if pieces[0]["drain"]:
                assert fall >= pieces[0]["head_loss_m"] - 1e-9
            else:
                assert fall == pytest.approx(pieces[0]["head_loss_m"], abs=1e-9)


@pytest.mark.invariant
def test_json_is_the_same_from_python(printed: dict[str, Any]) -> None:
    result = plumbline.check(plumbline.read_layout(TANGLE))
    assert json.loads(json.dumps(as_json(result))) == printed


@pytest.mark.invariant
def test_reached_and_flushed_are_within_their_stretch(printed: dict[str, Any]) -> None:
    for stretch in printed["stretches"]:
        assert -1e-9 <= stretch["reached_m"] <= stretch["length_m"] + 1e-9
        assert -1e-9 <= stretch["flushed_m"] <= stretch["length_m"] + 1e-9


# ---------------------------------------------------------------------- the screen


@pytest.mark.invariant
def test_findings_come_in_order_of_harm() -> None:
    result = check(plumbline.read_layout(TANGLE))
    order = ["fail", "warn", "advice"]
    ranks = [(order.index(finding.level), -finding.weight) for finding in result.findings]
    assert ranks == sorted(ranks)


@pytest.mark.invariant
def test_a_file_in_feet_and_gallons_reads_back_in_them() -> None:
    out = run("check", GALLONS).stdout
    assert "gal/h" in out
    assert " ft" in out
    assert "L/min" not in out


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_names_from_the_file_are_not_taken_for_markup(tmp_path: Path) -> None:
    text = COURTYARD.read_text(encoding="utf-8").replace("name: Two-bed courtyard", "name: '[red]x[/red] :smile:'")
    path = tmp_path / "markup.yaml"
    path.write_text(text, encoding="utf-8")
    assert "[red]x[/red] :smile:: sound" in run("check", path).stdout


@pytest.mark.pinned
@pytest.mark.slow
def test_defaults_are_listed_on_request() -> None:
    assert "Left out of the file, and taken" in run("check", COURTYARD, "--defaults").stdout
    assert "Left out of the file" not in run("check", COURTYARD).stdout


@pytest.mark.slow(1)
@pytest.mark.pinned
def test_cautions_and_the_authority_are_always_shown() -> None:
    out = run("check", COURTYARD).stdout
    for word in ("residual-current", "compressed air", "chemicals", "air", "Local codes and licensed trades"):
        assert word in out


@pytest.mark.pinned
def test_explain_tells_rule_source_and_limits() -> None:
    out = run("explain", "dead-leg").stdout
    for word in ("Rule", "Source", "Limit", "6 diameters", "Doubt"):
        assert word in out


@pytest.mark.pinned
def test_explain_offers_the_nearest_kind() -> None:
    assert "Did you mean 'dead-leg'?" in run("explain", "ded-leg").stderr


@pytest.mark.some(2)
@pytest.mark.pinned
@pytest.mark.parametrize("what", ["pipes", "fittings", "materials", "rods", "limits"])
def test_names_are_listed(what: str) -> None:
    done = run("names", what)
    assert done.returncode == 0
    assert done.stdout.count("\n") >= 4


@pytest.mark.invariant
def test_public_names_are_there() -> None:
    for name in plumbline.__all__:
        assert getattr(plumbline, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        plumbline.nothing  # noqa: B018


@pytest.mark.pinned
def test_ranges_and_words_are_in_the_json(printed: dict[str, Any]) -> None:
    for vessel in printed["vessels"].values():
        low, high = vessel["likely_l_min"]
        assert low <= vessel["inflow_l_min"] <= high
        assert (vessel["word"] is None) == (vessel["wanted_l_min"] is None)
    assert printed["vessels"]["tomato bed"]["word"] == "no"
    assert printed["vessels"]["fish tank"]["word"] == "no"
    for pump in printed["pumps"].values():
        assert pump["likely_l_min"][0] <= pump["flow_l_min"] <= pump["likely_l_min"][1]


@pytest.mark.slow(1)
@pytest.mark.pinned
def test_a_layout_without_fed_vessels_shows_where_its_water_goes(tmp_path: Path) -> None:
    path = tmp_path / "taps.yaml"
    path.write_text(
        """
vessels: {header: {base: 3 m, water: 1 m}}
lines:
  main: {pipe: pvc 25, from: {vessel: header, height: 0 m}, route: [{down: 1 m}, tee: t, {down: 1 m}], to: open air}
  tap: {pipe: pvc 20, from: t, route: [{east: 1 m}], to: {draws: 3 L/min}}
""",
        encoding="utf-8",
    )
    out = run("check", path).stdout
    assert "Where the water goes" in out
    lines = [line.split() for line in out.splitlines()]
    assert any(words[:3] == ["end", "of", "main"] and words[-2:] == ["open", "air"] for words in lines)
    assert any(words[:4] == ["end", "of", "tap", "3.0"] for words in lines)
    assert any(words[:3] == ["header", "0.0", "L/min"] and len(words) == 5 for words in lines)


@pytest.mark.invariant
@pytest.mark.slow
def test_all_shows_where_the_head_of_each_route_goes_largest_loss_first(printed: dict[str, Any]) -> None:
    few, everything = (run("check", TANGLE, *more).stdout for more in ((), ("--all",)))
    assert few.count("Where the head goes: ") == 1
    parts = everything.split("Where the head goes: ")[1:]
    assert [part.split("\n")[0].split(", by ")[1] for part in parts[1:]] == [
        route["end"] for route in printed["routes"] if f", by {route['end']}\n" not in parts[0]
    ]
    routes = {route["end"]: route for route in printed["routes"]}
    for part in parts:
        first, _, lift, *rows = part.split("\n\n")[0].split("\n")
        route = routes[first.split(", by ")[1]]
        assert first.startswith(f"{route['source']} to {route['vessel'] or route['end']}, by ")
        heads = [float(row.split()[0]) for row in rows]
        assert heads[:-1] == sorted(heads[:-1], reverse=True)
        assert len(heads) - 1 == len(route["losses"])
        assert float(lift.split()[0]) == pytest.approx(route["lift_m"], abs=0.0051)
        assert heads[-1] == pytest.approx(route["pumped_m"], abs=0.0051)
        assert sum(heads[:-1]) + float(lift.split()[0]) == pytest.approx(heads[-1], abs=0.005 * (len(heads) + 1))


@pytest.mark.invariant
@pytest.mark.slow
def test_piped_output_has_no_spaces_at_line_ends() -> None:
    for command in ("check", "balance", "pumps"):
        assert not any(line != line.rstrip() for line in run(command, TANGLE).stdout.splitlines())
