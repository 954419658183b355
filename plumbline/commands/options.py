"""What the options of commands may say, and how JSON is printed."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

__all__ = ["READERS", "answer", "asked_for", "wish_options"]

if TYPE_CHECKING:
    from rich.console import RenderableType

    from ..files import Kind, NewFile
    from ..units import Dimension


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


Number = TypeVar("Number", int, float)


def _in(
    read: Callable[[str], Number], least: float, most: float, else_it: str, *, above: bool = False
) -> Callable[[str], Number]:
    """What reads a number from `least`, which `above` leaves out, to `most`; of any other text it is said what it `else_it`."""

    def within(text: str) -> Number:
        number = read(text)
        if not least <= number <= most or (above and number == least):
            raise argparse.ArgumentTypeError(f"'{text}' {else_it}")
        return number

    return within


def _of(dimension: Dimension) -> Callable[[str], float]:
    def read(text: str) -> float:
        from ..units import NotAQuantity, quantity

        try:
            return quantity(text, dimension)
        except NotAQuantity as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return read


def _number(text: str) -> float:
    """A number; one that is in no range for what is none."""
    try:
        return float(text)
    except ValueError:
        return math.nan


def _whole(text: str) -> int:
    return int(text) if re.fullmatch(r"[0-9]{1,9}", text) else -1


def _months(text: str) -> int:
    from ..upkeep.fouling import MOST_MONTHS

    return _in(_whole, 1, MOST_MONTHS, f"is no number of months from 1 to {MOST_MONTHS}")(text)


READERS: dict[str, Callable[[str], Any]] = {
    "share": _in(_of("ratio"), 0, 1, "is no share: 0 to 1, or 0 % to 100 %"),
    "share of the pipe": _in(
        _of("ratio"), 0, 1, "is no share of the pipe: above 0 and at most 100 %, for instance 80%", above=True
    ),
    "money": _in(_number, 0, 1e9, "is no amount: a number from 0 to 1000000000"),
    "hours": _in(_number, 0, 744, "is no number of hours: above 0 and at most 744", above=True),
    "months": _months,
    "pixels": _in(_whole, 240, 4000, "is not a width in pixels: a whole number from 240 to 4000"),
    "port": _in(_whole, 1, 65535, "is not a port: a whole number from 1 to 65535"),
    "speed": _in(_of("speed"), 0, 10, "is no speed to ask for here", above=True),
    "fish length": _in(_of("length"), 0, 10, "is no length to ask for here", above=True),
    "depth": _in(_of("length"), 0.01, 20, "is no depth for an air inlet: from 1 cm to 20 m, for instance 0.8 m"),
    "stock": _in(_of("length"), 0.2, 100, "is not between 0.2 m and 100 m"),
    "kerf": _in(_of("length"), 0, 0.05, "is not between 0 m and 0.05 m"),
}
"""What reads an option's text, by the word that the catalogue has for it."""


def wish_options() -> dict[str, tuple[str, str]]:
    """What a wish may say on the command line, with an example and its meaning."""
    from ..layout import words

    taken = {**words.WISH, "water": words.WATER["temperature"], "altitude": words.LAYOUT["altitude"]}
    return {word: (key.example, key.says) for word, key in taken.items()}
