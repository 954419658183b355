"""What the options of commands may say, and how JSON is printed."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Literal

__all__ = [
    "answer",
    "asked_for",
    "fish_length",
    "hours",
    "money",
    "months",
    "pixels",
    "port",
    "share",
    "speed",
    "wish_options",
]

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ..files import Kind, NewFile


def asked_for(path: str | None, kind: Kind, chosen: argparse.Namespace, *inputs: str | None) -> NewFile | None:
    """The file that an option asks to be written, if it may be; None where none does. FILE and the `inputs` are never written over."""
    from ..files import new_file

    over = getattr(chosen, "force", None)
    return None if path is None else new_file(path, kind, inputs=(chosen.file, *inputs), over=over)


def answer(
    chosen: argparse.Namespace, as_json: Callable[[], Any], view: Callable[[], RenderableType], *, status: int = 0
) -> int:
    """Print an answer: as one JSON object and nothing else where that was asked for, or else on the screen. Returns the exit status."""
    if chosen.json:
        _print_json(as_json())
    else:
        from ..report.screen import put_on_screen

        put_on_screen(view())
    return status


def _print_json(data: Any) -> None:
    """Print JSON; what would steer a terminal is told by its number, as JSON has it."""
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
    number = _number(text)
    if not 0.0 <= number <= _MOST_MONEY:
        raise argparse.ArgumentTypeError(f"'{text}' is no amount: a number from 0 to {_MOST_MONEY:.0f}")
    return number


def _number(text: str) -> float:
    """A number; below nothing for what is none."""
    try:
        return float(text)
    except ValueError:
        return -1.0


def hours(text: str) -> float:
    """A number of hours, up to a month of them."""
    number = _number(text)
    if not 0.0 < number <= 744.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of hours: above 0 and at most 744")
    return number


def pixels(text: str) -> int:
    """A picture's width in pixels."""
    return _whole(text, 240, 4000, "is not a width in pixels: a whole number")


def port(text: str) -> int:
    """A port to serve on."""
    return _whole(text, 1, 65535, "is not a port: a whole number")


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

    return _whole(text, 1, MOST_MONTHS, "is no number of months")


def _whole(text: str, least: int, most: int, else_it: str) -> int:
    if not re.fullmatch(r"[0-9]{1,9}", text) or not least <= int(text) <= most:
        raise argparse.ArgumentTypeError(f"'{text}' {else_it} from {least} to {most}")
    return int(text)


def wish_options() -> dict[str, tuple[str, str]]:
    """What a wish may say on the command line, with an example and its meaning."""
    from ..layout import words

    taken = {**words.WISH, "water": words.WATER["temperature"], "altitude": words.LAYOUT["altitude"]}
    return {word: (key.example, key.says) for word, key in taken.items()}
