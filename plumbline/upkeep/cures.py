"""The cheapest ways to open up a gap: a brush, a longer rod, another tool from an opening that is there, a new opening."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from ..layout.extras import rod_of
from ..layout.model import Layout
from ..units import show
from .intervals import Interval, clip, length, subtract, union
from .left_shut import valve_between
from .openings import SLACK, Opening, openings
from .reach import Push, pushes
from .runs_out import spot_of
from .spills import guard
from .tools import brush_for, cleans, every_brush, heads
from .track import Track, runs_in
from .why import Failure
from .words import access_name

__all__ = ["Cure", "Cures", "brush_words"]


SAW_CUT = 0.01
"""A new opening is not worth its trouble for less pipe than this [m]."""

REST = 0.025
"""So little of a gap that an opening leaves is not told [m]."""

TUBE = 0.012
"""Tube of less bore [m] has barbs and no unions (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Cure:
    """What to do about a gap, in words, and the new opening that it speaks of, if any."""

    text: str
    opening: Opening | None = None


class Cures:
    """Finds cures for one layout; what all its gaps share is worked out once."""

    def __init__(self, track: Track) -> None:
        self.track = track
        self.layout = track.layout
        self._bought: defaultdict[str, list[Push]] | None = None
        self._with_brushes: tuple[Push, ...] | None = None

    def cure(self, line: str, gap: Interval, why: tuple[Failure, ...]) -> Cure:
        """Give the cheapest cures for a gap [m along `line`]: at most one that needs no new opening, and one that does."""
        track, layout = self.track, self.layout
        bores = {part.pipe.bore for _, part, _ in runs_in(layout, line, gap)}
        lacking = sorted(bore for bore in bores if not any(cleans(tool, bore) for tool in track.tools))
        brush = ""
        if lacking:
            brush = f"get {brush_words(layout, lacking)}"
            # With brushes of every size at hand: does that alone open it, or does it want an access as well?
            track = replace(track, tools=every_brush(layout.rods))
            if self._with_brushes is None:
                self._with_brushes = pushes(track)
            if not layout.rods or _opens(self._with_brushes, line, gap):
                return Cure(brush)
        words = []
        easy = self._longer(why) or self._bought_tool(line, gap)
        if easy and not (lacking and self._longer(why)):
            words.append(easy)
        best = next((opening for opening in openings(track, line, gap) if opening.opens > SAW_CUT), None)
        kept = self._kept_back(track, line, gap)
        if kept[0] > SAW_CUT and (best is None or kept[0] >= best.opens - REST):
            words, best = [*words, kept[1] + self._part(kept[0], gap)], None
        if best is not None:
            words.append((f"{brush}, and " if brush else "") + best.text + self._part(best.opens, gap))
        if words:
            return Cure(", or ".join(words), best)
        if max(bores, default=1.0) < TUBE:
            return Cure("pull this tube off its barbs and rinse it, or put a new one in its place")
        around = {part.around for _, part, _ in runs_in(layout, line, gap)}
        if around and all(around):
            return Cure(
                f"nothing opens it where it lies, {sorted(around)[0]}: flush it from its ends, or lay it anew between two caps"
            )
        return Cure("take this piece out to clean it, with a union at each end")

    def _part(self, opens: float, gap: Interval) -> str:
        """How much of a gap is opened, where that is not all of it."""
        whole = opens >= gap[1] - gap[0] - REST
        return "" if whole else f" (opens {show(opens, 'length', self.layout.units)} of it)"

    def _kept_back(self, track: Track, line: str, gap: Interval) -> tuple[float, str]:
        """The opening there, of those that cannot be opened safely for want of a valve, that would open most of a
        gap: how much [m], and what to do."""
        best = (0.0, "")
        for door in track.doors:
            spill = track.spills.get(door.id)
            if spill is None or spill.safe or door.kind == "standpipe":
                continue
            kept = guard(track.pipes, spot_of(track.pipes, door), door.at)
            # As it would be with the valve in: it bars what it would bar.
            there = {door.id: replace(spill, safe=True, bars=kept.bars, drained=None)}
            some = pushes(replace(track, doors=(door,), spills=there)) if kept.possible else ()
            opens = length(clip(union(piece for push in some for piece in push.covers.get(line, ())), *gap))
            if opens > best[0]:
                best = opens, valve_between(kept.vessels, access_name(self.layout, door))
        return best

    def _longer(self, why: tuple[Failure, ...]) -> str:
        longer = [
            (failure.rod.length + failure.short_by, failure.access)
            for failure in why
            if failure.short_by is not None and failure.rod is not None
        ]
        if not longer:
            return ""
        need, access = min(longer)
        return f"use a rod at least {show(need, 'length', self.layout.units)} long at {access}"

    def _bought_tool(self, line: str, gap: Interval) -> str:
        """The first rod of the catalogue, not at hand, that cleans the whole gap from openings that are there; a cord, which
        costs next to nothing, before the others."""
        from ..catalogue import rods

        if not self.layout.rods:
            return ""
        if self._bought is None:
            at_hand = {rod.name for rod in self.layout.rods}
            rows = sorted((row for row in rods().values() if row.name not in at_hand), key=lambda row: not row.cord)
            tools = [tool for row in rows for tool in heads(rod_of(row))]
            self._bought = defaultdict(list)
            for bought in pushes(self.track, tools):
                for name in bought.covers:
                    self._bought[name].append(bought)
        able = [push for push in self._bought[line] if _opens([push], line, gap)]
        push = min(able, key=lambda push: (push.cord is None, push.cord or 0.0), default=None)
        if push is None:
            return ""
        doors = {door.id: door for door in self.track.doors}
        first = access_name(self.layout, doors[push.access])
        if push.to is None or push.brush is None:
            return f"get a {push.tool} to put in at {first}"
        brush = show(push.brush, "size", self.layout.units)
        article = "an" if brush.startswith(("8", "11 ", "18 ")) else "a"
        return (
            f"pull {article} {brush} brush through on a cord from {first} to {access_name(self.layout, doors[push.to])}"
        )


def brush_words(layout: Layout, bores: list[float]) -> str:
    """Name the brushes that clean some bores [m], by the sizes that one can buy.

    A bore that none is made for is named itself.
    """
    sizes = sorted({(brush_for(bore) or bore, brush_for(bore) is None) for bore in bores})
    words = [
        f"a brush for bores of {show(size, 'size', layout.units)}"
        if special
        else f"a {show(size, 'size', layout.units)} brush"
        for size, special in sizes
    ]
    return " and ".join(words)


def _opens(done: tuple[Push, ...] | list[Push], line: str, gap: Interval) -> bool:
    """Whether the whole gap is cleaned by these together."""
    return not subtract([gap], union(piece for push in done for piece in push.covers.get(line, ())), slack=SLACK)
