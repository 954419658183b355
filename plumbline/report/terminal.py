"""The verdict on a terminal: what a check found, in what fits one or two screens. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ..check import CheckResult
from ..findings import Finding
from ..hydraulics.airlift_duty import settled
from ..hydraulics.flows import Duty, RouteLedger
from ..layout.model import Pump
from ..units import show
from .care import care
from .plain import headed, heading, plain_table, point
from .rows import Row, cut_rows, ledger_rows, level_rows, score_rows, vessel_rows
from .water_in_pipe import age_words, carry_table, code_words, dead_leg_table
from .words import duty_words, first_mentions, first_sentence, level_word, place_of, power_cut_words

__all__ = ["CheckView", "VerdictView"]

_STYLES = {"fail": "bold red", "warn": "yellow", "advice": "cyan", "ok": "bold green", "attention": "bold yellow"}
_FEW, _FEW_LINES = 6, 5


@dataclass(frozen=True)
class CheckView:
    """A rich renderable of a check. `everything` shows all advice and every row of the tables."""

    result: CheckResult
    everything: bool = False

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        result = self.result
        yield headed(result.layout.name, level_word(result.verdict), _STYLES[result.verdict])
        yield Text(first_sentence(result))
        if result.layout.vessels or result.flows.ends:
            yield heading("Does it lift" if result.flows.pumps else "Where the water goes")
            yield self._vessels()
        for name, duty in result.flows.pumps.items():
            yield Padding(self._pump(result.layout.pumps[name], duty), (0, 0, 0, 2))
        levels = self._table("vessel", (">receives", ">could carry", ">stands at", ">rim at", ""), level_rows(result))
        if levels.row_count:
            yield heading("Does it come back")
            yield levels
        if result.flows.pumps:
            yield heading("If the power fails")
            yield point(power_cut_words(result))
            stands = self._table("vessel", (">now", ">then", ">rim at", ""), cut_rows(result))
            if stands.row_count:
                yield stands
        for route in self._routes():
            yield heading(f"Where the head goes: {route.source} to {route.vessel or route.end}, by {route.end}")
            yield self._ledger(route)
        if self.everything:
            yield heading("Does it carry its solids")
            yield carry_table(result)
            yield heading("How old the water gets in the pipe")
            yield point(age_words(result))
            legs = dead_leg_table(result)
            if legs.row_count:
                yield legs
        if result.findings:
            yield heading("What to do, worst first")
            yield from self._findings()
        yield heading(f"Score {result.score.points:.1f} of 100: the worst of three marks")
        yield self._score()
        yield from care("check", result.layout, () if result.layout.code is None else (code_words(result),))

    def _vessels(self) -> Table:
        """What each vessel and each open end gets; what a vessel gives, where some only give."""
        layout, flows = self.result.layout, self.result.flows
        gives = any(got.outflow > 0.0 and got.inflow <= 0.0 for got in flows.vessels.values())
        columns = (">gets", *((">gives",) if gives else ()), ">most likely", ">wants", ">margin", "")
        table = self._table("vessel", columns, vessel_rows(self.result))
        for line in layout.lines.values():
            for side, end, sign in (("from", line.start, -1.0), ("to", line.end, 1.0)):
                flow = sign * flows.ends[f"{line.name}.{side}"].flow
                if end.kind in ("open air", "draw") and flow != 0.0:
                    what = "open air" if end.kind == "open air" else "a draw" if end.draw > 0.0 else "a supply"
                    place = Text(f"end of {line.name}" if side == "to" else f"start of {line.name}", style="dim")
                    table.add_row(place, show(flow, "flow", layout.units), *("" for _ in columns[2:]), what)
        return table

    def _table(self, first: str, columns: Sequence[str], rows: Iterable[Row]) -> Table:
        """Rows under the thing that they are of; a column without a name holds their word."""
        table = plain_table(first, *columns)
        for row in rows:
            if not row.minor or self.everything:
                cells = [Text(row.cells[column.lstrip(">") or "word"]) for column in columns]
                cells[-1].stylize(_STYLES["fail"] if row.bad else "")
                table.add_row(Text(row.of), *cells)
        return table

    def _pump(self, pump: Pump, duty: Duty) -> Text:
        units = self.result.layout.units
        text = Text(pump.name, style="bold")
        text.append(
            f": {show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)} of head. ", style="not bold"
        )
        stands = settled(self.result.layout, self.result.flows, pump.name)
        text.append(duty_words(stands, duty, units), style="not bold")
        return text

    def _routes(self) -> tuple[RouteLedger, ...]:
        """The route with the least margin; all others after it if everything is to be shown."""
        worst = self.result.worst_route
        first = () if worst is None else (worst,)
        others = self.result.flows.routes if self.everything else ()
        return (*first, *(route for route in others if route is not worst))

    def _ledger(self, route: RouteLedger) -> Table:
        table = plain_table(">head", "goes into", "line")
        given = "is what the pump gives" if route.pumped > 0.0 else "as no pump pushes"
        for row in ledger_rows(self.result, route, given=given, most=None if self.everything else _FEW):
            table.add_row(row.cells["head"], Text(row.of), Text(row.cells["line"]))
        table.rows[-1].style = "bold"
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
            yield point(f"{more}: --all shows them", style="dim")

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
        table = plain_table(">points", "for", "where")
        for row in score_rows(self.result, most=None if self.everything else _FEW):
            left = not row.cells["for"]
            said = row.of if left else row.cells["for"]
            table.add_row(row.cells["points"], said, Text(row.cells["where"]), style="bold" if left else None)
        return table


@dataclass(frozen=True)
class VerdictView:
    """A rich renderable: the verdict, the score, and the worst few findings."""

    result: CheckResult

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        result = self.result
        head = headed(result.layout.name, level_word(result.verdict), _STYLES[result.verdict])
        head.append(f", {result.score.points:.1f} of 100", style="not bold")
        yield head
        yield Text(first_sentence(result))
        worst = [one for one in result.findings if one.level != "advice"]
        for finding in worst[:_FEW_LINES]:
            line = Text(f"  {finding.level:<5}", style=_STYLES[finding.level])
            line.append(f"{finding.message} [{place_of(finding) or finding.kind}]", style="none")
            yield line
        if len(worst) > _FEW_LINES:
            yield Text(f"  and {len(worst) - _FEW_LINES} more", style="dim")
