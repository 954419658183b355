"""Plumbing codes' rules on access, section by section: just within and just beyond each printed number."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from builders import flows as made_flows
from builders import layout as made_layout
from builders import walk
from checks import checked

from plumbline import catalogue, check
from plumbline.cli import main
from plumbline.errors import LayoutError
from plumbline.findings import Finding
from plumbline.layout.model import Layout, Line, Pipe
from plumbline.upkeep.codes import code_rules

ReadText = Callable[[str], Layout]
LAYOUTS = Path(__file__).parent.parent / "layouts"
FOOT = 0.3048
SLOPE = 0.02


def level(word: str, metres: float) -> tuple[list[float], float]:
    """A drain's run that falls 1 in 50, so many metres long."""
    turn = {"east": (1.0, 0.0), "north": (0.0, 1.0), "west": (-1.0, 0.0), "south": (0.0, -1.0)}[word]
    return ([*turn, -SLOPE], metres)


def found(code: str, *lines: Line, speed: Any = 0.5, **more: Any) -> list[Finding]:
    """What a code says to drains: every line drains, and takes air in."""
    made = replace(made_layout(*lines, **more), code=code)
    running = made_flows(made, speed, gravity={stretch.id for stretch in made.stretches})
    running = replace(running, stretches={name: replace(one, vented=True) for name, one in running.stretches.items()})
    return list(code_rules(made, running))


def kinds(code: str, *lines: Line, **more: Any) -> list[str]:
    return [one.kind for one in found(code, *lines, **more)]


# ---------------------------------------------------------------------- none unless chosen


@pytest.mark.invariant
def test_without_a_code_nothing_is_said() -> None:
    made = made_layout(walk("d", "cap c", [level("east", 500.0)], "vessel tank"))
    assert code_rules(made, made_flows(made, gravity={"d 1"})) == ()


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("path", sorted(LAYOUTS.glob("*.yaml")), ids=lambda path: path.stem)
def test_a_layout_that_chooses_none_has_no_finding_by_a_code(path: Path) -> None:
    result = checked(path)
    layout = result.layout
    said = {one.kind for one in (check(replace(layout, code=None)) if layout.code else result).findings}
    assert not any(kind.startswith("code-") for kind in said)
    assert (layout.code is not None) == any(one.kind.startswith("code-") for one in result.findings)


@pytest.mark.invariant
def test_pressure_pipe_and_supplies_are_no_drains() -> None:
    made = replace(made_layout(walk("d", "cap c", [level("east", 500.0)], "vessel tank")), code="ipc")
    assert code_rules(made, made_flows(made, gravity=())) == ()
    # Without air and without a standpipe it runs full under a vessel's head.
    assert code_rules(made, made_flows(made, gravity={"d 1"})) == ()


# ---------------------------------------------------------------------- spacing


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "limit"),
    [
        ("ipc", 100 * FOOT),  # IPC 708.1.1, 100 ft [looked up]
        ("upc", 100 * FOOT),  # UPC 707.4, 100 ft (IAPMO, Illustrated Training Manual) [looked up]
        ("approved document h", 22.0),  # Table 13, from a rodding eye [at second hand]
        ("as/nzs 3500.2", 30.0),  # [from memory, weak]
    ],
)
def test_spacing_from_an_access_to_the_next_and_to_the_end(code: str, limit: float) -> None:
    def drain(first: float, second: float) -> Line:
        return walk(
            "d",
            "cap a",
            [level("east", first), ("cap", {"id": "b", "faces": "up"}), level("east", second)],
            "vessel tank",
        )

    assert kinds(code, drain(limit - 0.01, limit - 0.01)) == []
    assert kinds(code, drain(limit + 0.01, limit - 0.01)) == ["code-spacing"]
    assert kinds(code, drain(limit - 0.01, limit + 0.01)) == ["code-spacing"]


@pytest.mark.published
def test_from_the_start_of_a_drain_approved_document_h_allows_less() -> None:
    """12 m from the start of an external drain to an access fitting, 22 m from a rodding eye (Table 13, at second hand)."""

    def drain(metres: float) -> Line:
        route = [level("east", metres), ("cap", {"id": "b", "faces": "up"}), level("east", 1.0)]
        return walk("d", "vessel bed", route, "vessel tank")

    assert kinds("approved document h", drain(11.9)) == []
    (one,) = found("approved document h", drain(13.0))
    assert one.message == (
        "From the upper end of 'd' to 'b' the drain runs 13.00 m level without an access: at most 12.00 m are allowed "
        "(Approved Document H (England) 2015, Table 13)."
    )
    assert (
        one.cure
        == "put one cap in between, no more than 22.00 m apart, the first no more than 12.00 m from the upper end"
    )


@pytest.mark.second_method
def test_only_level_pipe_is_counted_and_a_union_is_no_access() -> None:
    route = [level("east", 20.0), ("union", {"id": "u"}), "elbow", ("down", 30.0), "elbow", level("east", 9.0)]
    assert kinds("ipc", walk("d", "cap a", route, "vessel tank")) == []
    route = [level("east", 20.0), ("union", {"id": "u"}), level("east", 12.0)]
    (one,) = found("ipc", walk("d", "cap a", route, "vessel tank"))
    assert "32.00 m level" in one.message
    assert "'a'" in one.message


@pytest.mark.invariant
def test_a_capped_branch_at_a_tee_is_an_access() -> None:
    run = walk("run", "cap a", [level("east", 25.0), ("tee", {"id": "t"}), level("east", 25.0)], "vessel tank")
    eye = walk("eye", "tee t", [("up", 0.3)], "cap eye cap", at=run.parts[1].start)
    side = walk("side", "tee t", [("up", 0.3)], "plug", at=run.parts[1].start)
    assert kinds("ipc", run, eye, speed={"eye": 0.0}) == []
    assert kinds("ipc", run, side, speed={"side": 0.0}) == ["code-spacing"]


@pytest.mark.second_method
def test_the_longer_of_two_branches_counts() -> None:
    run = walk("run", "cap a", [level("east", 5.0), ("tee", {"id": "t"}), level("east", 10.0)], "vessel tank")
    for length, said in ((20.0, []), (21.0, ["code-spacing"])):
        at = run.parts[1].start
        side = walk(
            "side", "cap s", [level("south", length)], "tee t", at=(at[0], at[1] + length, at[2] + length * SLOPE)
        )
        assert [one.kind for one in found("as/nzs 3500.2", run, side)] == said


@pytest.mark.invariant
def test_the_water_decides_which_way_is_down() -> None:
    """The same drain walked from its outlet: the same accesses, the same finding."""
    down = walk(
        "d", "vessel bed", [level("east", 31.0), ("cap", {"id": "b", "faces": "up"}), level("east", 1.0)], "vessel tank"
    )
    up = walk(
        "d",
        "vessel tank",
        [([-1.0, 0.0, SLOPE], 1.0), ("cap", {"id": "b", "faces": "up"}), ([-1.0, 0.0, SLOPE], 31.0)],
        "vessel bed",
    )
    one, other = found("ipc", down), found("ipc", up, speed=-0.5)
    assert [x.message for x in one] == [x.message for x in other]
    assert len(one) == 1
    # Without water, what falls decides.
    assert [x.message for x in found("ipc", up, speed=0.0)] == [x.message for x in one]


# ---------------------------------------------------------------------- turns


@pytest.mark.published
@pytest.mark.parametrize(("angle", "said"), [(44.0, []), (46.0, ["code-turns"]), (90.0, ["code-turns"])])
def test_ipc_708_1_4_a_horizontal_turn_of_more_than_45_degrees(angle: float, said: list[str]) -> None:
    """International Plumbing Code 2018, 708.1.4, looked up at second hand."""
    turned = ([math.cos(math.radians(angle)), math.sin(math.radians(angle)), 0.0], 1.0)
    assert kinds("ipc", walk("d", "vessel bed", [("east", 1.0), "elbow", turned], "vessel tank")) == said


@pytest.mark.published
@pytest.mark.parametrize(("before", "said"), [(39.9, []), (40.1, ["code-turns"])])
def test_ipc_708_1_4_one_access_serves_forty_feet(before: float, said: list[str]) -> None:
    """International Plumbing Code 2018, 708.1.4, looked up at second hand."""
    route = [("east", before * FOOT), "elbow", ("north", 0.02), "elbow", ("east", 1.0)]
    # Beyond 40 ft the cleanout that is missing at the first turn would serve the second.
    assert kinds("ipc", walk("d", "cap a", route, "vessel tank")) == said


@pytest.mark.published
@pytest.mark.parametrize(("start", "first"), [("cap a", 41.0), ("plug", 1.0)])
@pytest.mark.parametrize(("after", "said"), [(39.9, 1), (40.1, 2)])
def test_ipc_708_1_4_forty_feet_begin_again_where_a_cleanout_is_asked_for(
    start: str, first: float, after: float, said: int
) -> None:
    """International Plumbing Code 2018, 708.1.4, looked up at second hand. One cleanout serves all turns within 40 ft: the one that the first turn wants, too, and no more than those. Before the first
    turn lies 41 ft of pipe from a cap, or no access at all."""
    route = [("east", first * FOOT), "elbow", ("north", after * FOOT), "elbow", ("east", 1.0)]
    told = kinds("ipc", walk("d", start, route, "vessel tank"))
    assert told.count("code-turns") == said


@pytest.mark.invariant
def test_a_turn_from_upright_to_level_is_no_horizontal_turn() -> None:
    assert kinds("ipc", walk("d", "vessel bed", [("down", 1.0), "elbow", ("east", 1.0)], "vessel tank")) == []


@pytest.mark.invariant
def test_a_capped_tee_at_the_corner_is_its_access() -> None:
    route = [("east", 1.0), ("cap", {"id": "c", "faces": "west"}), ("north", 1.0)]
    assert kinds("ipc", walk("d", "vessel bed", route, "vessel tank")) == []


@pytest.mark.second_method
def test_a_branch_that_comes_in_square_turns() -> None:
    run = walk("run", "cap a", [("east", 1.0), ("tee", {"id": "t"}), ("east", 1.0)], "vessel tank")
    side = walk("side", "vessel bed", [("south", 2.0)], "tee t", at=(1.0, 2.0, 0.0))
    (one,) = found("ipc", run, side)
    assert one.message.startswith("The drain turns by 90° at tee 't', and no access stands within 12.19 m before that")
    assert "beside tee 't'" in one.cure


@pytest.mark.published
@pytest.mark.parametrize(("last", "said"), [(44.0, []), (46.0, ["code-turns"])])
def test_upc_707_4_turns_add_up_to_135_degrees(last: float, said: list[str]) -> None:
    """Uniform Plumbing Code 2024, 707.4, looked up in IAPMO's Illustrated Training Manual."""
    end = ([-math.sin(math.radians(last)), math.cos(math.radians(last)), 0.0], 1.0)
    route = [("east", 1.0), "elbow", ("north", 1.0), "elbow", end]
    assert kinds("upc", walk("d", "cap a", route, "vessel tank")) == said


@pytest.mark.invariant
def test_upc_each_sum_of_turns_is_told_once() -> None:
    route = [
        ("east", 1.0),
        "elbow",
        ("north", 1.0),
        "elbow",
        ("west", 1.0),
        "elbow",
        ("south", 0.5),
        "elbow",
        ("east", 0.5),
    ]
    assert kinds("upc", walk("d", "cap a", route, "vessel tank")) == ["code-turns", "code-turns"]


@pytest.mark.invariant
def test_upc_an_access_in_between_begins_the_sum_anew() -> None:
    route = [
        ("east", 1.0),
        "elbow",
        ("north", 1.0),
        ("cap", {"id": "c", "faces": "up"}),
        ("north", 1.0),
        "elbow",
        ("west", 1.0),
    ]
    assert kinds("upc", walk("d", "cap a", route, "vessel tank")) == []


# ---------------------------------------------------------------------- upper ends


@pytest.mark.published
@pytest.mark.parametrize(("feet", "said"), [(4.9, []), (5.1, ["code-upper-end"])])
def test_upc_707_4_an_access_at_the_upper_end_but_for_lines_under_five_feet(feet: float, said: list[str]) -> None:
    """Uniform Plumbing Code 2024, 707.4 with exception (1), looked up in IAPMO's Illustrated Training Manual."""
    route = [("down", 0.5), "elbow", ("east", feet * FOOT)]
    assert kinds("upc", walk("d", "vessel bed", route, "vessel tank")) == said


@pytest.mark.invariant
def test_upc_a_capped_tee_at_the_foot_of_a_drop_will_do_and_a_hand_at_its_top_will_not() -> None:
    capped = [("down", 0.5), ("cap", {"id": "c", "faces": "west"}), ("east", 3.0)]
    assert kinds("upc", walk("d", "vessel bed", capped, "vessel tank")) == []
    (one,) = found(
        "upc",
        walk("d", "vessel bed", [("down", 0.5), "elbow", ("east", 3.0)], "vessel tank"),
        vessel_access=("d.from",),
    )
    assert one.message == (
        "3.00 m of level pipe of 'd' begin without an access at their upper end (Uniform Plumbing Code 2024, 707.4)."
    )
    assert one.cure == "put a capped tee in place of the elbow at step 2 of 'd', facing along the level pipe"
    level_end = walk("d", "vessel bed", [("east", 3.0)], "vessel tank")
    assert kinds("upc", level_end, vessel_access=("d.from",)) == []
    assert kinds("upc", level_end) == ["code-upper-end"]


@pytest.mark.published
def test_pipe_steeper_than_72_degrees_from_upright_is_not_horizontal_by_the_upc() -> None:
    """Uniform Plumbing Code 2024, 707.4, exception (2), looked up: a slope of 72° or less from the vertical. 17° from level is horizontal, 19° is not."""
    for degrees, said in ((17.0, ["code-upper-end"]), (19.0, [])):
        slope = ([math.cos(math.radians(degrees)), 0.0, -math.sin(math.radians(degrees))], 3.0)
        assert kinds("upc", walk("d", "vessel bed", [slope], "vessel tank")) == said


# ---------------------------------------------------------------------- size


@pytest.mark.published
@pytest.mark.parametrize(
    ("cap", "drain", "said"),
    [
        (0.050, 0.075, ["code-size"]),
        (0.075, 0.075, []),
        (0.074, 0.075, []),  # one nominal size, two makers
        (0.100, 0.150, []),  # 4 in will do for any larger pipe
        (0.075, 0.150, ["code-size"]),
    ],
)
def test_ipc_708_1_5_as_large_as_the_pipe_up_to_four_inches(cap: float, drain: float, said: list[str]) -> None:
    """International Plumbing Code 2018, 708.1.5, looked up at second hand."""
    run = walk(
        "run",
        "cap a",
        [("east", 5.0), ("tee", {"id": "t"}), ("east", 5.0)],
        "vessel tank",
        pipe=Pipe("d", drain, 1.5e-6),
    )
    eye = walk("eye", "tee t", [("up", 0.3)], "cap eye cap", at=(5.0, 0.0, 0.0), pipe=Pipe("c", cap, 1.5e-6))
    assert kinds("ipc", run, eye, speed={"eye": 0.0}) == said
    assert "code-size" not in kinds("upc", run, eye, speed={"eye": 0.0})


# ---------------------------------------------------------------------- clearance


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "bore", "room", "said"),
    [
        # IPC 708.1: 18 in up to 6 in, 36 in for 8 in and larger (at second hand). UPC 707.9: 18 in up to 2 in, 24 in above (IAPMO).
        ("ipc", 0.110, 0.456, ["code-clearance"]),
        ("ipc", 0.110, 0.458, []),
        ("ipc", 0.200, 0.913, ["code-clearance"]),
        ("ipc", 0.200, 0.915, []),
        ("upc", 0.050, 0.456, ["code-clearance"]),
        ("upc", 0.050, 0.458, []),
        ("upc", 0.075, 0.609, ["code-clearance"]),
        ("upc", 0.075, 0.611, []),
        ("approved document h", 0.110, 0.1, []),  # its Table 13 does not speak of it
        ("ipc", 0.110, None, []),  # not stated, not judged
    ],
)
def test_the_room_in_front_of_a_cap(code: str, bore: float, room: float | None, said: list[str]) -> None:
    made = replace(
        made_layout(walk("d", "cap a", [("east", 5.0)], "vessel tank", pipe=Pipe("d", bore, 1.5e-6))), code=code
    )
    made = replace(made, accesses=tuple(replace(access, room=room) for access in made.accesses))
    running = made_flows(made, gravity={"d 1"})
    running = replace(running, stretches={"d 1": replace(running.stretches["d 1"], vented=True)})
    assert [one.kind for one in code_rules(made, running)] == said


# ---------------------------------------------------------------------- the words


@pytest.mark.pinned
def test_every_finding_names_code_edition_and_section_and_says_who_governs() -> None:
    said = [one for one in checked("orchard").findings if one.kind.startswith("code-")]
    assert said
    for one in said:
        assert "(International Plumbing Code 2018, 708.1" in one.message
        assert "the code adopted where the system stands governs" in one.source
        assert one.weight > 0.0


@pytest.mark.invariant
@pytest.mark.parametrize("name", catalogue.codes())
def test_every_rule_has_a_source_and_a_mark_and_a_section_but_from_memory(name: str) -> None:
    for rule in catalogue.codes()[name].rules:
        assert rule.section or rule.mark == "from memory"
        assert len(rule.source) > 20
        assert rule.mark in ("looked up", "from memory")


@pytest.mark.pinned
def test_the_report_says_which_code_and_that_the_local_one_governs(capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", str(LAYOUTS / "orchard.yaml")])
    said = " ".join(capsys.readouterr().out.split())
    assert "The file asks for International Plumbing Code 2018" in said
    assert "The code that is adopted where the system stands, with its amendments, governs." in said
    main(["check", str(LAYOUTS / "courtyard.yaml")])
    assert "The file asks for" not in " ".join(capsys.readouterr().out.split())


@pytest.mark.pinned
def test_the_codes_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["names", "codes"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for words in (
        "International Plumbing Code 2018, 708.1.4: turn",
        "Uniform Plumbing Code 2024, 707.4: upper end",
        "governs",
    ):
        assert words in said


TEXT = """
code: CODE
vessels: {bed: {base: 1 m, water: 0.2 m, rim: 0.3 m, area: 1 m^2}, tank: {base: 0 m, water: 0.5 m}}
lines:
  drain: {pipe: pvc 50, from: {vessel: bed, standpipe: 0.2 m}, route: [{down: 0.5 m}], to: tank}
"""


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "name"),
    [("ipc", "ipc"), ("IPC", "ipc"), ("Uniform plumbing code", "upc"), ("AD H", "approved document h")],
)
def test_a_code_goes_by_any_of_its_names(read_text: ReadText, said: str, name: str) -> None:
    assert read_text(TEXT.replace("CODE", said)).code == name


@pytest.mark.pinned
def test_an_unknown_code_is_a_fault_with_the_nearest(read_text: ReadText) -> None:
    with pytest.raises(LayoutError, match="ipc"):
        read_text(TEXT.replace("CODE", "icp"))
