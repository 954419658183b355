"""One reader, one set of rules: who changes a layout's text reads it as the layout was read."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
import yaml
from random_systems import random_system

from plumbline import check, read_layout
from plumbline.cli import main
from plumbline.layout import layout_of, source
from plumbline.layout.faults import Faults
from plumbline.layout.nodes import Node
from plumbline.layout.rewrite import set_openings, set_values
from plumbline.redesign.change import Change, Edit, apply
from plumbline.redesign.script import read_script

LAYOUTS = sorted((Path(__file__).parent.parent / "layouts").glob("*.yaml"))

ODD = """\
vessels:
  tank:\t{base:\t0 m, water: 0.5 m, rim: 0.9 m, area: 1 m^2}
  bed: &v {base: 1 m, water: 0.2 m, rim: 0.4 m, area: 1 m^2, wants: 4 L/min}
  other:\t&v {base: 1 m, water: 0.2 m, rim: 0.4 m, area: 1 m^2}
pumps:
  lift: {in: tank, height: 0.05 m, curve: [[0 L/min, 3 m], [40 L/min, 0.5 m]]}
lines:
  up:
    pipe:\tpvc 25
    from: lift
    route:
      - up: 1.2 m
      - &bend elbow
      - east:\t1 m
      - tee: t
      - east: 0.5 m
      - &bend sweep
      - ball valve
      - down: 0.05 m
    to: bed
  side:
    pipe: pvc 25
    from: t
    route: [north: 0.5 m, ball valve:\topen, north: 0.5 m, *bend, down: 0.05 m]
    to: other
  back: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [down: 0.9 m], to: tank}
  too: {pipe: pvc 50, from: {vessel: other, standpipe: 0.2 m}, route: [down: 0.9 m], to: tank}
"""
"""Tabs after colons, and anchors given twice: the later one counts from there on."""


def without_places(node: Node | None) -> object:
    if node is None:
        return None
    if node.text is not None:
        return node.text
    if node.items is not None:
        return [without_places(one) for one in node.items]
    return [(without_places(key), without_places(value)) for key, value in node.pairs or ()]


@pytest.mark.invariant
def test_what_is_read_can_be_changed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layout = layout_of(ODD)
    kinds = [part.kind for part in layout.lines["side"].parts]
    assert kinds == ["run", "ball valve", "run", "sweep", "run"]
    valves = [part for line in layout.lines.values() for part in line.parts if part.kind == "ball valve"]
    half = layout_of(set_openings(ODD, {part.mark: 0.5 for part in valves}))
    assert [part.opening for line in half.lines.values() for part in line.parts if part.kind == "ball valve"] == [
        0.5
    ] * 2
    assert layout_of(
        set_values(ODD, "vessels", "wants", {"other": "5 L/min", "bed": "6 L/min"}, "What '{}' wants")
    ).vessels["other"].wants == pytest.approx(5 / 60000)
    swap = Change("sweep", "up", 2, "a sweep", "sweep", (Edit("swap", "up", 2, ("sweep",)),), 0.0, 0.0)
    assert layout_of(apply(ODD, [swap])).lines["up"].parts[1].kind == "sweep"
    file = tmp_path / "odd.yaml"
    file.write_text(ODD, encoding="utf-8")
    for command in (["balance", str(file), "-o", str(tmp_path / "new.yaml")], ["check", str(file)]):
        assert main(command) in (0, 1), capsys.readouterr().err
    assert read_layout(tmp_path / "new.yaml").vessels.keys() == layout.vessels.keys()


@pytest.mark.invariant
@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_the_other_parser_of_the_library_reads_the_same(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the library has no C parser the plain one stands in: the same nodes, in the same places."""
    text = path.read_text(encoding="utf-8")
    fast = source.tree_of(text, Faults(""))
    monkeypatch.setattr(source, "_Loader", yaml.SafeLoader)
    assert source.tree_of(text, Faults("")) == fast


@pytest.mark.invariant
@pytest.mark.parametrize("seed", range(20))
def test_every_step_stands_where_its_node_says(seed: int) -> None:
    """Cut out of the file by its places, each step reads as it did in it: letters of any script count as one sign each."""
    text = random_system(seed)
    if seed % 2:
        text = text.replace("\n", "\r\n")
    text = text.replace("name: Random system", f"name: Größe 🐟 {random.Random(seed).choice(['', 'пруд', '池'])}")
    script = read_script(text)
    assert script.lines
    for line in script.lines.values():
        for node in (*line.steps, *line.keys.values()):
            if node.flow or node.text is not None or len(node.pairs or ()) == 1:
                assert without_places(source.tree_of(script.slice(node), Faults(""))) == without_places(node)


@pytest.mark.invariant
def test_the_odd_layout_is_checked_as_its_plain_twin() -> None:
    plain = ODD.replace("\t", " ").replace("*bend", "sweep").replace("&bend ", "").replace("&v ", "")
    assert check(layout_of(ODD)).flows.stretches == check(layout_of(plain)).flows.stretches
