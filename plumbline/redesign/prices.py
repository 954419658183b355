"""What changes cost: placeholder prices from `catalogue/changes.yaml`, or the user's own in a file like it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..catalogue.reading import data
from ..errors import PlumblineError

__all__ = ["Prices", "read_prices"]

_BASE = 0.025
_WORDS = ("money", "minutes", "metre", "fitting", "minutes a metre", "minutes a fitting")


@dataclass(frozen=True)
class Prices:
    """Prices by kind of change; `hour` is what an hour of labour costs; `placeholders` until the user gives a file."""

    rows: Mapping[str, Mapping[str, Any]]
    hour: float
    placeholders: bool = True

    def of(self, kind: str, outside: float, metres: float = 0.0, fittings: int = 0) -> tuple[float, float]:
        """Money and minutes of a change in pipe of `outside` diameter [m], with so much pipe laid anew.

        >>> read_prices().of("union", 0.05)
        (10.0, 15.0)
        """
        row = self.rows[kind]
        size = outside / _BASE if row.get("size") else 1.0
        money = size * (row["money"] + row.get("metre", 0.0) * metres + row.get("fitting", 0.0) * fittings)
        minutes = (
            row["minutes"] + row.get("minutes a metre", 0.0) * metres + row.get("minutes a fitting", 0.0) * fittings
        )
        return round(float(money), 2), round(float(minutes), 1)


def read_prices(path: str | os.PathLike[str] | None = None, hour: float | None = None) -> Prices:
    """Read the prices of changes.

    Parameters:
        path: a file of the user's own, in the form of `catalogue/changes.yaml`; kinds it leaves out keep their placeholders.
        hour: what an hour of labour costs; 0 for one's own work.

    Raises:
        PlumblineError: where the file cannot be read, or a price is no number.
    """
    rows = data("changes.yaml")
    own: dict[str, Any] = {}
    if path is not None:
        own = _own(os.fspath(path), rows)
        rows = {kind: {**row, **own.get(kind, {})} for kind, row in rows.items()}
    labour = rows.pop("labour")
    return Prices(rows, float(labour["money an hour"] if hour is None else hour), placeholders=not own)


def _own(path: str, rows: Mapping[str, Any]) -> dict[str, Any]:
    import yaml

    try:
        with open(path, encoding="utf-8") as file:
            found = yaml.safe_load(file)
    except (OSError, UnicodeDecodeError, yaml.YAMLError):
        raise PlumblineError(f"The prices in '{path}' cannot be read: a YAML file like the catalogue's own is "
                             "expected, for instance union: {money: 5, minutes: 15}.") from None  # fmt: skip
    if not isinstance(found, dict):
        raise PlumblineError(f"'{path}' holds no prices: lines such as union: {{money: 5, minutes: 15}} are expected.")
    for kind, row in found.items():
        if kind not in rows:
            raise PlumblineError(
                f"'{path}' has a price for '{kind}', which is no change. There are: {', '.join(rows)}."
            )
        if not isinstance(row, dict):
            raise PlumblineError(
                f"The price of '{kind}' in '{path}' is not understood: {{money: 5, minutes: 15}} is expected."
            )
        for word, value in row.items():
            number = isinstance(value, int | float) and not isinstance(value, bool) and value >= 0.0
            if (word in (*_WORDS, "money an hour") and not number) or (word == "size" and not isinstance(value, bool)):
                raise PlumblineError(
                    f"In '{path}', the {word} of '{kind}' is '{value}': a number, not below 0, is expected."
                )
    return found
