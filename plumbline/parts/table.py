"""A bill, its cutting plan and its costs as one table, for a CSV file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

from ..streams import shown
from .model import Bill
from .plan import CutPlan
from .prices import Costs

__all__ = ["COLUMNS", "csv_text"]

COLUMNS = (
    "list",
    "item",
    "size",
    "count",
    "unit",
    "implied",
    "price",
    "cost",
    "currency",
    "length mm",
    "stock",
    "mark",
    "note",
)
"""The columns of the file; `list` is "buy", "cut", "offcut", "hose" or "note"."""

_Row = dict[str, object]
_FORMULA = re.compile(r"(\A\s*|[;\t]\s*)([=+\-@＝＋－＠])")


def csv_text(bill: Bill, plan: CutPlan, costs: Costs) -> str:
    """The table as text.

    Its rows: each part to buy, with its price; each piece to saw, with its mark and the number of the stock length that it comes
    from; what is left of each stock length; hoses; notes. Prices that are placeholders have "placeholder" for a currency.
    """
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n", restval="")
    writer.writeheader()
    for row in _rows(bill, plan, costs):
        writer.writerow({key: _safe(value) for key, value in row.items()})
    return out.getvalue()


def _rows(bill: Bill, plan: CutPlan, costs: Costs) -> Iterator[_Row]:
    currency = "placeholder" if costs.placeholders else costs.currency
    stocks = {size.pipe.name: size.stock for size in plan.sizes}
    for cost in costs.rows:
        yield {
            "list": "buy",
            "item": cost.name,
            "size": cost.size,
            "count": round(cost.count, 3),
            "unit": cost.unit,
            "implied": cost.implied or "",
            "price": _money(cost.each),
            "cost": _money(cost.cost),
            "currency": currency if cost.each is not None else "",
            "note": cost.missing,
            "length mm": round(1000.0 * stocks[cost.size], 1) if cost.kind == "pipe" else "",
        }
    for size in plan.sizes:
        for number, bar in enumerate(size.bars, 1):
            for sawn in bar.pieces:
                unknown = f"still to come off: {', '.join(sawn.piece.unknown)}" if sawn.piece.unknown else ""
                note = "; ".join(one for one in (sawn.piece.note, unknown) if one)
                yield _cut("cut", size.pipe.name, sawn.length) | {"stock": number, "mark": sawn.mark, "note": note}
            yield _cut("offcut", size.pipe.name, bar.offcut) | {"stock": number}
    for hose in bill.hoses:
        mark = f"{hose.line} {hose.steps[0]}" if hose.steps else hose.line
        yield _cut("hose", hose.size, hose.length) | {"mark": mark}
    for note in (*bill.notes, *costs.notes):
        yield {"list": "note", "note": note}


def _cut(what: str, size: str, length: float) -> _Row:
    item = "hose" if what == "hose" else "pipe"
    return {"list": what, "item": item, "size": size, "count": 1, "length mm": round(1000.0 * length, 1)}


def _money(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _safe(value: object) -> object:
    """Text that a spreadsheet would take for a formula gets an apostrophe before it, after a semicolon too, where some
    spreadsheets begin a cell; and what is no text is told by its number."""
    return _FORMULA.sub(r"\1'\2", shown(value)) if isinstance(value, str) else value
