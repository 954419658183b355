"""Fish and plants: from what is wished for to feed, stock, oxygen, flow and water used."""

from .between import Between
from .sizing import Row, Sizing, size
from .wish import Wish

__all__ = ["Between", "Row", "Sizing", "Wish", "size"]
