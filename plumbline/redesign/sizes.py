"""Changes of pipe size: a whole line, or from its beginning to one of its tees, with reducers where sizes meet between tees."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from .. import catalogue
from ..catalogue.rows import PipeRow
from ..layout.model import Layout, Line, Part, Pipe, Step
from ..parts.sizes import outside_of
from .change import Change, Edit
from .prices import Prices
from .script import read_script

__all__ = ["larger", "priced_in", "sizes"]

MOST_SIZES = 2
"""How many sizes up are offered."""


def _usual(layout: Layout) -> str | None:
    """The pipe of which the layout has most, hose left aside."""
    lengths: dict[str, float] = defaultdict(float)
    for line in layout.lines.values():
        for part in line.parts:
            if part.is_pipe and not part.pipe.name.startswith("hose") and part.pipe.name in catalogue.pipes():
                lengths[part.pipe.name] += part.length
    return max(lengths, key=lambda name: lengths[name], default=None)


def larger(layout: Layout, pipe: Pipe, least: float = 0.0) -> list[PipeRow]:
    """The next sizes up from a pipe, with bores of `least` [m] or more; hose gives way to the layout's usual pipe."""
    hose = pipe.name.startswith("hose") or pipe.name not in catalogue.pipes()
    like = (_usual(layout) if hose else None) or pipe.name
    rows = [row for row in catalogue.series(like) if row.bore > pipe.bore + 1e-6 and row.bore >= least - 1e-9]
    return rows[:MOST_SIZES]


def priced_in(change: Change, made: Change, prices: Prices) -> Change | None:
    """Give a change with the price that it has in pipe of the size that another change `made` lays there; None where that lays none there."""
    if made.kind != "pipe" or change.line != made.line or not change.access or change.step > made.step:
        return None
    row = catalogue.pipes()[made.edits[0].texts[0]]
    money, minutes = prices.of(change.kind, Pipe(row.name, row.bore, 0.0, row.outside))
    times = len(change.lines)
    return replace(change, money=times * money, minutes=times * minutes)


def sizes(
    layout: Layout, line: Line, rows: Sequence[PipeRow], prices: Prices, *, parts_of: bool = True
) -> Iterator[Change]:
    """Lay a line anew in other sizes: all of it, and with `parts_of` from its beginning to its first or last tee."""
    odd = ("reducer", "expander", "hose", "spray bar")
    if any(part.kind in odd or part.step == 0 for part in line.parts):
        return
    tees = [part.step for part in line.parts if part.kind in ("tee", "wye")] if parts_of else []
    for row in rows:
        for stop in dict.fromkeys([line.parts[-1].step, *tees[-1:], *tees[:1]]):
            runs = [part for part in line.parts if part.is_pipe and part.step <= stop]
            if runs and not any(part.around for part in runs) and any(part.pipe.name != row.name for part in runs):
                yield _lay_anew(layout, line, row, runs, stop, prices)


def _lay_anew(layout: Layout, line: Line, row: PipeRow, runs: list[Part], stop: int, prices: Prices) -> Change:
    fittings = [part.kind for part in line.parts if not part.is_pipe and part.step <= stop]
    others = any(part.is_pipe and part.step > stop for part in line.parts)
    old = max((part.pipe for part in runs), key=outside_of)
    new = replace(old, name=row.name, bore=row.bore, outside=row.outside)
    metres = sum(part.length for part in runs)
    money, minutes = prices.of("pipe", new, metres=metres, fittings=fittings, old=old)
    edits = tuple(Edit("resize", line.name, part.step, (row.name,)) for part in runs)
    where = f"all of '{line.name}'"
    if others:
        tee = next(part for part in line.parts if part.step == stop)
        where = f"'{line.name}' up to {tee.kind} '{tee.id}' (steps 1 to {stop})"
    elif not _own_pipe(layout, line, runs):
        edits = (Edit("pipe", line.name, 0, (row.name,)),)
    note = f"{row.name} in place of {runs[0].pipe.name}"
    return Change("pipe", line.name, stop, f"lay {where} in {row.name}", note, edits, money, minutes)


def _own_pipe(layout: Layout, line: Line, runs: Sequence[Part]) -> bool:
    """Whether some run says its own pipe, or the line does not say one for all."""
    said = read_script(layout.text).of(line.name)
    steps = {run.step.told if isinstance(run.step, Step) else run.step for run in runs}
    own = said is not None and any(key.text == "pipe" for n in steps for key, _ in said.steps[n - 1].pairs or ())
    return own or said is None or "pipe" not in said.keys
