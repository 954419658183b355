"""What someone wishes for: so much fish, so large a bed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from ..catalogue import husbandry
from ..catalogue.rows import NumberRow
from ..water import ATMOSPHERE
from .between import Between

__all__ = ["BEDS", "BedKind", "Wish"]

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
