"""XML elements from the standard library, which escapes every text and attribute as it writes them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from xml.etree.ElementTree import Element, tostring

__all__ = ["clean", "element", "number", "written"]


def clean(text: str) -> str:
    """A text without the control characters that XML does not allow.

    >>> clean("tank\\x07 1")
    'tank 1'
    """
    return "".join(char for char in text if char in "\t\n" or (char >= " " and char not in "\x7f\ufffe\uffff"
                   and not "\ud800" <= char <= "\udfff"))  # fmt: skip


def element(
    tag: str, attributes: Mapping[str, str] | None = None, children: Iterable[Element] = (), text: str | None = None
) -> Element:
    """An element with its attributes, children and text."""
    made = Element(tag, {name: clean(value) for name, value in (attributes or {}).items()})
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


def written(root: Element) -> str:
    """An element as text."""
    return tostring(root, encoding="unicode", short_empty_elements=True)
