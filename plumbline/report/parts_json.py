"""A parts list and a cutting list as plain data: see `docs/json.md`. Computes nothing."""

from __future__ import annotations

import math
from typing import Any

from .. import __version__
from ..parts import Bill, Cost, Costs, CutPlan, CutSize, Item, Off, Piece

__all__ = ["parts_as_json"]


def parts_as_json(bill: Bill, plan: CutPlan, costs: Costs) -> dict[str, Any]:
    """Return the lists as plain data, every number finite or null."""
    return {
        "layout": bill.layout.name,
        "plumbline": __version__,
        "parts": [_item(item) for item in (*bill.items, *plan.couplings)],
        "pipe": [
            {"size": row.pipe.name, "walked_m": row.walked, "cut_m": row.cut, "pieces": row.pieces} for row in bill.totals
        ],
        "pieces": [_piece(piece, bill) for piece in bill.pieces],
        "hoses": [{"size": hose.size, "line": hose.line, "steps": list(hose.steps), "length_m": hose.length} for hose in bill.hoses],
        "cutting": {"kerf_mm": 1000.0 * plan.kerf, "grid_mm": 1000.0 * plan.grid, "sizes": [_size(size) for size in plan.sizes]},
        "prices": {
            "placeholders": costs.placeholders,
            "source": costs.source,
            "currency": costs.currency or None,
            "total": costs.total,
            "missing": len(costs.missing),
            "rows": [_cost(row) for row in costs.rows],
        },
        "notes": [*bill.notes, *costs.notes],
    }  # fmt: skip


def _item(item: Item) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "name": item.name,
        "size": item.size,
        "angle_deg": None if item.turn is None else math.degrees(item.turn),
        "count": item.count,
        "implied": item.implied,
        "places": [{"line": place.line, "step": place.step, "why": place.why or None} for place in item.places],
    }


def _piece(piece: Piece, bill: Bill) -> dict[str, Any]:
    return {
        "mark": piece.mark,
        "line": piece.line,
        "steps": list(piece.steps),
        "size": piece.pipe.name,
        "centres_m": piece.centres,
        "length_m": piece.length,
        "off": [_off(off, end) for end, offs in (("before", piece.before), ("after", piece.after)) for off in offs],
        "joint": piece.joint,
        "fits": piece not in bill.tight,
        "from": list(piece.start),
        "to": list(piece.end),
        "note": piece.note or None,
    }


def _off(off: Off, end: str) -> dict[str, Any]:
    return {"end": end, "part": off.name, "takes_mm": None if off.length is None else 1000.0 * off.length}


def _size(size: CutSize) -> dict[str, Any]:
    return {
        "size": size.pipe.name,
        "stock_m": size.stock,
        "lengths": len(size.bars),
        "bound": size.bound,
        "proven": size.proven,
        "proof": size.way,
        "bars": [
            {
                "pieces": [
                    {"mark": sawn.mark, "length_mm": 1000.0 * sawn.length, "part": sawn.part, "of": sawn.of} for sawn in bar.pieces
                ],
                "offcut_mm": 1000.0 * bar.offcut,
            }
            for bar in size.bars
        ],
    }  # fmt: skip


def _cost(row: Cost) -> dict[str, Any]:
    return {"kind": row.kind, "name": row.name, "size": row.size, "count": row.count, "unit": row.unit or None, "each": row.each,
            "cost": row.cost, "missing": row.missing or None}  # fmt: skip
