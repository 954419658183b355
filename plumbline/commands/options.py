"""What the options of commands may say, and how JSON is printed."""

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING, Any, Literal

__all__ = ["Commands", "fish_length", "hours", "money", "months", "pixels", "port", "print_json", "share", "speed"]

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]
else:
    Commands = argparse._SubParsersAction


def print_json(data: Any) -> None:
    """Print one JSON object and nothing else; what would steer a terminal is told by its number, as JSON has it."""
    import json

    from ..streams import STEERS

    text = json.dumps(data, ensure_ascii=False, allow_nan=False, indent=1)
    print(STEERS.sub(lambda found: json.dumps(found[0])[1:-1], text))


def share(text: str) -> float:
    """A share, as 0.8 or 80 %."""
    from ..units import NotAQuantity, quantity

    try:
        number = quantity(text, "ratio")
    except NotAQuantity as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    if not 0.0 <= number <= 1.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no share: 0 to 1, or 0 % to 100 %")
    return number


_MOST_MONEY = 1e9


def money(text: str) -> float:
    """An amount, 0 or more."""
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0.0 <= number <= _MOST_MONEY:
        raise argparse.ArgumentTypeError(f"'{text}' is no amount: a number from 0 to {_MOST_MONEY:.0f}")
    return number


def hours(text: str) -> float:
    """A number of hours, up to a month of them."""
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0.0 < number <= 744.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of hours: above 0 and at most 744")
    return number


def pixels(text: str) -> int:
    """A picture's width in pixels."""
    if not text.isascii() or not text.isdigit() or not 240 <= int(text) <= 4000:
        raise argparse.ArgumentTypeError(f"'{text}' is not a width in pixels: a whole number from 240 to 4000")
    return int(text)


def port(text: str) -> int:
    """A port to serve on."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"'{text}' is not a port: a whole number from 1 to 65535")
    return int(text)


def speed(text: str) -> float:
    """A speed above zero [m/s]."""
    return _above_zero(text, "speed")


def fish_length(text: str) -> float:
    """A fish's length above zero [m]."""
    return _above_zero(text, "length")


def _above_zero(text: str, what: Literal["speed", "length"]) -> float:
    from ..units import NotAQuantity, quantity

    try:
        value = quantity(text, what)
    except NotAQuantity as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    if not 0.0 < value < 10.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no {what} to ask for here")
    return value


def months(text: str) -> int:
    """A number of months."""
    from ..upkeep.fouling import MOST_MONTHS

    if not re.fullmatch(r"[0-9]{1,4}", text) or not 1 <= int(text) <= MOST_MONTHS:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of months from 1 to {MOST_MONTHS}")
    return int(text)
