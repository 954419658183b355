"""The catalogue against the sources its rows name."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import pairwise
from math import acos, degrees, inf, log10, pi, radians, sin, sqrt
from pathlib import Path
from typing import Any

import pytest
import yaml

from plumbline import catalogue
from plumbline.catalogue import Table, normal
from plumbline.catalogue.loss_laws import Constant, Crane, FromBores, NoLoss, RennelsBend, Stated, ThreeK
from plumbline.catalogue.reading import data, finding_kind, fitting
from plumbline.catalogue.rows import PipeRow
from plumbline.hydraulics import losses
from plumbline.hydraulics.find import find_flows
from plumbline.layout.faults import nearest_words
from plumbline.layout.model import Layout
from plumbline.layout.pipes import in_any_order

ROOT = Path(__file__).parent.parent
PIPES = catalogue.pipes()
FITTINGS = catalogue.fittings()
OPENINGS = catalogue.openings()

TABLES: Mapping[str, Table[Any]] = {
    "pipes": PIPES,
    "materials": catalogue.materials(),
    "fittings": FITTINGS,
    "openings": OPENINGS,
    "rods": catalogue.rods(),
    "brushes": catalogue.brushes(),
    "limits": catalogue.limits(),
    "husbandry": catalogue.husbandry(),
    "routine": catalogue.routine_times(),
    "dead legs": catalogue.dead_legs(),
    "airlift": catalogue.airlift(),
    "causes": catalogue.causes(),
    "readings": catalogue.readings(),
}

INCH_SERIES = {
    "pvc {} in sch 40": "40D1785",
    "pvc {} in sch 80": "80D1785",
    "pvc {} in sdr 13.5": "DR135D2241",
    "pvc {} in sdr 21": "DR21D2241",
    "pvc {} in sdr 26": "DR26D2241",
    "pvc {} in dwv": "PVCD2665",
    "cpvc {} in sch 80": "S80F441IPS",
    "abs {} in dwv": "40D1527",
}
"""Series of the catalogue and the tables of fluids.piping that they were taken from."""


def inches(name: str) -> Iterable[tuple[str, str, Fraction]]:
    for pattern, schedule in INCH_SERIES.items():
        head, tail = pattern.split("{}")
        if name.startswith(head) and name.endswith(tail):
            size = name[len(head) : len(name) - len(tail)]
            yield pattern, schedule, sum((Fraction(part) for part in size.split()), Fraction(0))


INCH_ROWS = [(name, *found) for name in PIPES for found in inches(name)]
METRIC_ROWS = [
    row
    for name, row in PIPES.items()
    if " in " not in name and row.outside is not None and not name.startswith("waste")
]


# Every table


@pytest.mark.invariant
@pytest.mark.parametrize("table", TABLES)
def test_every_row_has_a_source_and_a_mark(table: str) -> None:
    assert len(TABLES[table]) > 0
    for name, row in TABLES[table].items():
        assert row.mark in ("looked up", "from memory"), name
        assert len(row.source) >= 6, name
        assert row.mark == "from memory" or "common practice, no source" not in row.source, name


@pytest.mark.invariant
@pytest.mark.parametrize("table", TABLES)
def test_every_spelling_is_found_and_belongs_to_one_row(table: str) -> None:
    rows = TABLES[table]
    assert len(rows.words) == len(set(rows.words))
    for name, row in rows.items():
        # Standards keep their names; nobody types them into a file.
        assert name == normal(name) or table == "dead legs"
        for word in (name, *getattr(row, "also", ())):
            assert rows[word] is row


@pytest.mark.pinned
def test_two_rows_with_one_spelling_are_refused() -> None:
    with pytest.raises(ValueError, match=r"^the catalogue has two rows called 'b'$"):
        Table([("a", ("B",), 1), ("b", (), 2)])
    with pytest.raises(ValueError, match=r"^the catalogue has two rows called 'a'$"):
        Table([("a", (), 1), ("a", (), 2)])


@pytest.mark.invariant
def test_lookup_forgives_case_and_spaces_and_nothing_else() -> None:
    assert PIPES["  PVC   25 mm"] is PIPES["pvc 25"]
    for slip in ("pvc25", "pvc 26", "pvc-25", ""):
        assert slip not in PIPES
        with pytest.raises(KeyError):
            PIPES[slip]
    assert 25 not in PIPES


@pytest.mark.pinned
@pytest.mark.parametrize(
    "slip, word",
    [("elbwo", "elbow"), ("ball vavle", "ball valve"), ("unoin", "union"), ("bend 54", "bend 45")],
)
def test_a_typing_slip_finds_its_word(slip: str, word: str) -> None:
    assert nearest_words(slip, FITTINGS.words)[0] == word


@pytest.mark.pinned
def test_a_strange_word_finds_none() -> None:
    assert nearest_words("xylophone", FITTINGS.words) == ()


@pytest.mark.invariant
def test_the_tables_are_read_once() -> None:
    assert catalogue.pipes() is PIPES
    assert catalogue.limits() is catalogue.limits()


# Pipes


@pytest.mark.invariant
def test_every_inch_row_is_compared() -> None:
    assert {name for name in PIPES if " in " in name} == {name for name, *_ in INCH_ROWS}
    assert {pattern for _, pattern, _, _ in INCH_ROWS} == set(INCH_SERIES)


@pytest.mark.second_method
@pytest.mark.parametrize("name, pattern, schedule, size", INCH_ROWS, ids=[row[0] for row in INCH_ROWS])
def test_inch_pipe_astm_tables_in_fluids(name: str, pattern: str, schedule: str, size: Fraction) -> None:
    from fluids.piping import nearest_pipe

    _, bore, outside, wall = nearest_pipe(NPS=float(size), schedule=schedule)
    row = PIPES[name]
    assert row.outside == pytest.approx(outside, abs=1e-9)
    assert row.wall == pytest.approx(wall, abs=1e-9)
    assert row.bore == pytest.approx(bore, abs=1e-9)
    assert row.mark == "looked up"
    assert schedule in row.source
    assert row.material == pattern.split(maxsplit=1)[0]


@pytest.mark.published
@pytest.mark.parametrize(
    "name, bore_mm",
    [  # outside less two walls: DIN 8062 class 5 and 4 [L], ISO 4427-2 [L]; 110 mm and EN 1329-1 (dwv) [M]
        ("pvc 20", 17.0),
        ("pvc 25", 21.2),
        ("pvc 32", 27.2),
        ("pvc 50", 42.6),
        ("pvc 63", 53.6),
        ("pvc 110", 96.8),
        ("pvc 50 pn10", 45.2),
        ("pvc 110 pn10", 101.6),
        ("pe 25", 20.4),
        ("pe 32 sdr 17", 28.0),
        ("pe 63", 51.4),
        ("dwv 50", 44.0),
        ("dwv 110", 103.6),
    ],
)
def test_metric_bore_from_printed_walls(name: str, bore_mm: float) -> None:
    assert PIPES[name].bore * 1000 == pytest.approx(bore_mm, abs=0.05)


SPELT = {
    "pvc 50": ["DN 40", "dn40", "DN 40 pvc", "50mm PVC"],
    "pvc 1 1/2 in sch 40": ['1 1/2" pvc', '1.5" pvc', "1½ in pvc", "1-1/2 pvc", "pvc 1.50 inch", "1 1/2 inches pvc"],
    "pvc 3/4 in sch 40": ["3/4 pvc", '¾" pvc', ".75 in pvc", "pvc 0.75 in"],
    "hose 1 1/4 in": ["hose 1.25 in", '1 1/4" hose', "1-1/4 in hose", "hose 1¼ in"],
    "hose 3/4 in": ["hose 3/4 in", "3/4 hose", "0.75 in hose"],
    "hose 19 mm": ["hose 19", "19mm hose"],
    "microtube 4 mm": ["4 mm microtube", "spaghetti tube 4 mm"],
}


ANY_ORDER = {
    "pvc 3/4 in sch 40": ['3/4" sch 40 pvc', "pvc 3/4 schedule 40", "sch 40 pvc 3/4 in", "SCH40 3/4 in PVC"],
    "pvc 25": ["pvc25", "upvc 25", "25mm pvc-u"],
    "pe 32": ["hdpe 32", "32 mm mdpe pipe"],
    "hose 3/4 in": ["garden hose 3/4 in", "3/4in rubber hose"],
    "dwv 110": ["110 dwv"],
    None: ["1 in dwv", "clear hose 19 mm", "pvc 25!", "layflat 50 mm", "pvc 4 25", "40"],
}


@pytest.mark.invariant
@pytest.mark.parametrize(("name", "said"), [(name, said) for name, some in ANY_ORDER.items() for said in some])
def test_a_pipe_s_words_stand_in_any_order(name: str | None, said: str) -> None:
    row = in_any_order(said)
    assert (row and row.name) == name


@pytest.mark.invariant
@pytest.mark.parametrize(("name", "said"), [(name, said) for name, some in SPELT.items() for said in some])
def test_a_size_is_found_as_people_write_it(name: str, said: str) -> None:
    assert PIPES[said].name == name


@pytest.mark.second_method
@pytest.mark.parametrize("size", ["1/2", "3/4", "1", "1 1/4", "1 1/2", "2"])
def test_pe_by_its_bore_is_as_wide_as_schedule_40_steel(size: str) -> None:
    from fluids.piping import nearest_pipe

    _, bore, _, _ = nearest_pipe(NPS=float(sum(Fraction(part) for part in size.split())), schedule="40")
    assert PIPES[f"pe {size} in"].bore == pytest.approx(bore, abs=2e-4)


@pytest.mark.published
@pytest.mark.parametrize(
    ("dn", "outside"), [(15, 20), (20, 25), (25, 32), (32, 40), (40, 50), (50, 63), (65, 75), (80, 90), (100, 110)]
)
def test_nominal_bores_of_pressure_pipe(dn: int, outside: int) -> None:
    """DN and outside diameter of plastic pressure pipe, ISO 15493 and makers' tables (from memory)."""
    assert PIPES[f"DN {dn}"].name == f"pvc {outside}"


@pytest.mark.second_method
@pytest.mark.parametrize("row", METRIC_ROWS, ids=lambda row: row.name)
def test_metric_wall_follows_its_sdr(row: PipeRow) -> None:
    assert row.outside is not None
    assert row.wall is not None
    assert row.bore == pytest.approx(row.outside - 2 * row.wall, abs=1e-12)
    assert f"{row.outside * 1000:g}" == row.name.split()[1]
    if row.name.startswith("dwv"):
        assert 0.003 <= row.wall <= 0.0032  # EN 1329-1: least 3.0 mm up to 90 mm, 3.2 mm for 110 mm [M]
        return
    # ISO 4065 [M]: wall = outside / (2 S + 1), S the exact term of the R10 series, rounded up to 0.1 mm (a
    # hundredth over is let pass); S is named in the row's source
    nominal = float(row.source.split("series S ")[1].split(maxsplit=1)[0])
    exact = row.outside / (2 * 10 ** (round(10 * log10(nominal)) / 10) + 1)
    least = 0.0015 if row.material == "pvc" else 0.002  # the least walls that the standards make [M]
    assert max(exact - 0.01e-3, least - 1e-9) <= row.wall <= max(exact + 0.1e-3, least + 1e-9)


@pytest.mark.invariant
def test_pipe_names_a_material_that_has_a_roughness() -> None:
    assert {row.material for row in PIPES.values()} <= set(catalogue.materials())


@pytest.mark.pinned
def test_default_spellings_mean_what_the_header_says() -> None:
    assert PIPES["pvc 25 pn16"] is PIPES["pvc 25"]
    assert PIPES["1 in pvc"] is PIPES["pvc 1 in sch 40"]
    assert PIPES["pvc 1 1/2 in"] is PIPES["pvc 1 1/2 in sch 40"]
    assert PIPES["hose 25"] is PIPES["hose 25 mm"]
    assert PIPES["hose 25"].outside is None


@pytest.mark.published
def test_roughness_moody_type_tables() -> None:
    """White, Fluid Mechanics, Table 6.1, mm (from memory; the same in other tables after Moody 1944)."""
    roughness = {name: row.roughness * 1000 for name, row in catalogue.materials().items()}
    assert roughness["pvc"] == roughness["pe"] == roughness["copper"] == 0.0015  # drawn tubing, plastic
    assert roughness["steel galvanized"] == 0.15
    assert roughness["steel"] == 0.046
    assert roughness["stainless steel"] == 0.002


@pytest.mark.second_method
def test_roughness_tables_in_fluids() -> None:
    from fluids.friction import _roughness

    assert catalogue.materials()["glass"].roughness == pytest.approx(_roughness["Glass"], rel=0.02)
    assert catalogue.materials()["steel galvanized"].roughness == pytest.approx(_roughness["Galvanized iron"], rel=0.02)


# Fittings

DARBY = {
    ("three-way valve", False): "Valve, Plug valve, three-way (flow through)",
    ("three-way valve", True): "Valve, Plug valve, branch flow",
    ("globe valve", False): "Valve, Globe valve, standard, β = 1",
    ("indexing valve", False): "Valve, Globe valve, standard, β = 1",
    ("angle valve", False): "Valve, Angle valve, 90°, full line size, β = 1",
    ("purge valve", False): "Valve, Ball valve, standard, β = 1",
    ("return bend", False): "Elbow, 180°, threaded, close-return bend, (r/D = 1)",
    ("elbow", False): "Elbow, 90°, threaded, standard, (r/D = 1)",
    ("sweep", False): "Elbow, 90°, threaded, long radius, (r/D = 1.5)",
    ("bend 45", False): "Elbow, 45°, threaded standard, (r/D = 1)",
    ("cap", False): "Tee, Run-through, threaded, (r/D = 1)",
    ("cap", True): "Tee, Through-branch, (as elbow), threaded, (r/D = 1)",
    ("plug", False): "Tee, Run-through, threaded, (r/D = 1)",
    ("plug", True): "Tee, Through-branch, (as elbow), threaded, (r/D = 1)",
    ("ball valve", False): "Valve, Ball valve, standard, β = 1",
    ("gate valve", False): "Valve, Gate valve, standard, β = 1",
    ("diaphragm valve", False): "Valve, Diaphragm, dam type",
    ("check valve", False): "Valve, Swing check",
}


@pytest.mark.second_method
@pytest.mark.parametrize("name, corner", DARBY)
def test_three_k_constants_are_darbys(name: str, corner: bool) -> None:
    from fluids.fittings import Darby

    law = FITTINGS[name].loss_at_corner if corner else FITTINGS[name].loss
    assert isinstance(law, ThreeK)
    assert (law.k1, law.ki, law.kd) == Darby[DARBY[name, corner]]


@pytest.mark.invariant
def test_every_three_k_row_is_compared() -> None:
    rows = {(row.name, False) for row in FITTINGS.values() if isinstance(row.loss, ThreeK)}
    rows |= {(row.name, True) for row in FITTINGS.values() if row.loss_at_corner is not None}
    assert rows == set(DARBY)


@pytest.mark.second_method
def test_crane_multiples() -> None:
    from fluids.fittings import K_ball_valve_Crane, butterfly_valve_Crane_coeffs, foot_valve_Crane_coeffs

    law = FITTINGS["full-bore ball valve"].loss
    assert isinstance(law, Crane)
    assert losses.crane(0.05, law.n) == pytest.approx(K_ball_valve_Crane(D1=0.05, D2=0.05, angle=0.0))
    assert FITTINGS["foot valve"].loss == Crane(foot_valve_Crane_coeffs[0])
    assert FITTINGS["butterfly valve"].loss == Crane(butterfly_valve_Crane_coeffs[0][0])


@pytest.mark.published
def test_entrances_and_exit_crane_tp_410() -> None:
    """Crane TP-410, appendix A: flush and sharp-edged 0.5, inward projecting 0.78, exit 1.0 [L, in the documentation of `fluids`]."""
    from fluids.fittings import entrance_sharp

    assert FITTINGS["entrance flush"].loss == Constant(0.5)
    assert FITTINGS["entrance re-entrant"].loss == Constant(0.78)
    assert FITTINGS["exit"].loss == Constant(1.0)
    rennels = entrance_sharp(method="Rennels")
    assert abs(rennels - 0.5) <= 0.5 * FITTINGS["entrance flush"].uncertainty


@pytest.mark.pinned
def test_the_strainers_range_covers_what_it_was_set_by() -> None:
    """Common practice, no source: a 1 in basket strainer of Cv 22.5, and lined with mesh 1.2 to 2.5 times its loss."""
    from fluids.fittings import Cv_to_K

    row = FITTINGS["strainer"]
    assert isinstance(row.loss, Constant)
    plain = Cv_to_K(22.5, PIPES["pvc 1 in"].bore)
    assert plain == pytest.approx(2.1, abs=0.05)
    for k in (plain, 1.2 * plain, 2.5 * plain):
        assert abs(k - row.loss.k) <= row.loss.k * row.uncertainty


@pytest.mark.second_method
def test_screen_is_blevins_half_open() -> None:
    from fluids.filters import round_edge_screen

    row = FITTINGS["screen"]
    assert isinstance(row.loss, Constant)
    assert row.loss.k == pytest.approx(round_edge_screen(0.5, 1e4), abs=0.05)
    for share in (0.4, 0.5, 0.6):
        assert abs(round_edge_screen(share, 1e4) - row.loss.k) <= row.loss.k * row.uncertainty


@pytest.mark.published
def test_perry_table_of_additional_loss() -> None:
    """Perry's Chemical Engineers' Handbook, additional loss of fittings after Lapple (1949): union and coupling 0.04; water meter,
    disk, 7 (from memory)."""
    assert FITTINGS["union"].loss == FITTINGS["bulkhead"].loss == Constant(0.04)
    assert FITTINGS["flow meter"].loss == Constant(7.0)
    assert FITTINGS["coupling"].loss == Constant(0.04)
    assert FITTINGS["spring check valve"].loss == Constant(10.0)  # disk
    assert FITTINGS["ball check valve"].loss == Constant(70.0)
    assert FITTINGS["needle valve"].loss == Constant(9.0)  # a globe valve with a plug disk


@pytest.mark.published
@pytest.mark.parametrize("name, k", [("globe valve", 6.0), ("angle valve", 2.0)])
def test_screw_down_valves_are_near_perry_s_table(name: str, k: float) -> None:
    """Perry's, after Lapple (1949) [L]: globe valve with a bevel or composition seat 6.0, angle valve 2.0; at 1 in, within both limits."""
    row = FITTINGS[name]
    assert isinstance(row.loss, ThreeK)
    ours, _ = losses.three_k(PIPES["pvc 1 in"].bore, row.loss.k1, row.loss.ki, row.loss.kd)
    assert ours * (1.0 - row.uncertainty) <= k <= ours * (1.0 + row.uncertainty)


NEEDED = """elbow, sweep, bend 45, bend 22.5, bend, tee, wye, cap, plug, ball valve, gate valve,
diaphragm valve, butterfly valve, check valve, foot valve, reducer, expander, union, bulkhead, strainer,
screen, flow meter, fitting, cross, three-way valve, hose clip, coupling, rubber seal, hose adapter, globe valve, angle valve, needle valve, full-bore ball valve,
purge valve, solenoid valve, spring check valve, ball check valve, return bend, bead filter, canister filter, screen filter,
sponge filter, drum filter, media tower, uv lamp, heater, dripper, venturi, nozzle, eductor"""


@pytest.mark.pinned
def test_the_language_finds_its_fittings() -> None:
    route = [row.name for row in FITTINGS.values() if row.place == "route"]
    assert sorted(route) == sorted(normal(word) for word in NEEDED.split(","))
    assert [row.name for row in FITTINGS.values() if row.place == "end"] == [
        "dry socket",
        "indexing valve",
        "entrance flush",
        "entrance re-entrant",
        "exit",
    ]


@pytest.mark.pinned
def test_what_a_rod_and_the_water_may_do() -> None:
    rows = [row for row in FITTINGS.values() if row.place == "route" or row.symbol != "other"]
    stops = {row.name for row in rows if row.rod == "stops"}
    valves = {name for name in FITTINGS if name.endswith("valve")}
    assert {row.name for row in rows if row.rod == "passes open"} == {
        "ball valve",
        "full-bore ball valve",
        "purge valve",
    }
    inline = {
        "bead filter",
        "canister filter",
        "screen filter",
        "sponge filter",
        "drum filter",
        "media tower",
        "uv lamp",
        "heater",
        "dripper",
        "venturi",
        "nozzle",
        "eductor",
    }
    balls = {"ball valve", "full-bore ball valve", "purge valve"}
    assert stops == valves - balls | {"strainer", "screen", "flow meter", "fitting", "hose adapter"} | inline
    assert {row.name for row in rows if row.one_way} == {
        "check valve",
        "foot valve",
        "spring check valve",
        "ball check valve",
    }
    assert {row.name for row in rows if row.solids} == {name for name in inline if name.endswith("filter")}
    assert {row.name for row in rows if row.through_wall} == {"bulkhead", "rubber seal"}
    assert {row.name for row in rows if row.access} == {"cap", "union", "hose adapter", "hose clip", "dry socket"}
    assert {row.name for row in rows if row.sharp} == {"elbow", "angle valve", "return bend"}


@pytest.mark.pinned
def test_turns() -> None:
    turns = {
        row.name: None if row.turn is None else degrees(row.turn) for row in FITTINGS.values() if row.place == "route"
    }
    assert turns["elbow"] == turns["sweep"] == pytest.approx(90)
    assert turns["bend 45"] == pytest.approx(45)
    assert turns["bend 22.5"] == pytest.approx(22.5)
    assert {name for name, turn in turns.items() if turn is None} == {
        "bend",
        "tee",
        "wye",
        "cap",
        "plug",
        "fitting",
    }
    for name in turns:
        assert FITTINGS[name].tolerance == pytest.approx(catalogue.limits()["turn tolerance"].value)
    assert FITTINGS["tee"].branch == pytest.approx(pi / 2)
    assert FITTINGS["wye"].branch == pytest.approx(pi / 4)


@pytest.mark.pinned
def test_laws_without_numbers() -> None:
    assert FITTINGS["tee"].loss == FITTINGS["wye"].loss == NoLoss()
    assert FITTINGS["reducer"].loss == FITTINGS["expander"].loss == FromBores()
    assert FITTINGS["fitting"].loss == Stated()
    assert FITTINGS["bend"].loss == FITTINGS["bend 22.5"].loss == RennelsBend(1.0)


@pytest.mark.invariant
def test_uncertainties_say_why_and_leave_the_loss_positive() -> None:
    for row in FITTINGS.values():
        if isinstance(row.loss, (NoLoss, Stated)):
            assert row.uncertainty == 0
        else:
            assert 0 < row.uncertainty < 1, row.name
            assert row.because, row.name


@pytest.mark.invariant
def test_ranges_are_ordered() -> None:
    for row in FITTINGS.values():
        for bounds in (row.bores, row.reynolds):
            assert bounds is None or 0 < bounds[0] < bounds[1]
        if isinstance(row.loss, (Crane, Constant, RennelsBend, FromBores)):
            assert row.reynolds == (4000, inf), row.name


@pytest.mark.published
@pytest.mark.parametrize(
    "name, outside_mm, z_mm, tolerance_mm",
    [  # ISO 264, laying lengths z of plain-socket fittings, metric series [M]
        ("elbow", 20, 11, 0.05),
        ("elbow", 25, 13.5, 0.05),
        ("elbow", 50, 26, 0.05),
        ("tee", 63, 32.5, 0.05),
        ("cap", 32, 17, 0.05),
        ("sweep", 32, 64, 0.05),
        ("bend 45", 20, 5, 0.25),  # printed in steps of half a millimetre
        ("bend 45", 25, 6, 0.25),
        ("bend 45", 32, 7.5, 0.25),
        ("bend 45", 40, 9.5, 0.25),
        ("bend 45", 50, 11.5, 0.25),
        ("bend 45", 63, 14, 0.25),
    ],
)
def test_laying_length_iso_264(name: str, outside_mm: float, z_mm: float, tolerance_mm: float) -> None:
    lay = FITTINGS[name].lay
    assert lay is not None
    assert lay.length(outside_mm / 1000) * 1000 == pytest.approx(z_mm, abs=tolerance_mm)


@pytest.mark.pinned
def test_an_unreadable_loss_is_refused() -> None:
    row = {"loss": {"method": "three-K", "K1": 1, "Ki": 2}, "source": "none", "mark": "from memory"}
    with pytest.raises(ValueError, match=r"^the catalogue cannot read the loss .*'Ki': 2\}$"):
        fitting("odd", row)


# Partly open valves


PRINTED = {  # every row: (height of the opening or lift, as a share; or angle from full open in degrees, K)
    # Weisbach, as printed in Unwin, "Hydraulics", Encyclopædia Britannica, 11th ed. [M]; at 3/4, 1/2, 1/4 [L]
    "weisbach gate": {1: 0, 7 / 8: 0.07, 6 / 8: 0.26, 5 / 8: 0.81, 4 / 8: 2.06, 3 / 8: 5.52, 2 / 8: 17.0, 1 / 8: 97.8},
    # the same [M]; 5, 10, 20, 40 and 60° also in Perry's table, plug cock and butterfly [L]
    "weisbach cock": {
        0: 0,
        5: 0.05,
        10: 0.29,
        15: 0.75,
        20: 1.56,
        25: 3.10,
        30: 5.47,
        35: 9.68,
        40: 17.3,
        45: 31.2,
        50: 52.6,
        55: 106,
        60: 206,
        65: 486,
    },
    "weisbach butterfly": {
        0: 0,
        5: 0.24,
        10: 0.52,
        15: 0.90,
        20: 1.54,
        25: 2.51,
        30: 3.91,
        35: 6.22,
        40: 10.8,
        45: 18.7,
        50: 32.6,
        55: 58.8,
        60: 118,
        65: 256,
        70: 751,
    },
    # Perry's Chemical Engineers' Handbook, after Lapple (1949) [L]
    "perry diaphragm": {1: 2.3, 0.75: 2.6, 0.5: 4.3, 0.25: 21.0},
    "perry gate": {1: 0.17, 0.75: 0.9, 0.5: 4.5, 0.25: 24.0},
    "perry globe": {1: 9.0, 0.75: 13.0, 0.5: 36.0, 0.25: 112.0},  # plug disk
}


@pytest.mark.published
@pytest.mark.parametrize("name", OPENINGS)
def test_partly_open_valves_weisbach_and_perry(name: str) -> None:
    """Weisbach, from memory but for what is marked at `PRINTED`, and Perry's, at second hand."""
    quarter_turn = "angle/90" in OPENINGS[name].opening
    printed = [(1.0 - at / 90 if quarter_turn else at, k) for at, k in PRINTED[name].items()]
    assert [k for _, k in OPENINGS[name].points] == [k for _, k in printed]
    assert [at for at, _ in OPENINGS[name].points] == pytest.approx([at for at, _ in printed], abs=1e-6)


@pytest.mark.second_method
@pytest.mark.parametrize(
    "kind",
    [
        "ball valve",
        "gate valve",
        "diaphragm valve",
        "butterfly valve",
        "globe valve",
        "needle valve",
        "full-bore ball valve",
        "purge valve",
    ],
)
def test_a_valve_in_a_layout_costs_its_table_more_than_when_open(kind: str, read_text: Callable[[str], Layout]) -> None:
    name = FITTINGS[kind].opening
    assert name is not None
    points = dict(OPENINGS[name].points)
    for opening, k in points.items():
        flows = find_flows(
            read_text(f"""
            name: one valve
            water: 20 degC
            vessels: {{high: {{base: 2 m, water: 0.5 m}}, low: {{base: 0 m, water: 0.5 m}}}}
            lines:
              a:
                pipe: pvc 25
                from: {{vessel: high, height: 0 m}}
                route: [{{down: 0.1 m}}, {kind}: {{K: 0.5, opening: {100 * opening:.10f} %}}, {{down: 1.8 m}}]
                to: low
        """)
        )
        (part,) = [one for one in flows.routes[0].losses if one.label.startswith(kind)]
        head = next(iter(flows.stretches.values())).velocity ** 2 / (2.0 * 9.80665)
        assert part.loss / head == pytest.approx(0.5 + k - points[1], rel=1e-6)


@pytest.mark.invariant
@pytest.mark.parametrize("name", OPENINGS)
def test_loss_rises_as_a_valve_shuts(name: str) -> None:
    row = OPENINGS[name]
    at, k = zip(*row.points, strict=True)
    assert at[0] == 1
    assert all(nearer > further for nearer, further in pairwise(at))
    assert all(less < more for less, more in pairwise(k))
    assert 0 <= row.shut_at < at[-1]
    assert 0 < row.uncertainty < 1
    assert len(row.marks) in (0, len(row.points))
    assert len(row.areas) in (0, len(row.points))


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["weisbach cock", "weisbach butterfly"])
def test_quarter_turn_points_stand_every_five_degrees(name: str) -> None:
    angles = [90 * (1 - at) for at, _ in OPENINGS[name].points]
    assert angles == pytest.approx([5 * i for i in range(len(angles))], abs=1e-3)


@pytest.mark.second_method
def test_areas_follow_from_the_shapes() -> None:
    """The open shares printed beside Weisbach's points, from geometry: are they recalled right? [V]

    Gate: the pipe's circle less its overlap with the gate's, drawn up by the opening. Butterfly: 1 − sin θ.
    """
    for (at, _), area in zip(OPENINGS["weisbach gate"].points, OPENINGS["weisbach gate"].areas, strict=True):
        overlap = 2 / pi * (acos(at) - at * sqrt(1 - at * at))
        assert area == pytest.approx(1 - overlap, abs=0.001)
    butterfly = OPENINGS["weisbach butterfly"]
    for i, area in enumerate(butterfly.areas):
        assert area == pytest.approx(1 - sin(radians(5 * i)), abs=0.001)


@pytest.mark.second_method
@pytest.mark.parametrize("name", ["weisbach gate", "weisbach cock", "weisbach butterfly"])
def test_weisbach_points_imply_a_smooth_contraction(name: str) -> None:
    """K = (1/(c·a) − 1)², with the open share a, gives a contraction c between 0.45 and 0.9, without jumps.

    A digit recalled wrong would stand out: at half open, 10 % in K moves c by 3 %.
    """
    row = OPENINGS[name]
    c = [1 / (area * (1 + sqrt(k))) for (_, k), area in zip(row.points[1:], row.areas[1:], strict=True)]
    assert all(0.45 < value < 0.9 for value in c)
    bends = [abs(a - 2 * b + d) for a, b, d in zip(c, c[1:], c[2:], strict=False)]
    assert max(bends[1:]) < 0.04


@pytest.mark.pinned
def test_valves_name_tables_that_exist() -> None:
    named = {row.opening for row in FITTINGS.values() if row.opening is not None}
    assert named == {"weisbach cock", "weisbach gate", "weisbach butterfly", "perry diaphragm", "perry globe"}
    assert named <= set(OPENINGS)


# Rods and limits


@pytest.mark.pinned
def test_rods() -> None:
    rods = catalogue.rods()
    default = [row.name for row in rods.values() if row.default]
    assert default == ["brush on a stiff pole", "flexible brush rod"]
    for row in rods.values():
        assert 0 < row.length < 30
        assert 0 < row.bend <= row.turns
        assert 0 < row.bores[0] < row.bores[1]
    brush = rods["brush on a stiff pole"]
    assert (brush.length, degrees(brush.bend), degrees(brush.turns)) == pytest.approx((4, 22.5, 45))
    # Three quarters of the smallest head, 25 mm, up to the largest.
    assert brush.bores == pytest.approx((0.01875, 0.060))
    assert brush.brushes == pytest.approx((0.025, 0.030, 0.040, 0.050, 0.060))
    assert (rods["pull-through cord"].cord, brush.cord) == (True, False)
    assert rods["sprung cable"].passes < rods["sprung cable"].bores[0]


@pytest.mark.pinned
def test_a_brush_does_not_clean_pipe_much_wider_than_itself() -> None:
    """Common practice, no source: 20 mm of brush for 15 to 20 mm of bore, and so on without a gap between the sizes."""
    rows = list(catalogue.brushes().values())
    assert catalogue.brushes()["20 mm"].bores == pytest.approx((0.015, 0.020))
    assert all(a.diameter >= b.bores[0] for a, b in pairwise(rows))
    for rod in catalogue.rods().values():
        assert set(rod.brushes) <= {row.diameter for row in rows}


@pytest.mark.published
@pytest.mark.parametrize(
    "name, value",
    [
        ("dead leg", 6),  # FDA, 6 diameters [L]
        ("self-cleansing speed", 0.3),  # Timmons and Ebeling [M]
        ("self-cleansing shear", 0.32),  # Carvajalino-Fernández et al. 2020, roughest bed [L]
        ("scour speed", 0.7),  # BS EN 752 [M]
        ("hand room", 18 * 0.0254),  # IPC, 18 in [L]
        ("sharp bend", pi / 4),  # IPC 708.1.4 [L]
        ("turning between accesses", 3 * pi / 4),  # UPC 707.4 [L]
        ("least fall", 0.25 / 12),  # IPC Table 704.1 [L]
        ("least fall of large drains", 0.125 / 12),  # IPC Table 704.1 [L]
        ("clear speed for air", 1),  # V/√(gD) [L]
        ("escape speed for air", 0.3),  # V/√(gD) [L]
    ],
)
def test_thresholds_as_published(name: str, value: float) -> None:
    assert catalogue.limits()[name].value == pytest.approx(value, rel=1e-3)


@pytest.mark.pinned
def test_thresholds_of_common_practice_in_si() -> None:
    limits = {name: row.value for name, row in catalogue.limits().items()}
    assert limits["dead leg flow"] < 0.017  # under the settling speed of trout-farm solids [L]
    assert limits["closure"] == pytest.approx(0.020)
    assert limits["low point depth"] == limits["hump height"] == pytest.approx(0.010)
    assert limits["turn tolerance"] == pytest.approx(radians(5))
    assert limits["margin"] == pytest.approx(0.10)
    assert limits["arm reach"] == pytest.approx(0.6)


@pytest.mark.pinned
def test_shown_value_is_the_data_files() -> None:
    assert catalogue.limits()["sharp bend"].shown == "45 deg"


# Findings


@pytest.mark.pinned
def test_findings_take_extra_fields_and_a_missing_file() -> None:
    assert data("no such file.yaml") == {}
    row = {"title": "A title", "level": "warn", "rule": "r", "source": "s", "mark": "looked up"}
    found = finding_kind("some-kind", {**row, "limits": ["dead leg"], "cost": 3})
    assert (found.kind, found.level, found.limits) == ("some-kind", "warn", ("dead leg",))
    assert found.extra == {"cost": 3}


@pytest.mark.invariant
def test_findings_name_limits_that_exist() -> None:
    for row in catalogue.findings().values():
        for name in row.limits:
            assert name in catalogue.limits(), row.kind


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("25mm PVC", "pvc 25"),
        ("1 in pvc sch 40", "pvc 1 in sch 40"),
        ('pvc 3/4"', "pvc 3/4 in sch 40"),
        ("pvc 1-1/2 inch", "pvc 1 1/2 in sch 40"),
        ("pvc 1in", "pvc 1 in sch 40"),
    ],
)
def test_a_size_may_be_written_as_it_is_said(said: str, meant: str) -> None:
    assert PIPES[said].name == meant


@pytest.mark.invariant
@pytest.mark.parametrize("said", ["pvc25", "pvc 1 inn", "pvc 1 - 1/2 in", "25 mmpvc"])
def test_no_other_spelling_is_taken(said: str) -> None:
    assert said not in PIPES


@pytest.mark.invariant
@pytest.mark.parametrize("path", sorted((ROOT / "plumbline").rglob("*.yaml")), ids=lambda path: path.name)
def test_no_file_says_a_thing_twice(path: Path) -> None:
    """YAML lets the last of two equal keys win in silence."""

    def keys(node: yaml.Node) -> Iterator[tuple[str, int]]:
        if isinstance(node, yaml.MappingNode):
            seen: set[str] = set()
            for key, value in node.value:
                if key.value in seen:
                    yield key.value, key.start_mark.line + 1
                seen.add(key.value)
                yield from keys(value)
        elif isinstance(node, yaml.SequenceNode):
            for one in node.value:
                yield from keys(one)

    assert list(keys(yaml.compose(path.read_text(encoding="utf-8")))) == []


@pytest.mark.invariant
@pytest.mark.parametrize(
    "path", [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))], ids=lambda path: path.name
)
def test_no_table_has_two_rows_of_one_name(path: Path) -> None:
    for table in re.findall(r"(?:^\|.*\n)+", path.read_text(encoding="utf-8"), flags=re.MULTILINE):
        first = [row.split(" | ")[0] for row in table.splitlines() if row.startswith("| `")]
        assert len(first) == len(set(first))


@pytest.mark.second_method
def test_a_series_is_what_is_called_alike_but_for_its_size() -> None:
    """The same by taking the digits, fractions and spaces out of every name."""

    def bare(name: str) -> str:
        return "".join(letter for letter in re.split(" sdr | pn", name, maxsplit=1)[0] if letter not in "0123456789/ ")

    for name in catalogue.pipes():
        tail = [name.partition(mark)[2] for mark in (" sdr ", " pn", " sch ")]
        alike = [
            other
            for other in catalogue.pipes()
            if bare(other) == bare(name) and [other.partition(mark)[2] for mark in (" sdr ", " pn", " sch ")] == tail
        ]
        assert sorted(row.name for row in catalogue.series(name)) == sorted(alike)
