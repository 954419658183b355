"""Everything that a layout is built of: fittings by kind, angle and size, pipe by size, and the pieces to cut."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..layout.model import Layout, Leg, Pipe, Tee
from ..units import show
from .cuts import cut_line
from .model import Bill, Hose, Item, Piece, Place, Totals
from .sizes import TeeFit, both, is_hose, outside_of, tee_fit
from .walk_of_line import SIDES, Stands, barbed, walk_of
from .words import part_kinds, part_name

__all__ = ["bill_of"]

_Found = tuple[str, str, float | None, float, Place]
"""Kind, size, turn, outside and place of one part."""


def bill_of(layout: Layout) -> Bill:
    """Count what a layout is built of, those parts among them that the file only implies, and cut its pipe: between the centres of the fittings
    less what is known of them.

    Not counted: vessels and pumps themselves, clips and hangers, cement, primer, tape and seals, tools, couplings of pipe longer
    than it is sold (see `plumbline.parts.plan`).
    """
    fits = {name: tee_fit(tee) for name, tee in layout.tees.items()}
    walks = [walk_of(layout, line, fits) for line in layout.lines.values()]
    found: list[_Found] = []
    pieces: list[Piece] = []
    hoses: list[Hose] = []
    tight: list[Piece] = []
    notes: list[str] = []
    for stands in walks:
        cut = cut_line(stands)
        pieces += cut.pieces
        hoses += cut.hoses
        tight += cut.tight
        found += _of_line(layout, stands)
        notes += [*cut.notes, *_notes(layout, stands)]
    for name, tee in layout.tees.items():
        found += _of_tee(layout, tee, fits[name])
    for pump in layout.pumps.values():
        if pump.airlift is not None:
            long = show(pump.airlift.length, "length", layout.units)
            notes.append(
                f"The riser of airlift '{pump.name}' is not in the list: {long} of {pump.airlift.riser.name}, its open top, and the air hose with its check valve."
            )
    return Bill(layout, _grouped(found), tuple(pieces), tuple(hoses), _totals(pieces), tuple(tight), tuple(notes))


def _of_line(layout: Layout, stands: Stands) -> Iterator[_Found]:
    line = stands.line
    for stack in stands.stacks:
        for one in stack:
            if one.kind:
                turn = one.turn if one.kind in ("bend", "cap", "plug") else None
                outside = max(outside_of(one.pipe_before), outside_of(one.pipe_after))
                yield one.kind, one.size, turn, outside, Place(line.name, one.step, one.point, one.why)
    for side, way in zip(SIDES, stands.passages, strict=True):
        end, step = line.at(side), line.step_at(side)
        pipe = line.parts[0].pipe if side == "from" else line.parts[-1].pipe_out
        if way is not None and way.how == "somewhere":
            why = f"'{line.name}' goes through the wall of '{way.vessel}'"
            yield "bulkhead", pipe.name, None, outside_of(pipe), Place(line.name, step, end.place, why)
        bell = end.siphon.bell if end.siphon is not None else None
        for kind, bore in (("sleeve", end.sleeve), ("bell", bell)):
            if bore is not None:
                yield kind, f"{show(bore, 'size', layout.units)} bore", None, bore, Place(line.name, step, end.place)
        if end.float_valve is not None:
            yield "float valve", pipe.name, None, outside_of(pipe), Place(line.name, step, end.place)


def _of_tee(layout: Layout, tee: Tee, fit: TeeFit) -> Iterator[_Found]:
    bought = (
        "indexing valve" if tee.outlet else "three-way valve" if tee.three_way else "cross" if tee.cross else tee.kind
    )
    if tee.cross != 2 and tee.outlet < 2:
        yield bought, fit.size, None, outside_of(fit.body), Place(tee.line, tee.step, tee.place)
    for line, side, pipe in fit.adapters:
        leg = next(leg for leg in tee.legs if (leg.line, leg.side) == (line, side))
        socket = fit.branch if leg is tee.legs[2] else fit.body
        kind = "hose adapter" if is_hose(pipe) != is_hose(socket) else "reducing bush"
        if abs(outside_of(pipe) - outside_of(socket)) < 1e-4 and kind == "reducing bush":
            kind = "adapter"
        own = side in SIDES and barbed(layout.lines[line], side, "tee")
        why = "" if own else f"{pipe.name} in the {fit.size} {tee.kind} '{tee.id}'"
        place = Place(line, _leg_step(layout, tee, leg), tee.place, why)
        yield kind, both(socket, pipe), None, outside_of(socket), place


def _leg_step(layout: Layout, tee: Tee, leg: Leg) -> int:
    return tee.step if leg.side in ("before", "after") else layout.lines[leg.line].step_at(leg.side)


def _grouped(found: list[_Found]) -> tuple[Item, ...]:
    """One item for each kind, size and angle, larger sizes first within a kind, the catalogue's kinds in its order."""
    groups: dict[tuple[str, str, float | None], list[_Found]] = {}
    for one in found:
        kind, size, turn, _, _ = one
        groups.setdefault((part_name(kind, turn or 0.0), size, None), []).append(one)
    items = []
    for (name, size, _), some in groups.items():
        kind, _, turn, outside, _ = some[0]
        kept = turn if kind == "bend" or "45°" in name else None
        items.append(Item(kind, name, size, kept, outside, tuple(one[4] for one in some)))
    rank = part_kinds().index
    return tuple(sorted(items, key=lambda item: (rank(item.kind), item.name, -item.outside, item.size)))


def _totals(pieces: list[Piece]) -> tuple[Totals, ...]:
    sizes: dict[str, tuple[Pipe, list[Piece]]] = {}
    for piece in pieces:
        sizes.setdefault(piece.pipe.name, (piece.pipe, []))[1].append(piece)
    rows = [
        Totals(pipe, sum(one.centres for one in some if not one.joint), sum(one.length for one in some), len(some))
        for pipe, some in sizes.values()
    ]
    return tuple(sorted(rows, key=lambda row: (-outside_of(row.pipe), row.pipe.name)))


def _notes(layout: Layout, stands: Stands) -> Iterator[str]:
    name = stands.line.name
    for way in stands.passages:
        if way is not None and way.how == "unknown":
            yield (
                f"Whether '{name}' goes through the wall of '{way.vessel}' or over its rim, the file does not say: if through it, a bulkhead "
                "more."
            )
        elif way is not None and way.how == "somewhere":
            yield f"'{name}' goes through the wall of '{way.vessel}'; where, the file does not say: cut the piece there to fit the bulkhead."
    for end in (stands.line.start, stands.line.end):
        if end.weir is not None:
            angle, width = end.weir.angle, show(end.weir.width, "size", layout.units)
            wide = f"{width} wide" if angle is None else f"of {math.degrees(angle):.3g}°"
            above = show(end.place[2] - layout.vessels[end.name or ""].base, "length", layout.units)
            yield f"'{name}' leaves '{end.name}' by a {end.weir.called} {wide}, {above} above the floor: saw it with a sharp, level edge."
        if end.kind == "draw":
            yield f"What takes or brings the water at the end of '{name}' is not counted."
    pe = (part for part in stands.line.parts if part.pipe.material == "pe" and not is_hose(part.pipe))
    if sum(part.length for part in pe) > 6.0:  # [m] from there on it is bought by the coil: common practice, no source
        yield f"'{name}' may be one piece off a coil, which needs no couplings: polyethylene is sold so (--stock '25 m', or your price file)."
    for part in stands.line.parts:
        if part.kind == "fitting":
            yield f"Line '{name}', step {part.step}: the 'fitting' there is counted as it stands; say what it is when you buy."
        if part.kind == "bend" and not any(abs(math.degrees(part.turn) - way) < 0.5 for way in (15.0, 30.0, 60.0)):
            yield f"Line '{name}', step {part.step}: a bend of {math.degrees(part.turn):.3g}° is not sold everywhere."
