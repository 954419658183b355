"""A parts list and a cutting list on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from ..catalogue import notes
from ..parts import Bill, Cost, Costs, CutPlan, CutSize, Item, Off, Piece
from ..units import Units, inches, show
from .plain import about, care, fields, heading, plain_table, point, points, view

__all__ = ["parts_as_json", "parts_view", "sawn_words"]


def sawn_words(length: float, units: Units) -> str:
    """A length to saw, to the millimetre or to the sixteenth of an inch.

    >>> sawn_words(1.4352, Units()), sawn_words(0.0254 * 12.5625, Units(length="ft", size="in"))
    ('1435 mm', '12 9/16 in')
    """
    if units.length != "ft":
        return f"{1000.0 * length:.0f} mm"
    return f"{inches(length, 16)} in"


@view
def parts_view(bill: Bill, plan: CutPlan, costs: Costs) -> Iterator[RenderableType]:
    """A bill, its cutting plan and its costs."""
    units, priced = bill.layout.units, not costs.placeholders
    prices = (">each", ">cost") if priced else ()
    yield _headline(bill, plan, costs)
    yield heading("Fittings and other parts")
    columns = (">", "part", "size", ">implied", *prices)
    yield plain_table(*columns, rows=_parts(costs, priced), whole=True)
    if plan.sizes or bill.hoses:
        yield heading("Pipe and hose")
        columns = ("pipe", ">to buy", ">least", ">walked", ">cut", ">left over", *prices)
        yield plain_table(*columns, rows=_pipe(bill, plan, costs, priced), whole=True)
    if plan.sizes:
        proven = all(size.proven for size in plan.sizes)
        every = "so these are the fewest" if proven else "where more are bought, fewer may do"
        said = f"least: no cutting of these pieces needs fewer lengths, that is proven; {every}."
        yield Text(said, style="dim")
    yield from _money(costs)
    for size in plan.sizes:
        lengths = "length" if len(size.bars) == 1 else "lengths"
        yield heading(f"Cut {size.pipe.name}: {len(size.bars)} {lengths} of {show(size.stock, 'length', units)}")
        yield plain_table(">", ">cut", "", ">centres", "mark", "between", rows=_cuts(size, units), whole=True)
    if any(sawn.piece.unknown for size in plan.sizes for bar in size.bars for sawn in bar.pieces):
        yield Text(
            "\n* Too long as it stands: of the part marked ? it is not known how much of the walk it takes up. Measure that on the part "
            "and cut it off as well."
        )
    if plan.sizes:
        kerf = sawn_words(plan.kerf, units)
        yield Text(f"A mark is the line and the step where the piece begins. Each saw cut takes {kerf}.")
    implied = [item for item in (*bill.items, *plan.couplings) if item.implied]
    if implied:
        yield heading("Implied: not in the file, but needed")
    for item in implied:
        whys = dict.fromkeys(place.why for place in item.places if place.why)
        yield point(f"{item.implied} × {item.name}, {item.size}: {'; '.join(whys)}")
    if bill.tight:
        yield heading("No room")
    for piece in bill.tight:
        names = " and ".join(off.name for off in (*piece.before[:1], *piece.after[:1]))
        room = f"{sawn_words(piece.centres, units)} between centres, and {sawn_words(max(piece.length, 0.0), units)} left for pipe"
        yield point(f"{piece.mark}: {names} stand too close for their sockets: {room}.", style="red")
    yield heading("Worth knowing")
    yield from points((*bill.notes, *costs.notes, *notes("parts")))
    yield from care("parts", bill.layout)


def _headline(bill: Bill, plan: CutPlan, costs: Costs) -> Text:
    count = sum(int(row.count) for row in costs.rows if not row.unit)
    hose, pipe = sum(one.length for one in bill.hoses), sum(row.walked for row in bill.totals)
    bars = sum(len(size.bars) for size in plan.sizes)
    long = [
        f"{show(much, 'length', bill.layout.units)} of {what}"
        for much, what in ((hose, "hose"), (pipe, "pipe"))
        if much
    ]
    line = Text(bill.layout.name, style="bold")
    line.append(f": {count} fitting{'s' if count != 1 else ''} and other parts, {' and '.join(long)}")
    return line.append(f" from {bars} length{'s' if bars != 1 else ''}" if bars else "")


def _parts(costs: Costs, priced: bool) -> Iterator[Iterable[str | Text]]:
    for row in costs.rows:
        if not row.unit:
            implied = "" if not row.implied else "all" if row.implied == row.count else f"{row.implied}"
            yield f"{row.count:.0f}", row.name, row.size, implied, *_prices(row, priced)


def _pipe(bill: Bill, plan: CutPlan, costs: Costs, priced: bool) -> Iterator[Iterable[str | Text]]:
    units = bill.layout.units
    walked = {row.pipe.name: show(row.walked, "length", units) for row in bill.totals}
    cost_of = {row.size: row for row in costs.rows if row.kind == "pipe"}
    for size in plan.sizes:
        name = size.pipe.name
        yield (
            name,
            f"{len(size.bars)} × {show(size.stock, 'length', units)}",
            Text(f"{size.bound}", style="green" if size.proven else "yellow"),
            walked.get(name, ""),
            show(size.cut, "length", units),
            show(sum(bar.offcut for bar in size.bars), "length", units),
            *(_prices(cost_of[name], priced) if priced else ()),
        )
    for row in costs.rows:
        if row.kind == "hose":
            yield row.size, show(row.count, "length", units), "", "", "", "", *_prices(row, priced)


def _prices(row: Cost, priced: bool) -> tuple[str | Text, ...]:
    if not priced:
        return ()
    if row.each is None:
        return Text("no price", style="yellow"), ""
    return f"{row.each:.2f}", f"{row.cost:.2f}"


def _money(costs: Costs) -> Iterator[RenderableType]:
    if costs.placeholders:
        yield Text(
            "\nNo prices: give your own with --prices (docs/parts.md tells how). With placeholders, which come from no shop and are in no "
            f"currency, all this would make {costs.total:.2f}."
        )
        return
    missing = f", without the {len(costs.missing)} that it has no price for:" if costs.missing else ""
    total = Text(f"\nTogether {costs.total:.2f} {costs.currency}".rstrip(), style="bold")
    yield total.append(f", by '{costs.source}'{missing}", style="not bold")
    yield from points((f"{row.name}, {row.size}: {row.missing}" for row in costs.missing), style="yellow")


def _cuts(size: CutSize, units: Units) -> Iterator[tuple[str | Text, ...]]:
    for number, bar in enumerate(size.bars, 1):
        for k, sawn in enumerate(bar.pieces):
            piece = sawn.piece
            between = piece.note if piece.joint else f"{_offs(piece.before)} – {_offs(piece.after)}"
            between += f"; {piece.note}" if piece.note and not piece.joint else ""
            between += "; then a coupling" if sawn.part < sawn.of else ""
            yield (
                "" if k else f"{number}",
                sawn_words(sawn.length, units),
                "*" if piece.unknown and sawn.part == sawn.of else "",
                "" if piece.joint else Text(sawn_words(piece.centres, units), style="dim"),
                sawn.mark,
                Text(between, style="dim"),
            )
        yield "", Text(sawn_words(bar.offcut, units), style="dim"), "", "", Text("left over", style="dim"), ""


def _offs(offs: tuple[Off, ...]) -> str:
    return " + ".join(f"{off.name}{'?' if off.length is None else ''}" for off in offs) or "end"


# ---------------------------------------------------------------------- plain data


def parts_as_json(bill: Bill, plan: CutPlan, costs: Costs) -> dict[str, Any]:
    """Return the lists as plain data, every number finite or null: see `docs/json.md`."""
    return {
        **about(bill.layout),
        "parts": [_item(item) for item in (*bill.items, *plan.couplings)],
        "pipe": [fields(row, "size=pipe.name walked_m cut_m pieces") for row in bill.totals],
        "pieces": [_piece(piece, bill) for piece in bill.pieces],
        "hoses": [fields(hose, "size line steps length_m") for hose in bill.hoses],
        "cutting": {**fields(plan, "kerf_mm grid_mm"), "sizes": [_size(size) for size in plan.sizes]},
        "prices": {
            **fields(costs, "placeholders source"),
            "currency": costs.currency or None,
            "total": costs.total,
            "missing": len(costs.missing),
            "rows": [_cost(row) for row in costs.rows],
        },
        "notes": [*bill.notes, *costs.notes],
    }


def _item(item: Item) -> dict[str, Any]:
    places = [fields(place, "line step") | {"why": place.why or None} for place in item.places]
    return fields(item, "kind name size angle_deg=turn count implied") | {"places": places}


def _piece(piece: Piece, bill: Bill) -> dict[str, Any]:
    return {
        **fields(piece, "mark line steps size=pipe.name centres_m length_m"),
        "off": [
            {"end": end, **fields(off, "part=name takes_mm=length")}
            for end, offs in (("before", piece.before), ("after", piece.after))
            for off in offs
        ],
        "joint": piece.joint,
        "fits": piece not in bill.tight,
        **fields(piece, "from=start to=end"),
        "note": piece.note or None,
    }


def _size(size: CutSize) -> dict[str, Any]:
    bars = [
        {"pieces": [fields(sawn, "mark length_mm part of") for sawn in bar.pieces], **fields(bar, "offcut_mm")}
        for bar in size.bars
    ]
    told = fields(size, "size=pipe.name stock_m") | {"lengths": len(size.bars)}
    return told | fields(size, "bound proven proof=way") | {"bars": bars}


def _cost(row: Cost) -> dict[str, Any]:
    told = fields(row, "kind name size count") | {"unit": row.unit or None}
    return told | fields(row, "each cost") | {"missing": row.missing or None}
