"""A parts list and a cutting list on a terminal and as plain data. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from ..parts import Bill, Cost, Costs, CutPlan, CutSize, Item, Off, Piece, Sawn
from ..units import Units, inches, show
from .care import care
from .plain import about, fields, heading, in_units, plain_table, point, points

__all__ = ["PartsView", "parts_as_json", "sawn_words"]

_NOTES = (
    "Lengths are between the stops of moulded sockets, by the standards as remembered: measure one fitting of each kind before you "
    "cut, and cut the longest pieces first.",
    "Not in the list: vessels and pumps, clips and hangers, cement and primer, tape and seals. 'plumbline parts --csv' writes "
    "everything to a table.",
)


def sawn_words(length: float, units: Units) -> str:
    """A length to saw, to the millimetre or to the sixteenth of an inch.

    >>> sawn_words(1.4352, Units()), sawn_words(0.0254 * 12.5625, Units(length="ft", size="in"))
    ('1435 mm', '12 9/16 in')
    """
    if units.length != "ft":
        return f"{1000.0 * length:.0f} mm"
    return f"{inches(length, 16)} in"


class PartsView:
    """A rich renderable of a bill, its cutting plan and its costs."""

    def __init__(self, bill: Bill, plan: CutPlan, costs: Costs) -> None:
        self.bill = bill
        self.plan = plan
        self.costs = costs
        self.units = bill.layout.units

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield self._headline()
        yield heading("Fittings and other parts")
        yield self._parts()
        if self.plan.sizes or self.bill.hoses:
            yield heading("Pipe and hose")
            yield self._pipe()
            if self.plan.sizes:
                every = (
                    "so these are the fewest"
                    if all(size.proven for size in self.plan.sizes)
                    else "where more are bought, fewer may do"
                )
                yield Text(
                    f"least: no cutting of these pieces needs fewer lengths, that is proven; {every}.", style="dim"
                )
        yield from self._money()
        for size in self.plan.sizes:
            yield from self._cuts(size)
        yield from self._foot()
        yield from self._implied()
        yield from self._tight()
        yield heading("Worth knowing")
        yield from points((*self.bill.notes, *self.costs.notes, *_NOTES))
        yield from care("parts", self.bill.layout)

    def _headline(self) -> Text:
        count = sum(int(row.count) for row in self.costs.rows if not row.unit)
        walked = sum(row.walked for row in self.bill.totals)
        bars = sum(len(size.bars) for size in self.plan.sizes)
        line = Text(self.bill.layout.name, style="bold")
        hose = sum(one.length for one in self.bill.hoses)
        long = [
            f"{show(much, 'length', self.units)} of {what}" for much, what in ((hose, "hose"), (walked, "pipe")) if much
        ]
        line.append(f": {count} fitting{'s' if count != 1 else ''} and other parts, {' and '.join(long)}")
        line.append(f" from {bars} length{'s' if bars != 1 else ''}" if bars else "")
        return line

    def _parts(self) -> Table:
        priced = not self.costs.placeholders
        table = plain_table(">", "part", "size", ">implied", *((">each", ">cost") if priced else ()), whole=True)
        for row in self.costs.rows:
            if not row.unit:
                implied = "" if not row.implied else "all" if row.implied == row.count else f"{row.implied}"
                table.add_row(
                    f"{row.count:.0f}", Text(row.name), Text(row.size), implied, *(_prices(row) if priced else ())
                )
        return table

    def _pipe(self) -> Table:
        priced = not self.costs.placeholders
        table = plain_table(
            "pipe",
            ">to buy",
            ">least",
            ">walked",
            ">cut",
            ">left over",
            *((">each", ">cost") if priced else ()),
            whole=True,
        )
        totals = {row.pipe.name: row for row in self.bill.totals}
        costs = {(row.kind, row.size): row for row in self.costs.rows}
        for size in self.plan.sizes:
            name = size.pipe.name
            left = sum(bar.offcut for bar in size.bars)
            walked = show(totals[name].walked, "length", self.units) if name in totals else ""
            table.add_row(
                Text(name),
                f"{len(size.bars)} × {show(size.stock, 'length', self.units)}",
                Text(f"{size.bound}", style="green" if size.proven else "yellow"),
                walked,
                show(size.cut, "length", self.units),
                show(left, "length", self.units),
                *(_prices(costs["pipe", name]) if priced else ()),
            )
        for row in self.costs.rows:
            if row.kind == "hose":
                table.add_row(
                    Text(row.size),
                    show(row.count, "length", self.units),
                    "",
                    "",
                    "",
                    "",
                    *(_prices(row) if priced else ()),
                )
        return table

    def _money(self) -> Iterator[RenderableType]:
        costs = self.costs
        if costs.placeholders:
            yield Text()
            yield Text(
                "No prices: give your own with --prices (docs/parts.md tells how). With placeholders, which come from no shop and are in no "
                f"currency, all this would make {costs.total:.2f}."
            )
            return
        total = Text(f"\nTogether {costs.total:.2f} {costs.currency}".rstrip(), style="bold")
        total.append(f", by '{costs.source}'", style="not bold")
        if costs.missing:
            total.append(f", without the {len(costs.missing)} that it has no price for:", style="not bold")
        yield total
        for row in costs.missing:
            yield point(f"{row.name}, {row.size}: {row.missing}", style="yellow")

    def _cuts(self, size: CutSize) -> Iterator[RenderableType]:
        number = len(size.bars)
        yield heading(
            f"Cut {size.pipe.name}: {number} length{'s' if number != 1 else ''} of {show(size.stock, 'length', self.units)}"
        )
        table = plain_table(">", ">cut", "", ">centres", "mark", "between", whole=True)
        for index, bar in enumerate(size.bars, 1):
            for k, sawn in enumerate(bar.pieces):
                table.add_row("" if k else f"{index}", *self._row(sawn))
            table.add_row(
                "", Text(sawn_words(bar.offcut, self.units), style="dim"), "", "", Text("left over", style="dim"), ""
            )
        yield table

    def _row(self, sawn: Sawn) -> tuple[RenderableType, ...]:
        piece = sawn.piece
        between = piece.note if piece.joint else f"{_offs(piece.before)} – {_offs(piece.after)}"
        if piece.note and not piece.joint:
            between += f"; {piece.note}"
        if sawn.part < sawn.of:
            between += "; then a coupling"
        return (
            Text(sawn_words(sawn.length, self.units)),
            "*" if piece.unknown and sawn.part == sawn.of else "",
            "" if piece.joint else Text(sawn_words(piece.centres, self.units), style="dim"),
            Text(sawn.mark),
            Text(between, style="dim"),
        )

    def _foot(self) -> Iterator[RenderableType]:
        some = [sawn for size in self.plan.sizes for bar in size.bars for sawn in bar.pieces if sawn.piece.unknown]
        if some:
            yield Text(
                "\n* Too long as it stands: of the part marked ? it is not known how much of the walk it takes up. Measure that on the part "
                "and cut it off as well."
            )
        if self.plan.sizes:
            yield Text(
                f"A mark is the line and the step where the piece begins. Each saw cut takes {sawn_words(self.plan.kerf, self.units)}."
            )

    def _implied(self) -> Iterator[RenderableType]:
        rows = [item for item in (*self.bill.items, *self.plan.couplings) if item.implied]
        if rows:
            yield heading("Implied: not in the file, but needed")
        for item in rows:
            whys = list(dict.fromkeys(place.why for place in item.places if place.why))
            yield point(f"{item.implied} × {item.name}, {item.size}: {'; '.join(whys)}")

    def _tight(self) -> Iterator[RenderableType]:
        if self.bill.tight:
            yield heading("No room")
        for piece in self.bill.tight:
            names = " and ".join(off.name for off in (*piece.before[:1], *piece.after[:1]))
            room = f"{sawn_words(piece.centres, self.units)} between centres, and {sawn_words(max(piece.length, 0.0), self.units)} left for pipe"
            yield point(f"{piece.mark}: {names} stand too close for their sockets: {room}.", style="red")


def _offs(offs: tuple[Off, ...]) -> str:
    return " + ".join(f"{off.name}{'?' if off.length is None else ''}" for off in offs) or "end"


def _prices(row: Cost) -> tuple[Text, Text]:
    if row.each is None:
        return Text("no price", style="yellow"), Text("")
    return Text(f"{row.each:.2f}"), Text(f"{row.cost:.2f}")


# ---------------------------------------------------------------------- plain data


def parts_as_json(bill: Bill, plan: CutPlan, costs: Costs) -> dict[str, Any]:
    """Return the lists as plain data, every number finite or null: see `docs/json.md`."""
    return {
        **about(bill.layout),
        "parts": [_item(item) for item in (*bill.items, *plan.couplings)],
        "pipe": [{"size": row.pipe.name, **fields(row, "walked_m", "cut_m", "pieces")} for row in bill.totals],
        "pieces": [_piece(piece, bill) for piece in bill.pieces],
        "hoses": [fields(hose, "size", "line", "steps", "length_m") for hose in bill.hoses],
        "cutting": {**fields(plan, "kerf_mm", "grid_mm"), "sizes": [_size(size) for size in plan.sizes]},
        "prices": {
            **fields(costs, "placeholders", "source"),
            "currency": costs.currency or None,
            "total": costs.total,
            "missing": len(costs.missing),
            "rows": [_cost(row) for row in costs.rows],
        },
        "notes": [*bill.notes, *costs.notes],
    }


def _item(item: Item) -> dict[str, Any]:
    return {
        **fields(item, "kind", "name", "size"),
        **in_units({"angle_deg": item.turn}),
        **fields(item, "count", "implied"),
        "places": [{**fields(place, "line", "step"), "why": place.why or None} for place in item.places],
    }


def _piece(piece: Piece, bill: Bill) -> dict[str, Any]:
    return {
        **fields(piece, "mark", "line", "steps"),
        "size": piece.pipe.name,
        **fields(piece, "centres_m", "length_m"),
        "off": [
            {"end": end, "part": off.name, **in_units({"takes_mm": off.length})}
            for end, offs in (("before", piece.before), ("after", piece.after))
            for off in offs
        ],
        "joint": piece.joint,
        "fits": piece not in bill.tight,
        "from": list(piece.start),
        "to": list(piece.end),
        "note": piece.note or None,
    }


def _size(size: CutSize) -> dict[str, Any]:
    return {
        "size": size.pipe.name,
        "stock_m": size.stock,
        "lengths": len(size.bars),
        **fields(size, "bound", "proven"),
        "proof": size.way,
        "bars": [
            {
                "pieces": [fields(sawn, "mark", "length_mm", "part", "of") for sawn in bar.pieces],
                **fields(bar, "offcut_mm"),
            }
            for bar in size.bars
        ],
    }


def _cost(row: Cost) -> dict[str, Any]:
    return {
        **fields(row, "kind", "name", "size", "count"),
        "unit": row.unit or None,
        **fields(row, "each", "cost"),
        "missing": row.missing or None,
    }
