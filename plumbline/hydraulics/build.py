"""A network as it grows: nodes, links and the stages of what water asks for."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from .spray_bar import Bar
from .stages import MOUTHS, Mouth, Stages

__all__ = ["Build"]


@dataclass(slots=True)
class Build:
    """The network as it grows."""

    nodes: dict[str, int] = field(default_factory=dict)
    fixed: list[float] = field(default_factory=list)
    draw: list[float] = field(default_factory=list)
    storage: list[float] = field(default_factory=list)
    stored: list[float] = field(default_factory=list)
    links: dict[str, list[float]] = field(default_factory=lambda: {key: [] for key in (
        "tail", "head", "square", "square_back", "linear", "one_way", "shut", "open_ended", "tip_tail", "tip_head")
    })  # fmt: skip
    runs: list[tuple[int, float, float, float]] = field(default_factory=list)
    stages: list[tuple[float, ...]] = field(default_factory=list)
    bars: dict[int, Bar] = field(default_factory=dict)

    def node(
        self, name: str, head: float = math.nan, draw: float = 0.0, storage: float = 0.0, stored: float = 0.0
    ) -> int:
        """The node of that name, made when first asked for."""
        if name not in self.nodes:
            self.nodes[name] = len(self.fixed)
            self.fixed.append(head)
            self.draw.append(draw)
            self.storage.append(storage)
            self.stored.append(stored)
        return self.nodes[name]

    def link(self, tail: int, head: int, square: float = 0.0, back: float = 0.0, linear: float = 0.0, *,
             one_way: bool = False, shut: bool = False, open_ended: bool = False,
             tips: tuple[float, float] = (-math.inf, -math.inf)) -> int:  # fmt: skip
        """A link between two nodes."""
        row = (tail, head, square, back, linear, one_way, shut, open_ended, *tips)
        for values, value in zip(self.links.values(), row, strict=True):
            values.append(value)
        return len(self.links["tail"]) - 1

    def stage(self, link: int, back: bool, height: float, mouth: Mouth = "plain", bore: float = 0.0, k: float = 0.0,
              square: float = 0.0, linear: float = 0.0, runs: tuple[int, int] = (0, 0)) -> None:  # fmt: skip
        """A stage of a link."""
        self.stages.append((link, back, height, MOUTHS.index(mouth), bore, k, square, linear, *runs))

    def all_stages(self) -> Stages:
        """The stages as arrays."""
        rows = np.array(self.stages, dtype=np.float64).reshape(-1, 10)
        whole = rows[:, [0, 3, 8, 9]].astype(np.int64)
        return Stages(whole[:, 0], rows[:, 1] > 0.0, rows[:, 2], whole[:, 1], rows[:, 4], rows[:, 5], rows[:, 6],
                      rows[:, 7], whole[:, 2], whole[:, 3])  # fmt: skip
