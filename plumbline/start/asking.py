"""What is wanted of a first layout: from options, or asked for a line at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Literal

from ..errors import PlumblineError
from ..units import NotAQuantity, quantity
from .making import SYSTEMS, Wish

__all__ = ["wish_from"]


def wish_from(given: Mapping[str, str | None], *, ask: bool, answer: Callable[[str], str] = input) -> Wish:
    """Put a wish together of what options say, `given` as text with units, by "system", "name", "flow", "distance", "height" and "beds".
    What was not given is what is usual, or with `ask` is asked for: `answer` puts a question and returns what was typed.

    Raises:
        PlumblineError: for an answer that is not understood.
    """
    said = dict(given)
    if ask:
        _ask(said, answer)
    system = said.get("system") or "beds"
    if system not in SYSTEMS:
        raise PlumblineError(f"There is no system '{system}'. There are: {', '.join(SYSTEMS)}.")
    return Wish(
        system,
        _number(said, "flow", "flow"),
        _number(said, "distance", "length"),
        _number(said, "height", "length"),
        _beds(said),
        said.get("name") or None,
    )


def _ask(said: dict[str, str | None], answer: Callable[[str], str]) -> None:
    """Ask for what was not given, of what the system has a use for."""
    if not said.get("system"):
        listed = "\n".join(f"  {name:<9} {system.title}" for name, system in SYSTEMS.items())
        said["system"] = answer(f"Which system is it most like?\n{listed}\n[beds] ").strip() or "beds"
    system = SYSTEMS.get(said["system"] or "")
    if system is None:
        return
    if not said.get("name"):
        said["name"] = answer(f"What is it called? [{system.title}] ").strip()
    each = "through it" if system.template == "chain.txt" else "to each bed"
    far = "How far is it along the pipe?" if system.beds is None else "How far from bed to bed?"
    questions = (
        ("beds", "How many beds?", system.beds, ""),
        ("height", "How high is the beds' floor above the ground?", system.height, " m"),
        ("distance", far, system.distance, " m"),
        ("flow", f"How much water is to go {each}?", system.flow, " L/min"),
    )
    for key, question, allowed, unit in questions:
        if allowed is not None and not said.get(key):
            usual = f"{allowed.least:g} to {allowed.most:g}{unit} [{allowed.usual:g}{unit}]"
            said[key] = answer(f"{question} {usual} ").strip()


def _number(said: Mapping[str, str | None], key: str, dimension: Literal["length", "flow"]) -> float | None:
    text = said.get(key)
    if not text:
        return None
    try:
        return quantity(text, dimension)
    except NotAQuantity as error:
        raise PlumblineError(f"{error}, for the {key}.") from None


def _beds(said: Mapping[str, str | None]) -> int | None:
    text = said.get("beds")
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or len(text) > 3:
        raise PlumblineError(f"'{text}' is no number of beds.")
    return int(text)
