"""Each output that sends someone to work shows the cautions of that work, once, plainly, and leaves the last word to codes and trades."""

from __future__ import annotations

from pathlib import Path

import pytest
from checks import cautions

from plumbline import catalogue
from plumbline.cli import main
from plumbline.page.walk.look import seen

LAYOUTS = Path(__file__).parent.parent / "layouts"

WORDS = {
    "electricity": "residual-current device",
    "compressed air": "burst in splinters",
    "chemicals": "fumes that burn",
    "cutting": "gather the swarf",
    "glass": "Toughened glass",
    "pressure": "turn a cap slowly",
    "drinking water": "an air gap or the backflow device",
    "hose": "is a cross-connection",
    "hot water": "No hot water",
    "spray": "Legionella",
    "confined place": "climbs or leans in alone",
    "power cut": "air that runs without the mains",
    "still water": "gasp at the surface",
    "weight": "lift it with two",
    "air pump": "stands above the water line, or has a check valve",
    "authority": "Local codes and licensed trades have the last word",
}
"""Words that no other sentence of any output holds."""

DONE = {
    # What is done by hand on the strength of each output, judged by the hazards of that work and not by the table.
    "check {courtyard}": "electricity, chemicals, drinking water, power cut, weight, compressed air, spray",
    "check {bubbler}": "electricity, air pump",
    "redesign {nursery} --quick": "cutting, chemicals, glass, electricity, pressure, weight, compressed air, still water",
    "parts {courtyard}": "cutting, chemicals, glass, weight, compressed air, still water",
    "balance {tangle}": "electricity",
    "pumps {tangle}": "electricity, power cut",
    "card {courtyard}": "electricity, pressure, compressed air, chemicals, hot water, spray, confined place, drinking water, still water",
    "flush {courtyard}": "electricity, pressure, compressed air, spray, confined place, drinking water, still water",
    "airlift {tangle} --pump {pump}": "electricity, air pump, power cut",
    "current {round_tank}": "cutting, electricity, spray",
    "mishaps {courtyard} --hours 1": "electricity, chemicals, cutting, glass, pressure, drinking water, power cut, confined place, still water",
    "diagnose {courtyard} --readings {visit}": "electricity, pressure, compressed air, spray, confined place, still water",
    "size --fish 5_kg/month": "drinking water, power cut, weight",
}


def printed(command: str, capsys: pytest.CaptureFixture[str]) -> str:
    names = {path.stem: str(path) for path in LAYOUTS.glob("*.yaml")}
    words = [
        word.replace("_kg", " kg").format(**names, pump="pond pump", visit=str(LAYOUTS / "visits" / "courtyard.yaml"))
        if "{pump}" not in word
        else "pond pump"
        for word in command.split()
    ]
    assert main(words) in (0, 1)
    return " ".join(capsys.readouterr().out.split())


@pytest.mark.some(3)
@pytest.mark.pinned
@pytest.mark.parametrize(
    "command",
    [
        pytest.param(
            one, marks=[pytest.mark.slow] * one.startswith(("redesign", "mishaps", "airlift", "balance", "diagnose"))
        )
        for one in DONE
    ],
)
@pytest.mark.usefixtures("worked_out_once")
def test_the_cautions_of_the_work_stand_under_it_once(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = printed(command.replace(" --pump {pump}", ""), capsys)
    for hazard in (*DONE[command].split(", "), "authority"):
        assert said.count(WORDS[hazard]) == 1, hazard


@pytest.mark.pinned
def test_each_caution_is_asked_for_by_words_of_its_own() -> None:
    told = {hazard: " ".join(sentence.split()) for hazard, sentence in cautions().items()}
    assert told.keys() == WORDS.keys()
    for hazard, words in WORDS.items():
        assert [name for name, sentence in told.items() if words in sentence] == [hazard]
    assert set(", ".join(DONE.values()).split(", ")) | {"hose", "authority"} == set(WORDS)


@pytest.mark.invariant
def test_the_walk_shows_those_of_a_check() -> None:
    text = (LAYOUTS / "gallons.yaml").read_text(encoding="utf-8")
    assert tuple(seen(text, "gallons.yaml").facts["care"]) == tuple(catalogue.cautions_at("check").values())


@pytest.mark.invariant
def test_what_a_layout_has_not_is_not_warned_of() -> None:
    assert "hose" not in catalogue.cautions_at("flush")
    assert "hose" in catalogue.cautions_at("flush", hose=True)
    assert "air pump" not in catalogue.cautions_at("check")
    assert "air pump" in catalogue.cautions_at("check", airlift=True)


@pytest.mark.invariant
def test_no_caution_stands_nowhere_and_each_output_leaves_the_last_word() -> None:
    from plumbline.catalogue.reading import data

    rows = data("cautions.yaml")
    outputs = {output for row in rows.values() for output in row["at"]}
    assert outputs == {command.split()[0] for command in DONE} | {"page"}
    assert all(row["at"] for row in rows.values())
    for output in outputs:
        assert list(catalogue.cautions_at(output))[-1] == "authority"
