"""A redesign on a terminal and as plain data: what to do and what it costs, old and new side by side, what each change wins, and the best buys. Computes
nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from .. import parts
from ..catalogue import notes
from ..check import CheckResult
from ..findings import Finding
from ..redesign.bends import BENDS
from ..redesign.buys import Buy, Standing, Worth, standing
from ..redesign.prices import Prices
from ..redesign.search import Difference, Redesign
from ..redesign.ways import measured_in_all
from ..units import show
from .plain import about, care, fields, headed, heading, plain_table, point, points, view
from .words import level_word

__all__ = ["Proposal", "headline", "redesign_as_json", "redesign_view"]

_STYLES = {"fail": "bold red", "warn": "yellow", "advice": "cyan"}
_STANDING = "points cleanable_fraction=cleanable least_margin=margin fail"
_FEW = 12


@dataclass(frozen=True)
class Proposal:
    """A redesign with what is told of it: the findings and the parts in which old and new differ, what each change wins, `worths`, the best
    `buys`, the one change to begin with, `first`, the `prices`, the path of the file that it was `written` to, and whether worths or buys were `cut_short` by the clock."""

    redesign: Redesign
    difference: Difference
    new_parts: parts.Difference
    worths: Sequence[Worth]
    buys: Sequence[Buy]
    first: Worth | None
    prices: Prices
    written: str | None
    cut_short: bool = False

    @property
    def placeholders(self) -> tuple[Sequence[str], Sequence[str]]:
        """What placeholders stand in for, in money and in minutes."""
        return self.prices.placeholders(self.redesign.changes)


@view
def redesign_view(told: Proposal, *, everything: bool = False) -> Iterator[RenderableType]:
    """A redesign; with `everything` all findings that go and come."""
    redesign, before = told.redesign, told.redesign.before
    yield headed(
        before.layout.name, headline(redesign), "bold green" if redesign.result.verdict != "fail" else "bold yellow"
    )
    if redesign.share < redesign.targets.cleanable - 1e-6 and redesign.budget is None:
        yield point(
            f"No set of the changes tried cleans more than {redesign.share:.1%} of the pipe and meets the rest of what is asked."
        )
    yield from points(f"Not cured by any change tried: {one.words}" for one in redesign.left)
    if redesign.changes:
        yield heading("What to do")
        yield _changes(redesign, told.worths)
    if told.first is not None and len(redesign.changes) > 1:
        yield heading("If you do only one thing this weekend")
        yield point(_only(before, told.first))
    if redesign.changes:
        bought = [(str(item.count), item.name, item.size) for item in told.new_parts.bill.items]
        bought += [(show(long, "length", before.layout.units), "pipe", size) for size, long in told.new_parts.pipe_in]
        if bought:
            yield heading("What to buy for it")
            yield plain_table(">", "part", "size", rows=bought)
        yield heading("Old and new, each from its own check")
        pairs = zip(_stands(before, before), _stands(redesign.result, before), strict=True)
        yield plain_table("", ">old", ">new", rows=((what, old, new) for (what, old), (_, new) in pairs))
        yield from _findings("Gone", told.difference.gone, everything)
        yield from _findings("Come", told.difference.come, everything)
    if len(told.buys) > 2:
        yield heading("Best buys: no set found gives more for less")
        yield _front(redesign, told.buys)
    yield heading("Worth knowing")
    yield from points(_notes(told))
    if redesign.changes:
        yield from care("redesign", before.layout)


def _changes(redesign: Redesign, worths: Sequence[Worth]) -> Table:
    now, then = redesign.before.score.points, redesign.result.score.points
    wins = [(_points(one.alone, now, 1.0), _points(one.without, then, -1.0)) for one in worths]
    rows = [
        (str(number), change.words, f"{change.money:.2f}", f"{change.minutes:.0f}", *(wins[number - 1] if wins else ()))
        for number, change in enumerate(redesign.changes, 1)
    ]
    table = plain_table(">", "change", ">money", ">minutes", *((">alone", ">missed") if wins else ()), rows=rows)
    money, minutes = (sum(getattr(one, what) for one in redesign.changes) for what in ("money", "minutes"))
    table.add_row("", Text("in all", style="bold"), f"{money:.2f}", f"{minutes:.0f}")
    return table


def _stands(result: CheckResult, before: CheckResult) -> Iterator[tuple[str, str]]:
    """How a layout stands, to be held against how it stood `before`."""
    units, flows, score = before.layout.units, result.flows, result.score
    for name, vessel in before.layout.vessels.items():
        if vessel.wants:
            got = flows.vessels[name]
            yield (
                f"{name} gets, of {show(vessel.wants, 'flow', units)}",
                f"{show(got.inflow, 'flow', units)} ({got.margin or 0.0:+.0%})",
            )
    for name in before.flows.pumps:
        duty = flows.pumps.get(name)
        works = f"{show(duty.flow, 'flow', units)} against {show(duty.head, 'head', units)}" if duty else ""
        yield f"pump {name}", works
    length, corners = measured_in_all(result.layout)
    yield "pipe, and its corners", f"{show(length, 'length', units)}, {corners}"
    yield "pipe that can be cleaned", f"{score.cleanable:.0%}"
    yield "  by rod", f"{_reached(result):.0%}"
    yield from ((f"mark for the {name}", f"{mark.points:.1f}") for name, mark in score.marks.items())
    yield "score, the worst of them", f"{score.points:.1f}"
    for level, word in (("fail", "findings that fail"), ("warn", "warnings"), ("advice", "pieces of advice")):
        yield word, str(sum(finding.level == level for finding in result.findings))
    yield "verdict", level_word(result.verdict)


def _findings(title: str, some: Sequence[Finding], everything: bool) -> Iterator[RenderableType]:
    if some:
        yield point(f"{title} ({len(some)})", style="bold")
    shown = some if everything else some[:_FEW]
    for finding in shown:
        yield point(Text.assemble((f"{finding.level:<7}", _STYLES[finding.level]), finding.message), by=4)
    if len(shown) < len(some):
        yield point(f"and {len(some) - len(shown)} more; --all shows them", by=4, style="dim")


def _front(redesign: Redesign, buys: Sequence[Buy]) -> Table:
    heads = (">cost", ">changes", ">cleanable", ">least margin", ">fail", ">score", "")
    rows = [
        (
            f"{buy.cost:.2f}",
            str(len(buy.changes)),
            f"{buy.standing.cleanable:.0%}",
            "" if buy.standing.margin is None else f"{buy.standing.margin:+.0%}",
            str(buy.standing.fail),
            f"{buy.standing.points:.1f}",
            "as it is" if not buy.changes else "this redesign" if buy.changes == redesign.changes else "",
        )
        for buy in buys
    ]
    kept = [i for i, head in enumerate(heads) if not head or any(row[i] for row in rows)]
    return plain_table(*(heads[i] for i in kept), rows=([row[i] for i in kept] for row in rows))


def _only(before: CheckResult, first: Worth) -> str:
    assert first.alone is not None
    now, then, words = standing(before), first.alone, first.change.words
    cured = now.fail - then.fail
    does = f"alone it cures {cured} of {now.fail} failures and wins" if cured > 0 else "alone it wins"
    return (
        f"{words[0].upper()}{words[1:]}: {does} {then.marks - now.marks:.1f} points of the three marks together, for "
        f"{first.change.money:.2f} in parts and {first.change.minutes:.0f} minutes."
    )


def _notes(told: Proposal) -> Iterator[str]:
    redesign, prices, sheet = told.redesign, told.prices, told.redesign.sheet
    if told.worths:
        yield "Alone: points that a change wins by itself. Missed: points lost if it alone is left out of the set."
    if sheet is not None:
        yield from sheet.notes(redesign.before.layout)
    afresh = "." if sheet is not None else "; all pipe takes new ways with --afresh only."
    yield (
        f"{len(redesign.candidates)} changes were looked at, {redesign.tried} choices of pipe and valves solved. Accesses, bends to be taken out, "
        f"lines laid to another end, and changes of pipe, valves, dead ends and idle loops are searched{afresh}"
    )
    if redesign.stopped and redesign.gap:
        yield (
            "The search was ended before all was tried: sets that cost less than these changes were not all tried, those for less than "
            f"{redesign.bound:.2f} with valves set as the water asks them left aside."
        )
    elif redesign.stopped:
        yield "The search was ended before all was tried: about these changes other sizes of pipe, and valves turned further, were not all tried."
    if told.cut_short:
        yield "The time was up before it was worked out what each change wins and what the best buys are; it is left out."
    if any(change.kind in (*BENDS, "lay afresh") for change in redesign.changes):
        yield from notes("redesign moves pipe")
    if prices.file is None and redesign.changes:
        yield from notes("redesign without prices")
    elif prices.file is not None and any(told.placeholders):
        kinds = zip(("money", "minutes"), told.placeholders, strict=True)
        said = "; and for ".join(f"the {what} of: {', '.join(some)}" for what, some in kinds if some)
        yield f"Your file leaves some out: placeholders, from no shop and no time sheet, stand in for {said}."
    yield from () if prices.file is None else prices.file.notes
    if redesign.changes:
        yield f"Costs count labour at {prices.hour:g} an hour; say --hour 0 for your own work."
    if told.written is not None:
        marks = "each changed line ends in '# changed: …'"
        if sheet is not None:
            marks = (
                "the lines laid afresh stand under 'lines:', and what was changed in them then ends in '# changed: …'"
            )
        yield f"Written to '{told.written}', and that text read and checked in full; {marks}."


def headline(redesign: Redesign) -> str:
    """What was found, in one sentence.

    The cost counts labour.
    """
    count = len(redesign.changes)
    changes = f"{count} {'change' if count == 1 else 'changes'} for {redesign.cost:.2f}"
    what = f"{changes}, labour included"
    if redesign.budget is not None:
        best = changes if count else "nothing worth its money"
        return f"the best found within {redesign.budget:g} is {best}; not all that is asked for is met by it"
    if not count:
        short = redesign.left or redesign.share < redesign.targets.cleanable - 1e-6
        return "no change tried does what is asked for" if short else "it meets all that is asked for as it is"
    if redesign.sheet is not None:
        return f"its pipe laid afresh, with {what}"
    if redesign.stopped:
        above = (
            f", at most {redesign.gap:.0%} above the least with valves as the water asks them" if redesign.gap else ""
        )
        return f"{what}: the best when the search was stopped{above}"
    if redesign.proven:
        return f"{what}: no cheaper set of the changes tried does it, {_taken(redesign)}"
    return f"{what}: the best found, at most {redesign.gap:.1%} above the least"


def _taken(redesign: Redesign) -> str:
    """What the proof takes for granted of flushes and valves."""
    further = ", or in this pipe as far open and shut as it lets them" if redesign.turned else ""
    return f"flushes taken as in pipe that was tried, and valves as the water asks them{further}"


def _reached(result: CheckResult) -> float:
    whole = sum(line.length for line in result.layout.lines.values())
    reached = sum(stop - start for pieces in result.upkeep.reached.values() for start, stop in pieces)
    return reached / whole if whole > 0.0 else 1.0


def _points(stands: Standing | None, than: float, sign: float) -> str:
    return "—" if stands is None else f"{sign * (stands.points - than) + 0.0:+.1f}"


# ---------------------------------------------------------------------- plain data


def redesign_as_json(told: Proposal) -> dict[str, Any]:
    """Give a redesign as one JSON object; see `docs/json.md`."""
    redesign, new_parts = told.redesign, told.new_parts
    finding = "kind level line step message"
    worths = told.worths or [Worth(change, None, None) for change in redesign.changes]
    return {
        **about(redesign.before.layout),
        "written": told.written,
        "placeholder_prices": any(told.placeholders),
        "money_an_hour": told.prices.hour,
        "cost": round(redesign.cost, 2),
        "bound": round(redesign.bound, 2),
        "proven": redesign.proven,
        "proven_over": f"sets of the changes tried, {_taken(redesign)}" if redesign.proven else None,
        "gap": None if redesign.budget is not None or redesign.sheet is not None else redesign.gap,
        **fields(redesign, "stopped budget"),
        "candidates": len(redesign.candidates),
        "solved": redesign.tried,
        "not_cured": [fields(one, "kind line message=words") for one in redesign.left],
        "changes": [
            {
                **fields(one.change, "kind line step words money minutes"),
                "access": one.change.access or None,
                "alone": one.alone and fields(one.alone, _STANDING),
                "without": one.without and fields(one.without, _STANDING),
            }
            for one in worths
        ],
        "buy": [
            *({**fields(item, "count name size"), "length_m": None} for item in new_parts.bill.items),
            *({"count": None, "name": "pipe", "size": size, "length_m": length} for size, length in new_parts.pipe_in),
        ],
        "first": told.first and told.first.change.words,
        "old": _result(redesign.before),
        "new": _result(redesign.result),
        "gone": [fields(one, finding) for one in told.difference.gone],
        "come": [fields(one, finding) for one in told.difference.come],
        "best_buys": [
            {
                "cost": round(buy.cost, 2),
                "changes": [change.words for change in buy.changes],
                **fields(buy.standing, _STANDING),
            }
            for buy in told.buys
        ],
    }


def _result(result: CheckResult) -> dict[str, Any]:
    flows = result.flows
    return {
        **fields(result, "verdict points=score.points cleanable_fraction=score.cleanable"),
        "pumps": {name: fields(duty, "flow_l_min head_m") for name, duty in flows.pumps.items()},
        "vessels": {name: fields(got, "inflow_l_min wanted_l_min") for name, got in flows.vessels.items()},
        "findings": len(result.findings),
        "fail": sum(finding.level == "fail" for finding in result.findings),
    }
