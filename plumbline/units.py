"""Units, at the edge only: text with a unit in, SI numbers out, and back again.

Inside the project every number is SI; nothing but this module knows pint. The units that plumbers write every day
are in a small table, tested against pint, so that reading a layout need not wait for pint's own registry. Any other unit is
read here as a few names with small whole powers, multiplied and divided; pint is asked for each single name and never
for an expression, so that no text costs more than a few look-ups.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, Literal, cast

if TYPE_CHECKING:
    from pint import UnitRegistry


__all__ = [
    "COMMON",
    "DIMENSIONS",
    "Dimension",
    "NotAQuantity",
    "Shown",
    "Units",
    "as_quantity",
    "drill_words",
    "inches",
    "quantity",
    "show",
    "unit_of",
    "warmth",
]

Dimension = Literal[
    "length",
    "area",
    "volume",
    "flow",
    "power",
    "temperature",
    "angle",
    "density",
    "viscosity",
    "speed",
    "pressure",
    "mass",
    "mass rate",
    "time",
    "ratio",
]
Shown = Literal["length", "head", "size", "flow", "speed", "volume", "area", "mass", "shear"]

DIMENSIONS: dict[Dimension, tuple[str, str]] = {
    "length": ("m", "a length with its unit, for instance 1.2 m, 250 mm or 4 ft"),
    "area": ("m^2", "an area with its unit, for instance 2 m^2 or 20 ft^2"),
    "volume": ("m^3", "a volume with its unit, for instance 1000 L or 250 gal"),
    "flow": ("m^3/s", "a flow with its unit, for instance 14 L/min or 4 gal/min"),
    "power": ("W", "a power with its unit, for instance 45 W"),
    "temperature": ("degC", "a temperature with its unit, for instance 22 degC or 72 degF"),
    "angle": ("rad", "an angle with its unit, for instance 45 deg"),
    "density": ("kg/m^3", "a density with its unit, for instance 998 kg/m^3"),
    "viscosity": ("Pa*s", "a dynamic viscosity with its unit, for instance 1.002e-3 Pa s"),
    "speed": ("m/s", "a speed with its unit, for instance 0.3 m/s"),
    "pressure": ("Pa", "a pressure with its unit, for instance 0.9 Pa"),
    "mass": ("kg", "a mass with its unit, for instance 500 g or 1.1 lb"),
    "mass rate": ("kg/s", "a mass by time with its units, for instance 5 kg/month or 200 g/day"),
    "time": ("s", "a time with its unit, for instance 210 days or 7 months"),
    "ratio": ("", "a plain number or a percentage, for instance 0.5 or 50 %"),
}
"""For each dimension the SI unit used inside, and how to say what is expected."""

_POUND, _DAY, _YEAR = 0.45359237, 86400.0, 365.25 * 86400.0
_GALLON, _FOOT, _HP, _PSI = 231 * 0.0254**3, 0.3048, 550 * 0.3048 * 0.45359237 * 9.80665, 6894.757293168361
_TIMES = {"s": 1.0, "min": 60.0, "h": 3600.0, "day": _DAY, "week": 7 * _DAY, "month": _YEAR / 12, "year": _YEAR}
_VOLUMES = {"m^3": 1.0, "L": 0.001, "l": 0.001, "gal": _GALLON, "ft^3": _FOOT**3}
_MASSES = {"kg": 1.0, "g": 0.001, "lb": _POUND}
_FLOWS = {f"{volume}/{time}": of / _TIMES[time] for volume, of in _VOLUMES.items() for time in ("s", "min", "h")}
_SHORT = {"lpm": "L/min", "lph": "L/h", "gpm": "gal/min", "gph": "gal/h", "cfm": "ft^3/min"}
_LENGTHS = {"m": 1.0, "mm": 0.001, "cm": 0.01, "km": 1000.0, "yd": 0.9144}
COMMON: dict[str, dict[str, float]] = {
    "m": {
        **_LENGTHS,
        **dict.fromkeys(("in", "inch", "inches", '"'), 0.0254),
        **dict.fromkeys(("ft", "foot", "feet", "'"), _FOOT),
    },
    "m^2": {"m^2": 1.0, "cm^2": 1e-4, "mm^2": 1e-6, "ft^2": _FOOT**2, "in^2": 0.0254**2},
    "m^3": _VOLUMES,
    "m^3/s": {**_FLOWS, **{short: _FLOWS[flow] for short, flow in _SHORT.items()}},
    "kg": _MASSES,
    "kg/s": {f"{mass}/{time}": of / long for mass, of in _MASSES.items() for time, long in _TIMES.items()},
    "s": {**_TIMES, "days": _DAY, "weeks": 7 * _DAY, "months": _YEAR / 12},
    "W": {"W": 1.0, "kW": 1000.0, "hp": _HP},
    "degC": {"degC": 1.0, "C": 1.0, "degF": 5 / 9, "F": 5 / 9, "K": 1.0},
    "rad": {"rad": 1.0, **dict.fromkeys(("deg", "degree", "degrees"), math.pi / 180)},
    "kg/m^3": {"kg/m^3": 1.0, "kg/L": 1000.0, "g/cm^3": 1000.0},
    "Pa*s": {"Pa*s": 1.0, "Pa s": 1.0, "mPa*s": 0.001, "mPa s": 0.001, "cP": 0.001},
    "m/s": {"m/s": 1.0, "cm/s": 0.01, "mm/s": 0.001, "ft/s": _FOOT},
    "Pa": {"Pa": 1.0, "kPa": 1000.0, "bar": 1e5, "mbar": 100.0, "psi": _PSI, "psf": _PSI / 144.0},
}
"""For each SI unit, how many of it the everyday units are. Gallons are US gallons, as pint has them."""

_OFFSET = {"degF": -160 / 9, "F": -160 / 9, "K": -273.15}
_NUMBER = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?"
_AMOUNT = re.compile(rf"\s*({_NUMBER})(?:(?:\s+|-)(\d+)/(\d+)|/(\d+))?\s*(.*?)\s*\Z", re.DOTALL | re.ASCII)
_PAIR = re.compile(r"\s*(-?\d+\s*(?:ft|foot|feet|'))(?:\s*|-)(\d[\d ./-]*?)\s*(?:in|inch|inches|\")?\s*\Z", re.ASCII)
_POWER = re.compile(r"\b(m|mm|cm|ft|in|inch)([23])\b")
_SUM = re.compile(rf"\s*({_NUMBER}\s*[^\W\d_]+)\s+(?:and\s+)?({_NUMBER}\s*[^\W\d_]+)\s*\Z", re.ASCII)
_SPELT: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"^([-+]?\d+),(?=\d{1,2}(?!\d)|\d{4})"), r"\1."),
    (re.compile(r"^([-+]?0),(?=\d)"), r"\1."),
    (re.compile(r"^[-+]?\d{1,3}(?: \d{3})+(?![\d/])"), " "),
    (re.compile(r"^[-+]?\d{1,3}(?:,\d{3})+(?=\.\d)|^[-+]?\d{1,3}(?:,\d{3}){2,}(?!\d)"), ","),
)
"""Numbers as they are written elsewhere: a comma for the point, spaces or commas between the thousands. 1,500 may be either, and is neither."""
_PERCENT = ("%", "percent", "per cent", "pct")
_TIME = {"m": "min", "h": "h"}
_TRADE: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (re.compile(r"\b(ft|in|gal|min|hr|imp|sq|cu)\."), r"\1"),
    (re.compile(r"\s+(per|a|an)\s+"), "/"),
    (re.compile(r"\b(gph|gpm|lph|lpm|cfm)\b", re.IGNORECASE), lambda found: found[0].lower()),
    (re.compile(r"\blps\b", re.IGNORECASE), "L/s"),
    (re.compile(r"\bgpd\b", re.IGNORECASE), "gal/day"),
    (re.compile(r"\b(?:cbm|cum)\b", re.IGNORECASE), "m^3"),
    (re.compile(r"\bsf?ft?\b", re.IGNORECASE), "ft^2"),
    (re.compile(r"\bcu?ft\b", re.IGNORECASE), "ft^3"),
    (re.compile(r"\b(?:lit|lits|ltr|ltrs|lt)\b", re.IGNORECASE), "L"),
    (re.compile(r"\bhp\b", re.IGNORECASE), "hp"),
    (re.compile(r"\bcmh\b", re.IGNORECASE), "m^3/h"),
    (
        re.compile(r"\bdeg(?:rees?)?\s*([CF])(?:elsius|ahrenheit)?\b", re.IGNORECASE),
        lambda found: f"deg{found[1].upper()}",
    ),
    (re.compile(r"\bcfs\b", re.IGNORECASE), "ft^3/s"),
    (re.compile(r"\bus\s*gp([mh])\b", re.IGNORECASE), lambda found: f"gp{found[1].lower()}"),
    (
        re.compile(r"\b(?:imp(?:erial)?|uk|i)\s*gp([mh])\b", re.IGNORECASE),
        lambda found: f"imperial_gallon/{_TIME[found[1].lower()]}",
    ),
    (re.compile(r"\bus\s*gal(?:lons?)?\b", re.IGNORECASE), "gal"),
    (re.compile(r"\b(?:imp(?:erial)?|uk)\s*gal(?:lons?)?\b", re.IGNORECASE), "imperial_gallon"),
    (re.compile(r"\b(sq|cu)(?=(?:ft|in|m|yd)\b)"), r"\1 "),
)
"""How the trade writes units, and what they are here. A gallon without a word before it is the US gallon."""
_SQUARE = re.compile(r"\b(square|sq|cubic|cu) ([^\W\d_]+)")
_FACTOR = re.compile(r"\s*([*/·]?)\s*([^\W\d_](?:\w*[^\W\d_])?)(?:\s*(?:\^|\*\*)\s*(-?[1-4])(?![\w.^*]))?")
_SIGNS = str.maketrans(
    {
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
        "⅛": " 1/8",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅞": " 7/8",
        "’": "'",
        "′": "'",
        "”": '"',
        "″": '"',
        "−": "-",
        "²": "^2",
        "³": "^3",
        "°": "deg",
        "\u00a0": " ",
    }
)
_LONGEST = 60


class NotAQuantity(ValueError):  # noqa: N818 - it reads as the sentence it carries
    """The text is no quantity of the wanted kind; the message says what was found, plainly."""


@cache
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry

    return UnitRegistry(cache_folder=None)


@dataclass(frozen=True, slots=True)
class _Measure:
    """A unit in pint's root units: a value of it is `value * scale + offset` of `base`, which angles are part of too."""

    scale: float
    offset: float
    base: Any


@lru_cache(maxsize=512)
def _measure(unit: str) -> _Measure | None:
    """What a unit is, None for a text that is none.

    A unit is up to six names, each with a whole power from -4 to 4 after ^ or **, between them a space, *, · or /. Kelvin aside, a
    temperature stands alone.
    """
    for si, units in COMMON.items():
        if unit in units and unit != si and unit not in ("C", "F"):
            whole = _measure(si)
            assert whole is not None
            offset = whole.offset + (_OFFSET.get(unit, 0.0) if si == "degC" else 0.0)
            return _Measure(units[unit] * whole.scale, offset, whole.base)
    words = _SQUARE.sub(lambda word: f"{word[2]}^{2 if word[1].startswith('s') else 3}", unit)
    factors = list(_FACTOR.finditer(words))
    if not 1 <= len(factors) <= 6 or "".join(one[0] for one in factors) != words or factors[0][1]:
        return None
    scale, offset, base = 1.0, 0.0, None
    for sign, name, power in (one.groups() for one in factors):
        found = _single(name)
        if found is None or (found.offset and (len(factors) > 1 or power)):
            return None
        whole_power = int(power or 1) * (-1 if sign == "/" else 1)
        scale, offset = scale * found.scale**whole_power, offset + found.offset
        base = found.base**whole_power if base is None else base * found.base**whole_power
    return _Measure(scale, offset, base)


@lru_cache(maxsize=512)
def _single(name: str) -> _Measure | None:
    """What the unit of one name is, as pint has it; None where it has none, or one that is no plain multiple."""
    registry = _registry()
    try:
        zero, one, two = (registry.Quantity(value, name).to_root_units() for value in (0.0, 1.0, 2.0))
    except Exception:  # pint's parser raises many kinds of error, tokenizer errors among them, for what is no unit
        return None
    scale, offset = one.magnitude - zero.magnitude, zero.magnitude
    # Decibels and the like go by powers; a difference of temperatures is no temperature.
    if abs(two.magnitude - offset - 2.0 * scale) > 1e-9 * abs(scale) or name.startswith("delta_"):
        return None
    return _Measure(scale, offset, one.units)


def unit_of(text: str) -> str:
    """Return the unit written in a quantity, as it stands.

    >>> unit_of("1 1/2 in")
    'in'
    """
    match = _AMOUNT.match(_plain(text)) if len(text) <= _LONGEST else None
    return _traded(match.group(5)) if match else ""


@lru_cache(maxsize=20_000)
def _traded(unit: str) -> str:
    """A unit as it is known here, for one as the trade writes it.

    >>> [_traded(unit) for unit in ("GPH", "US gal/min", "gallons per hour", "sqft", "imp gal", "deg F", "HP", "gpd")]
    ['gph', 'gal/min', 'gallons/hour', 'sq ft', 'imperial_gallon', 'degF', 'hp', 'gal/day']
    """
    for pattern, known in _TRADE:
        unit = pattern.sub(known, unit)
    return unit


def _plain(text: str) -> str:
    """The text with typographers' fractions, signs and powers spelt out."""
    plain = re.sub(r"\b(ft|in)\.", r"\1", text.translate(_SIGNS).strip())
    for written, spelt in _SPELT:
        plain = written.sub(
            spelt if "1" in spelt else lambda found, between=spelt: found[0].replace(between, ""), plain
        )
    return f"0 {plain}" if re.match(r"\d/\d", plain) and plain[0] != text.strip()[:1] else plain


@lru_cache(maxsize=20_000)
def quantity(text: str, dimension: Dimension) -> float:
    """Read a quantity such as "1.5 m", "3/4 in" or "14 L/min" and return it in SI.

    Temperatures come back in °C, angles in rad, ratios as plain numbers.

    Raises:
        NotAQuantity: with a plain sentence, when the text is no finite quantity of that dimension.

    >>> round(quantity("1 1/2 in", "length"), 9)
    0.0381
    >>> quantity("5 ft 6 in", "length") == quantity("5.5 ft", "length")
    True
    >>> round(quantity("60 L/min", "flow"), 9)
    0.001
    >>> round(quantity("2 ft x 4 ft", "area") / quantity("8 ft^2", "area"), 9), quantity("1.2 by 0.5 m", "area")
    (1.0, 0.6)
    >>> quantity("3 x 90 deg", "angle") == quantity("270 deg", "angle")
    True
    >>> quantity("1 h 30 min", "time"), quantity("21,5 °C", "temperature"), quantity("1 200 mm", "length")
    (5400.0, 21.5, 1.2)
    >>> quantity("2 kg", "length")
    Traceback (most recent call last):
    ...
    plumbline.units.NotAQuantity: '2 kg' is a mass, not a length
    """
    shown = text.strip() or "nothing"
    if len(shown) > _LONGEST:
        raise NotAQuantity(f"'{shown[:37]}...' is not a number with a unit")
    sides = re.split(r"\s*(?:×|\bx\b|(?<=\W)x(?=\W)|\bby\b)\s*", text.strip()) if dimension == "area" else []
    if len(sides) == 2:
        first = sides[0] if unit_of(sides[0]) else f"{sides[0]} {unit_of(sides[1])}"
        return quantity(first, "length") * quantity(sides[1], "length")
    times = re.fullmatch(r"\s*(\d+)\s*(?:×|x|times)\s*(.+)", text) if dimension == "angle" else None
    if times:
        return int(times[1]) * quantity(times[2], "angle")
    plain = _plain(text)
    pair = _PAIR.match(plain) if dimension == "length" else None
    if pair:
        sign = -1.0 if pair.group(1).startswith("-") else 1.0
        return quantity(pair.group(1), "length") + sign * quantity(f"{pair.group(2)} in", "length")
    parts = _SUM.match(plain) if dimension in ("length", "time", "mass", "volume") else None
    if parts:
        first, more = (quantity(part, dimension) for part in parts.groups())
        if 0.0 <= more < quantity(f"1 {unit_of(parts[1])}", dimension):
            return first + math.copysign(more, first)
    match = _AMOUNT.match(plain)
    if not match:
        if re.match(r"[-+]?\.?(nan|inf)", plain, re.IGNORECASE):
            raise NotAQuantity(f"'{shown}' is not a finite number")
        raise NotAQuantity(f"'{shown}' is not a number" + ("" if dimension == "ratio" else " with a unit"))
    whole, numerator, denominator, under, unit = match.groups()
    if unit.startswith(","):
        thousands = re.fullmatch(r",\d{3}(?![\d.]).*", unit)
        write = f"{shown.replace(',', '', 1)} or {shown.replace(',', '.', 1)}" if thousands else "a point"
        raise NotAQuantity(f"'{shown}' has a comma in the number; write {write}")
    number = float(whole)
    below = int(denominator or under or 1)
    if below == 0:
        raise NotAQuantity(f"'{shown}' divides by zero")
    if numerator:
        number += math.copysign(int(numerator) / below, number if number or not whole.startswith("-") else -1.0)
    elif under:
        number /= below
    if dimension == "ratio":
        if unit not in ("", *_PERCENT):
            raise NotAQuantity(f"'{shown}' has a unit, '{unit}', where a plain number goes")
        number /= 100.0 if unit in _PERCENT else 1.0
    elif not unit:
        if number or dimension == "temperature":
            raise NotAQuantity(f"'{shown}' has no unit")  # nothing of anything needs none, but a temperature
    else:
        number = _convert(number, unit, dimension, shown)
    if not math.isfinite(number):
        raise NotAQuantity(f"'{shown}' is not a finite number")
    return number


def as_quantity(text: str, dimension: Dimension) -> float | None:
    """The quantity that a text is, in SI, as `quantity` reads it; None where it is none of that dimension.

    >>> as_quantity("1.5 m", "length"), as_quantity("1.5 m", "flow")
    (1.5, None)
    """
    try:
        return quantity(text, dimension)
    except NotAQuantity:
        return None


def _convert(number: float, unit: str, dimension: Dimension, shown: str) -> float:
    si = DIMENSIONS[dimension][0]
    tidy = re.sub(r"\s*/\s*", "/", _POWER.sub(r"\1^\2", _traded(unit)))
    if tidy in COMMON[si]:
        return number * COMMON[si][tidy] + (_OFFSET.get(tidy, 0.0) if si == "degC" else 0.0)
    found, wanted = _measure(tidy), _measure(si)
    assert wanted is not None
    same = [word for word in COMMON[si] if word.lower() == tidy.lower()]
    if found is None or (found.base != wanted.base and same):
        # A capital makes another unit of it: Min is no minute, and MM no millimetre.
        meant = f"; write {same[0]}" if same else ""
        raise NotAQuantity(f"'{shown}' has an unknown unit, '{unit}'{meant}")
    if found.base != wanted.base:
        kind = next(
            (what for one, what in _NAMES.items() if (_measure(one) or wanted).base == found.base), "of another kind"
        )
        a_minute = f"; for a minute write {shown}in" if dimension == "flow" and tidy.endswith("/m") else ""
        raise NotAQuantity(f"'{shown}' is {kind}, not {_a(dimension)}{a_minute}")
    return (number * found.scale + found.offset - wanted.offset) / wanted.scale


def _a(dimension: str) -> str:
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


_NAMES = {si: _a(dimension) for dimension, (si, _) in DIMENSIONS.items() if si} | {
    "kg/s": "a mass flow",
    "V": "a voltage",
    "A": "a current",
    "N": "a force",
    "J": "an energy",
    "m^2/s": "a kinematic viscosity",
    "Hz": "a frequency",
}
"""What a unit is one of."""

_DECIMALS = {"mm": 0, "cm": 1, "L/min": 1, "L/h": 1, "gal/h": 1, "L/s": 3, "L": 1, "ft^2": 1}
"""Places after the point; all other units have two."""


@dataclass(frozen=True, slots=True)
class Units:
    """The units to show, in the file's own habit (pint names), e.g. length "m", size "mm", flow "L/min"."""

    length: str = "m"
    size: str = "mm"
    flow: str = "L/min"
    speed: str = "m/s"
    volume: str = "L"
    area: str = "m^2"
    mass: str = "kg"
    shear: str = "Pa"


_WHOLE = 100.0
"""From here on a volume, and a flow in litres an hour, is told in whole numbers: none is known to the tenth of a litre."""


_MEASURED_AS: dict[str, Dimension] = {"head": "length", "size": "length", "shear": "pressure"}


def show(value: float, what: Shown, units: Units, *, decimals: int | None = None, unit: bool = True) -> str:
    """Format an SI value in the layout's own units, for instance "0.60 m" or "14.0 L/min".

    `what` picks the unit (`size` is for bores, `length` for runs and heights). `decimals` overrides the usual
    number of places; `unit=False` leaves the unit's name out. Feet are told as on a tape, to an eighth of an inch, and sizes in inches by
    the fractions that they are sold by, a drill's to a sixty-fourth; a head, which pump sheets give in feet, is not.

    >>> show(0.87, "shear", Units()), show(0.87, "shear", Units(shear="psf"))
    ('0.87 Pa', '0.018 psf')
    >>> show(0.6, "length", Units()), show(14 / 60000, "flow", Units(length="ft", flow="gal/min"))
    ('0.60 m', '3.70 gal/min')
    >>> [show(litres / 3.6e6, "flow", Units(flow="L/h")) for litres in (2.7, 2400.0)]
    ['2.7 L/h', '2400 L/h']
    >>> for feet in (5.5417, 0.1042, 3.0, -1.25):
    ...     print(show(feet * 0.3048, "length", Units(length="ft")))
    5' 6 1/2"
    1 1/4 in
    3 ft
    -1' 3"
    >>> [show(inches * 0.0254, "size", Units(size="in")) for inches in (1.97, 1.67, 0.157)]
    ['2 in', '1 5/8 in', '5/32 in']
    """
    if what == "length" and units.length == "ft" and decimals is None and unit:
        return _on_a_tape(value)
    if what == "size" and units.size == "in" and decimals is None and unit:
        return f"{inches(value, next(parts for least, parts in _SIZES if abs(value) >= least))} in"
    name = units.length if what == "head" else getattr(units, what)
    scale = COMMON[DIMENSIONS[_MEASURED_AS.get(what, cast(Dimension, what))][0]][name]
    if what in ("mass", "shear") and decimals is None:
        number = f"{value / scale:.{3 if what == 'mass' else 2}g}"
        return f"{number} {name}" if unit else number
    places = _DECIMALS.get(name, 2) if decimals is None else decimals
    if (what == "volume" or name == "L/h") and decimals is None and abs(value / scale) >= _WHOLE:
        places = 0
    number = f"{value / scale:.{places}f}"
    if float(number) == 0.0:
        number = number.replace("-", "")
    return f"{number} {name}" if unit else number


_EIGHTHS = 8
"""To what part of an inch a length is told: 3 mm, about as near as a pipe is measured on site."""
_SIZES = ((0.0254, _EIGHTHS), (0.25 * 0.0254, 16), (0.0, 64))
"""To what part of an inch a size is told, from so much [m] on: pipes and brushes, tubes, drills."""


def _on_a_tape(metres: float) -> str:
    """A length in feet and inches."""
    eighths = round(abs(metres) / 0.0254 * _EIGHTHS)
    sign = "-" if metres < 0.0 and eighths else ""
    feet, rest = divmod(eighths, 12 * _EIGHTHS)
    part = inches(rest / _EIGHTHS * 0.0254, _EIGHTHS)
    if not feet:
        return f"{sign}{part} in"
    return f"{sign}{feet}' {part}\"" if rest else f"{sign}{feet} ft"


def warmth(celsius: float, units: Units) -> str:
    """A temperature in the degrees of who writes so.

    >>> warmth(22.0, Units()), warmth(22.0, Units(length="ft"))
    ('22 °C', '72 °F')
    """
    return f"{1.8 * celsius + 32.0:.0f} °F" if units.length == "ft" else f"{celsius:.3g} °C"


def drill_words(hole: float, units: Units) -> str:
    """A hole's diameter, as drills are sold: by millimetres, or by sixty-fourths of an inch.

    >>> drill_words(0.0065, Units()), drill_words(0.0065, Units(size="in"))
    ('6.5 mm', '1/4 in')
    """
    return f"{inches(hole, 64)} in" if units.size == "in" else f"{1000.0 * hole:.3g} mm"


def inches(metres: float, parts: int) -> str:
    """A length in whole inches and a fraction of them, to one of so many `parts`."""
    count = round(abs(metres) / 0.0254 * parts)
    whole, part = divmod(count, parts)
    shared = math.gcd(part, parts)
    words = ([str(whole)] if whole or not part else []) + ([f"{part // shared}/{parts // shared}"] if part else [])
    return ("-" if metres < 0.0 and count else "") + " ".join(words)
