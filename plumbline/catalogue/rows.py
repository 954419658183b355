"""What the catalogue's rows are, once read: frozen data in SI units, each with its source.

`mark` is "looked up" (read in a stored text or in a library's documentation), "from memory", or "assumption" where nothing
published was found.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from plumbline.catalogue.loss_laws import LossLaw
from plumbline.findings import Level

__all__ = [
    "BrushRow",
    "CauseRow",
    "CodeRow",
    "CodeRule",
    "DeadLegRow",
    "FindingRow",
    "FittingRow",
    "Lay",
    "MaterialRow",
    "NumberRow",
    "OpeningRow",
    "PipeRow",
    "RodRow",
    "SizeKind",
    "SizeRow",
    "SourceMark",
    "WeightCase",
    "WeightRow",
]

WeightCase = Literal["usual", "worse", "milder"]
SourceMark = Literal["looked up", "from memory", "assumption"]
SizeKind = Literal[
    "mass rate", "mass", "area", "volume", "flow", "number", "ratio", "water rate", "concentration", "time"
]
"""What a number of a sizing is: mass rate [kg/s], water rate [m³/s] by the day, flow [m³/s] of a pump, concentration [kg/m³]."""


@dataclass(frozen=True, slots=True)
class PipeRow:
    """A size of pipe. `bore`, `outside` and `wall` [m]; hose has only a bore. `also` are other spellings."""

    name: str
    bore: float
    outside: float | None
    wall: float | None
    material: str
    source: str
    mark: SourceMark
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MaterialRow:
    """A pipe wall. `roughness` [m], equivalent sand grain; `uncertainty` is relative; `hottest` [°C] that it may get under pressure, None where
    that is not known, and `because` by what."""

    name: str
    roughness: float
    uncertainty: float
    source: str
    mark: SourceMark
    also: tuple[str, ...] = ()
    hottest: float | None = None
    because: str = ""


@dataclass(frozen=True, slots=True)
class Lay:
    """How much of the walk a fitting takes up: from its centre to the stop in its socket."""

    per_outside: float
    plus: float
    source: str
    mark: SourceMark

    def length(self, outside: float) -> float:
        """Centre to socket stop [m] for a pipe of `outside` diameter [m].

        >>> round(Lay(0.5, 0.001, "example", "from memory").length(0.025), 4)
        0.0135
        """
        return self.per_outside * outside + self.plus


@dataclass(frozen=True, slots=True)
class FittingRow:
    """A fitting, or (`place` "end") the end of a line.

    `turn`, `tolerance` and `branch` [rad], `turn` None where the walk decides; `sharp` None where the turn
    decides. `loss_at_corner` replaces `loss` where the walk turns at it. `opening` names a row of
    `openings()`, `handle` is what a valve is opened by, and `stands` how far it is open unless the layout says so. `details` are the words that may stand in its braces, the first also as a plain
    value. `turns` [degrees] are those it comes in where the walk decides, () for any, None where `turn` tells. `symbol` is its mark in a
    sketch. `solids`: it takes fish solids out; `through_wall`: it carries the pipe through a vessel's wall.
    `uncertainty` of K is relative and `because` says why. `bores` [m] and `reynolds` bound what the source
    speaks for.
    """

    name: str
    loss: LossLaw
    source: str
    mark: SourceMark
    place: Literal["route", "end"] = "route"
    turn: float | None = None
    tolerance: float = 0.0
    branch: float | None = None
    sharp: bool | None = None
    loss_at_corner: LossLaw | None = None
    opening: str | None = None
    handle: Literal["lever", "wheel", "switch"] = "lever"
    stands: float = 1.0
    details: tuple[str, ...] = ()
    turns: tuple[float, ...] | None = None
    symbol: str = "other"
    rod: Literal["passes", "passes open", "stops"] = "stops"
    one_way: bool = False
    solids: bool = False
    through_wall: bool = False
    access: bool = False
    lay: Lay | None = None
    parts: str = ""
    uncertainty: float = 0.0
    because: str = ""
    bores: tuple[float, float] | None = None
    reynolds: tuple[float, float] | None = None
    also: tuple[str, ...] = ()

    @property
    def bends(self) -> bool:
        """Whether it is there to turn the pipe, as a bend is, and a tee or a cap may be without."""
        return self.name == "bend" or bool(self.turn)


@dataclass(frozen=True, slots=True)
class OpeningRow:
    """What a partly open valve costs: `points` are (opening, K), from full open (1) towards shut.

    Take K(opening) = K(full open, of the fitting) + points(opening) − points(1); nothing passes at or below
    `shut_at`. `opening` says how the opening is measured; `areas` are the open shares of the section that the
    source prints beside the points, `marks` the points' own marks where they differ.
    """

    name: str
    valve: str
    opening: str
    points: tuple[tuple[float, float], ...]
    shut_at: float
    uncertainty: float
    because: str
    source: str
    mark: SourceMark
    areas: tuple[float, ...] = ()
    marks: tuple[SourceMark, ...] = ()


@dataclass(frozen=True, slots=True)
class BrushRow:
    """A brush by its `diameter` [m], and the `bores` [m] that it cleans, least and greatest."""

    name: str
    diameter: float
    bores: tuple[float, float]
    source: str
    mark: SourceMark


@dataclass(frozen=True, slots=True)
class RodRow:
    """A rod, brush or cable. `length` [m]; `bend` and `turns` [rad]; `bores` [m] that it cleans, least and greatest.

    `brushes` are the heads that it may carry, one at a time, by diameter [m]; none for a tool with a head of its own.
    `passes` [m] is the least bore that it goes through; `room` [m] the space that it takes in front of an opening, None
    for the limit; `cord` tells that it is pulled through between two openings. `default` tells that it is taken when a
    layout names no rods.
    """

    name: str
    length: float
    bend: float
    turns: float
    bores: tuple[float, float]
    brushes: tuple[float, ...]
    passes: float
    source: str
    mark: SourceMark
    room: float | None = None
    cord: bool = False
    default: bool = False


@dataclass(frozen=True, slots=True)
class NumberRow:
    """A number with its source: a threshold, a time, how far something may be out, or what an arithmetic starts from.

    `low`, `likely` and `high` are in SI (radians, shares as fractions, months as months); all three are the one value where the file gives
    one, and those of the rates slow, likely and fast where it gives `values`. `shown` is as the data file has it. `because` says why so much,
    `others` what others say; `one` what takes one and the same error; `own` the word by which a wish sets it, or the table whose rows
    have figures that go before it.
    """

    name: str
    low: float
    likely: float
    high: float
    shown: str
    unit: str
    meaning: str
    source: str
    mark: SourceMark
    because: str = ""
    others: str = ""
    one: str = ""
    own: str = ""

    @property
    def value(self) -> float:
        """The likely one."""
        return self.likely

    @property
    def values(self) -> tuple[float, float, float]:
        """All three."""
        return self.low, self.likely, self.high


@dataclass(frozen=True, slots=True)
class SizeRow:
    """A number that a sizing gives: its `subject`, its `kind`, the `rule` in words, and the `rows` of husbandry.yaml that it stands on."""

    name: str
    subject: str
    kind: SizeKind
    rule: str
    rows: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CodeRule:
    """One rule of a plumbing code on access, with its `section`. What the numbers mean goes by `what`: `metres` [m],
    `turn` [rad], `size` [m], `start` [m] (None where the rule knows no such case); `rows` of (pipe up to [m], clear [m])."""

    what: Literal["spacing", "turn", "turns", "upper end", "size", "clearance"]
    section: str
    source: str
    mark: SourceMark
    metres: float = 0.0
    turn: float = 0.0
    size: float = 0.0
    start: float | None = None
    rows: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class CodeRow:
    """A set of rules that a file may choose. Pipe within `level` [rad] of level is horizontal."""

    name: str
    title: str
    edition: str
    level: float
    rules: tuple[CodeRule, ...]
    also: tuple[str, ...] = ()

    def cite(self, rule: CodeRule) -> str:
        """The code, its edition and the rule's section, as far as they are known."""
        return ", ".join(word for word in (f"{self.title} {self.edition}".strip(), rule.section) if word)

    def source_of(self, rule: CodeRule) -> str:
        """What a finding by this rule rests on."""
        return f"{self.cite(rule)}: {rule.source} ({rule.mark}); the code adopted where the system stands governs"


@dataclass(frozen=True, slots=True)
class DeadLegRow:
    """What one standard allows a branch without flow: `diameters` of its own, from the `start`: the "axis" of the pipe in use, or
    its inner "wall"."""

    name: str
    diameters: float
    start: Literal["axis", "wall"]
    source: str
    mark: SourceMark


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A kind of cause that a diagnosis weighs: how large its `share` is before anything is read, and the least and the greatest
    of its `amounts` (shares, or metres), which are `of` something. `says` is its sentence, `cure` the cheapest thing to do."""

    name: str
    share: float
    says: str
    cure: str
    source: str
    mark: SourceMark
    amounts: tuple[float, float] = (0.0, 0.0)
    of: str = ""


@dataclass(frozen=True, slots=True)
class WeightRow:
    """What a kind of finding costs. `value`, 0 to 1, is the share of the points left that one takes, `per` what; `worse` and `milder` are
    other weights and when they hold, None where there is but one; where one of the kinds in `unless` is told of the same line, it costs nothing.
    `mark` is the one of the three marks that it is taken from."""

    kind: str
    value: float
    per: str
    reason: str
    worse: tuple[float, str] | None = None
    milder: tuple[float, str] | None = None
    unless: tuple[str, ...] = ()
    mark: Literal["water", "return", "cleaning"] = "cleaning"

    def weight(self, case: WeightCase = "usual") -> float:
        """Give the weight in a case.

        >>> WeightRow("hump", 0.02, "hump", "example", milder=(0.01, "example")).weight("milder")
        0.01
        """
        if case == "usual":
            return self.value
        other = self.worse if case == "worse" else self.milder
        if other is None:
            raise ValueError(f"the catalogue has no {case} weight for {self.kind}")
        return other[0]

    def of(self, amount: float, case: WeightCase = "usual") -> float:
        """Give what `amount` of it costs, 1 − (1 − w)^amount, so that pieces together cost what they would as one.

        >>> row = WeightRow("unreachable", 0.8, "share of the pipe", "example")
        >>> round(row.of(1.0), 3), round(1 - (1 - row.of(0.3)) * (1 - row.of(0.7)), 3)
        (0.8, 0.8)
        """
        return 1.0 - float((1.0 - self.weight(case)) ** amount)


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A kind of finding: title, usual level, rule, source, and the `limits` it reads; `extra` is the rest."""

    kind: str
    title: str
    level: Level
    rule: str
    source: str
    mark: SourceMark
    limits: tuple[str, ...]
    extra: Mapping[str, object]
