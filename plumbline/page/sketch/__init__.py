"""The sketch of a layout: placed in space, seen from a side, drawn as SVG.

Layout ─ skeleton, places ─▶ Placed ─ views, strokes ─▶ Strokes ─ labels, symbols ─▶ draw ─▶ SVG text
"""

from .draw import Sketch, sketch
from .views import VIEWS

__all__ = ["VIEWS", "Sketch", "sketch"]
