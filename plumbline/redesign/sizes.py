"""Changes of pipe size: a whole line, or from its beginning to one of its tees, with reducers where sizes meet between tees."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from .. import catalogue
from ..catalogue.rows import PipeRow
from ..layout.model import Layout, Line, Part, Pipe
from .change import Change, Edit
from .place import outside_of
from .prices import Prices
from .script import read_script

__all__ = ["larger", "priced_in", "sizes", "smaller"]

MOST_SIZES = 2
"""How many sizes up are offered."""


def _usual(layout: Layout) -> Pipe | None:
    """The pipe of which the layout has most, hose left aside."""
    lengths: dict[str, float] = {}
    pipes: dict[str, Pipe] = {}
    for line in layout.lines.values():
        for part in line.parts:
            if part.is_pipe and not part.pipe.name.startswith("hose") and part.pipe.name in catalogue.pipes():
                lengths[part.pipe.name] = lengths.get(part.pipe.name, 0.0) + part.length
                pipes[part.pipe.name] = part.pipe
    return pipes[max(lengths, key=lambda name: lengths[name])] if lengths else None


def larger(layout: Layout, pipe: Pipe, least: float = 0.0) -> list[PipeRow]:
    """The next sizes up from a pipe, with bores of `least` [m] or more; hose gives way to the layout's usual pipe."""
    usual = _usual(layout)
    of = usual if (pipe.name.startswith("hose") or pipe.name not in catalogue.pipes()) and usual is not None else pipe
    return [row for row in catalogue.series(of.name) if row.bore > pipe.bore + 1e-6 and row.bore >= least - 1e-9][
        :MOST_SIZES
    ]


def smaller(pipe: Pipe) -> list[PipeRow]:
    """The next size down."""
    return [row for row in catalogue.series(pipe.name) if row.bore < pipe.bore - 1e-6][-1:]


def priced_in(change: Change, made: Change, prices: Prices) -> Change | None:
    """Give a change with the price that it has in pipe of the size that another change `made` lays there; None where that lays none there."""
    if made.kind != "pipe" or change.line != made.line or not change.access or change.step > made.step:
        return None
    row = catalogue.pipes()[made.edits[0].texts[0]]
    money, minutes = prices.of(change.kind, Pipe(row.name, row.bore, 0.0, row.outside))
    return replace(change, money=money, minutes=minutes)


def sizes(
    layout: Layout, line: Line, rows: Sequence[PipeRow], prices: Prices, *, parts_of: bool = True
) -> Iterator[Change]:
    """Lay a line anew in other sizes: all of it, and with `parts_of` from its beginning to its first or last tee."""
    said = read_script(layout.text).lines.get(line.name)
    if said is None or said.spread:
        return  # it stands in the file among several, or its steps are not those of the text
    if any(part.kind in ("reducer", "expander", "hose", "spray bar") for part in line.parts) or any(
            part.step == 0 for part in line.parts):  # fmt: skip
        return
    tees = [part.step for part in line.parts if part.kind in ("tee", "wye")]
    last = line.parts[-1].step
    for row in rows:
        for stop in dict.fromkeys([last, *([tees[-1], tees[0]] if tees and parts_of else [])]):
            runs = [part for part in line.parts if part.is_pipe and part.step <= stop]
            others = [part for part in line.parts if part.is_pipe and part.step > stop]
            if not runs or any(part.around for part in runs) or all(part.pipe.name == row.name for part in runs):
                continue
            yield _lay_anew(layout, line, row, runs, others, stop, prices)


def _lay_anew(
    layout: Layout, line: Line, row: PipeRow, runs: list[Part], others: list[Part], stop: int, prices: Prices
) -> Change:
    fittings = [part.kind for part in line.parts if not part.is_pipe and part.step <= stop]
    old = max((part.pipe for part in runs), key=outside_of)
    new = replace(old, name=row.name, bore=row.bore, outside=row.outside)
    metres = sum(part.length for part in runs)
    money, minutes = prices.of("pipe", new, metres=metres, fittings=fittings, old=old)
    edits = tuple(Edit("resize", line.name, part.step, (row.name,)) for part in runs)
    if not others and not _own_pipe(layout, line, runs):
        edits = (Edit("pipe", line.name, 0, (row.name,)),)
    where, steps = f"all of '{line.name}'", f"steps 1 to {stop}"
    if others:
        tee = next(part for part in line.parts if part.step == stop)
        where = f"'{line.name}' up to {tee.kind} '{tee.id}' ({steps})"
    return Change("pipe", line.name, stop, f"lay {where} in {row.name}", f"{row.name} in place of {runs[0].pipe.name}",
                  edits, money, minutes)  # fmt: skip


def _own_pipe(layout: Layout, line: Line, runs: Sequence[Part]) -> bool:
    """Whether some run says its own pipe, or the line does not say one for all."""
    said = read_script(layout.text).lines[line.name]
    own = any(key.text == "pipe" for run in runs for key, _ in said.steps[run.step - 1].pairs or ())
    return own or "pipe" not in said.keys
