"""From fish and plants to feed, stock, oxygen and flow, against print and against plain second ways."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbline import PlumblineError, check, read_layout
from plumbline.catalogue import husbandry, sizing
from plumbline.cli import main
from plumbline.errors import LayoutError
from plumbline.husbandry import Between, Sizing, Wish, size
from plumbline.husbandry.oxygen import oxygen_saturation
from plumbline.husbandry.read import OWN, read_wish
from plumbline.layout import words

DAY = 86_400.0
MONTH = 365.25 * DAY / 12
LAYOUTS = Path(__file__).parent.parent / "layouts"


def grams(value: Between) -> tuple[float, float, float]:
    """In grams a day."""
    return tuple(end * DAY * 1000.0 for end in (value.low, value.likely, value.high))  # type: ignore[return-value]


# ---------------------------------------------------------------------- against print


@pytest.mark.published
@pytest.mark.parametrize(
    ("celsius", "milligrams"),
    [
        (0.0, 14.621),
        (5.0, 12.770),
        (10.0, 11.288),
        (15.0, 10.084),
        (20.0, 9.092),
        (25.0, 8.263),
        (30.0, 7.559),
        (35.0, 6.949),
        (40.0, 6.412),
    ],
)
def test_oxygen_standard_methods_table_4500_o_i(celsius: float, milligrams: float) -> None:
    """Table of oxygen in pure water under moist air at 101.325 kPa (from memory), to a unit of its last digit: at 5 and 40 °C the
    table's own formula is off it by as much."""
    assert oxygen_saturation(celsius) * 1000.0 == pytest.approx(milligrams, abs=0.00101)


@pytest.mark.second_method
def test_oxygen_falls_with_height_as_the_dry_air_does() -> None:
    # A kilometre up there are 89.9 kPa; at 20 °C 2.34 of them are vapour.
    assert oxygen_saturation(20.0, 89_874.0) / oxygen_saturation(20.0) == pytest.approx(
        (89_874 - 2339) / (101_325 - 2339), rel=1e-4
    )


@pytest.mark.pinned
@pytest.mark.parametrize("celsius", [-0.1, 40.1])
def test_oxygen_is_not_guessed(celsius: float) -> None:
    with pytest.raises(ValueError, match=r"known from 0 to 40 °C"):
        oxygen_saturation(celsius)


@pytest.mark.published
def test_feed_fao_589_leafy_and_fruiting() -> None:
    """40 to 50 g a square metre and day for leafy plants, 50 to 80 for fruiting ones (FAO Technical Paper 589 [L])."""
    low, _, high = grams(size(Wish(leafy=1.0)).value("feed for the plants"))
    assert (low, high) == (pytest.approx(40.0), pytest.approx(50.0))
    low, _, high = grams(size(Wish(fruiting=1.0)).value("feed for the plants"))
    assert (low, high) == (pytest.approx(50.0), pytest.approx(80.0))


@pytest.mark.published
def test_lettuce_fao_589_worked_example() -> None:
    """25 heads of lettuce a week: 100 plants on 4 m², 200 g of feed, 10 to 20 kg of fish, 7.5 g of ammonia a day and 13.2 m² of
    surface (FAO Technical Paper 589, chapter 8; from memory). Its 50 g and 25 plants are the upper ends of its ranges."""
    found = size(Wish(leafy=4.0))
    assert grams(found.value("feed for the plants"))[2] == pytest.approx(200.0)
    assert found.value("plants").high == pytest.approx(100.0)
    feed = 0.2 / DAY
    of_that = size(Wish(leafy=1.0, own={"leafy feed": feed}))
    stock = of_that.value("stock by feeding")
    assert (stock.low, stock.high) == (pytest.approx(10.0), pytest.approx(20.0))
    assert grams(of_that.value("ammonia by the other rule"))[1] == pytest.approx(7.5, abs=0.05)
    assert of_that.value("surface for bacteria").likely == pytest.approx(13.2, abs=0.1)
    assert of_that.value("media for that surface").likely * 1000.0 == pytest.approx(43.8, abs=0.3)


@pytest.mark.published
def test_ammonia_timmons_and_ebeling() -> None:
    """TAN = feed x protein x 0.092: 1 kg of feed with 35 % protein gives 32.2 g (Timmons and Ebeling,
    Recirculating Aquaculture; from memory)."""
    found = size(Wish(leafy=1.0, own={"leafy feed": 1.0 / DAY, "protein": 0.35}))
    assert grams(found.value("ammonia nitrogen"))[1] == pytest.approx(32.2)


@pytest.mark.published
def test_water_barbosa_2015() -> None:
    """20 L a kilogram of lettuce without soil and 250 in soil, and 41 kg a square metre and year (Barbosa et al. 2015 [L])."""
    found = size(Wish(leafy=1.0, own={"head weight": 1.0}))
    assert found.value("for a head of lettuce").likely == pytest.approx(0.020)
    assert found.value("for one grown in soil").likely == pytest.approx(0.250)
    assert found.value("by leafy plants").likely * 365.25 * DAY == pytest.approx(0.82)


# ---------------------------------------------------------------------- second ways


@pytest.mark.second_method
def test_stock_by_growth_is_that_of_fish_put_in_day_by_day() -> None:
    """A batch goes in every day and grows by one share a day; the fish of all batches are weighed."""
    first, last, days, harvest = 0.03, 0.6, 200, 0.2  # kg, kg, days, kg a day
    growth = (last / first) ** (1.0 / days)
    weighed = sum(harvest / last * first * growth**age * (growth - 1.0) / math.log(growth) for age in range(days))
    wish = Wish(fish=harvest / DAY, own={"start weight": first, "harvest weight": last, "growing time": days * DAY})
    assert size(wish).value("stock by growth").likely == pytest.approx(weighed, rel=1e-9)


@pytest.mark.second_method
def test_stock_by_feeding_and_by_growth_agree() -> None:
    """The two rules come from different counts, and their ranges overlap."""
    found = size(Wish(fish=5.0 / MONTH))
    by_feed, by_growth = found.value("stock by feeding"), found.value("stock by growth")
    assert max(by_feed.low, by_growth.low) < min(by_feed.high, by_growth.high)


@pytest.mark.second_method
def test_the_fish_and_the_tank_balance_in_steady_state() -> None:
    """Feed, and let the tank come to rest by small steps with the flow found: ammonia and oxygen stand at what was asked for."""
    wish = Wish(
        fish=5.0 / MONTH,
        air=False,
        own={"ammonia in tank": 1e-3, "removal a pass": 0.5, "oxygen in tank": 5e-3, "inlet saturation": 0.9},
    )
    found = size(wish)
    volume, step = 1.0, 5.0
    for name, stands in (("ammonia", 1e-3), ("oxygen", 5e-3)):
        flow = found.value(name).likely
        level = 0.0
        for _ in range(40_000):
            if name == "ammonia":
                change = found.value("ammonia nitrogen").likely - flow * 0.5 * level
            else:
                inlet = 0.9 * oxygen_saturation(24.0)
                change = flow * (inlet - level) - 1.4 * found.value("oxygen for the fish").likely
            level += change / volume * step
        assert level == pytest.approx(stands, rel=1e-6)


# ---------------------------------------------------------------------- ranges


@pytest.mark.invariant
def test_the_largest_limit_governs() -> None:
    with_air, without = size(Wish(fish=5.0 / MONTH)), size(Wish(fish=5.0 / MONTH, air=False))
    assert with_air.governing == "turnover"
    assert without.governing == "oxygen"
    assert without.flow.likely == without.value("oxygen").likely > with_air.flow.likely
    small = size(Wish(fish=5.0 / MONTH, tank=0.05))
    assert small.governing == "ammonia"
    assert any("tank is small" in note for note in small.notes)


@pytest.mark.invariant
@given(
    a=st.lists(st.floats(0.0, 10.0), min_size=3, max_size=3).map(sorted),
    b=st.lists(st.floats(0.1, 10.0), min_size=3, max_size=3).map(sorted),
    at=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
)
def test_a_range_holds_what_its_parts_can_give(a: list[float], b: list[float], at: tuple[float, float]) -> None:
    first, second = Between(*a), Between(*b)
    x, y = a[0] + at[0] * (a[2] - a[0]), b[0] + at[1] * (b[2] - b[0])
    for found, value in (
        (first + second, x + y),
        (first * second, x * y),
        (first / second, x / y),
        (first.less(second), max(x - y, 0.0)),
    ):
        assert found.low - 1e-9 <= value <= found.high + 1e-9
        assert found.low <= found.likely <= found.high


@pytest.mark.pinned
@pytest.mark.parametrize("ends", [(-1.0, 0.0, 1.0), (2.0, 1.0, 3.0), (1.0, 4.0, 3.0), (float("nan"), 1.0, 1.0)])
def test_what_is_no_range_is_refused(ends: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="not a range"):
        Between(*ends)


@pytest.mark.invariant
@pytest.mark.parametrize("more", [2.0, 5.0])
def test_all_grows_with_what_is_wished_for(more: float) -> None:
    small, large = size(Wish(fish=1.0 / MONTH, fruiting=1.0)), size(Wish(fish=more / MONTH, fruiting=more))
    for one, other in zip(small.rows, large.rows, strict=True):
        factor = 1.0 if one.kind in ("ratio", "concentration") or one.name.startswith("for ") else more
        assert other.value.likely == pytest.approx(factor * one.value.likely), one.name


@pytest.mark.invariant
def test_warm_thin_air_asks_for_more_flow_and_hot_water_for_no_end_of_it() -> None:
    flows = [size(Wish(fish=1e-6, celsius=celsius, air=False)).value("oxygen").likely for celsius in (15.0, 24.0, 30.0)]
    assert flows == sorted(flows)
    high = size(Wish(fish=1e-6, celsius=24.0, pressure=90_000.0, air=False)).value("oxygen").likely
    assert high > flows[1]
    assert size(Wish(fish=1e-6, celsius=36.0)).value("oxygen").high == float("inf")
    with pytest.raises(PlumblineError, match="holds too little oxygen"):
        size(Wish(fish=1e-6, celsius=38.0, pressure=70_000.0))


@pytest.mark.pinned
def test_fish_and_plants_that_do_not_match_are_told() -> None:
    assert "too few for the plants" in " ".join(size(Wish(fish=1.0 / MONTH, leafy=20.0)).notes)
    assert "too few for the fish" in " ".join(size(Wish(fish=20.0 / MONTH, leafy=2.0)).notes)
    assert "fit, as far as" in " ".join(size(Wish(fish=5.0 / MONTH, leafy=5.0)).notes)


@pytest.mark.second_method
@pytest.mark.parametrize(("area", "sort"), [(6.0, "leafy"), (3.0, "fruiting")])
def test_fish_and_plants_fit_from_where_their_ranges_touch(area: float, sort: str) -> None:
    """Fish gain nine tenths of their harvest (50 g to 500 g) on 1.2 to 1.8 times that in feed; plants use 40 to 50 or 50 to 80 g/m²
    a day. The fish are too few where the most they eat is under the least that the plants use, and too many the other way."""
    low, high = {"leafy": (0.040, 0.050), "fruiting": (0.050, 0.080)}[sort]
    few, many = low * area / (0.9 * 1.8) / DAY, high * area / (0.9 * 1.2) / DAY
    assert few < many
    for fish, said in (
        (0.999 * few, "too few for the plants"),
        (1.001 * few, "fit, as far as"),
        (0.999 * many, "fit, as far as"),
        (1.001 * many, "too few for the fish"),
    ):
        notes = " ".join(size(Wish(fish=fish, **{sort: area})).notes)
        assert [
            words for words in ("too few for the plants", "fit, as far as", "too few for the fish") if words in notes
        ] == [said]


@pytest.mark.invariant
def test_without_beds_nothing_is_said_of_them() -> None:
    """For fish alone no bed's rows stand there with noughts, nor for beds alone rows of the fish's growth."""
    assert not {"Beds"} & {row.subject for row in size(Wish(fish=5.0 / MONTH)).rows}
    assert "stock by growth" not in {row.name for row in size(Wish(leafy=6.0)).rows}
    assert {row.name for row in size(Wish(fish=5.0 / MONTH)).rows} < {
        row.name for row in size(Wish(fish=5.0 / MONTH, leafy=6.0)).rows
    }


@pytest.mark.second_method
def test_beds_of_each_sort() -> None:
    raft = size(Wish(leafy=6.0))
    assert raft.value("water under the rafts").likely == pytest.approx(1.8)
    assert raft.value("flow through the rafts").likely == pytest.approx(1.8 / 7200)
    media = size(Wish(leafy=6.0, beds="media"))
    assert media.value("surface of that media").likely == pytest.approx(6.0 * 0.3 * 300.0)
    assert any("surface enough" in note for note in media.notes)
    towers = size(Wish(fish=5 / MONTH, fruiting=0.1, beds="towers", drippers=40, dripper=2e-3 / 3600))
    assert towers.value("flow through the drippers").likely == pytest.approx(80e-3 / 3600)
    few = size(Wish(fish=50.0 / MONTH, leafy=0.05, beds="media"))
    assert any("a biofilter besides" in note for note in few.notes)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (Wish(), "Nothing is wished for"),
        (Wish(fish=1e-6, own={"start weight": 0.6}), "put in at 600 g cannot be harvested at 500 g"),
    ],
)
def test_a_wish_that_makes_no_sense_is_refused(wish: Wish, said: str) -> None:
    with pytest.raises(PlumblineError, match=said):
        size(wish)


@pytest.mark.invariant
def test_every_row_of_the_catalogue_is_used_and_every_row_used_is_there() -> None:
    found: list[Sizing] = [size(Wish(fish=1e-6, leafy=1.0, fruiting=1.0)), size(Wish(leafy=1.0, beds="media"))]
    used = {name for one in found for row in one.rows for name in row.rows}
    # How long fish have oxygen when something goes wrong is no matter of size.
    assert used | {"oxygen of distress"} == set(husbandry())
    assert "oxygen of distress" not in used


@pytest.mark.invariant
def test_a_wish_s_own_words_are_those_of_the_catalogue() -> None:
    assert {row: word for word, row in OWN.items()} == {name: row.own for name, row in husbandry().items() if row.own}
    assert set(OWN) <= set(words.WISH)


# ---------------------------------------------------------------------- files and commands


@pytest.mark.pinned
def test_options_go_before_the_file(tmp_path: Path) -> None:
    path = tmp_path / "w.yaml"
    path.write_text("wish: {fish: 5 kg/month, leafy: 6 m^2, harvest at: 400 g}\nwater: 20 degC\naltitude: 1000 m\n")
    asked = read_wish(path, {"fish": "1 kg/week", "protein": "40 %"})
    assert asked.layout is None
    wish = asked.wish
    assert wish.fish == pytest.approx(1.0 / (7 * DAY))
    assert (wish.leafy, wish.celsius, wish.air, wish.beds) == (6.0, 20.0, True, "raft")
    assert wish.own == {"harvest weight": pytest.approx(0.4), "protein": pytest.approx(0.4)}
    assert wish.pressure == pytest.approx(89_875, abs=5)


@pytest.mark.second_method
def test_a_layout_lends_its_tank_and_beds() -> None:
    asked = read_wish(LAYOUTS / "courtyard.yaml", {"fish": "5 kg/month"})
    assert asked.wish.tank == pytest.approx(1.1 * 0.85)
    assert asked.wish.leafy == pytest.approx(4.0)
    assert asked.wish.celsius == 22.0
    assert len(asked.taken) == 2


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("water: 20 degC\n", "the file has no 'wish'"),
        ("wish: {fish: 5 kg}\n", "'5 kg' is a mass, not a mass rate"),
        ("wish: {fsh: 5 kg/month}\n", "fish"),
        ("wish: {fish: 5 kg/month, beds: rafting}\n", "raft"),
    ],
)
def test_what_is_wrong_in_a_wish_is_told(text: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "w.yaml"
    path.write_text(text)
    with pytest.raises(LayoutError, match=said):
        read_wish(path, {})


@pytest.mark.pinned
def test_a_layout_with_a_wrong_wish_is_told_by_the_check_too(tmp_path: Path) -> None:
    path = tmp_path / "w.yaml"
    path.write_text(
        "wish: {fsh: 5 kg/month}\n" + (LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    with pytest.raises(LayoutError, match="fsh"):
        read_layout(path)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "answer"),
    [
        (["--fish=5 kg"], "--fish: '5 kg' is a mass, not a mass rate; expected a mass by time with its units"),
        (
            ["--leafy=6 m^2", "--beds=rafts"],
            "--beds: unknown word 'rafts' for 'beds'; expected one of: raft, media, towers.",
        ),
        (["--leafy=6 m^2", "--drippers=4.5"], "--drippers: 'drippers' is '4.5'; expected a whole number, 1 or more."),
        (
            ["--leafy=6 m^2", f"--drippers={'9' * 400}"],
            f"--drippers: 'drippers' is '{'9' * 37}...'; expected a whole number",
        ),
        (["--leafy=-6 m^2"], "--leafy: 'leafy' is -6 m^2; expected a value not below 0."),
        (["--fish=1e308 kg/month"], "--fish: 'fish' is 1e308 kg/month; expected a value of at most 1 t/s"),
        (["--fish=1e-308 kg/month"], "--fish: 'fish' is 1e-308 kg/month; expected a value not below 0.1 mg/day"),
        (["--fish=5 kg/month", "--water=41 degC"], "Water of 41 °C is none that fish live in"),
        (["--fish=5 kg/month", "--water=99 degC"], "Water of 99 °C is none that fish live in"),
        (["--leafy=6 m^2", "--water=22 degC turn"], "--water: '22 degC turn' has an unknown unit, 'degC turn'"),
        ([], "Nothing is wished for"),
        (
            ["--leafy=200 m^2", "-o", "new.yaml"],
            "A flow of 666.7 L/min is outside what this start is for: 6 to 60 L/min.",
        ),
        (
            ["--leafy=6 m^2", "--beds=towers", "-o", "new.yaml"],
            "There is no first layout for towers: only for raft and media beds.",
        ),
    ],
)
def test_a_wrong_option_gets_one_sentence(said: list[str], answer: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", *said]) == 2
    told = capsys.readouterr()
    assert told.err.startswith(answer)
    assert told.out == ""


@pytest.mark.invariant
def test_a_file_with_hot_water_is_told_so_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "hot.yaml"
    path.write_text("water: 60 degC\nwish: {fish: 5 kg/month}\n", encoding="utf-8")
    assert main(["size", str(path)]) == 2
    assert capsys.readouterr().err.startswith("Water of 60 °C is none that fish live in")
    assert main(["size", str(path), "--water", "40 degC"]) == 0


@pytest.mark.pinned
def test_the_answer_comes_first_and_sources_on_request(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "--fish", "5 kg/month", "--leafy", "6 m^2"]) == 0
    said = capsys.readouterr().out
    assert said.splitlines()[1].startswith(
        "15.0 L/min through the fish tank (4.8 to 51.4): that is what its turnover asks for"
    )
    assert "FAO" not in said
    assert main(["size", "--fish", "5 kg/month", "--leafy", "6 m^2", "--protein", "40 %", "--all"]) == 0
    said = capsys.readouterr().out
    assert said.count("FAO Fisheries") > 5
    assert "as you say" in said
    assert max(map(len, said.splitlines())) <= 100


@pytest.mark.pinned
def test_json_is_plain_and_complete(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "--fish", "5 kg/month", "--leafy", "6 m^2", "--water", "36 degC", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert set(said) == {"plumbline", "flow_l_min", "governing", "notes", "taken", "rows", "first_layout"}
    rows = {row["name"]: row for row in said["rows"]}
    assert rows["oxygen"]["high"] is None
    assert rows["oxygen"]["counts"] is False
    assert rows["feed for the fish"]["unit"] == "g_day"
    assert rows["feed for the fish"]["likely"] == pytest.approx(5000.0 / 30.4375 * 0.9 * 1.5)
    assert rows["feed for the fish"]["sources"]["feed conversion"].endswith("(from memory)")


@pytest.mark.pinned
def test_wants_are_written_into_a_new_file_and_nothing_else_changes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = tmp_path / "old.yaml", tmp_path / "new.yaml"
    text = (LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8")
    text = text.replace("area: 1.1 m^2}", "area: 1.1 m^2}   # half sunk")
    old.write_text(text, encoding="utf-8")
    assert main(["size", str(old), "--fish", "5 kg/month", "-o", str(new)]) == 0
    changed = [
        (a, b) for a, b in zip(text.splitlines(), new.read_text(encoding="utf-8").splitlines(), strict=True) if a != b
    ]
    assert changed[0][1].endswith("area: 1.1 m^2, wants: 15.6 L/min}   # half sunk")
    assert [after.split("wants: ")[1] for _, after in changed[1:]] == ["7.8 L/min}"] * 2
    layout = read_layout(new)
    assert layout.vessels["tank"].wants == pytest.approx(15.6e-3 / 60)
    assert check(layout).verdict == "ok"
    assert main(["size", str(old), "--fish", "5 kg/month", "-o", str(new)]) == 2
    assert "is there already" in capsys.readouterr().err


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("swap", "said"),
    [
        (("area: 1.1 m^2", "rim: 1 m"), "'tank' has no area"),
        (("holds: fish, ", ""), None),
        (("holds: ", "wants: 1 L/min, holds: "), None),
    ],
)
def test_wants_need_areas(
    swap: tuple[str, str], said: str | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = tmp_path / "old.yaml", tmp_path / "new.yaml"
    text = (
        (LAYOUTS / "courtyard.yaml")
        .read_text(encoding="utf-8")
        .replace("rim: 1.0 m, ", "")
        .replace(", wants: 16 L/min", "")
    )
    old.write_text(text.replace(*swap), encoding="utf-8")
    status = main(["size", str(old), "--fish", "5 kg/month", "--tank", "1000 L", "-o", str(new)])
    assert status == (2 if said else 0)
    assert new.exists() is (said is None)
    if said is None:
        assert read_layout(new).vessels["north bed"].wants == pytest.approx(16.7e-3 / 120, rel=0.02)
    else:
        assert said in capsys.readouterr().err


@pytest.mark.second_method
def test_the_screen_tells_what_the_json_tells(capsys: pytest.CaptureFixture[str]) -> None:
    """Every row, to the three figures or the whole number that the screen shows."""
    wish = ["size", "--fish", "5 kg/month", "--leafy", "6 m^2", "--tank", "900 L"]
    assert main(wish) == 0
    screen = [re.split(r"\s{2,}", line.strip()) for line in capsys.readouterr().out.splitlines()]
    shown = {cells[0]: cells[1].split()[0] for cells in screen if len(cells) > 2}
    assert main([*wish, "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    assert {"kg", "kg_m3", "g_day"} <= {row["unit"] for row in rows}
    for row in rows:
        told = next(value for name, value in shown.items() if name.partition(" (")[0] == row["name"])
        if not told.endswith("%"):
            assert float(told) == pytest.approx(row["likely"], rel=0.006, abs=0.0501), row["name"]


@pytest.mark.invariant
def test_every_number_of_the_catalogue_is_told_of_some_wish() -> None:
    fish = Wish(fish=5.0 / 2.6e6, leafy=6.0, fruiting=2.0, tank=1.0)
    wishes = (fish, replace(fish, beds="media"), replace(fish, beds="towers", drippers=4, dripper=1e-6))
    assert {row.name for wish in wishes for row in size(wish).rows} == set(sizing())
    assert {name for row in sizing().values() for name in row.rows} <= set(husbandry())
