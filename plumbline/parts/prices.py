"""What a bill costs: from the user's price file, or with placeholders that are marked as such and come from no shop."""

from __future__ import annotations

from dataclasses import dataclass

from ..catalogue.reading import data
from ..errors import PlumblineError
from .model import Bill
from .plan import CutPlan, plan_of
from .price_file import PriceFile
from .sizes import outside_of

__all__ = ["Cost", "Costs", "cost_of", "plan_for"]

_BASE = 0.025


@dataclass(frozen=True, slots=True)
class Cost:
    """One row of what to buy. `count` of `unit` ("", "length" or "m"); `each` and `cost` None where no price is known."""

    kind: str
    name: str
    size: str
    count: float
    unit: str
    implied: int
    each: float | None
    missing: str = ""

    @property
    def cost(self) -> float | None:
        """Count times price, to the cent."""
        return None if self.each is None else round(self.count * self.each, 2)


@dataclass(frozen=True, slots=True)
class Costs:
    """What a bill costs. `placeholders` until the user gives prices: then nothing here is a price. `total` leaves out the
    `missing` rows."""

    rows: tuple[Cost, ...]
    currency: str
    placeholders: bool
    source: str
    notes: tuple[str, ...] = ()

    @property
    def missing(self) -> tuple[Cost, ...]:
        """Rows without a price."""
        return tuple(row for row in self.rows if row.each is None)

    @property
    def total(self) -> float:
        """Of the rows that have a price, to the cent."""
        return round(sum(row.cost or 0.0 for row in self.rows), 2)


def plan_for(bill: Bill, prices: PriceFile | None, *, stock: float | None = None, kerf: float | None = None) -> CutPlan:
    """Plan the cutting from lengths of `stock` [m] with a `kerf` [m]; what the price file says of a size goes before `stock`.

    Raises:
        PlumblineError: where the pipe cannot be cut from such lengths.
    """
    stocks = {}
    if prices is not None:
        pipes = ((size, row.length) for (kind, size), row in prices.rows.items() if kind == "pipe")
        stocks = {size: long for size, long in pipes if long is not None}
        stock = prices.stock if stock is None else stock
    try:
        return plan_of(bill, stock=stock, kerf=kerf, stocks=stocks)
    except ValueError as wrong:
        raise PlumblineError(
            f"The pipe cannot be cut from lengths like these: {wrong}. Give a longer --stock."
        ) from None


def cost_of(bill: Bill, plan: CutPlan, prices: PriceFile | None = None) -> Costs:
    """Price a bill and its cutting plan: a row for each part and size, pipe by the stock length and hose by the metre. Without prices of the
    user's own, placeholders for everything; a part that their file has no price for has none, since placeholders never stand beside prices."""
    made = data("part_prices.yaml")
    rows = []
    for item in (*bill.items, *plan.couplings):
        each, why = _price(prices, item.kind, item.size, made[item.kind]["each"] * item.outside / _BASE)
        rows.append(Cost(item.kind, item.name, item.size, float(item.count), "", item.implied, each, why))
    for size in plan.sizes:
        metre = made["pipe"]["metre"] * outside_of(size.pipe) / _BASE
        each, why = _price(prices, "pipe", size.pipe.name, metre * size.stock, size.stock)
        rows.append(Cost("pipe", "pipe", size.pipe.name, float(len(size.bars)), "length", 0, each, why))
    lengths: dict[str, float] = {}
    for hose in bill.hoses:
        lengths[hose.size] = lengths.get(hose.size, 0.0) + hose.length
    for name, length in lengths.items():
        each, why = _price(prices, "hose", name, float(made["hose"]["metre"]))
        rows.append(Cost("hose", "hose", name, length, "m", 0, each, why))
    if prices is None:
        return Costs(tuple(rows), "", True, "placeholders: from no shop and in no currency")
    nameless = [] if prices.currency else [f"'{prices.path}' names no currency."]
    return Costs(tuple(rows), prices.currency, False, prices.path, (*prices.notes, *nameless))


def _price(
    prices: PriceFile | None, kind: str, size: str, made: float, stock: float | None = None
) -> tuple[float | None, str]:
    """The price of one, and why there is none."""
    if prices is None:
        return round(made, 2), ""
    word = "reducer" if kind == "expander" else kind
    row = prices.rows.get((word, size))
    if row is None:
        return None, "no price in the file"
    if stock is not None:
        length = row.length if row.length is not None else prices.stock
        if length is not None and abs(length - stock) > 1e-3:
            return None, f"the file's price is for {length:g} m"
    return row.price, ""
