"""The numbers of the small tables against what their sources print, typed in here a second time from the source and not from the table."""

from __future__ import annotations

import math
import re
from itertools import chain, pairwise

import pytest

from plumbline import catalogue
from plumbline.catalogue.reading import data

HUSBANDRY = catalogue.husbandry()
GRAM, DAY, YEAR = 1e-3, 86400.0, 365.25 * 86400.0
INCH, FOOT = 0.0254, 0.3048


def ends(name: str) -> tuple[float, float, float]:
    row = HUSBANDRY[name]
    return row.low, row.likely, row.high


# ---------------------------------------------------------------------- husbandry


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "printed"),
    [  # FAO Fisheries and Aquaculture Technical Paper 589 [L feed and plants; M the others]
        ("leafy feed", (40 * GRAM / DAY, 50 * GRAM / DAY)),
        ("fruiting feed", (50 * GRAM / DAY, 80 * GRAM / DAY)),
        ("leafy plants", (20, 25)),
        ("fruiting plants", (4, 8)),
        ("feeding rate", (0.01 / DAY, 0.02 / DAY)),
        ("growing time", (6 * 30 * DAY, 8 * 30 * DAY)),
        ("stocking", (10, 20)),
        ("water lost", (0.01 / DAY, 0.03 / DAY)),
        # Barbosa et al. 2015, 41 ± 6.1 kg/m²/y, 20 ± 3.8 L/kg/y without soil, 250 ± 25 L/kg/y in soil [L]
        ("leafy yield", ((41 - 6.1) / YEAR, (41 + 6.1) / YEAR)),
        ("leafy water", ((20 - 3.8) * 1e-3, (20 + 3.8) * 1e-3)),
        ("soil water", (225e-3, 275e-3)),
    ],
)
def test_two_printed_ends_and_the_middle_between_them(name: str, printed: tuple[float, float]) -> None:
    low, likely, high = ends(name)
    assert (low, high) == pytest.approx(printed, rel=1e-9)
    assert likely == pytest.approx((low + high) / 2.0, rel=1e-9)


@pytest.mark.published
def test_water_stays_in_a_raft_bed_for_one_to_four_hours() -> None:
    """FAO Technical Paper 589 [M]; two ends a factor apart, and their geometric mean."""
    low, likely, high = ends("raft stay")
    assert (low, likely, high) == pytest.approx((3600.0, 3600.0 * math.sqrt(1 * 4), 4 * 3600.0))


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "printed"),
    [  # FAO Technical Paper 589 [M]: 50 g to 500 g; 32 % protein [L]; 61 % wasted; gravel 300 m²/m³; 0.57 g/m²/d; 0.3 m; 1 and 5 mg/L
        ("start weight", 0.050),
        ("harvest weight", 0.500),
        ("protein", 0.32),
        ("nitrogen wasted", 0.61),
        ("media surface", 300.0),
        ("nitrification", 0.57 * GRAM / DAY),
        ("raft depth", 0.3),
        ("media depth", 0.3),
        ("ammonia in tank", 1.0 * GRAM),
        ("oxygen in tank", 5.0 * GRAM),
        ("turnover", 1.0 / 3600.0),
        # Timmons and Ebeling [L, at second hand: 0.092; M: 0.37, 1.4]
        ("ammonia of protein", 0.092),
        ("fish oxygen", 0.37),
        ("feeding peak", 1.4),
    ],
)
def test_one_printed_number_is_the_likely_one(name: str, printed: float) -> None:
    assert ends(name)[1] == pytest.approx(printed, rel=1e-9)


@pytest.mark.second_method
def test_nitrogen_and_oxygen_follow_from_the_atoms() -> None:
    """Protein is 6.25 times its nitrogen; NH3 is 17/14 of its nitrogen; NH4+ + 2 O2 -> NO3-: 64 g of oxygen on 14 of nitrogen."""
    assert ends("nitrogen in protein")[1] == pytest.approx(1 / 6.25, rel=1e-9)
    assert ends("ammonia of nitrogen")[1] == pytest.approx(17.031 / 14.007, abs=0.05)
    assert ends("bacteria oxygen")[1] == pytest.approx(4 * 15.999 / 14.007, abs=0.005)
    assert ends("bacteria oxygen")[0] == pytest.approx(4.18, abs=0.005)  # Ebeling, Timmons and Bisogni 2006 [M]


# ---------------------------------------------------------------------- limits, codes, dead legs


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("settling speed", 0.017),  # World Aquaculture Society abstract, 1.7 cm/s [L]
        ("scour shear", 0.0181 * 0.45359237 * 9.80665 / FOOT**2),  # ASCE Manual 60, 0.0181 lb/ft² [L]
        ("inlet margin", 3 * FOOT),  # ANSI/HI 9.6.1, 3 ft [L]
        ("tank current", 0.15),  # Timmons and Ebeling, 15 to 30 cm/s [M]
        ("swimming", 1.0),  # the whole of the safe speed, same source [M]
    ],
)
def test_limits_that_a_source_prints(name: str, printed: float) -> None:
    row = catalogue.limits()[name]
    # As many digits as the table shows of it: 0.9 m for 3 ft.
    digits = len(row.shown.split()[0].partition(".")[2])
    assert row.value == pytest.approx(printed, rel=0.02 if digits < 3 else 2e-3)


@pytest.mark.pinned
def test_round_figures_of_common_practice() -> None:
    """Common practice, no source: suction, sewage in pumped mains, feed of plants, and feed that tilapia turn into fish."""
    limits = catalogue.limits()
    assert (limits["suction lift"].value, limits["water age"].value) == (6.0, 2 * 3600.0)
    assert ends("round feed")[1] == pytest.approx(60 * GRAM / DAY, rel=1e-9)
    assert ends("feed conversion") == pytest.approx((1.2, 1.5, 1.8), rel=1e-9)
    assert ends("head weight") == pytest.approx((0.15, 0.2, 0.25), rel=1e-9)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("name", "unit", "low", "high"),
    [
        ("nitrification", GRAM / DAY, 0.3, 0.8),
        ("media surface", 1.0, 200, 400),
        ("fish oxygen", 1.0, 0.25, 0.5),
        ("feeding peak", 1.0, 1.2, 1.6),
        ("oxygen in tank", GRAM, 4, 6),
        ("oxygen of distress", GRAM, 1.5, 3),
        ("inlet saturation", 0.01, 85, 95),
        ("ammonia in tank", GRAM, 0.5, 2),
        ("removal a pass", 0.01, 30, 70),
        ("turnover", 1 / 3600, 0.5, 2),
    ],
)
def test_ends_of_common_practice(name: str, unit: float, low: float, high: float) -> None:
    """How far about its likely value a number of the trade may lie: common practice, no source."""
    assert ends(name)[::2] == pytest.approx((low * unit, high * unit), rel=1e-9)


@pytest.mark.published
def test_codes_as_printed() -> None:
    """International Plumbing Code 2018, 708.1; Uniform Plumbing Code 2024, 707.4 and 707.9; Approved Document H, Table 13 [L];
    AS/NZS 3500.2 [M, weak]. Each in its own feet and inches, to the millimetre that a tape shows."""
    codes = {name: {rule.what: rule for rule in code.rules} for name, code in catalogue.codes().items()}
    ipc, upc = codes["ipc"], codes["upc"]
    assert ipc["spacing"].metres == pytest.approx(100 * FOOT)
    assert (math.degrees(ipc["turn"].turn), ipc["turn"].metres) == pytest.approx((45, 40 * FOOT))
    assert ipc["size"].size == pytest.approx(4 * INCH, abs=0.5e-3)
    # 6 in pipe and smaller 18 in, 8 in and larger 36 in; the wider pipe has no end.
    assert list(chain(*ipc["clearance"].rows)) == pytest.approx([6 * INCH, 18 * INCH, 1.0, 36 * INCH], abs=0.7e-3)
    assert upc["spacing"].metres == pytest.approx(100 * FOOT)
    assert math.degrees(upc["turns"].turn) == pytest.approx(135)
    assert upc["upper end"].metres == pytest.approx(5 * FOOT)
    # 2 in pipe, which is 52.5 mm wide in schedule 40, or less 18 in; larger 24 in.
    assert list(chain(*upc["clearance"].rows)) == pytest.approx([0.0525, 18 * INCH, 1.0, 24 * INCH], abs=0.7e-3)
    document_h = codes["approved document h"]["spacing"]
    assert (document_h.metres, document_h.start) == (22, 12)
    assert codes["as/nzs 3500.2"]["spacing"].metres == 30


@pytest.mark.published
def test_pipe_is_horizontal_under_45_degrees_and_by_the_upc_to_72_from_upright() -> None:
    """International Plumbing Code, chapter 2, horizontal pipe: less than 45° with the horizontal; Uniform Plumbing Code, chapter 2: an
    angle of not less than 72° with the vertical (both from memory)."""
    level = {name: math.degrees(code.level) for name, code in catalogue.codes().items()}
    assert level["ipc"] == pytest.approx(45)
    assert level["upc"] == pytest.approx(90 - 72)


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "diameters", "start"),
    [("FDA 1993", 6, "axis"), ("WHO TRS 970", 3, "wall"), ("ASME BPE", 2, "wall"), ("WHO TRS 929", 1.5, "wall")],
)
def test_dead_legs_by_each_standard(name: str, diameters: float, start: str) -> None:
    """FDA guide of July 1993; WHO Technical Report Series 970 annex 2 and 929 annex 3; ASME BPE [L, but BPE M]."""
    row = catalogue.dead_legs()[name]
    assert (row.diameters, row.start) == (diameters, start)


@pytest.mark.published
@pytest.mark.parametrize("name", ["pvc", "cpvc", "pe", "abs", "pp", "copper"])
def test_plastic_and_drawn_copper_are_0_0015_mm(name: str) -> None:
    """Drawn tubing and thermoplastics in Moody-type tables (Hydraulic Institute, Engineering Data Book) [L, at second hand]."""
    assert catalogue.materials()[name].roughness * 1000.0 == pytest.approx(0.0015)


@pytest.mark.second_method
@pytest.mark.parametrize(("name", "degrees"), [("elbow", 90.0), ("bend 45", 45.0), ("bend 22.5", 22.5)])
@pytest.mark.parametrize("outside", [0.020, 0.050, 0.110])
def test_a_tight_bend_s_laying_length_is_geometry(name: str, degrees: float, outside: float) -> None:
    """The sockets of two pipes that meet at an angle just clear each other: (d/2) tan(angle/2) and about a millimetre."""
    lay = catalogue.fittings()[name].lay
    assert lay is not None
    clear = 0.5 * outside * math.tan(math.radians(degrees) / 2.0)
    assert clear < lay.length(outside) <= clear + 0.0015


@pytest.mark.published
def test_rubber_hose_is_smoothed_rubber() -> None:
    """F. M. White, Fluid Mechanics, 7th ed., Table 6.1: rubber, smoothed, 0.01 mm ± 60 %; commercial steel ± 60 %; galvanized iron
    ± 40 %; stainless ± 50 % [L, at second hand]."""
    printed = {
        "hose": (0.01, 0.6),
        "steel": (0.046, 0.6),
        "steel galvanized": (0.15, 0.4),
        "stainless steel": (0.002, 0.5),
    }
    for name, (roughness, spread) in printed.items():
        row = catalogue.materials()[name]
        assert (row.roughness * 1000.0, row.uncertainty) == pytest.approx((roughness, spread))


# ---------------------------------------------------------------------- fouling


@pytest.mark.published
def test_films_stand_in_the_wallingford_tables() -> None:
    """HR Wallingford, Tables for the hydraulic design of pipes [M]: rising mains at 1 m/s are 0.15 (good), 0.3 (normal) or 0.6 mm,
    and plastic sewers slimed to half their depth at 0.75 m/s 0.6 mm (normal) or 1.5 mm (poor). Lauchlan, Forty and May 2005:
    k = a·V^-2.34 [M]. Fish water is taken one step cleaner than sewage: good for likely, normal for fast."""
    rows = catalogue.fouling()
    at_one = [1000.0 * value for value in rows["film roughness"].values]
    assert at_one[1:] == pytest.approx([0.15, 0.3])
    at_most = [1000.0 * value for value in rows["film roughness at most"].values]
    assert at_most[1:] == pytest.approx([0.6, 1.5])
    assert rows["film falls with speed"].values == (2.34, 2.34, 2.34)
    # The slow rates are steps of the same tables too, which print 0.03, 0.06, 0.15, 0.3, 0.6, 1.5 and 3 mm.
    assert at_one[0] == pytest.approx(0.06)
    assert at_most[0] == pytest.approx(0.3)


@pytest.mark.second_method
def test_a_film_comes_to_rest_as_told_of_synthetic_wastewater() -> None:
    """480 to 500 h to settle, told as three times the time in which it comes 63 % of the way: 0.22 months, rounded up to a week."""
    month = 365.25 * 24 / 12
    assert 480 / 3 / month <= catalogue.fouling()["film time"].values[2] <= 408 / month


# ---------------------------------------------------------------------- the current and the airlift


@pytest.mark.published
def test_what_fish_can_swim_against_timmons_and_ebeling() -> None:
    """5.25/L^0.37 lengths a second, L in cm [M]; Fulton's factor of trout 1.1, of tilapia 1.6 to 2.1 [M]."""
    rows = catalogue.tank_current()
    for name, printed in (("swimming factor", 5.25), ("swimming power", 0.37)):
        assert (rows[name].low, rows[name].likely, rows[name].high) == (printed, printed, printed)
    assert (rows["condition"].low, rows["condition"].likely, rows["condition"].high) == (1.1, 1.6, 2.1)
    assert rows["recovery"].likely == 1.0


@pytest.mark.second_method
def test_the_least_drag_of_a_tank_is_a_smooth_wall_s() -> None:
    """Half of 0.074/Re^0.2 at a million (Schlichting, from memory), to the one digit that the row gives; and crowded fish, which take
    57 % of the speed, hold back by 1/0.43² times the likely drag."""
    row = catalogue.tank_current()["tank drag"]
    assert row.low == pytest.approx(0.5 * 0.074 / 1e6**0.2, abs=0.0005)
    assert row.likely == pytest.approx((0.0035 + 0.0067) / 2.0, abs=0.0005)
    assert row.high == pytest.approx(row.likely / 0.43**2, abs=0.0005)


@pytest.mark.second_method
def test_where_bubbles_and_slugs_end_by_surface_tension() -> None:
    """√(σ/(gρ)) of water at 20 °C is 2.7 mm: bubbles stay apart from 19 of it (Taitel, Barnea and Dukler 1980), slugs break up at 30
    to 40 (Kataoka and Ishii 1987), and σ/(ρgD²) is 0.2 in a bore of 6 mm (Reinemann et al. 1990)."""
    rows = catalogue.airlift()
    length = math.sqrt(0.0728 / (9.80665 * 998.2))
    assert rows["bubbly bore"].likely == pytest.approx(19 * length, abs=0.5e-3)
    assert 30 * length < rows["widest bore"].likely < 40 * length
    assert (length / rows["narrowest bore"].likely) ** 2 == pytest.approx(0.2, abs=0.02)
    # Taitel et al.: bubbly flow up to a quarter of air; slugs end between 70 and 80 %, and the likely is their middle.
    assert rows["bubbly void"].likely == 0.25
    assert (rows["churn void"].low, rows["churn void"].likely, rows["churn void"].high) == pytest.approx(
        (0.7, 0.75, 0.8)
    )


# ---------------------------------------------------------------------- every row of three, and every uncertainty


@pytest.mark.invariant
@pytest.mark.parametrize("table", ["husbandry", "tank_current", "airlift"])
def test_low_is_no_more_than_likely_and_likely_no_more_than_high(table: str) -> None:
    rows = getattr(catalogue, table)()
    assert len(rows) > 3
    for row in rows.values():
        assert 0.0 < row.low <= row.likely <= row.high, row.name


@pytest.mark.invariant
def test_fouling_goes_one_way_from_slow_to_fast() -> None:
    """More film, thicker, sooner: only the time falls."""
    for row in catalogue.fouling().values():
        slow, likely, fast = row.values if row.name != "film time" else row.values[::-1]
        assert 0.0 < slow <= likely <= fast, row.name


@pytest.mark.second_method
def test_uncertainties_worked_out_of_what_sources_print() -> None:
    """White on Moody's chart: 15 % over its whole range, here less; VDI/VDE 2173: Kv within 10 %, and K goes with its square; ISO 9906:
    10 % in flow; bores midway between the walls of ASTM D1785-88 are 0.7 to 3.6 %
    narrower than with the least wall;
    a parabola lies (0.75 - 0.625)/0.75 over half-way to a straight line."""
    value = {name: row.value for name, row in catalogue.uncertainty().items()}
    assert value["friction"] < 0.15
    assert value["K"] == pytest.approx(1.1**2 - 1.0, abs=0.015)
    assert value["pump curve"] == pytest.approx(0.10)
    assert 0.0 < value["roughness"] == catalogue.materials()["pvc"].uncertainty
    assert 0.036 <= value["bore"] < 0.05
    assert value["pump box"] >= (0.75 - 0.625) / 0.75
    # As likely anywhere within a limit: √3 times the root mean square (JCGM 100, 4.3.7), 25 % of tees, 39 % of wyes, 35 % of airlifts.
    assert value["tees"] == pytest.approx(math.sqrt(3.0) * 0.25, abs=0.02)
    assert value["wyes"] == pytest.approx(math.sqrt(3.0) * 0.39, abs=0.03)
    assert value["airlift"] == pytest.approx(math.sqrt(3.0) * 0.35, abs=0.01)
    # 3 % on a hole's bore goes with the fourth power of it: 11 % on what it costs, and a burr about as much again.
    assert value["holes"] == pytest.approx(2 * (1 - 0.97**4), abs=0.03)


# ---------------------------------------------------------------------- what points cost


ORDER = [
    # "What matters is their order: water that does not come, floods, or leaves the fish dry; then pipe that nothing cleans; then
    # standing water; then what makes fouling likelier": each row costs more than all rows after it.
    ("pump-shut-off", "pump-backwards", "cannot-fill"),
    ("too-little-water",),
    ("overtops", "no-way-out", "fish-left-shallow"),
    ("power-cut-overtops",),
    ("level-drops", "intake-uncovered", "current-too-fast"),
    (
        "dead-leg",
        "standing-water",
        "siphons-back",
        "suction-lift",
        "unbalanced",
        "not-returned",
        "runs-away",
        "held-back",
    ),
    ("low-point", "back-fall", "thin-drain", "cut-off", "pump-run-out", "filter-overloaded"),
    ("turning", "hump", "thin-margin", "unfiltered-path", "under-pressure"),
    ("small-standpipe", "old-water", "code-spacing", "no-solids-filter"),
    (
        "drain-gulps",
        "too-flat",
        "slow-sleeve",
        "blind-access",
        "code-turns",
        "code-upper-end",
        "code-clearance",
        "code-size",
    ),
    ("sharp-bend",),
    ("pump-idle", "assumed-curve", "outside-range", "pump-below-first-point", "airlift-curve"),
]


@pytest.mark.pinned
def test_worse_things_cost_more() -> None:
    """No published scale exists; the order is this project's judgement, said in docs/score.md."""
    weights = catalogue.weights()
    costs = [[weights[kind].value for kind in kinds] for kinds in ORDER]
    for worse, milder in pairwise(costs):
        assert min(worse) > max(milder)
        assert len(set(worse)) == 1
    # Nothing cleanable leaves a fifth; and a milder case costs less than the usual one, a worse one more.
    assert 1.0 - weights["unreachable"].value == pytest.approx(0.2)
    assert weights["slow-flow"].value > weights["dead-leg"].value
    milder_rows = [row for row in weights.values() if row.milder is not None]
    worse_rows = [row for row in weights.values() if row.worse is not None]
    assert milder_rows
    assert worse_rows
    assert all(row.milder is not None and row.milder[0] < row.value for row in milder_rows)
    assert all(row.worse is not None and row.worse[0] > row.value for row in worse_rows)


# ---------------------------------------------------------------------- placeholders


@pytest.mark.invariant
def test_a_placeholder_costs_something_and_a_larger_part_no_less() -> None:
    """The prices come from no shop; all that holds of them is that parts cost money, and a larger one no less."""
    from plumbline.layout.model import Pipe
    from plumbline.redesign.prices import read_prices

    def pipe(outside: float) -> Pipe:
        return Pipe("a pipe", 0.9 * outside, 0.0, outside)

    prices = read_prices()
    assert prices.hour > 0.0
    free = {"set valve", "shorter standpipe", "siphon break", "straight over the rim"}
    for kind in prices.rows:
        money, minutes = prices.of(kind, pipe(0.025))
        assert (money > 0.0) == (kind not in free), kind
        assert minutes > 0.0, kind
        assert prices.of(kind, pipe(0.050))[0] >= money
        assert prices.of(kind, pipe(0.050))[1] == minutes
    # By hand, 7 at 25 mm is 7.476 at 26.7 mm: money to the cent.
    assert prices.of("capped tee", pipe(0.0267))[0] == round(
        prices.of("capped tee", pipe(0.025))[0] * 0.0267 / 0.025, 2
    )
    one, two = (
        prices.of("pipe", pipe(0.025), metres=1.0, fittings=["elbow"]),
        prices.of("pipe", pipe(0.025), metres=2.0, fittings=["elbow", "elbow"]),
    )
    assert two[0] > one[0]
    assert two[1] > one[1]


@pytest.mark.invariant
def test_airlift_rows_of_which_one_number_is_used_hold_no_other() -> None:
    rows = catalogue.airlift()
    ranges = {"churn void", "air line", "air pump", "water pump"}
    assert ranges < set(rows)
    for name, row in rows.items():
        assert (row.low == row.likely == row.high) == (name not in ranges), name


@pytest.mark.invariant
def test_the_heat_that_pipe_stands_is_what_its_own_reason_prints() -> None:
    """EN ISO 1452-2, ASTM F441 and EN 12201-1 [M] for PVC, CPVC and PE; in °F where the standard counts so."""
    rows = {name: row for name, row in data("materials.yaml").items() if "hottest" in row}
    assert {"pvc", "cpvc", "pe"} <= rows.keys()
    for name, row in rows.items():
        ((printed, scale),) = re.findall(r"(\d+) °([CF])", row["because"])
        degrees = float(printed) if scale == "C" else (float(printed) - 32.0) / 1.8
        assert row["hottest"] == round(degrees), name
