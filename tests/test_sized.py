"""From a wish to a first layout: it checks clean with the pump that it asks for, and says the wish that it was made for."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from plumbline import check, read_layout
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.husbandry import size
from plumbline.husbandry.read import read_wish, wish_text
from plumbline.hydraulics.find import find_flows
from plumbline.start import begin_sized

LAYOUTS = Path(__file__).parent.parent / "layouts"

WISHES = {
    "both": {"fish": "5 kg/month", "leafy": "6 m^2"},
    "fish alone": {"fish": "8 kg/month"},
    "media": {"fruiting": "5 m^2", "beds": "media"},
    "small": {"fish": "3 kg/month", "leafy": "4 m^2"},
    "large, cold and high": {"leafy": "15 m^2", "water": "18 degC", "altitude": "900 m"},
    "with a tank": {"leafy": "6 m^2", "tank": "600 L", "growing time": "200 days", "feed conversion": "1.4"},
}


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("name", WISHES)
def test_a_layout_made_for_a_wish_checks_clean(name: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    asked = read_wish(None, WISHES[name])
    found = size(asked.wish)
    first = begin_sized(asked, found)
    path.write_text(first.text, encoding="utf-8")
    layout = read_layout(path)
    result = check(layout)
    assert result.verdict == "ok"
    assert not [one for one in result.findings if one.level != "advice"]
    assert result.score.cleanable > 0.999
    vessels = {vessel.holds: vessel for vessel in layout.vessels.values()}
    assert vessels["fish"].area is not None
    assert vessels["fish"].area * vessels["fish"].water == pytest.approx(found.tank.likely, rel=5e-3)
    assert vessels["plants"].wants == pytest.approx(found.flow.likely, abs=0.051 / 60_000)
    area = found.wish.area or found.feed.likely / found.wish.number("leafy feed").likely
    assert vessels["plants"].area == pytest.approx(area, rel=5e-3)
    # The wish stands in the file, and is read as it was said.
    again = read_wish(path, {})
    assert {word: again.said[word] for word in asked.said} == pytest.approx(asked.said)


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("head", [0.0, -0.02])
def test_the_pump_that_it_asks_for_does_and_no_less(head: float, tmp_path: Path) -> None:
    """A pump whose curve goes just through the point asked for, and one two centimetres of head weaker."""
    asked = read_wish(None, WISHES["both"])
    first = begin_sized(asked, size(asked.wish))
    layout = first.result.layout
    ((name, pump),) = layout.pumps.items()
    points = ((0.0, first.head + 1.0 + head), (first.flow, first.head + head), (2.0 * first.flow, head + 0.1))
    flows = find_flows(replace(layout, pumps={name: replace(pump, curve=points)}))
    wants = max(vessel.wants or 0.0 for vessel in layout.vessels.values())
    got = flows.pumps[name]
    assert first.flow == pytest.approx(1.1 * wants, rel=1e-6)
    if head == 0.0:
        assert (got.flow, got.head) == pytest.approx((first.flow, first.head), rel=1e-6)
    else:
        assert got.flow < first.flow


@pytest.mark.pinned
def test_a_wish_is_written_as_it_is_read() -> None:
    asked = read_wish(
        None, {"fish": "11 lb/month", "beds": "media", "protein": "35 %", "drippers": "12", "dripper": "2 L/h"}
    )
    assert (
        wish_text(asked.said) == "{fish: 4.98951607 kg/month, beds: media, protein: 0.35, drippers: 12, dripper: 2 L/h}"
    )


@pytest.mark.pinned
@pytest.mark.slow
def test_the_command_tells_what_to_buy(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.yaml"
    assert main(["size", "--fish", "5 kg/month", "--leafy", "6 m^2", "-o", str(path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "is a first layout for it: fish tank, solids filter, raft bed, sump. It checks clean" in said
    assert "pump: 16.5 L/min against" in said
    assert "solids filter: it gets" in said
    assert "one that handles 25.0 L/min or more" in said
    assert "it turns the tank at about 18 cm/s" in said
    kept = path.read_text(encoding="utf-8")
    assert main(["size", "--fish", "5 kg/month", "-o", str(path)]) == 2
    assert "is there already, and nothing is written over" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == kept


@pytest.mark.invariant
@pytest.mark.slow
def test_the_layout_of_five_kilos_is_the_one_that_is_made() -> None:
    asked = read_wish(None, WISHES["both"])
    made = begin_sized(asked, size(asked.wish)).text
    kept = (LAYOUTS / "five_kilos.yaml").read_text(encoding="utf-8")
    assert kept.split("name: ", 1)[1] == made.split("name: ", 1)[1]


@pytest.mark.pinned
@pytest.mark.slow
def test_a_file_with_nothing_but_a_wish_will_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wish, new = tmp_path / "wish.yaml", tmp_path / "mine.yaml"
    wish.write_text("wish: {fish: 5 kg/month, leafy: 6 m^2}\nwater: 23 degC\n", encoding="utf-8")
    assert main(["size", str(wish), "-o", str(new), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)["first_layout"]
    assert said["verdict"] == "ok"
    assert said["pump_flow_l_min"] == pytest.approx(16.5, abs=0.05)
    assert read_layout(new).water.temperature == pytest.approx(23.0)


@pytest.mark.pinned
def test_what_it_is_not_for_leaves_no_file(tmp_path: Path) -> None:
    asked = read_wish(None, {"leafy": "200 m^2"})
    with pytest.raises(PlumblineError, match="is outside what this start is for"):
        begin_sized(asked, size(asked.wish))
