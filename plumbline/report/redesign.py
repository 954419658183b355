"""A redesign on a terminal and as plain data: what to do and what it costs, old and new side by side, what each change wins, and the best buys. Computes
nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import KW_ONLY, dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from .. import parts
from ..check import CheckResult
from ..findings import Finding
from ..redesign.bends import BENDS
from ..redesign.buys import Buy, Standing, Worth, standing
from ..redesign.search import Difference, Redesign
from ..redesign.ways import measured_in_all
from ..units import show
from .care import care
from .plain import about, fields, headed, heading, plain_table, point, points
from .words import level_word

__all__ = ["RedesignView", "redesign_as_json"]

PLACEHOLDERS = (
    "Prices and minutes are placeholders, from no shop and no time sheet: they only compare changes with each other. Put your "
    "own into a file and say --prices FILE."
)
MOVED = (
    "Whether something stands where pipe is laid over to, the file does not say: look before anything is cut. A run that has to stay "
    "where it is says what it goes past, as in {west: 0.4 m, past: kerb}."
)
PROVEN_OVER = "sets of the changes tried, each flush taken as in pipe that was tried"
_STYLES = {"fail": "bold red", "warn": "yellow", "advice": "cyan"}
_FEW = 12


@dataclass(frozen=True)
class RedesignView:
    """A rich renderable of a redesign."""

    redesign: Redesign
    difference: Difference
    new_parts: parts.Difference
    worths: Sequence[Worth]
    buys: Sequence[Buy]
    first: Worth | None
    _: KW_ONLY
    hour: float
    placeholders: tuple[Sequence[str], Sequence[str]] | None
    notes: Sequence[str] = ()
    written: str | None
    everything: bool

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        redesign = self.redesign
        style = "bold green" if redesign.result.verdict != "fail" else "bold yellow"
        yield headed(redesign.before.layout.name, headline(redesign), style)
        yield from points(self._limits())
        if redesign.changes:
            yield heading("What to do")
            yield self._changes()
        if self.first is not None and len(redesign.changes) > 1:
            yield heading("If you do only one thing this weekend")
            yield point(self._only())
        if redesign.changes:
            if self.new_parts.bill.items or self.new_parts.pipe_in:
                yield heading("What to buy for it")
                yield self._bought()
            yield heading("Old and new, each from its own check")
            yield self._side_by_side()
            yield from self._findings("Gone", self.difference.gone)
            yield from self._findings("Come", self.difference.come)
        if len(self.buys) > 2:
            yield heading("Best buys: no set found gives more for less")
            yield self._front()
        yield heading("Worth knowing")
        yield from points(self._notes())
        if redesign.changes:
            yield from care("redesign", redesign.before.layout)

    def _limits(self) -> Iterator[str]:
        redesign = self.redesign
        if redesign.share < redesign.targets.cleanable - 1e-6 and redesign.budget is None:
            yield f"No set of the changes tried cleans more than {redesign.share:.1%} of the pipe and meets the rest of what is asked."
        for one in redesign.left:
            yield f"Not cured by any change tried: {one.words}"

    # ------------------------------------------------------------------ tables

    def _changes(self) -> Table:
        alone, without = bool(self.worths), bool(self.worths)
        table = plain_table(
            ">", "change", ">money", ">minutes", *((">alone",) if alone else ()), *((">missed",) if without else ())
        )
        now, then = self.redesign.before.score.points, self.redesign.result.score.points
        for number, change in enumerate(self.redesign.changes, 1):
            row: list[RenderableType] = [
                str(number),
                Text(change.words),
                f"{change.money:.2f}",
                f"{change.minutes:.0f}",
            ]
            if alone:
                one = self.worths[number - 1]
                row += [_points(one.alone, now, 1.0), _points(one.without, then, -1.0)]
            table.add_row(*row)
        money = sum(change.money for change in self.redesign.changes)
        minutes = sum(change.minutes for change in self.redesign.changes)
        blank = ("", "") if alone else ()
        table.add_row("", Text("in all", style="bold"), f"{money:.2f}", f"{minutes:.0f}", *blank)
        return table

    def _bought(self) -> Table:
        """The parts and pipe that the new layout has and the old one has not."""
        units = self.redesign.before.layout.units
        table = plain_table(">", "part", "size")
        for item in self.new_parts.bill.items:
            table.add_row(str(item.count), Text(item.name), Text(item.size))
        for size, length in self.new_parts.pipe_in:
            table.add_row(show(length, "length", units), "pipe", Text(size))
        return table

    def _side_by_side(self) -> Table:
        before, after = self.redesign.before, self.redesign.result
        units = before.layout.units
        table = plain_table("", ">old", ">new")
        for name, vessel in before.layout.vessels.items():
            if vessel.wants:
                table.add_row(
                    Text(f"{name} gets, of {show(vessel.wants, 'flow', units)}"),
                    *(_got(result, name) for result in (before, after)),
                )
        for name in before.flows.pumps:
            table.add_row(Text(f"pump {name}"), *(_duty(result, name) for result in (before, after)))
        table.add_row("pipe, and its corners", *(_pipe(result) for result in (before, after)))
        table.add_row("pipe that can be cleaned", *(f"{result.score.cleanable:.0%}" for result in (before, after)))
        table.add_row("  by rod", *(f"{_reached(result):.0%}" for result in (before, after)))
        for name in before.score.marks:
            table.add_row(
                f"mark for the {name}", *(f"{result.score.marks[name].points:.1f}" for result in (before, after))
            )
        table.add_row("score, the worst of them", *(f"{result.score.points:.1f}" for result in (before, after)))
        for level, word in (("fail", "findings that fail"), ("warn", "warnings"), ("advice", "pieces of advice")):
            table.add_row(word, *(str(sum(f.level == level for f in result.findings)) for result in (before, after)))
        table.add_row("verdict", *(level_word(result.verdict) for result in (before, after)))
        return table

    def _findings(self, title: str, some: Sequence[Finding]) -> Iterator[RenderableType]:
        if not some:
            return
        yield point(f"{title} ({len(some)})", style="bold")
        shown = some if self.everything else some[:_FEW]
        for finding in shown:
            line = Text(f"{finding.level:<7}", style=_STYLES[finding.level])
            line.append(finding.message, style="")
            yield point(line, by=4)
        if len(shown) < len(some):
            yield point(f"and {len(some) - len(shown)} more; --all shows them", by=4, style="dim")

    def _front(self) -> Table:
        margin = any(buy.standing.margin is not None for buy in self.buys)
        table = plain_table(
            ">cost", ">changes", ">cleanable", *((">least margin",) if margin else ()), ">fail", ">score", ""
        )
        for buy in self.buys:
            stands = buy.standing
            spare = ("" if stands.margin is None else f"{stands.margin:+.0%}",) if margin else ()
            here = "as it is" if not buy.changes else "this redesign" if buy.changes == self.redesign.changes else ""
            table.add_row(
                f"{buy.cost:.2f}",
                str(len(buy.changes)),
                f"{stands.cleanable:.0%}",
                *spare,
                str(stands.fail),
                f"{stands.points:.1f}",
                here,
            )
        return table

    # ------------------------------------------------------------------ words

    def _only(self) -> str:
        assert self.first is not None
        assert self.first.alone is not None
        now, then = standing(self.redesign.before), self.first.alone
        words = self.first.change.words
        cured = now.fail - then.fail
        does = f"alone it cures {cured} of {now.fail} failures and wins" if cured > 0 else "alone it wins"
        return (
            f"{words[0].upper()}{words[1:]}: {does} {then.marks - now.marks:.1f} points of the three marks together, for "
            f"{self.first.change.money:.2f} in parts and {self.first.change.minutes:.0f} minutes."
        )

    def _notes(self) -> Iterator[str]:
        redesign = self.redesign
        if self.worths:
            yield (
                "Alone: points that a change wins by itself. Missed: points lost if it alone is left out of the set."
            )
        if redesign.sheet is not None:
            yield from redesign.sheet.notes(redesign.before.layout)
        yield (
            f"{len(redesign.candidates)} changes were looked at, {redesign.tried} choices of pipe and valves solved. Accesses, bends to be taken out, "
            "lines laid to another end, and changes of pipe, valves, dead ends and idle loops are searched"
            + ("." if redesign.sheet is not None else "; all pipe takes new ways with --afresh only.")
        )
        if any(change.kind in (*BENDS, "lay afresh") for change in redesign.changes):
            yield MOVED
        if self.placeholders is None and redesign.changes:
            yield PLACEHOLDERS
        elif self.placeholders is not None and any(self.placeholders):
            kinds = zip(("money", "minutes"), self.placeholders, strict=True)
            said = "; and for ".join(f"the {what} of: {', '.join(some)}" for what, some in kinds if some)
            yield f"Your file leaves some out: placeholders, from no shop and no time sheet, stand in for {said}."
        yield from self.notes
        if redesign.changes:
            yield f"Costs count labour at {self.hour:g} an hour; say --hour 0 for your own work."
        if self.written is not None:
            marks = "each changed line ends in '# changed: …'"
            if redesign.sheet is not None:
                marks = "the lines laid afresh stand under 'lines:', and what was changed in them then ends in '# changed: …'"
            yield f"Written to '{self.written}', and that text read and checked in full; {marks}."


def headline(redesign: Redesign) -> str:
    """What was found, in one sentence.

    The cost counts labour.
    """
    count = len(redesign.changes)
    if redesign.budget is not None:
        rest = (
            f"{count} {'change' if count == 1 else 'changes'} for {redesign.cost:.2f}"
            if count
            else "nothing worth its money"
        )
        return f"the best found within {redesign.budget:g} is {rest}; not all that is asked for is met by it"
    if not count:
        short = redesign.left or redesign.share < redesign.targets.cleanable - 1e-6
        return "no change tried does what is asked for" if short else "it meets all that is asked for as it is"
    what = f"{count} {'change' if count == 1 else 'changes'} for {redesign.cost:.2f}, labour included"
    if redesign.sheet is not None:
        return f"its pipe laid afresh, with {what}"
    if redesign.stopped:
        return f"{what}: the best when the search was stopped, at most {redesign.gap:.0%} above the least"
    if redesign.proven:
        return f"{what}: no cheaper set of the changes tried does it, each flush taken as in pipe that was tried"
    return f"{what}: the best found, at most {redesign.gap:.1%} above the least"


def _got(result: CheckResult, name: str) -> str:
    got = result.flows.vessels[name]
    share = got.inflow / got.wanted - 1.0 if got.wanted else 0.0
    return f"{show(got.inflow, 'flow', result.layout.units)} ({share:+.0%})"


def _duty(result: CheckResult, name: str) -> str:
    duty = result.flows.pumps.get(name)
    if duty is None:
        return ""
    units = result.layout.units
    return f"{show(duty.flow, 'flow', units)} against {show(duty.head, 'head', units)}"


def _pipe(result: CheckResult) -> str:
    length, corners = measured_in_all(result.layout)
    return f"{show(length, 'length', result.layout.units)}, {corners}"


def _reached(result: CheckResult) -> float:
    whole = sum(line.length for line in result.layout.lines.values())
    reached = sum(stop - start for pieces in result.upkeep.reached.values() for start, stop in pieces)
    return reached / whole if whole > 0.0 else 1.0


def _points(stands: Standing | None, than: float, sign: float) -> str:
    return "—" if stands is None else f"{sign * (stands.points - than) + 0.0:+.1f}"


# ---------------------------------------------------------------------- plain data


def redesign_as_json(
    redesign: Redesign,
    difference: Difference,
    new_parts: parts.Difference,
    worths: Sequence[Worth],
    buys: Sequence[Buy],
    first: Worth | None,
    *,
    hour: float,
    placeholders: bool,
    written: str | None,
) -> dict[str, Any]:
    """Give a redesign as one JSON object; see `docs/json.md`."""
    told = ("kind", "level", "line", "step", "message")
    return {
        **about(redesign.before.layout),
        "written": written,
        "placeholder_prices": placeholders,
        "money_an_hour": hour,
        "cost": round(redesign.cost, 2),
        "bound": round(redesign.bound, 2),
        "proven": redesign.proven,
        "proven_over": PROVEN_OVER if redesign.proven else None,
        "gap": None if redesign.budget is not None or redesign.sheet is not None else redesign.gap,
        **fields(redesign, "stopped", "budget"),
        "candidates": len(redesign.candidates),
        "solved": redesign.tried,
        "not_cured": [{"kind": one.kind, "line": one.line, "message": one.words} for one in redesign.left],
        "changes": [
            {
                **fields(one.change, "kind", "line", "step", "words", "money", "minutes"),
                "access": one.change.access or None,
                "alone": _standing(one.alone),
                "without": _standing(one.without),
            }
            for one in worths or [Worth(change, None, None) for change in redesign.changes]
        ],
        "buy": [
            *({**fields(item, "count", "name"), "size": item.size, "length_m": None} for item in new_parts.bill.items),
            *({"count": None, "name": "pipe", "size": size, "length_m": length} for size, length in new_parts.pipe_in),
        ],
        "first": None if first is None else first.change.words,
        "old": _result(redesign.before),
        "new": _result(redesign.result),
        "gone": [fields(finding, *told) for finding in difference.gone],
        "come": [fields(finding, *told) for finding in difference.come],
        "best_buys": [
            {
                "cost": round(buy.cost, 2),
                "changes": [change.words for change in buy.changes],
                **(_standing(buy.standing) or {}),
            }
            for buy in buys
        ],
    }


def _standing(stands: Standing | None) -> dict[str, Any] | None:
    if stands is None:
        return None
    return {
        "points": stands.points,
        "cleanable_fraction": stands.cleanable,
        "least_margin": stands.margin,
        "fail": stands.fail,
    }


def _result(result: CheckResult) -> dict[str, Any]:
    flows = result.flows
    return {
        "verdict": result.verdict,
        "points": result.score.points,
        "cleanable_fraction": result.score.cleanable,
        "pumps": {name: fields(duty, "flow_l_min", "head_m") for name, duty in flows.pumps.items()},
        "vessels": {name: fields(got, "inflow_l_min", "wanted_l_min") for name, got in flows.vessels.items()},
        "findings": len(result.findings),
        "fail": sum(finding.level == "fail" for finding in result.findings),
    }
