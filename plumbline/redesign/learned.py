"""What is known of what cleans what with a choice of pipe, and what was found wanting when it was tried."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..upkeep.intervals import subtract
from .change import Change
from .clean import Pipe
from .cover import THERE, Provider

__all__ = ["Learned", "Wanting", "found_wanting"]

SMALL = 1e-6
"""Pieces of pipe up to this [m] are rounding."""


@dataclass(frozen=True)
class Learned:
    """What cleans what with some changes `made`, and valves set by `settings`: for `sure`, as long as nothing else
    is changed, and `perhaps`. `wet` where the water was looked
    at, and not only rods. Where valves were turned beyond what the water asks, it is told of choices `only` in
    which they are set."""

    made: frozenset[int]
    wet: bool
    sure: tuple[Provider, ...]
    perhaps: tuple[Provider, ...]
    settings: frozenset[Change] = frozenset()
    only: frozenset[int] = frozenset()

    def less(self, chosen: frozenset[int], wanting: Wanting) -> Learned:
        """The same with what was found wanting when some accesses were `chosen`."""
        return replace(self, perhaps=found_wanting(self.perhaps, chosen, wanting))


@dataclass(frozen=True)
class Wanting:
    """Pipe that was `missed` when it was tried; the lines `near`, whose changes are felt there; and the `company`
    of accesses, by number, that may make it good, none where nothing
    does."""

    missed: Pipe
    near: frozenset[str]
    company: frozenset[int]


def found_wanting(perhaps: tuple[Provider, ...], chosen: frozenset[int], wanting: Wanting) -> tuple[Provider, ...]:
    """What may be cleaned: what was missed when it was tried may be in more company only, since every access more
    costs the usual flow a
    little, and a flush gains by it."""
    out, missed = [], wanting.missed
    for one in perhaps:
        kept = {line: subtract(pieces, missed.get(line, ()), slack=SMALL) for line, pieces in one.pipe.items()}
        doubted = {line: subtract(pieces, kept[line], slack=SMALL) for line, pieces in one.pipe.items()}
        if (one.number == THERE or one.number in chosen) and any(doubted.values()):
            out.append(replace(one, pipe=kept))
            out += [replace(one, pipe=doubted, needs=(*one.needs, wanting.company))] if wanting.company else []
        else:
            out.append(one)
    return tuple(out)
