"""Power, cost and speed of pumps, and pumps compared in the same place: against the affinity example of TP-410, and against the same
layouts written out with the other pump, or the other speed, in place."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from plumbline import LayoutError
from plumbline.cli import main
from plumbline.hydraulics.find import find_flows
from plumbline.hydraulics.flows import Duty
from plumbline.hydraulics.pumping import (
    Comparison,
    compare_pumps,
    in_place_of,
    least_speed,
    run_at,
    running_cost,
    running_costs,
)
from plumbline.layout import read_layout
from plumbline.layout.model import Electricity, Layout, Mark, Pump
from plumbline.report.pumps import pumps_as_json
from plumbline.upkeep.carried import _rest

ReadText = Callable[[str], Layout]
MARGINAL = Path(__file__).parent.parent / "layouts" / "marginal_pump.yaml"


# ---------------------------------------------------------------------- speed


@pytest.mark.published
def test_a_slower_pump_is_that_of_crane() -> None:
    """Crane TP-410 (2009), Ex. 7.33: 3500 to 1700 rpm from 400 gpm, 126 ft, 17.5 hp → 194.3 gpm, 29.7 ft, 2.0 hp [L].
    The laws have no units."""
    pump = Pump("p", ((0.0, 150.0), (400.0, 126.0)), Mark(1, 1), power=17.5)
    slow = run_at(pump, 1700 / 3500)
    assert slow.curve[1] == pytest.approx((194.3, 29.7), abs=0.05)
    assert slow.power == pytest.approx(2.0, abs=0.05)
    assert slow.speed == pytest.approx(1700 / 3500)


@pytest.mark.invariant
def test_speeds_follow_one_another() -> None:
    pump = Pump("p", ((0.0, 3.0), (5e-4, 1.0)), Mark(1, 1), power=40.0)
    twice = run_at(run_at(pump, 0.8), 0.6)
    once = run_at(pump, 0.6)
    assert twice.curve == tuple(pytest.approx(point) for point in once.curve)
    assert twice.power == pytest.approx(once.power)
    assert run_at(twice, 1.0).power == pytest.approx(40.0)


SYSTEM = """
    {top}
    vessels:
      tank: {{base: 0 m, water: 0.8 m}}
      bed: {{base: 1.2 m, water: 0.2 m, rim: 0.3 m, area: 1 m^2, wants: {wants}}}
    pumps:
      lift: {pump}
      {spares}
    lines:
      riser: {{pipe: pvc 25, from: lift, route: [{{up: 1.8 m}}, elbow, {{east: 1 m}}], to: bed}}
      return: {{pipe: pvc 50, from: {{vessel: bed, standpipe: 0.2 m}}, route: [{{down: 1 m}}], to: tank}}
"""
PUMP = "{in: tank, curve: [[0 L/min, 4 m], [20 L/min, 3.4 m], [40 L/min, 2 m]], power: 50 W}"


NO_WANTS = "nothing is wanted "
"""Stands before the spares of a layout in which no vessel states what it wants."""

FEEBLE = "{in: tank, curve: [[0 L/min, 0.6 m], [20 L/min, 0.2 m]], power: 12 W}"
"""Does not lift as high as the bed."""


def system(pump: str = PUMP, *, spares: str = "", top: str = "", wants: str = "14 L/min") -> str:
    return SYSTEM.format(pump=pump, spares=spares, top=top, wants=wants)


@pytest.mark.second_method
def test_a_speed_in_the_file_is_a_curve_written_slower(read_text: ReadText) -> None:
    said = read_text(system(PUMP.replace("power", "speed: 80 %, power")))
    curve = "[[0 L/min, 2.56 m], [16 L/min, 2.176 m], [32 L/min, 1.28 m]]"
    written = read_text(system(re.sub(r"\[\[.*\]\]", curve, PUMP).replace("50 W", "25.6 W")))
    one, other = (find_flows(layout) for layout in (said, written))
    assert one.pumps["lift"].flow == pytest.approx(other.pumps["lift"].flow, rel=1e-9)
    assert one.pumps["lift"].power == pytest.approx(25.6)
    assert said.pumps["lift"].speed == pytest.approx(0.8)


@pytest.mark.second_method
def test_a_speed_moves_an_assumed_curve_too(read_text: ReadText) -> None:
    box = "{in: tank, curve: {highest head: 4 m, largest flow: 50 L/min}, speed: 50 %}"
    curve = read_text(system(box)).pumps["lift"].curve
    assert curve[0] == pytest.approx((0.0, 1.0))
    assert curve[-1] == pytest.approx((25 / 60000, 0.0))


@pytest.mark.pinned
@pytest.mark.parametrize("speed", ["0 %", "-10 %", "160 %", "80 rpm"])
def test_a_speed_that_is_none_is_refused(read_text: ReadText, speed: str) -> None:
    with pytest.raises(LayoutError, match="speed"):
        read_text(system(PUMP.replace("power", f"speed: {speed}, power")))


@pytest.mark.second_method
def test_the_least_speed_is_the_first_that_does(read_text: ReadText) -> None:
    """Against every hundredth tried in turn."""
    layout = read_text(system())
    found = least_speed(layout, "lift")
    assert found is not None

    def enough(hundredths: int) -> bool:
        slow = replace(layout, pumps={"lift": run_at(layout.pumps["lift"], hundredths / 100)})
        return find_flows(slow).vessels["bed"].inflow >= 1.1 * 14 / 60000

    first = next(speed for speed in range(30, 101) if enough(speed))
    assert 30 < first < 100
    assert found[0] == first / 100
    assert found[1].vessels["bed"].inflow >= 1.1 * 14 / 60000


@pytest.mark.invariant
def test_there_is_no_least_speed_where_full_speed_does_not_do(read_text: ReadText) -> None:
    assert least_speed(read_text(system(wants="60 L/min")), "lift") is None
    nothing_wanted = read_text(system().replace(", wants: 14 L/min", ""))
    assert least_speed(nothing_wanted, "lift") is None


# ---------------------------------------------------------------------- cost


@pytest.mark.second_method
def test_cost_by_its_definition() -> None:
    duty = Duty(flow=5e-4, head=2.0, state="on curve", power=40.0, useful=9.8)
    cost = running_cost(duty, Electricity(price=0.25, currency="EUR", hours=12.0))
    assert cost.energy == pytest.approx(0.040 * 12 * 365)
    assert cost.money == pytest.approx(0.040 * 12 * 365 * 0.25)
    assert cost.efficiency == pytest.approx(9.8 / 40.0)
    assert cost.per_volume == pytest.approx(0.040 / (5e-4 * 3600))


@pytest.mark.invariant
def test_a_pump_that_gives_nothing_has_no_least_speed(read_text: ReadText) -> None:
    # The other one feeds the bed, whatever this one does.
    text = system().replace(
        "lines:\n",
        "lines:\n      other: {pipe: pvc 25, from: strong, route: [{up: 1.8 m}, elbow, {east: 1 m}], to: bed}\n",
    )
    text = text.replace("pumps:\n", f"pumps:\n      strong: {PUMP}\n").replace(f"lift: {PUMP}", f"lift: {FEEBLE}")
    layout = read_text(text)
    assert find_flows(layout).pumps["lift"].flow == 0.0
    assert least_speed(layout, "lift") is None
    assert least_speed(layout, "strong") is not None


@pytest.mark.invariant
def test_no_power_has_no_efficiency() -> None:
    assert running_cost(Duty(flow=5e-4, head=2.0, state="on curve", power=0.0, useful=9.8), None).efficiency is None


@pytest.mark.pinned
def test_what_the_file_does_not_tell_is_none() -> None:
    water = Duty(5e-4, 2.0, "on curve", None, 9.8)
    assert running_cost(water, Electricity(0.3)) == running_cost(water, None)
    assert running_cost(water, None).energy is None
    still = running_cost(Duty(0.0, 4.0, "shut-off", 40.0, 0.0), None)
    assert (still.per_volume, still.money, still.efficiency) == (None, None, 0.0)


@pytest.mark.some(1)
@pytest.mark.second_method
@pytest.mark.parametrize(
    ("electricity", "pump", "hours"),
    [
        ("", "", 24),
        (", hours a day: 18", "", 18),
        ("", ", hours a day: 6", 6),
        (", hours a day: 18", ", hours a day: 6", 6),
        ("", ", runs: {on: 1 h, off: 3 h}", 6),
        (", hours a day: 18", ", runs: {from: 22:00, to: 04:00}", 6),
        (", hours a day: 18", ", runs: [{from: 06:00, to: 10:00}, {from: 08:00, to: 12:00}]", 6),
        ("", ", runs: {on: 1 h, off: 3 h}, hours a day: 5", 5),
    ],
)
def test_hours_a_day_are_one_thing(electricity: str, pump: str, hours: int, read_text: ReadText) -> None:
    """A pump is charged for the hours that it runs, and what settles has the rest of the day, wherever the file says so."""
    own = PUMP.replace("}", f"{pump}}}", 1)
    assert own.endswith("}")
    layout = read_text(
        system(top=f"electricity: {{price: 0.30, currency: EUR{electricity}}}").replace(f"lift: {PUMP}", f"lift: {own}")
    )
    assert running_costs(layout, find_flows(layout))["lift"].energy == pytest.approx(0.050 * hours * 365)
    trial = compare_pumps(layout)[0].trials[0]
    assert trial.cost is not None
    assert trial.cost.energy == pytest.approx(0.050 * hours * 365)
    assert set(_rest(layout).values()) == {24.0 - hours}
    assert pumps_as_json(layout, compare_pumps(layout))["places"]["lift"]["hours_a_day"] == hours


@pytest.mark.invariant
def test_a_spare_pump_is_charged_for_the_hours_of_its_place(read_text: ReadText) -> None:
    own = PUMP.replace("}", ", hours a day: 6}", 1)
    layout = read_text(
        system().replace(f"lift: {PUMP}", f"lift: {own}").replace("pumps:\n", f"pumps:\n      spare: {PUMP}\n")
    )
    costs = {trial.pump: trial.cost for trial in compare_pumps(layout)[0].trials}
    assert costs["spare"] is not None
    assert costs["spare"].energy == pytest.approx(0.050 * 6 * 365)


@pytest.mark.second_method
def test_the_price_and_the_hours_are_those_of_the_file(read_text: ReadText) -> None:
    layout = read_text(system(top="electricity: {price: 0.30, currency: EUR, hours a day: 18}"))
    assert layout.electricity == Electricity(0.30, "EUR", 18.0)
    flows = find_flows(layout)
    cost = running_costs(layout, flows)["lift"]
    assert cost.money == pytest.approx(0.050 * 18 * 365 * 0.30)
    duty = flows.pumps["lift"]
    assert cost.efficiency == pytest.approx(layout.water.density * 9.80665 * duty.flow * duty.head / 50.0)
    assert read_text(system()).electricity is None


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "fault"),
    [
        ("{currency: EUR}", "has no 'price'"),
        ("{price: cheap}", "'cheap' is not a number"),
        ("{price: 0.3 EUR}", "has a unit"),
        ("{price: 0.3, hours a day: 25}", "not above 24"),
        ("0.3", "the electricity is"),
    ],
)
def test_a_price_that_is_none_is_refused(read_text: ReadText, said: str, fault: str) -> None:
    with pytest.raises(LayoutError, match=fault):
        read_text(system(top=f"electricity: {said}"))


# ---------------------------------------------------------------------- comparing

STRONG = "{in: tank, curve: [[0 L/min, 6 m], [30 L/min, 5 m], [70 L/min, 2 m]], power: 120 W}"
WEAK = "{in: tank, curve: [[0 L/min, 1.5 m], [20 L/min, 1.0 m]], power: 12 W}"
LEAN = "{in: tank, curve: [[0 L/min, 4 m], [20 L/min, 3.4 m], [40 L/min, 2 m]], power: 35 W}"


def compared(layout: Layout) -> Comparison:
    (one,) = compare_pumps(layout)
    return one


@pytest.mark.second_method
def test_each_pump_does_what_it_does_written_in_that_place(read_text: ReadText) -> None:
    spares = f"strong: {STRONG}\n      weak: {WEAK}"
    layout = read_text(system(spares=spares))
    trials = {trial.pump: trial for trial in compared(layout).trials}
    assert list(trials) == ["lift", "strong", "weak"]
    for name, pump in (("lift", PUMP), ("strong", STRONG), ("weak", WEAK)):
        alone = find_flows(read_text(system(pump)))
        duty = trials[name].duty
        assert duty is not None
        assert duty.flow == pytest.approx(alone.pumps["lift"].flow, rel=1e-9)
        assert duty.state == alone.pumps["lift"].state
        assert trials[name].inflows == pytest.approx({"bed": alone.vessels["bed"].inflow}, rel=1e-9)
        assert trials[name].least == pytest.approx(alone.vessels["bed"].inflow / (14 / 60000) - 1, rel=1e-6)
        assert trials[name].thirsty == "bed"
        assert trials[name].own == (name == "lift")


@pytest.mark.invariant
def test_the_cheapest_that_is_enough_is_best(read_text: ReadText) -> None:
    spares = f"strong: {STRONG}\n      weak: {WEAK}\n      lean: {LEAN}"
    one = compared(read_text(system(spares=spares)))
    assert one.best == "lean"
    trials = {trial.pump: trial for trial in one.trials}
    assert trials["weak"].speed is None
    assert (
        one.best_slowed
        == min(
            (trial for trial in one.trials if trial.slowed is not None), key=lambda trial: trial.slowed.power or 0.0
        ).pump
    )
    assert trials["lift"].slowed is not None
    assert trials["lift"].speed is not None
    assert trials["lift"].slowed.power == pytest.approx(50.0 * trials["lift"].speed ** 3)


@pytest.mark.invariant
def test_without_power_none_is_best(read_text: ReadText) -> None:
    layout = read_text(system(PUMP.replace(", power: 50 W", ""), spares=f"lean: {LEAN.replace(', power: 35 W', '')}"))
    one = compared(layout)
    assert (one.best, one.best_slowed) == (None, None)


@pytest.mark.invariant
def test_what_else_fails_is_told_of_the_pump_that_is_tried(read_text: ReadText) -> None:
    text = system(spares=f"strong: {STRONG}").replace("rim: 0.3 m", "rim: 0.201 m")
    (own, strong) = compared(read_text(text)).trials
    assert [one.kind for one in own.fails] == ["overtops"]
    assert "overtops" in [one.kind for one in strong.fails]
    weak = system(spares="feeble: {in: tank, curve: [[0 L/min, 0.5 m], [20 L/min, 0.2 m]]}")
    feeble = compared(read_text(weak)).trials[1]
    assert feeble.duty is not None
    assert feeble.duty.state == "shut-off"
    assert [one.message[:29] for one in feeble.fails] == ["Pump 'feeble' moves no water:"]


@pytest.mark.pinned
def test_a_lone_pump_that_floods_is_enough_but_for_that(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "layout.yaml"
    flooding = system().replace("return: {pipe: pvc 50,", "return: {pipe: {bore: 12 mm, material: pvc},")
    path.write_text(flooding.replace("\n    ", "\n"), encoding="utf-8")
    assert main(["pumps", str(path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "It gives every vessel what it wants with 10% to spare, but something else fails." in said
    assert "With 'lift': 'bed' overtops: " in said


@pytest.mark.invariant
def test_a_pump_that_floods_is_not_best_though_it_is_cheap(read_text: ReadText) -> None:
    flood = "{in: tank, curve: [[0 L/min, 7 m], [100 L/min, 5 m], [150 L/min, 4 m]], power: 10 W}"
    text = system(spares=f"flood: {flood}").replace("rim: 0.3 m", "rim: 0.245 m")
    one = compared(read_text(text))
    assert [found.kind for found in one.trials[1].fails] == ["overtops"]
    assert one.best == "lift"
    assert one.best_slowed == "flood"  # turned down, it does not


@pytest.mark.invariant
def test_systems_that_share_no_pipe_do_not_mix(read_text: ReadText) -> None:
    other = """
      far tank: {base: 0 m, water: 0.5 m}
      far bed: {base: 5 m, water: 0.1 m, wants: 10 L/min}
    """
    text = system(spares="far pump: {in: far tank, curve: [[0 L/min, 2 m], [20 L/min, 1 m]]}")
    text = text.replace("    pumps:\n", f"{other.rstrip()}\n    pumps:\n", 1)
    text += "  far riser: {pipe: pvc 25, from: far pump, route: [{up: 6 m}], to: {vessel: far bed}}\n".replace(
        "  far", "      far", 1
    )
    near, far = compare_pumps(read_text(text))
    assert near.best == "lift"
    assert set(near.trials[0].inflows) == {"bed"}
    assert near.trials[0].fails == ()
    assert set(far.trials[0].inflows) == {"far bed"}
    assert [one.kind for one in far.trials[0].fails] == ["pump-shut-off"]


@pytest.mark.invariant
def test_a_spare_is_tried_on_a_suction_line(read_text: ReadText) -> None:
    layout = read_text("""
    vessels:
      pond: {base: 0 m, water: 1 m}
      header: {base: 3 m, water: 0.5 m, wants: 10 L/min}
    pumps:
      bank: {curve: [[0 L/min, 6 m], [40 L/min, 2 m]], npsh: 2 m}
      spare: {in: pond, curve: [[0 L/min, 7 m], [40 L/min, 3 m]], npsh: 4 m}
    lines:
      suction: {pipe: pvc 32, from: {vessel: pond, height: 0.1 m}, route: [foot valve, {up: 1.5 m}], to: bank}
      rising: {pipe: pvc 25, from: bank, route: [{up: 2.5 m}], to: header}
    """)
    changed = in_place_of(layout, "bank", "spare")
    assert list(changed.pumps) == ["bank"]
    assert (changed.pumps["bank"].vessel, changed.pumps["bank"].npsh) == (None, 4.0)
    bank, spare = compared(layout).trials
    assert bank.duty is not None
    assert spare.duty is not None
    assert spare.duty.flow > bank.duty.flow


# ---------------------------------------------------------------------- the command


@pytest.mark.second_method
@pytest.mark.parametrize("own_line", [False, True])
def test_a_pump_that_stands_by_is_tried_as_the_same_curve_in_the_place(read_text: ReadText, own_line: bool) -> None:
    """Two in parallel and a third that stands by, alone or behind its own check valve: in the place of one it does what its curve does
    written there, and by the hours of that place."""
    third = "third: {pipe: pvc 25, from: spare, route: [check valve, {up: 1.5 m}, elbow, {west: 0.3 m}], to: t2}"
    text = f"""
    vessels:
      tank: {{base: 0 m, water: 0.8 m}}
      bed: {{base: 1.2 m, water: 0.2 m, wants: 14 L/min}}
    pumps:
      one: {PUMP.replace("}", ", runs: {on: 30 min, off: 30 min}}")}
      two: {PUMP}
      spare: {STRONG.replace("}", ", runs: no}")}
    lines:
      first: {{pipe: pvc 25, from: one, route: [check valve, {{up: 1.5 m}}, elbow, {{east: 0.3 m}}], to: t1}}
      second: {{pipe: pvc 32, from: two, route: [check valve, {{up: 1.5 m}}, tee: t1, {{up: 0.1 m}}, tee: t2, {{up: 0.2 m}}], to: bed}}
      {third.replace("up: 1.5 m", "up: 1.6 m") if own_line else ""}
    """
    text = text if own_line else text.replace(" tee: t2,", "")
    strong = STRONG.replace("}", ", runs: {on: 30 min, off: 30 min}}")
    written = read_text(text.replace(PUMP.replace("}", ", runs: {on: 30 min, off: 30 min}}"), strong, 1))
    _, tried = compare_pumps(read_text(text), speeds=False)[0].trials
    assert (tried.pump, tried.own) == ("spare", False)
    assert tried.duty is not None
    assert tried.duty.flow == pytest.approx(find_flows(written).pumps["one"].flow, rel=1e-6)


@pytest.mark.pinned
def test_the_marginal_pump_is_as_its_file_says() -> None:
    one = compared(read_layout(MARGINAL))
    assert one.best == one.best_slowed == "set pump"
    old, big, set_pump = one.trials
    for trial, (least, most) in ((old, (0.0, 0.1)), (big, (0.8, 1.5)), (set_pump, (0.3, 0.6))):
        assert trial.least is not None
        assert least < trial.least < most, trial.pump
    assert old.cost is not None
    assert big.cost is not None
    assert set_pump.cost is not None
    assert 1.9 < (big.cost.money or 0) / (old.cost.money or 1) < 2.1
    assert (set_pump.cost.power or 0) < (old.cost.power or 0)
    assert set_pump.speed is not None
    assert 0.7 < set_pump.speed < 0.9


@pytest.mark.pinned
def test_the_screen_answers_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pumps", str(MARGINAL)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(
        "The pump that just lifts\n\nIn the place of 'old pump'\n'set pump' is enough and the cheapest to run"
    )
    assert re.search(r"old pump \(now\) +20\.\d L/min +1\.6\d m +just enough: 'bench bed' \+4%", said)
    assert re.search(r"big pump +65 W +\d+\.\d W +\d+% +182 EUR +\d+% +\d+ EUR", said)
    assert all(len(line) <= 100 for line in said.splitlines())


@pytest.mark.pinned
def test_json_is_one_object_with_every_number_finite_or_null(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pumps", str(MARGINAL), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["electricity"] == {"price_kwh": 0.32, "currency": "EUR", "hours_a_day": 24.0}
    place = said["places"]["old pump"]
    assert place["best"] == "set pump"
    big = place["pumps"]["big pump"]
    assert big["cost"]["energy_kwh_year"] == pytest.approx(65 * 8.76)
    assert big["cost"]["money_year"] == pytest.approx(65 * 8.76 * 0.32)
    assert big["now"] is False
    assert place["pumps"]["old pump"]["least_speed"] is None
    assert big["vessels"]["bench bed"] > 20.0


@pytest.mark.invariant
def test_names_are_shown_as_they_are(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "odd.yaml"
    spares = f'"[red]x[/red]": {WEAK}'
    path.write_text(system(spares=spares, top="electricity: {price: 0.3}").replace("\n    ", "\n"), encoding="utf-8")
    assert main(["pumps", str(path)]) == 0
    assert "[red]x[/red]" in capsys.readouterr().out


@pytest.mark.some(3)
@pytest.mark.pinned
@pytest.mark.parametrize(
    ("pump", "spares", "said"),
    [
        (PUMP.replace(", power: 50 W", ""), f"lean: {LEAN.replace(', power: 35 W', '')}", "states no power to choose"),
        (PUMP.replace(", power: 50 W", ""), "", "It is enough, but the file states no power to tell the cost by."),
        (PUMP, "", "The file names no spare pump to compare it with. It is enough, at 438 kWh a year."),
        (PUMP, NO_WANTS, "No vessel states what it wants, so it cannot be called enough."),
        (PUMP, NO_WANTS + f"lean: {LEAN}", "No vessel states what it wants, so none of them can be called enough."),
        (WEAK, "", "It does not give every vessel what it wants with 10% to spare."),
        (WEAK, f"weaker: {WEAK}", "No pump gives every vessel what it wants with 10% to spare."),
        (PUMP.replace("50 W", "5 W"), "", "more in the water than from the mains"),
    ],
)
def test_the_answer_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pump: str, spares: str, said: str
) -> None:
    path = tmp_path / "layout.yaml"
    text = system(pump, spares=spares.removeprefix(NO_WANTS))
    if spares.startswith(NO_WANTS):
        text = text.replace(", wants: 14 L/min", "")
    path.write_text(text.replace("\n    ", "\n"), encoding="utf-8")
    assert main(["pumps", str(path)]) == 0
    assert said in capsys.readouterr().out.replace(" \n", " ").replace("\n", " ").replace("  ", " ")


@pytest.mark.invariant
def test_full_speed_is_not_offered_as_a_slower_one(
    read_text: ReadText, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of a pump whose least speed is the one it runs at, no speed 'would do too'."""
    path, given = tmp_path / "layout.yaml", compared(read_text(system())).trials[0].inflows["bed"]
    path.write_text(system(wants=f"{given * 6e4 / 1.101:.4f} L/min").replace("\n    ", "\n"), encoding="utf-8")
    assert main(["pumps", str(path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "It is enough, at 438 kWh a year. pump" in said
    assert "100% 438 kWh" in said


@pytest.mark.pinned
def test_a_file_that_is_none_ends_with_two(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text("lines: 3\n", encoding="utf-8")
    assert main(["pumps", str(path)]) == 2
    assert capsys.readouterr().out == ""


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("spare", "why"), [("weak", "stands by"), ("lean", "feeds no line"), ("nobody", "is not in the file")]
)
def test_why_there_is_no_airlift_for_a_pump_is_said_as_it_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], spare: str, why: str
) -> None:
    path, spares = tmp_path / "layout.yaml", f"weak: {WEAK.replace('}', ', runs: no}')}\n      lean: {LEAN}"
    path.write_text(system(spares=spares).replace("\n    ", "\n"), encoding="utf-8")
    assert main(["airlift", str(path), "--pump", spare]) == 2
    assert capsys.readouterr().err == f"Pump '{spare}' {why}. There are: lift.\n"
