"""The JSON's keys against `docs/json.md`: each that is printed is told, and each that is told is printed by some layout."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import pytest
from test_balance import narrow_drain
from water_days import DAYS

from plumbline.cli import main

ROOT = Path(__file__).parent.parent
NAMED = {
    "pumps",
    "vessels",
    "ends",
    "places",
    "cleans",
    "left",
    "scours",
    "sources",
    "falls_m",
    "stretches",
    "tanks",
    "cautions",
    "gives_back_l_min",
    "met",
    "in_place_of",
    "airlifts",
    "share",
    "readings",
}
"""Groups whose own keys are names from the file."""

NO_KEYS = {
    "LINE.from",
    "LINE.to",
    "ok",
    "attention",
    "fail",
    "unread",
    "surely",
    "probably",
    "doubtful",
    "no",
    "silts",
    "empty",
    "dirty",
    "clean",
    "counting",
    "columns",
    "patterns",
    "gap",
}
"""Words set as code in the page that are values, or stand for names."""

OFTEN_EMPTY = {"unsolved"}
"""Lists of what hardly ever happens."""

RUNS = {
    "What other programs get": ("check", ["tangle.yaml", "siphon.yaml", "courtyard.yaml"]),
    "Balance": ("balance", ["unbalanced.yaml", "narrow"]),
    "Diagnose": ("diagnose", ["visited"]),
    "Current": ("current", ["nursery.yaml", "round_tank.yaml"]),
    "Fouling": ("fouling", ["hill_pond.yaml", "marginal_pump.yaml", "visited"]),
    "Pumps": ("pumps", ["marginal_pump.yaml", "tangle.yaml"]),
    "Airlift": ("airlift", ["courtyard.yaml", "bubbler.yaml", "overblown.yaml"]),
    "Flush": ("flush", ["hosed", "tangle.yaml", "low_cap.yaml"]),
    "Parts": ("parts", ["tangle.yaml", "overflow.yaml"]),
    "Card": ("card", ["tangle.yaml"]),
    "Day": ("day", ["siphon_bed.yaml", "dry"]),
    "Mishaps": ("mishaps", ["siphon.yaml", "dry"]),
    "Rounds": ("rounds", ["."]),
    "Size": ("size", ["courtyard.yaml", "wished"]),
}


def told(section: str) -> dict[str, set[str]]:
    """The keys that the table of a section tells, each row's under each of the keys that it begins with."""
    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    body = re.split(r"^##? ", text, flags=re.MULTILINE)
    (part,) = [one for one in body if one.startswith(f"{section}\n")]
    rows: dict[str, set[str]] = {}
    for first, rest in re.findall(r"^\| (`.*?) \| (.*) \|$", part, flags=re.MULTILINE):
        for key in re.findall(r"`(\w+)`", first):
            rows[key] = set(re.findall(r"`([\w.]+)`", rest)) - NO_KEYS - set(re.findall(r"limit `([\w ]+)`", rest))
    return rows


def keys_of(value: Any, named: bool = False) -> set[str]:
    """All keys in a piece of JSON, without those that are names from the file."""
    if isinstance(value, list):
        return set().union(*(keys_of(one) for one in value))
    if not isinstance(value, dict):
        return set()
    inner = set().union(
        *(keys_of(one, key in NAMED and isinstance(one, dict) and not named) for key, one in value.items())
    )
    return inner if named else inner | set(value)


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("section", RUNS)
@pytest.mark.usefixtures("worked_out_once")
def test_every_key_that_is_printed_is_told_and_no_other(
    section: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, names = RUNS[section]
    rows = told(section)
    found: dict[str, set[str]] = {}
    (tmp_path / "narrow").write_text(narrow_drain(), encoding="utf-8")
    hosed = (ROOT / "layouts" / "ring_main.yaml").read_text(encoding="utf-8")
    (tmp_path / "hosed").write_text(f"{hosed}\nhose supply: {{flow: 15 L/min, pressure: 2 bar}}\n", encoding="utf-8")
    (tmp_path / "wished").write_text("wish: {leafy: 4 m^2}\n", encoding="utf-8")
    (tmp_path / "dry").write_text(
        next(day.text for day in DAYS if day.name == "a sump too small for its bed"), encoding="utf-8"
    )
    (tmp_path / "tangle.yaml").write_text(
        (ROOT / "layouts" / "tangle.yaml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    os.utime(tmp_path / "tangle.yaml", (0.0, 0.0))  # long ago, so that something is due
    layouts = ROOT / "layouts"
    sound, visit = (layouts / one for one in ("courtyard.yaml", "visits/courtyard.yaml"))
    (tmp_path / "visited").write_text(
        "\n".join(one.read_text(encoding="utf-8") for one in (sound, visit)), encoding="utf-8"
    )
    for name in names:
        path = (tmp_path if name in ("narrow", "hosed", "wished", "dry", "visited", ".") else ROOT / "layouts") / name
        more = ["-o", str(tmp_path / "first.yaml")] if name == "wished" else []
        more += ["--readings", str(visit)] if (command, name) == ("fouling", "visited") else []
        main([command, str(path), "--json", *more])
        for key, value in json.loads(capsys.readouterr().out).items():
            found.setdefault(key, set()).update(keys_of(value, key in NAMED))
    assert set(found) == set(rows)
    for key, inside in found.items():
        if inside or key not in OFTEN_EMPTY:
            assert inside == rows[key], key
