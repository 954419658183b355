"""What a parts list and a cutting list are made of: frozen data, SI units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..layout.model import Layout, Pipe, Vector

__all__ = ["Bill", "Hose", "Item", "Off", "Piece", "Place", "Totals"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a part stands: `step` of a `line` (0 for its start, one past the last for its end), and the point.

    `why` is empty for a part that the file states; for an implied one it says what implies it.
    """

    line: str
    step: int
    point: Vector
    why: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """A part to buy. `kind` is the catalogue's word for it, or one of `OWN_KINDS` of `plumbline.parts.words`; `name` is how a
    parts list calls it; `size` the name of its pipe, two joined by " x " where it has two. `turn` [rad], None where it has none
    of its own. `outside` [m] is that of its larger pipe, 1.1 bores where it is not known. One of `places` for each.
    """

    kind: str
    name: str
    size: str
    turn: float | None
    outside: float
    places: tuple[Place, ...]

    @property
    def count(self) -> int:
        """How many."""
        return len(self.places)

    @property
    def implied(self) -> int:
        """How many of them the file does not state but implies."""
        return sum(1 for place in self.places if place.why)


@dataclass(frozen=True, slots=True)
class Off:
    """What a fitting takes off a piece of pipe: `length` [m] from its centre to the stop in its socket; None: not known."""

    name: str
    length: float | None


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of pipe to cut.

    `mark` is what to write on it: its line, the step where it begins, and a letter where there are several. `steps` are the runs
    it is made of, none for a `joint`: the short piece between two fittings that stand at one place. `centres` [m] is the
    length along the walk between the centres of what it joins; `before` and `after` are taken off that. From `start` to `end`
    in space. `sockets` of its ends go into sockets. `note` says what else is to be done to it.
    """

    mark: str
    line: str
    steps: tuple[int, ...]
    pipe: Pipe
    centres: float
    before: tuple[Off, ...]
    after: tuple[Off, ...]
    start: Vector
    end: Vector
    sockets: int
    joint: bool = False
    note: str = ""

    @property
    def off(self) -> float:
        """What is known to be taken off, both ends together [m]."""
        return sum(one.length or 0.0 for one in (*self.before, *self.after))

    @property
    def length(self) -> float:
        """What to cut [m]: between the centres, less what is known to be taken off."""
        return self.centres - self.off

    @property
    def unknown(self) -> tuple[str, ...]:
        """Whose share is not known and still has to come off."""
        return tuple(dict.fromkeys(one.name for one in (*self.before, *self.after) if one.length is None))


@dataclass(frozen=True, slots=True)
class Hose:
    """A length [m] of hose of a `size`."""

    size: str
    line: str
    steps: tuple[int, ...]
    length: float


@dataclass(frozen=True, slots=True)
class Totals:
    """Pipe of one size: `walked` [m] between centres, `cut` [m] the pieces together, and how many `pieces`."""

    pipe: Pipe
    walked: float
    cut: float
    pieces: int


@dataclass(frozen=True, slots=True)
class Bill:
    """Everything that a layout is built of. `tight` are pieces for which the walk leaves no room; `notes` what else to know."""

    layout: Layout
    items: tuple[Item, ...]
    pieces: tuple[Piece, ...]
    hoses: tuple[Hose, ...]
    totals: tuple[Totals, ...]
    tight: tuple[Piece, ...]
    notes: tuple[str, ...]

    def count(self, kind: str, size: str | None = None) -> int:
        """How many of a kind, of one size or of all."""
        return sum(item.count for item in self.items if item.kind == kind and size in (None, item.size))


Side = Literal["from", "to"]
