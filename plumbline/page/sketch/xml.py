"""XML elements from the standard library, which escapes every text and attribute as it writes them."""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element, tostring

__all__ = ["clean", "element", "number", "polyline", "written"]


def clean(text: str) -> str:
    """A text without the control characters that XML does not allow.

    >>> clean("tank\\x07 1")
    'tank 1'
    """
    return "".join(
        char
        for char in text
        if char in "\t\n" or (char >= " " and char not in "\x7f\ufffe\uffff" and not "\ud800" <= char <= "\udfff")
    )


def element(tag: str, *children: Element, text: str | None = None, **attributes: str | float) -> Element:
    """An element; numbers are written as coordinates, and an underscore in an attribute's name as a hyphen.

    >>> written(element("path", class_="pipe", stroke_width=2.04))
    '<path class="pipe" stroke-width="2" />'
    """
    made = Element(tag)
    for name, value in attributes.items():
        said = clean(value) if isinstance(value, str) else number(value)
        made.set(name.rstrip("_").replace("_", "-"), said)
    made.text = None if text is None else clean(text)
    made.extend(children)
    return made


def number(value: float) -> str:
    """A coordinate, to a tenth of a pixel.

    >>> number(3.0), number(-0.04)
    ('3', '0')
    """
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def polyline(points: Iterable[tuple[float, float]], *, close: bool = False) -> str:
    """Path data through points."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points) + ("Z" if close else "")


def written(root: Element) -> str:
    """An element as text."""
    return tostring(root, encoding="unicode", short_empty_elements=True)
