"""Fish and plants: from what is wished for to feed, stock, oxygen, flow and water used."""

from .sizing import Row, Sizing, size
from .wish import Between, Wish

__all__ = ["Between", "Row", "Sizing", "Wish", "size"]
