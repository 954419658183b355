"""What a layout is built of: parts list, cutting list, prices."""

from __future__ import annotations

from .bill import bill_of
from .difference import Difference, difference
from .model import Bill, Item, Off, Piece
from .plan import CutPlan, CutSize, Sawn, plan_of
from .price_file import read_price_file
from .prices import Cost, Costs, cost_of, plan_for
from .table import csv_text

__all__ = [
    "Bill",
    "Cost",
    "Costs",
    "CutPlan",
    "CutSize",
    "Difference",
    "Item",
    "Off",
    "Piece",
    "Sawn",
    "bill_of",
    "cost_of",
    "csv_text",
    "difference",
    "plan_for",
    "plan_of",
    "read_price_file",
]
