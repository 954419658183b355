"""The cautions under an output that sends someone to work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rich.console import RenderableType

from ..catalogue import cautions_at
from ..layout.model import Layout
from .plain import heading, points

__all__ = ["care", "cautions_of"]


def cautions_of(output: str, layout: Layout | None = None) -> Mapping[str, str]:
    """The cautions of an output's work, by hazard: what stands in the layout decides of a hose and of airlifts."""
    airlift = layout is not None and any(pump.airlift is not None for pump in layout.pumps.values())
    hose = layout is not None and layout.hose is not None
    return cautions_at(output, hose=hose, airlift=airlift or output == "airlift")


def care(output: str, layout: Layout | None = None, notes: Sequence[str] = ()) -> Iterator[RenderableType]:
    """Yield the heading, what else to heed, and the cautions."""
    yield heading("Care")
    yield from points((*notes, *cautions_of(output, layout).values()), style="dim")
