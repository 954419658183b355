"""A clean sheet: vessels, pumps and where pipe ends are kept, and all plain pipe between them is laid anew.

What a pump feeds gets one riser, one straight main over the highest rim, and a short spur with a valve to each vessel. What
drains gets a line of its own from each way out to where the water went, down, along with a steady fall, and down again; beds that drain one into the next
get spurs of their own, and drain to where the last one does. Of the two ways that a
main can run, and the places beside the riser that it can run in, the one with the least pipe and corners is taken. Idle lines are left out.
Pipe is sized by speed where it is pushed, and by what it carries part-full where it drains.

Lines that hold what this cannot lay (spray bars, hose, filters in the pipe, siphons) stay as they are, and it is said why.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ..catalogue.rows import PipeRow
from ..check import CheckResult, check
from ..errors import LayoutError, PlumblineError
from ..hydraulics.balance import balance
from ..hydraulics.stretches import pipes_joined
from ..layout import layout_of
from ..layout.model import Layout, Line
from ..layout.rewrite import set_openings
from ..units import show
from ..upkeep.words import listed
from .buildable import shortage
from .change import Change
from .drawer import Drawer
from .laid import Laid, written
from .prices import Prices
from .script import Script
from .sheet import Stays, series
from .ways import measured, worth, worth_of

__all__ = ["CleanSheet", "clean_sheet"]

NARROW = ("drain-full", "thin-drain", "overtops")
"""Findings that a wider drain has to cure. That one gurgles is no reason for a wider one."""

MOST_SIZES = 6
"""How often sizes are thought over."""

LEAST = 0.3
"""What a single line laid anew has to save, in metres of pipe; a corner counts as it does for its way."""


@dataclass(frozen=True)
class CleanSheet:
    """The layout with its pipe laid anew; `changes` tell what is laid and what goes, without edits of their own, and `kept` says which
    lines stay as they are and why."""

    layout: Layout
    changes: tuple[Change, ...]
    kept: tuple[str, ...]

    def notes(self, old: Layout) -> Iterator[str]:
        """What to know of it: what stays and why, and what of the old pipe can be used again."""
        yield from self.kept
        again = _used_again(old, self.layout)
        if again:
            said = [f"{show(length, 'length', old.units)} of {name}" for name, length in again.items()]
            yield f"Of the old pipe {', '.join(said)} can be cut to what is laid, where it is sound."
        kept = ", ".join(f"'{name}'" for name in old.keep_clear)
        what = (
            f"Nothing is known of walls and walkways but {kept}" if kept else "Walls and walkways are not in the file"
        )
        yield f"{what}: see that each way is free before anything is cut."

    def cost(self, hour: float) -> float:
        """With labour at a price of an `hour`."""
        return sum(change.cost(hour) for change in self.changes)


def clean_sheet(result: CheckResult, prices: Prices) -> CleanSheet:
    """Lay the pipe of a layout anew, by the check of how it stands.

    Raises:
        PlumblineError: where nothing in it can be laid anew, with why.
    """
    drawer = Drawer(result)
    groups: dict[int, list[Line]] = defaultdict(list)
    for name, number in pipes_joined(result.layout).items():
        groups[number].append(result.layout.lines[name])
    # What a cap or a union cures is no reason to lay a line anew.
    troubled = {
        one.line for one in result.findings if one.level != "advice" and one.kind not in ("unreachable", "turning")
    }
    drawn: dict[int, list[Laid]] = {}
    why_kept: dict[str, str] = {}
    # What a pump feeds first: whether beds in a chain get spurs of their own is decided there.
    for number in sorted(groups, key=lambda at: all(line.start.kind != "pump" for line in groups[at])):
        lines = groups[number]
        try:
            new = drawer.unchained(lines)
            if not drawer.parts(lines) and _no_better(
                lines, new, troubled=bool(troubled & {line.name for line in lines})
            ):
                raise Stays(
                    "is as short and as straight as it can be"
                    if len(lines) == 1
                    else "is joined to another and would be longer by itself"
                )
        except Stays as why:
            why_kept |= {line.name: str(why) for line in lines}
            continue
        drawn[number] = new
    laid = [one for number in groups for one in drawn.get(number, ())]
    gone = [line for number in drawn for line in groups[number]]
    kept = {name: why_kept[name] for name in result.layout.lines if name in why_kept}
    if not laid:
        reasons = "; ".join(_stay(kept, "", "each ")) or "it has no pipe"
        raise PlumblineError(
            f"Nothing is laid afresh here: {reasons}. Without --afresh the cheapest changes are looked for."
        )
    layout, laid = _sized(result.layout, drawer.script, laid, [line.name for line in gone])
    changes = [_told(result.layout, one, prices) for one in laid]
    names = {one.name for one in laid}
    out = [line.name for line in gone if line.name not in names]
    if out:
        changes.append(Change("take out", out[0], 1, f"take out {_quoted(out)}", "", (), 0.0, 10.0 * len(out)))
    stay = tuple(f"{said}." for said in _stay(kept, "stays as it is: it ", "stay as they are: each "))
    return CleanSheet(layout, tuple(changes), stay)


def _stay(kept: Mapping[str, str], one: str, several: str) -> Iterator[str]:
    """The lines that stay, with why, those of one reason together."""
    for why in dict.fromkeys(kept.values()):
        names = [name for name in kept if kept[name] == why]
        yield f"{_quoted(names)} {one if len(names) == 1 else several}{why}"


def _no_better(old: Sequence[Line], new: Sequence[Laid], *, troubled: bool) -> bool:
    """Whether lines laid anew save nothing worth the work; those with findings are worth it for another size or a check valve left out. Several
    that a pump feeds are laid anew in any case, for their valves and their height."""
    if len(old) > 1 and any(end.kind == "pump" for line in old for end in (line.start, line.end)):
        return False
    kept, first = (new[0].kept if len(old) == 1 else 0), old[0]
    same = len(old) == len(new) == 1 and new[0].row.name == first.parts[0].pipe.name
    same = same and not any(part.kind == "check valve" for part in first.parts)
    spared = sum(worth_of(line, kept) for line in old) - sum(worth(one.places) for one in new)
    return (same or not troubled) and spared < LEAST


def _sized(layout: Layout, script: Script, laid: list[Laid], gone: Sequence[str]) -> tuple[Layout, list[Laid]]:
    """The layout with new lines, its valves set, each drain as wide as its standpipe and fall ask, and what is pushed as wide as its
    vessels' wants do."""
    try:
        made = layout_of(written(script, laid, gone), layout.path)
    except LayoutError as error:
        raise PlumblineError(
            f"What is laid afresh does not fit together: {error.faults[0].found}. Without --afresh the cheapest changes are looked for."
        ) from None
    lacking = shortage(made)
    full: set[str] = set()
    for _ in range(MOST_SIZES):
        result, short = _set(made)
        narrow = {finding.line for finding in result.findings if finding.kind in NARROW}
        pushed = {one.name for one in laid if made.lines[one.name].start.kind in ("pump", "tee")} if short else set()
        # What stays of a line keeps its size.
        some = (narrow | pushed) - full - {one.name for one in laid if one.kept}
        wider = [replace(one, row=_wider(one.row)) if one.name in some else one for one in laid]
        if wider == laid:
            break
        made = layout_of(written(script, wider, gone), layout.path)
        # Wider fittings take more of the walk: where there is no room for them the size stays.
        tight = {name for name, lack in shortage(made).items() if lack > lacking.get(name, 0.0) + 1e-6}
        full |= tight
        laid = [old if new.name in tight else new for old, new in zip(laid, wider, strict=True)]
        made = layout_of(written(script, laid, gone), layout.path)
    return _set(made)[0].layout, laid


def _set(layout: Layout) -> tuple[CheckResult, bool]:
    """The check of a layout with its valves set for what its vessels want, and whether they get less than they should."""
    try:
        found = balance(layout)
    except PlumblineError:
        return check(layout), False
    marks = {setting.mark: setting.after for setting in found.settings}
    made = layout_of(set_openings(layout.text, marks), layout.path)
    least = 1.0 + layout.limits["margin"]
    return check(made), any(share.share < least for share in found.vessels)


def _wider(row: PipeRow) -> PipeRow:
    """The next size of a series, or the widest."""
    return next((one for one in series(row.name) if one.bore > row.bore + 1e-6), row)


def _used_again(old: Layout, new: Layout) -> dict[str, float]:
    """How much of each pipe in the old runs is long enough for the new ones [m]: each new run, the longest first, takes the shortest old one
    that holds it, and leaves the rest."""

    def runs(layout: Layout) -> Iterator[tuple[str, float]]:
        lengths = [
            (part.pipe.name, part.length) for line in layout.lines.values() for part in line.parts if part.kind == "run"
        ]
        return iter(sorted(lengths, key=lambda run: -run[1]))

    there: dict[str, list[float]] = defaultdict(list)
    for name, length in runs(old):
        there[name].append(length)
    used: dict[str, float] = defaultdict(float)
    for name, length in runs(new):
        long_enough = [one for one in there[name] if one >= length]
        if long_enough:
            there[name].remove(min(long_enough))
            there[name].append(min(long_enough) - length)
            used[name] += length
    return dict(used)


def _told(layout: Layout, one: Laid, prices: Prices) -> Change:
    """What is laid, in words, with what it costs."""
    pipe = next(iter(layout.lines.values())).parts[0].pipe
    pipe = replace(pipe, name=one.row.name, bore=one.row.bore, outside=one.row.outside)
    money, minutes = prices.of("lay afresh", pipe, metres=one.length, fittings=one.fittings)
    counts = {kind: one.fittings.count(kind) for kind in ("elbow", "tee")}
    said = [_counted(counts["elbow"], "corner"), *([_counted(counts["tee"], "tee")] if counts["tee"] else [])]
    behind = f" behind step {one.kept}" if one.kept else ""
    before = ""
    if one.name in layout.lines:
        length, corners = measured(layout.lines[one.name], one.kept)
        before = f", in place of {show(length, 'length', layout.units)} with {corners}"
    words = (
        f"lay '{one.name}'{behind} afresh in {one.row.name}: {show(one.length, 'length', layout.units)} with {' and '.join(said)}{before}; "
        "see that the way is free"
    )
    return Change("lay afresh", one.name, 1, words, "", (), money, minutes)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _quoted(names: Iterable[str]) -> str:
    return listed([f"'{name}'" for name in names])
