"""The verdict on a terminal: what a check found, in what fits one or two screens. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from .. import catalogue
from ..check import CheckResult
from ..findings import Finding
from ..hydraulics.airlift_duty import settled
from ..hydraulics.flows import RouteLedger
from ..layout.model import Stretch
from ..units import show
from ..upkeep.age import hours, stagnant, water_ages
from ..upkeep.carried import carried
from ..upkeep.dead_legs import by_shape
from ..upkeep.words import adjoining, steps_of
from .plain import care, headed, heading, plain_table, point, view
from .rows import Row, cut_rows, ledger_rows, level_rows, score_rows, vessel_rows
from .words import duty_words, first_mentions, first_sentence, level_word, place_of, power_cut_words

__all__ = ["check_view", "verdict_view"]

_STYLES = {"fail": "bold red", "warn": "yellow", "advice": "cyan", "ok": "bold green", "attention": "bold yellow"}
_FEW, _FEW_LINES = 6, 5


@view
def check_view(result: CheckResult, *, everything: bool = False) -> Iterator[RenderableType]:
    """A check; `everything` shows all advice and every row of the tables."""
    layout, flows, score = result.layout, result.flows, result.score
    yield headed(layout.name, level_word(result.verdict), _STYLES[result.verdict])
    yield Text(first_sentence(result))
    if layout.vessels or flows.ends:
        yield heading("Does it lift" if flows.pumps else "Where the water goes")
        yield _vessels(result, everything)
    for name, duty in flows.pumps.items():
        said = duty_words(settled(layout, flows, name), duty, layout.units)
        works = f"{show(duty.flow, 'flow', layout.units)} at {show(duty.head, 'head', layout.units)} of head"
        yield point(Text.assemble((name, "bold"), f": {works}. {said}"))
    levels = _table(
        ("vessel", ">receives", ">could carry", ">stands at", ">rim at", ""), level_rows(result), everything
    )
    if levels.row_count:
        yield heading("Does it come back")
        yield levels
    if flows.pumps:
        yield heading("If the power fails")
        yield point(power_cut_words(result))
        stands = _table(("vessel", ">now", ">then", ">rim at", ""), cut_rows(result), everything)
        if stands.row_count:
            yield stands
    for route in _routes(result, everything):
        yield heading(f"Where the head goes: {route.source} to {route.vessel or route.end}, by {route.end}")
        given = "is what the pump gives" if route.pumped > 0.0 else "as no pump pushes"
        rows = ledger_rows(result, route, given=given, most=None if everything else _FEW)
        told = ((row.cells["head"], row.of, row.cells["line"]) for row in rows)
        table = plain_table(">head", "goes into", "line", rows=told)
        table.rows[-1].style = "bold"
        yield table
    if everything:
        yield heading("Does it carry its solids")
        yield plain_table("pipe", "", "side", ">slowest", ">wall shear", "", rows=_carried(result))
        yield heading("How old the water gets in the pipe")
        yield point(_age_words(result))
        legs = _dead_legs(result)
        if legs.row_count:
            yield legs
    if result.findings:
        yield heading("What to do, worst first")
        yield from _findings(result, everything)
    yield heading(f"Score {score.points:.1f} of 100: the worst of three marks")
    table = plain_table(">points", "for", "where")
    for row in score_rows(result, most=None if everything else _FEW):
        left = not row.cells["for"]
        said = row.of if left else row.cells["for"]
        table.add_row(row.cells["points"], said, Text(row.cells["where"]), style="bold" if left else None)
    yield table
    yield from care("check", layout, () if layout.code is None else (_code_words(layout.code),))


def _vessels(result: CheckResult, everything: bool) -> Table:
    """What each vessel and each open end gets; what a vessel gives, where some only give."""
    layout, flows = result.layout, result.flows
    gives = any(got.outflow > 0.0 and got.inflow <= 0.0 for got in flows.vessels.values())
    columns = ("vessel", ">gets", *((">gives",) if gives else ()), ">most likely", ">wants", ">margin", "")
    table = _table(columns, vessel_rows(result), everything)
    for line in layout.lines.values():
        for side, end, sign, said in (("from", line.start, -1.0, "start"), ("to", line.end, 1.0, "end")):
            flow = sign * flows.ends[f"{line.name}.{side}"].flow
            if end.kind in ("open air", "draw") and flow != 0.0:
                what = "open air" if end.kind == "open air" else "a draw" if end.draw > 0.0 else "a supply"
                place = Text(f"{said} of {line.name}", style="dim")
                table.add_row(place, show(flow, "flow", layout.units), *("" for _ in columns[3:]), what)
    return table


def _table(columns: Sequence[str], rows: Iterable[Row], everything: bool) -> Table:
    """Rows under the thing that they are of; a column without a name holds their word."""
    table = plain_table(*columns)
    for row in rows:
        if not row.minor or everything:
            cells = [Text(row.cells[column.lstrip(">") or "word"]) for column in columns[1:]]
            cells[-1].stylize(_STYLES["fail"] if row.bad else "")
            table.add_row(Text(row.of), *cells)
    return table


def _routes(result: CheckResult, everything: bool) -> Iterator[RouteLedger]:
    """The route with the least margin; all others after it if everything is to be shown."""
    worst = result.worst_route
    if worst is not None:
        yield worst
    yield from (route for route in result.flows.routes if everything and route is not worst)


def _findings(result: CheckResult, everything: bool) -> Iterator[RenderableType]:
    left = {"fail": 2 * _FEW, "warn": _FEW, "advice": _FEW // 2}
    shown = []
    for finding in result.findings:
        left[finding.level] -= 1
        if everything or left[finding.level] >= 0:
            shown.append(finding)
    for finding, message in zip(shown, first_mentions(finding.message for finding in shown), strict=True):
        yield _finding(finding, message, everything)
    more = [f"{-count} more of level {level}" for level, count in left.items() if count < 0 and not everything]
    if more:
        yield point(f"{' and '.join(more)}: --all shows them", style="dim")


def _finding(finding: Finding, told: str, everything: bool) -> Padding:
    table = Table.grid(padding=(0, 1))
    table.add_column(width=6, no_wrap=True)
    table.add_column(overflow="fold")
    place = ", ".join(part for part in (place_of(finding), finding.kind) if part)
    table.add_row(Text(finding.level, style=_STYLES[finding.level]), Text.assemble(told, (f"  [{place}]", "dim")))
    table.add_row("", Text.assemble(("do: ", "bold"), finding.cure))
    if finding.more and everything:
        table.add_row("", Text(f"also: {finding.more}", style="dim"))
    return Padding(table, (0, 0, 0, 2))


# ---------------------------------------------------------------------- the water in the pipe, for those who ask for everything


def _carried(result: CheckResult) -> Iterator[Sequence[str]]:
    """Each line's stretches by what they carry, and on which side of the solids filter; neighbours that are alike are told as
    one, by the slowest."""
    layout, side = result.layout, result.upkeep.sides
    classes = carried(layout, result.flows)
    alike: dict[tuple[str, str, str | None], list[Stretch]] = {}
    for stretch in layout.stretches:
        alike.setdefault((stretch.line, classes[stretch.id].word, side[stretch.id]), []).append(stretch)
    order = {line: number for number, line in enumerate(layout.lines)}
    for (line, word, which), same in sorted(alike.items(), key=lambda one: order[one[0][0]]):
        for group in adjoining(same):
            slowest = min((classes[stretch.id] for stretch in group), key=lambda one: one.velocity)
            size = show(sum(stretch.length for stretch in group), "length", layout.units)
            speed, shear = show(slowest.velocity, "speed", layout.units), show(slowest.shear, "shear", layout.units)
            moves = (speed, shear) if word != "empty" else ("", "")
            rests = f" ({slowest.rest:.3g} h a day)" if "off" in word and slowest.rest > 0.0 else ""
            yield line, f"{size}, {steps_of(group)}", which or "", *moves, f"{word}{rests}"


def _age_words(result: CheckResult) -> str:
    """How much water the pipe holds, how much of it stands, and how old the rest gets."""
    layout, units = result.layout, result.layout.units
    found = stagnant(water_ages(layout, result.flows))
    said = f"The pipe holds {show(found.volume, 'volume', units)}; {show(found.standing, 'volume', units)} of it stand."
    if found.where is not None:
        line = found.where.rpartition(".")[0]
        said += f" The oldest that moves is {hours(found.oldest)} out of its last vessel, in '{line}'."
    moving = found.old - found.standing
    if moving > 1e-9:
        said += f" {show(moving, 'volume', units)} of it are older than {hours(layout.limits['water age'])}."
    return said


def _code_words(name: str) -> str:
    """Which code the file chose, and what that is worth."""
    code = catalogue.codes()[name]
    return (
        f"The file asks for {f'{code.title} {code.edition}'.strip()}: a selection of its rules is looked at, those on access to drains, so that "
        "a layout without such a finding is not said to meet it. The code that is adopted where the system stands, with its amendments, governs."
    )


def _dead_legs(result: CheckResult) -> Table:
    """Each dead leg against what standards allow, in its own bores; those that hang in air are left out."""
    standards = catalogue.dead_legs().values()
    rows = []
    for leg in by_shape(result.layout):
        met = ("met" if leg.met()[row.name] else "too long" for row in standards)
        if not leg.drained:
            rows.append((leg.pieces[0][0].line, leg.root, f"{leg.ratio:.3g}", *met))
    heads = (f"{row.name}: {row.diameters:g} from {row.start}" for row in standards)
    return plain_table("dead leg", "from", ">bores", *heads, rows=rows)


@view
def verdict_view(result: CheckResult) -> Iterator[RenderableType]:
    """The verdict, the score, and the worst few findings."""
    head = headed(result.layout.name, level_word(result.verdict), _STYLES[result.verdict])
    yield head.append(f", {result.score.points:.1f} of 100", style="not bold")
    yield Text(first_sentence(result))
    worst = [one for one in result.findings if one.level != "advice"]
    for finding in worst[:_FEW_LINES]:
        place = place_of(finding) or finding.kind
        yield Text.assemble((f"  {finding.level:<5}", _STYLES[finding.level]), f"{finding.message} [{place}]")
    if len(worst) > _FEW_LINES:
        yield Text(f"  and {len(worst) - _FEW_LINES} more", style="dim")
