"""What someone wishes for, so much fish, so large a bed; and numbers that are known between two ends, as the rules of husbandry give them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ..catalogue import husbandry
from ..catalogue.rows import NumberRow
from ..water import ATMOSPHERE

__all__ = ["BEDS", "BedKind", "Between", "Wish", "largest"]

BedKind = Literal["raft", "media", "towers"]
BEDS: tuple[BedKind, ...] = ("raft", "media", "towers")


@dataclass(frozen=True)
class Wish:
    """What is wished for. `fish` to harvest [kg/s] or None; areas of bed under `leafy` and `fruiting` plants [m²]; `beds`
    what sort they are; `tank` water in the fish tank [m³], None to have it worked out; `celsius`, and `pressure` of the air
    [Pa]; `air` whether stones give the tank its oxygen; `drippers` their number and `dripper` what each gives [m³/s], for
    towers; `own` numbers, in SI, in place of the catalogue's rows, by their names."""

    fish: float | None = None
    leafy: float = 0.0
    fruiting: float = 0.0
    beds: BedKind = "raft"
    tank: float | None = None
    celsius: float = 24.0
    pressure: float = ATMOSPHERE
    air: bool = True
    drippers: int = 0
    dripper: float = 0.0
    own: Mapping[str, float] = field(default_factory=dict)

    @property
    def area(self) -> float:
        """All bed area [m²]."""
        return self.leafy + self.fruiting

    def number(self, name: str) -> Between:
        """A row of the catalogue as a range, or the wish's own number."""
        row = self.row(name)
        return Between.exactly(self.own[name]) if name in self.own else Between(row.low, row.likely, row.high)

    def row(self, name: str) -> NumberRow:
        """The row of the catalogue by that name."""
        return husbandry()[name]


@dataclass(frozen=True, slots=True)
class Between:
    """A positive number `likely`, no lower than `low` and no higher than `high`, in one unit.

    Sums, products and quotients take the ends that give the widest range: as if all that can be low were low together.
    That is more than chance would make of it, and plain.

    >>> Between(1.0, 2.0, 3.0) * Between(2.0, 2.0, 4.0), 6.0 / Between(1.0, 2.0, 3.0)
    (Between(low=2.0, likely=4.0, high=12.0), Between(low=2.0, likely=3.0, high=6.0))
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        """Refuse what is no range of a positive number."""
        if not 0.0 <= self.low <= self.likely <= self.high:
            raise ValueError(f"not a range of a positive number: {self.low:g}, {self.likely:g}, {self.high:g}")

    @classmethod
    def exactly(cls, value: float) -> Between:
        """A number that is known."""
        return cls(value, value, value)

    def __add__(self, other: Between | float) -> Between:
        o = _between(other)
        return Between(self.low + o.low, self.likely + o.likely, self.high + o.high)

    def __mul__(self, other: Between | float) -> Between:
        o = _between(other)
        return Between(self.low * o.low, self.likely * o.likely, self.high * o.high)

    __rmul__ = __mul__

    def __truediv__(self, other: Between | float) -> Between:
        o = _between(other)
        return Between(self.low / o.high, self.likely / o.likely, self.high / o.low)

    def __rtruediv__(self, other: float) -> Between:
        return Between.exactly(other) / self

    def less(self, other: Between | float) -> Between:
        """The difference, no end of it below 0."""
        o = _between(other)
        return Between(max(self.low - o.high, 0.0), max(self.likely - o.likely, 0.0), max(self.high - o.low, 0.0))


def largest(*ranges: Between) -> Between:
    """The range of the largest of several numbers.

    >>> largest(Between(1.0, 2.0, 9.0), Between(2.0, 3.0, 4.0))
    Between(low=2.0, likely=3.0, high=9.0)
    """
    return Between(max(r.low for r in ranges), max(r.likely for r in ranges), max(r.high for r in ranges))


def _between(value: Between | float) -> Between:
    return value if isinstance(value, Between) else Between.exactly(value)
