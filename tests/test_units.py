"""Units at the edge: the table of everyday units against pint, what is read, what is refused, what is shown."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from typing import Any
from unittest.mock import patch

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbline import units
from plumbline.units import COMMON, DIMENSIONS, Dimension, NotAQuantity, Units, quantity, show, unit_of

approx = pytest.approx
OURS = {
    "cfm": "foot**3/minute",
    "gpm": "gallon/minute",
    "gph": "gallon/hour",
    "lpm": "liter/minute",
    "lph": "liter/hour",
    "'": "foot",
    '"': "inch",
    "C": "degC",
    "F": "degF",
    "psf": "lbf/ft**2",
}
REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(cache_folder=None)
DIMENSION_OF: dict[str, Dimension] = {si: dimension for dimension, (si, _) in DIMENSIONS.items()}


@pytest.mark.second_method
@pytest.mark.parametrize(("si", "unit"), [(si, unit) for si, units in COMMON.items() for unit in units])
@pytest.mark.parametrize("number", [1.0, -40.0, 72.5])
def test_the_everyday_units_agree_with_pint(si: str, unit: str, number: float) -> None:
    """Pint's own definitions, [L]: inch 25.4 mm, US gallon 231 in³, horsepower 550 ft·lbf/s, degF 5/9 K."""
    if si not in DIMENSION_OF:
        assert show(number, "volume", Units(volume=unit), decimals=9, unit=False) == f"{number / COMMON[si][unit]:.9f}"
        assert COMMON[si][unit] == approx(REGISTRY.Quantity(1.0, unit).to(si).magnitude, rel=1e-14)
        return
    theirs = REGISTRY.Quantity(number, OURS.get(unit, unit)).to(si).magnitude
    assert quantity(f"{number} {unit}", DIMENSION_OF[si]) == approx(theirs, rel=1e-13, abs=1e-12)


@pytest.mark.published
@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("1 gal", "volume", 3.785412e-3),
        ("1 imperial_gallon", "volume", 4.54609e-3),
        ("1 gal/min", "flow", 6.309020e-5),
        ("1 ft^3/s", "flow", 2.831685e-2),
        ("1 hp", "power", 7.456999e2),
        ("1 psi", "pressure", 6.894757e3),
        ("1 mile", "length", 1.609344e3),
    ],
)
def test_printed_conversion_factors(text: str, dimension: Dimension, value: float) -> None:
    """NIST Special Publication 811, appendix B.8, to its seven digits (from memory)."""
    assert quantity(text, dimension) == approx(value, rel=1.5e-7)


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("1.5 m", "length", 1.5),
        ("1.5m", "length", 1.5),
        (" 250  mm ", "length", 0.25),
        ("+2e-1 m", "length", 0.2),
        (".5 m", "length", 0.5),
        ("-0.3 m", "length", -0.3),
        ("−0.3 m", "length", -0.3),
        ("3/4 in", "length", 0.01905),
        ("1 1/2 in", "length", 0.0381),
        ("1-1/2 in", "length", 0.0381),
        ("1½ in", "length", 0.0381),
        ("½ in", "length", 0.0127),
        ("-1 1/2 in", "length", -0.0381),
        ("-0 1/2 in", "length", -0.0127),
        ("5 ft 6 in", "length", 1.6764),
        ("5ft 6in", "length", 1.6764),
        ("5'6\"", "length", 1.6764),
        ("5 ft 6 1/2 in", "length", 1.6891),
        ("-5 ft 6 in", "length", -1.6764),
        ("6 feet", "length", 1.8288),
        ("2 m2", "area", 2.0),
        ("2 m²", "area", 2.0),
        ("2 m^2", "area", 2.0),
        ("20 ft2", "area", 1.8580608),
        ("3 m3/h", "flow", 3 / 3600),
        ("14 L / min", "flow", 14 / 60000),
        ("14 l/min", "flow", 14 / 60000),
        ("4 gpm", "flow", 4 * 6.30901964e-5),
        ("22 degC", "temperature", 22.0),
        ("22 °C", "temperature", 22.0),
        ("22 C", "temperature", 22.0),
        ("295.15 K", "temperature", 22.0),
        ("72 F", "temperature", 200 / 9),
        ("45 deg", "angle", math.pi / 4),
        ("45°", "angle", math.pi / 4),
        ("0.25 turn", "angle", math.pi / 2),
        ("1.002e-3 Pa s", "viscosity", 1.002e-3),
        ("1 cP", "viscosity", 1e-3),
        ("998 kg/m3", "density", 998.0),
        ("40 %", "ratio", 0.4),
        ("40%", "ratio", 0.4),
        ("0.4", "ratio", 0.4),
        ("1/4", "ratio", 0.25),
        ("2 decimeter", "length", 0.2),
        ("2 m**2", "area", 2.0),
        ("2 m^3 s^-1", "flow", 2.0),
        ("2 kilogram / meter ** 3", "density", 2.0),
        ("1 Pa·s", "viscosity", 1.0),
        ("3 cubic meter", "volume", 3.0),
        ("10 sq ft", "area", 0.9290304),
        ("40 per cent", "ratio", 0.4),
        ("5’6”", "length", 1.6764),
        ("5 ft 6", "length", 1.6764),
        ("5' 6 1/2", "length", 1.6891),
        ("0", "length", 0.0),
        ("0.0", "flow", 0.0),
        ("1 h 30 min", "time", 5400.0),
        ("5 lb 4 oz", "mass", 5.25 * 0.45359237),
        ("1 m 20 cm", "length", 1.2),
        ("1 200 mm", "length", 1.2),
        ("21,5 °C", "temperature", 21.5),
        ("0,125 m", "length", 0.125),
        ("1,234.5 L", "volume", 1.2345),
        ("1,2 m x 0,8 m", "area", 0.96),
        ("500 sft", "area", 500 * 0.3048**2),
        ("10 cft", "volume", 10 * 0.3048**3),
        ("300 ltr/hr", "flow", 0.3 / 3600),
        ("0.84 CMH", "flow", 0.84 / 3600),
        ("68 degrees Fahrenheit", "temperature", 20.0),
    ],
)
def test_what_is_read(text: str, dimension: Dimension, value: float) -> None:
    assert quantity(text, dimension) == approx(value, rel=1e-8)


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("2 kg", "length", "'2 kg' is a mass, not a length"),
        ("2 m", "area", "'2 m' is a length, not an area"),
        ("3 L", "flow", "'3 L' is a volume, not a flow"),
        ("1 kg/s", "flow", "'1 kg/s' is a mass flow, not a flow"),
        ("1 mm^2/s", "viscosity", "'1 mm^2/s' is a kinematic viscosity, not a viscosity"),
        ("22 degC", "length", "'22 degC' is a temperature, not a length"),
        ("45 deg", "length", "'45 deg' is an angle, not a length"),
        ("12 V", "power", "'12 V' is a voltage, not a power"),
        ("2 candela", "length", "'2 candela' is of another kind, not a length"),
        ("1.4", "length", "'1.4' has no unit"),
        ("2 kg 5 m", "length", "'2 kg' is a mass, not a length"),
        ("0", "temperature", "'0' has no unit"),
        ("0.5 m", "ratio", "'0.5 m' has a unit, 'm', where a plain number goes"),
        ("1,4,5 m", "length", "'1,4,5 m' has a comma in the number; write a point"),
        ("2,400 L/h", "flow", "'2,400 L/h' has a comma in the number; write 2400 L/h or 2.400 L/h"),
        ("", "length", "'nothing' is not a number with a unit"),
        ("deep", "length", "'deep' is not a number with a unit"),
        ("deep", "ratio", "'deep' is not a number"),
        ("2 metres high", "length", "'2 metres high' has an unknown unit, 'metres high'"),
        ("2 FT", "length", "'2 FT' has an unknown unit, 'FT'; write ft"),
        ("2 L/Min", "flow", "'2 L/Min' has an unknown unit, 'L/Min'; write L/min"),
        ("22 degC turn", "temperature", "'22 degC turn' has an unknown unit, 'degC turn'"),
        ("22 degC*rad", "temperature", "'22 degC*rad' has an unknown unit, 'degC*rad'"),
        ("22 dozen degF", "temperature", "'22 dozen degF' has an unknown unit, 'dozen degF'"),
        ("2 m^99", "length", "'2 m^99' has an unknown unit, 'm^99'"),
        ("2 m^9^9", "length", "'2 m^9^9' has an unknown unit, 'm^9^9'"),
        ("1 m**9**9**9", "length", "'1 m**9**9**9' has an unknown unit, 'm**9**9**9'"),
        ("1 m**9", "length", "'1 m**9' has an unknown unit, 'm**9'"),
        ("1 m^1.5", "length", "'1 m^1.5' has an unknown unit, 'm^1.5'"),
        ("1 (m)", "length", "'1 (m)' has an unknown unit, '(m)'"),
        ("1 m*m*m*m*m*m*m", "length", "'1 m*m*m*m*m*m*m' has an unknown unit, 'm*m*m*m*m*m*m'"),
        ("22 delta_degC", "temperature", "'22 delta_degC' has an unknown unit, 'delta_degC'"),
        ("300 K turn", "temperature", "'300 K turn' is of another kind, not a temperature"),
        ("2 m turn", "length", "'2 m turn' is of another kind, not a length"),
        ("10 dBm", "power", "'10 dBm' has an unknown unit, 'dBm'"),
        ("2 m;", "length", "'2 m;' has an unknown unit, 'm;'"),
        ("2 (m", "length", "'2 (m' has an unknown unit, '(m'"),
        ("1/0 in", "length", "'1/0 in' divides by zero"),
        ("1 1/0 in", "length", "'1 1/0 in' divides by zero"),
        ("nan m", "length", "'nan m' is not a finite number"),
        ("-inf", "length", "'-inf' is not a finite number"),
        ("1e999 m", "length", "'1e999 m' is not a finite number"),
        ("9" * 61, "length", f"'{'9' * 37}...' is not a number with a unit"),
    ],
)
def test_what_is_refused(text: str, dimension: Dimension, message: str) -> None:
    with pytest.raises(NotAQuantity) as caught:
        quantity(text, dimension)
    assert str(caught.value) == message


AMOUNTS = st.from_regex(r"[-+]?[0-9]{1,3}([ /.][0-9]{1,2})? ?[a-zA-Z/^0-9*() ]{0,9}")


@pytest.mark.invariant
@given(text=st.one_of(st.text(max_size=30), AMOUNTS), dimension=st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_is_a_finite_number_or_refused(text: str, dimension: Dimension) -> None:
    try:
        assert math.isfinite(quantity(text, dimension))
    except NotAQuantity as refused:
        assert str(refused)  # noqa: PT017 - either way out is right


NAMES = st.sampled_from(
    ["m", "mm", "L", "min", "degC", "K", "turn", "deg", "Pa", "s", "kg", "dB", "inch", "per", "x", "9"]
)
SIGNS = st.sampled_from([" ", "*", "**", "^", "/", "//", "**9", "^-2", "(", ")", "9" * 9, "e9", "·"])


@pytest.mark.invariant
@given(pieces=st.lists(st.one_of(NAMES, SIGNS), max_size=12), dimension=st.sampled_from(sorted(DIMENSIONS)))
def test_no_unit_is_an_expression_to_work_out(pieces: list[str], dimension: Dimension) -> None:
    """Anything but names with small whole powers is refused before pint sees it: pint only ever gets a single name."""
    units._measure.cache_clear()  # what is remembered is of the program's own registry
    units._single.cache_clear()
    with patch.object(units, "_registry", lambda: SingleNames):
        try:
            assert math.isfinite(quantity("2 " + "".join(pieces), dimension))
        except NotAQuantity as refused:
            assert str(refused)  # noqa: PT017 - either way out is right
    units._measure.cache_clear()
    units._single.cache_clear()


class SingleNames:
    """A registry that takes no expression."""

    @staticmethod
    def Quantity(value: float, name: str) -> Any:  # noqa: N802 - pint's own word
        assert re.fullmatch(r"[^\W\d_](\w*[^\W\d_])?", name), name
        return REGISTRY.Quantity(value, name)


@pytest.mark.invariant
@given(number=st.floats(-1e4, 1e4), unit=st.sampled_from(["m", "mm", "in", "ft", "yd"]))
def test_the_number_and_its_negative(number: float, unit: str) -> None:
    assert quantity(f"{-number!r} {unit}", "length") == -quantity(f"{number!r} {unit}", "length")


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("value", "what", "units", "text"),
    [
        (0.6, "length", Units(), "0.60 m"),
        (-0.001, "length", Units(), "0.00 m"),
        (0.0212, "size", Units(), "21 mm"),
        (14 / 60000, "flow", Units(), "14.0 L/min"),
        (0.3048, "length", Units(length="ft"), "1 ft"),
        (0.3048, "head", Units(length="ft"), "1.00 ft"),
        (5.5 * 0.3048 + 0.0127, "length", Units(length="ft"), "5' 6 1/2\""),
        (0.03175, "length", Units(length="ft"), "1 1/4 in"),
        (-0.381, "length", Units(length="ft"), "-1' 3\""),
        (0.001, "length", Units(length="ft"), "0 in"),
        (0.0254, "size", Units(size="in"), "1 in"),
        (0.050, "size", Units(size="in"), "2 in"),
        (0.021, "size", Units(size="in"), "13/16 in"),
        (0.004, "size", Units(size="in"), "5/32 in"),
        (0.0, "size", Units(size="in"), "0 in"),
        (4 * 6.30901964e-5, "flow", Units(flow="gal/min"), "4.00 gal/min"),
        (1e-3, "volume", Units(volume="gal"), "0.26 gal"),
        (1.0, "area", Units(area="ft^2"), "10.8 ft^2"),
        (1.0, "speed", Units(speed="ft/s"), "3.28 ft/s"),
        (0.001, "flow", Units(flow="m^3/h"), "3.60 m^3/h"),
    ],
)
def test_what_is_shown(value: float, what: str, units: Units, text: str) -> None:
    assert show(value, what, units) == text  # type: ignore[arg-type]
    if (what != "length" or units.length != "ft") and units.size != "in":
        assert show(value, what, units, unit=False) == text.split()[0]  # type: ignore[arg-type]  # noqa: PLC0207


@pytest.mark.pinned
def test_decimals_may_be_asked_for() -> None:
    assert show(0.0212, "size", Units(), decimals=1) == "21.2 mm"


@pytest.mark.second_method
@pytest.mark.parametrize(
    ("text", "unit"), [("1 1/2 in", "in"), ("5", ""), ("x", ""), ("14 L/min", "L/min"), ("1" * 99, "")]
)
def test_the_unit_as_it_stands(text: str, unit: str) -> None:
    assert unit_of(text) == unit


@pytest.mark.invariant
def test_everyday_units_do_not_wait_for_pint() -> None:
    """Loading pint and its registry takes longer than all the rest of reading a layout."""
    code = (
        "import sys; from plumbline.units import Units, quantity, show; "
        "quantity('14 gal/min', 'flow'); show(1.0, 'length', Units()); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


GALLON = 231 * 0.0254**3
TRADE: dict[str, tuple[float, Any]] = {
    "200 GPH": (200 * GALLON / 3600, "flow"),
    "4 GPM": (4 * GALLON / 60, "flow"),
    "200 gallons per hour": (200 * GALLON / 3600, "flow"),
    "4 US gal/min": (4 * GALLON / 60, "flow"),
    "200 USGPH": (200 * GALLON / 3600, "flow"),
    "5 US gallons": (5 * GALLON, "volume"),
    "5 imp gal": (5 * 4.54609e-3, "volume"),
    "5 UK gal/min": (5 * 4.54609e-3 / 60, "flow"),
    "5 Lpm": (5e-3 / 60, "flow"),
    "5 LPM": (5e-3 / 60, "flow"),
    "100 lph": (0.1 / 3600, "flow"),
    "5 liters per minute": (5e-3 / 60, "flow"),
    "0.01 cfs": (0.01 * 0.3048**3, "flow"),
    "1 CFM": (0.3048**3 / 60, "flow"),
    "16 sqft": (16 * 0.3048**2, "area"),
    "5'-6 1/2\"": (5.5 * 0.3048 + 0.0127, "length"),
    "5 ft. 6 in.": (5.5 * 0.3048, "length"),
    "-5' 6\"": (-5.5 * 0.3048, "length"),
    "2000 GPD": (2000 * GALLON / 86400, "flow"),
    "0.9 cbm/h": (0.9 / 3600, "flow"),
    "16 SF": (16 * 0.3048**2, "area"),
    "72 deg F": (200.0 / 9.0, "temperature"),
    "22 degrees C": (22.0, "temperature"),
    "2 HP": (1100 * 0.3048 * 0.45359237 * 9.80665, "power"),
    "3 x 90 deg": (1.5 * math.pi, "angle"),
}


@pytest.mark.invariant
@pytest.mark.parametrize("text", TRADE)
def test_units_as_the_trade_writes_them(text: str) -> None:
    """By the definitions of the gallons (231 in³, 4.54609 L) and of the foot (0.3048 m), which are exact."""
    value, dimension = TRADE[text]
    assert quantity(text, dimension) == pytest.approx(value, rel=1e-12)


@pytest.mark.invariant
@pytest.mark.parametrize("text", ["5 ft - 6 in", "5 gpx", "5 US", "5 per h", "2 in a row"])
def test_what_is_no_unit_of_the_trade(text: str) -> None:
    with pytest.raises(NotAQuantity):
        quantity(text, "length")


@pytest.mark.invariant
@given(eighths=st.integers(-4000, 4000))
def test_what_a_tape_reads_is_read_back(eighths: int) -> None:
    metres = eighths * 0.0254 / 8
    assert quantity(show(metres, "length", Units(length="ft")), "length") == pytest.approx(metres, abs=1e-12)
