"""The verdict on a terminal: what a check found, in what fits one or two screens. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ..check import CheckResult
from ..findings import Finding
from ..hydraulics.flows import Duty, RouteLedger
from ..layout.model import Pump
from ..units import show
from .care import care
from .plain import plain_table
from .water_in_pipe import age_words, carry_table, code_words, dead_leg_table
from .words import (
    duty_words,
    enough_words,
    first_mentions,
    first_sentence,
    level_word,
    place_of,
    power_cut_words,
    range_words,
    room_left,
    without_water,
)

__all__ = ["CheckView"]

_STYLES = {"fail": "bold red", "warn": "yellow", "advice": "cyan", "ok": "bold green", "attention": "bold yellow"}
_FEW = 6


class CheckView:
    """A rich renderable of a check. `everything` shows all advice and every row of the tables."""

    def __init__(self, result: CheckResult, *, everything: bool = False) -> None:
        self.result = result
        self.everything = everything

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Yield the sections in order of what a reader needs first."""
        result = self.result
        yield from self._headline()
        if result.layout.vessels or result.flows.ends:
            yield _heading("Does it lift" if result.flows.pumps else "Where the water goes")
            yield self._vessels()
        for name, duty in result.flows.pumps.items():
            yield Padding(self._pump(result.layout.pumps[name], duty), (0, 0, 0, 2))
        levels = self._levels()
        if levels.row_count:
            yield _heading("Does it come back")
            yield levels
        if result.flows.pumps:
            yield _heading("If the power fails")
            yield Padding(Text(power_cut_words(result)), (0, 0, 0, 2))
            stands = self._after_cut()
            if stands.row_count:
                yield stands
        for route in self._routes():
            yield _heading(f"Where the head goes: {route.source} to {route.vessel or route.end}, by {route.end}")
            yield self._ledger(route)
        if self.everything:
            yield _heading("Does it carry its solids")
            yield carry_table(result)
            yield _heading("How old the water gets in the pipe")
            yield Padding(Text(age_words(result)), (0, 0, 0, 2))
            legs = dead_leg_table(result)
            if legs.row_count:
                yield legs
        if result.findings:
            yield _heading("What to do, worst first")
            yield from self._findings()
        yield _heading(f"Score {result.score.points:.1f} of 100: the worst of three marks")
        yield self._score()
        yield from care("check", result.layout, () if result.layout.code is None else (code_words(result),))

    def _headline(self) -> Iterator[RenderableType]:
        result = self.result
        word = level_word(result.verdict)
        line = Text(result.layout.name, style="bold")
        line.append(": ")
        line.append(word, style=_STYLES[result.verdict])
        yield line
        yield Text(first_sentence(result))

    def _vessels(self) -> Table:
        """What each vessel and each open end gets; what a vessel gives, where some only give."""
        layout, flows = self.result.layout, self.result.flows
        units = layout.units
        dry = without_water(self.result)
        only_give = any(got.outflow > 0.0 and got.inflow <= 0.0 for got in flows.vessels.values())
        gives = (">gives",) if only_give else ()
        table = plain_table("vessel", ">gets", *gives, ">most likely", ">wants", ">margin", "")
        for name, vessel in layout.vessels.items():
            got = flows.vessels[name]
            if got.inflow <= 0.0 and got.outflow <= 0.0 and not vessel.wants and not (self.everything or name in dry):
                continue
            margin, word = "", "no water" if name in dry else vessel.holds or ""
            if vessel.wants:
                share = got.inflow / vessel.wants - 1.0
                margin = f"{share:+.0%}"
                word = enough_words(self.result, name, share)
            style = _STYLES["fail"] if word.startswith(("too little", "no water")) else ""
            given = (show(got.outflow, "flow", units) if got.outflow > 0.0 else "",) if only_give else ()
            table.add_row(
                Text(name), show(got.inflow, "flow", units), *given, range_words(self.result, name),
                show(vessel.wants, "flow", units) if vessel.wants else "", margin, Text(word, style=style),
            )  # fmt: skip
        for line in layout.lines.values():
            for side, end, sign in (("from", line.start, -1.0), ("to", line.end, 1.0)):
                flow = sign * flows.ends[f"{line.name}.{side}"].flow
                if end.kind in ("open air", "draw") and flow != 0.0:
                    what = "open air" if end.kind == "open air" else "a draw" if end.draw > 0.0 else "a supply"
                    place = Text(f"end of {line.name}" if side == "to" else f"start of {line.name}", style="dim")
                    blank = ("",) if only_give else ()
                    table.add_row(place, show(flow, "flow", units), *blank, "", "", "", what)
        return table

    def _levels(self) -> Table:
        """Where the water stands in the vessels whose drains carry what they receive."""
        units = self.result.layout.units
        table = plain_table("vessel", ">receives", ">could carry", ">stands at", ">rim at", "")
        for name, vessel in self.result.layout.vessels.items():
            got = self.result.flows.vessels[name]
            if got.level is None or got.outflow <= 0.0:
                continue
            depth = got.level - vessel.base
            rim = "" if vessel.rim is None else show(vessel.rim, "length", units)
            word, over = room_left(self.result.layout, self.result.flows, name)
            style = _STYLES["fail"] if over else ""
            table.add_row(
                Text(name),
                show(got.inflow, "flow", units),
                "" if got.carries is None else show(got.carries, "flow", units, decimals=0),
                show(depth, "length", units),
                rim,
                Text(word, style=style),
            )
        return table

    def _after_cut(self) -> Table:
        """Where the water comes to rest, in vessels that receive some of it or whose water siphons out."""
        units = self.result.layout.units
        cut = self.result.cut
        table = plain_table("vessel", ">now", ">then", ">rim at", "")
        if cut is None:
            return table
        siphoned = {siphon.giver for siphon in cut.siphons}
        for row in cut.vessels:
            if row.after is None or not (row.after > row.before or row.vessel in siphoned or self.everything):
                continue
            base = self.result.layout.vessels[row.vessel].base
            rim = "" if row.rim is None else show(row.rim - base, "length", units)
            word = ""
            if row.spilled > 0.0:
                word = f"overtops: {show(row.spilled, 'volume', units)} over its rim"
            elif row.vessel in siphoned and row.after < row.before:
                word = "siphons out"
            elif row.rim is not None:
                word = f"{show(row.rim - row.after, 'length', units)} to spare"
            style = _STYLES["fail"] if word.startswith("overtops") else ""
            table.add_row(
                Text(row.vessel), show(row.before - base, "length", units), show(row.after - base, "length", units), rim,
                Text(word, style=style),
            )  # fmt: skip
        return table

    def _pump(self, pump: Pump, duty: Duty) -> Text:
        units = self.result.layout.units
        text = Text(pump.name, style="bold")
        text.append(
            f": {show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)} of head. ", style="not bold"
        )
        text.append(duty_words(pump, duty, units), style="not bold")
        return text

    def _routes(self) -> tuple[RouteLedger, ...]:
        """The route with the least margin; all others after it if everything is to be shown."""
        worst = self.result.worst_route
        first = () if worst is None else (worst,)
        others = self.result.flows.routes if self.everything else ()
        return (*first, *(route for route in others if route is not worst))

    def _ledger(self, route: RouteLedger) -> Table:
        units = self.result.layout.units
        table = plain_table(">head", "goes into", "line")
        table.add_row(show(route.lift, "head", units), "lift" if route.lift >= 0.0 else "fall", "")
        losses = sorted(route.losses, key=lambda part: -part.loss)
        shown = losses if self.everything else losses[:_FEW]
        for part in shown:
            table.add_row(show(part.loss, "head", units), Text(part.label), Text(part.line))
        rest = losses[len(shown) :]
        if rest:
            table.add_row(show(sum(part.loss for part in rest), "head", units), f"{len(rest)} smaller losses", "")
        given = "is what the pump gives" if route.pumped > 0.0 else "as no pump pushes"
        table.add_row(show(route.pumped, "head", units), given, "", style="bold")
        return table

    def _findings(self) -> Iterator[RenderableType]:
        left: dict[str, int] = {"fail": 2 * _FEW, "warn": _FEW, "advice": _FEW // 2}
        unshown: dict[str, int] = {}
        shown: list[Finding] = []
        for finding in self.result.findings:
            if left[finding.level] > 0 or self.everything:
                left[finding.level] -= 1
                shown.append(finding)
            else:
                unshown[finding.level] = unshown.get(finding.level, 0) + 1
        for finding, message in zip(shown, first_mentions(finding.message for finding in shown), strict=True):
            yield from self._finding(finding, message)
        if unshown:
            more = " and ".join(f"{count} more of level {level}" for level, count in unshown.items())
            yield Padding(Text(f"{more}: --all shows them", style="dim"), (0, 0, 0, 2))

    def _finding(self, finding: Finding, told: str) -> Iterator[RenderableType]:
        table = Table.grid(padding=(0, 1))
        table.add_column(width=6, no_wrap=True)
        table.add_column(overflow="fold")
        message = Text(told)
        place = place_of(finding)
        message.append(f"  [{', '.join(part for part in (place, finding.kind) if part)}]", style="dim")
        table.add_row(Text(finding.level, style=_STYLES[finding.level]), message)
        table.add_row("", Text.assemble(("do: ", "bold"), finding.cure))
        if finding.more and self.everything:
            table.add_row("", Text(f"also: {finding.more}", style="dim"))
        yield Padding(table, (0, 0, 0, 2))

    def _score(self) -> RenderableType:
        score = self.result.score
        table = plain_table(">points", "for", "where")
        for name, mark in score.marks.items():
            rows = mark.ledger if self.everything else mark.ledger[:_FEW]
            for row in rows:
                table.add_row(f"-{row.points:.1f}", row.finding.kind, Text(place_of(row.finding)))
            rest = mark.ledger[len(rows) :]
            if rest:
                table.add_row(f"-{sum(row.tenths for row in rest) / 10:.1f}", f"{len(rest)} smaller ones", "")
            more = f"{score.cleanable:.0%} of the pipe can be cleaned" if name == "cleaning" else ""
            table.add_row(f"{mark.points:.1f}", f"left for the {name}", more, style="bold")
        return table


def _heading(text: str) -> Text:
    return Text(f"\n{text}", style="bold underline")
