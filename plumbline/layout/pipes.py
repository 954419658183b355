"""The pipe of a line or a run: a size of the catalogue, or a bore with its wall."""

from __future__ import annotations

from .. import catalogue
from ..units import show
from . import words
from .model import Default, Pipe
from .nearest import by_nearness
from .nodes import Node
from .statements import UNREAD_PIPE
from .values import Values, plain

__all__ = ["read_pipe"]

ROUGHEST = 0.05
"""Largest roughness in bores: the end of Moody's diagram, beyond which pipe friction is not measured."""


def read_pipe(node: Node, values: Values, defaults: list[Default]) -> Pipe:
    """Read a pipe; UNREAD_PIPE, and a fault, where it cannot be read."""
    faults = values.faults
    if node.is_nothing:
        return UNREAD_PIPE  # the empty value was noted by whoever read its key
    if node.text is not None:
        word = plain(node.text)
        table = catalogue.pipes()
        if word not in table:
            squeezed = word.lower().replace(" ", "")
            same = [table[other].name for other in table.words if other.replace(" ", "") == squeezed]
            near = ", ".join(by_nearness(word, [*same, *table], 8))
            some = f"a pipe of the catalogue: {near}, … ({len(table)} in all); or {{bore: 26 mm, material: pvc}}"
            faults.unknown(node.mark, word, "pipe", [*same, *table], expected=some)
            return UNREAD_PIPE
        row = table[word]
        return Pipe(row.name, row.bore, catalogue.materials()[row.material].roughness, row.outside, row.material)
    got = values.fields(node, words.PIPE, "the pipe")
    if got is None:
        return UNREAD_PIPE
    number = {word: one.number for word, one in got.items()}
    bore, roughness, outside = number.get("bore"), number.get("roughness"), number.get("outside")
    material = None
    if "material" in got and not got["material"].node.is_nothing:
        material = values.text(got["material"].node, "material", "a material of the catalogue")
        if material is None:
            return UNREAD_PIPE
        if material not in catalogue.materials():
            faults.unknown(got["material"].mark, material, "material", catalogue.materials())
            return UNREAD_PIPE
        material = catalogue.materials()[material].name
    if bore is None or any(word in got and number[word] is None for word in ("roughness", "outside")):
        return UNREAD_PIPE
    size = show(bore, "size", values.units, decimals=1).replace(".0 ", " ")
    if outside is not None and outside <= bore:
        faults.add(got["outside"].mark, f"an outside of {got['outside'].node.text} on a bore of {size}",
                   "an outside larger than the bore", also=[got["bore"].mark])  # fmt: skip
        return UNREAD_PIPE
    if roughness is None:
        if material is None:
            material = "pvc"
            defaults.append(Default(f"pipe of {size} bore", "the roughness of pvc", "its material left out"))
        roughness = catalogue.materials()[material].roughness
    if roughness > ROUGHEST * bore:
        faults.add(node.mark, f"a wall as rough as {roughness / bore:.0%} of the bore", "at most 5 % of the bore, "
                   "as far as pipe friction has been measured")  # fmt: skip
        return UNREAD_PIPE
    return Pipe(f"{size} bore", bore, roughness, outside, material)
