"""A change that a plumber makes, as an edit of the layout's own text: what is written and what is checked are the same thing."""

from __future__ import annotations

import math
import re
from collections import defaultdict, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..deadline import in_time
from ..layout import layout_of, layout_with
from ..layout.kinds import plain
from ..layout.model import Layout, Step, Vector
from ..layout.opening import says_opening
from ..layout.rewrite import quoted
from ..layout.words import DIRECTIONS, RELATIVE
from ..units import quantity
from .place import inches_text
from .script import CannotChange, Pen, Script, read_script, row_of

__all__ = ["CannotChange", "Change", "Edit", "apply", "changed", "clash", "quoted"]

Op = Literal["swap", "insert", "split", "cut", "lay", "resize", "open", "pipe", "end", "drop"]


@dataclass(frozen=True, slots=True)
class Edit:
    """One edit of a line of pipe in the text.

    `op` is what is done to `step` (counted from 1): "swap" writes `texts` in its place (none takes it out), "insert" writes them
    before it, "split" writes them into a run, `at` [m] from its start, "cut" leaves `at` [m] of a run, "lay" makes it go `sides` (east, north, up) [m], `at` [m] in
    all, "resize" gives a run the pipe
    `texts[0]`, "open" a valve the opening `at`. Or to the line itself: "pipe" gives it the pipe `texts[0]`, "end" the `to` (or, with step
    0, the `from`) `texts[0]`, and "drop" takes it out.
    """

    op: Op
    line: str
    step: int = 0
    texts: tuple[str, ...] = ()
    at: float = 0.0
    sides: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Change:
    """A change: its `kind`, a row of `catalogue/changes.yaml`; where; `words` that tell a plumber what to do; `note`, for the file; the
    `edits`; what it costs in `money` and `minutes`; `access`, the name of an opening that it makes; and `row`, the name that the file has for all
    lines that it is made in, where it writes them once: `line` is the first of them, and each has the edits."""

    kind: str
    line: str
    step: int
    words: str
    note: str
    edits: tuple[Edit, ...]
    money: float
    minutes: float
    access: str = ""
    row: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """The lines that it is made in."""
        return tuple(dict.fromkeys(edit.line for edit in self.edits)) if self.row else (self.line,)

    @property
    def accesses(self) -> tuple[str, ...]:
        """The names of the openings that it makes: in a row they are numbered."""
        if self.row and self.access:
            return tuple(f"{self.access} {n}" for n in range(1, len(self.lines) + 1))
        return (self.access,) if self.access else ()

    @property
    def written(self) -> tuple[Edit, ...]:
        """Its edits as the file names lines and counts steps, those of a row once."""
        once = (edit for edit in self.edits if not self.row or edit.line == self.line)
        return tuple(replace(edit, line=self.row or edit.line, step=_told(edit.step)) for edit in once)

    def cost(self, hour: float) -> float:
        """Parts, and labour at a price of an `hour`."""
        return self.money + hour * self.minutes / 60.0


def _told(step: int) -> int:
    return step.told if isinstance(step, Step) else step


def changed(layout: Layout, changes: Iterable[Change]) -> Layout:
    """Read the layout that changes make of a layout.

    Raises:
        CannotChange: where the text does not allow it.
        LayoutError: where what comes out does not close.
        TimeUp: where no time is left.
    """
    in_time()
    changes = tuple(changes)
    text = apply(layout.text, changes)
    for one, text_read, made in _lately:
        if one is layout and text_read == text:
            return made
    script, differ = read_script(layout.text), {edit.line for change in changes for edit in change.written}
    blocks = [script.block_of(name) for name in sorted(differ)]
    if all(block[:1].isspace() for block in blocks):
        made = layout_with(text, layout.path, layout, differ, apply("\n".join(("lines:", *blocks, "")), changes))
    else:
        made = layout_of(text, layout.path)
    _lately.appendleft((layout, text, made))
    return made


_lately: deque[tuple[Layout, str, Layout]] = deque(maxlen=16)
"""One set of changes is looked at from several sides, one after the other."""


def clash(one: Change, other: Change) -> bool:
    """Tell whether two changes cannot both be made as they are: they want the same step, or a line that the other takes out."""
    return any(_clash(a, b) for a in one.edits for b in other.edits)


def _clash(a: Edit, b: Edit) -> bool:
    if a.line != b.line:
        return False
    if "drop" in (a.op, b.op):
        return True
    if a.op in ("pipe", "end") or b.op in ("pipe", "end"):
        same = a.op == b.op and (a.op == "pipe" or a.step == b.step)
        return same or {a.op, b.op} == {"pipe", "resize"}
    if a.step != b.step:
        return False
    if "insert" in (a.op, b.op):
        return a.op == b.op
    if a.op == b.op == "split":
        return abs(a.at - b.at) < 0.05
    ops = {a.op: a, b.op: b}
    if ops.keys() == {"split", "lay"}:
        return ops["split"].at > ops["lay"].at - 0.05
    return ops.keys() not in ({"split", "resize"}, {"cut", "resize"}, {"lay", "resize"}, {"swap", "resize"})


def apply(text: str, changes: Iterable[Change]) -> str:
    """Write changes into the text of a layout that can be read. All of them speak of the steps as they stand in that text.

    >>> turn = Change("sweep", "a", 2, "put a sweep in", "sweep", (Edit("swap", "a", 2, ("sweep",)),), 0.0, 0.0)
    >>> print(apply("lines:\\n  a:\\n    route:\\n      - up: 1 m\\n      - elbow   # tight\\n      - east: 1 m\\n", [turn]), end="")
    lines:
      a:
        route:
          - up: 1 m
          - sweep   # tight  # changed: sweep
          - east: 1 m

    Raises:
        CannotChange: where the text does not allow it.
    """
    script = read_script(text)
    pen = Pen(script)
    by_step: dict[tuple[str, int], list[tuple[Edit, str]]] = defaultdict(list)
    for change in changes:
        for edit in change.written:
            if edit.line not in script.lines:
                row = row_of(edit.line)
                told = f"'{edit.line}' is one of a row that the file writes once, as '{row}'"
                raise CannotChange(told if row in script.lines else f"there is no line '{edit.line}'")
            if edit.step and edit.op not in ("end", "open") and _hidden(script, edit):
                raise CannotChange("nobody gets at it there, as the file says")
            if edit.op in ("pipe", "end", "drop"):
                _whole(pen, edit, change.note)
            elif edit.op == "insert":
                pen.insert(edit.line, edit.step, edit.texts, change.note)
            else:
                by_step[edit.line, edit.step].append((edit, change.note))
    pen.gone = {place for place, edits in by_step.items() if any(e.op == "swap" and not e.texts for e, _ in edits)}
    for (line, step), edits in sorted(by_step.items()):
        notes = "; ".join(dict.fromkeys(note for _, note in edits))
        pen.rewrite(line, step, _steps(script, line, step, [edit for edit, _ in edits]), notes)
    return pen.written()


def _hidden(script: Script, edit: Edit) -> bool:
    """Whether the text says that nobody gets at where an edit is made."""
    line = script.lines[edit.line]
    return 0 < edit.step <= len(line.steps) and line.out_of_reach(edit.step)


def _whole(pen: Pen, edit: Edit, note: str) -> None:
    line = pen.script.lines[edit.line]
    if edit.op != "end" and line.hidden:
        raise CannotChange("nobody gets at some of it, as the file says")
    if edit.op == "drop":
        start = pen.begin(line.key.start)
        if pen.text[start : line.key.start].strip() or id(line.value) in pen.script.shared:
            raise CannotChange("the line does not stand alone in the file")
        pen.strike(line.key, line.value)
        return
    key = "pipe" if edit.op == "pipe" else "to" if edit.step else "from"
    if key not in line.keys:
        raise CannotChange(f"the line has no '{key}'")
    node = line.keys[key]
    if id(node) in pen.script.shared:
        raise CannotChange("it is repeated elsewhere by a *name")
    pen.put(node.start, node.end, edit.texts[0])
    pen.note(node.end, note)


def _steps(script: Script, line: str, step: int, edits: Sequence[Edit]) -> list[str]:
    """What stands in place of a step after the edits to it."""
    ops = {edit.op: edit for edit in edits}
    if "swap" in ops:
        return list(ops["swap"].texts)
    if "open" in ops:
        return [_opened(script, line, step, ops["open"].at)]
    run = _run(script, line, step)
    if "resize" in ops:
        run["pipe"] = ops["resize"].texts[0]
    if "lay" in ops:
        run = _laid(run, ops["lay"].sides)
    if "cut" in ops:
        run = _part(run, 0.0, ops["cut"].at)
        return [_run_text(run), *ops["cut"].texts]
    out, start = [], 0.0
    for edit in sorted((edit for edit in edits if edit.op == "split"), key=lambda edit: edit.at):
        out += [_run_text(_onward(_part(run, start, edit.at), start)), *edit.texts]
        start = edit.at
    return [*out, _run_text(_onward(_part(run, start, None), start) if start else run)]


def _laid(run: dict[str, str], sides: Vector) -> dict[str, str]:
    """A run that goes another way, each side in the unit that it is written in, or that the longest is; one that takes up what is left still does."""
    if "rest" in run.values():
        return run
    said = {way: quantity(text, "length") for way, text in run.items() if way in DIRECTIONS}
    if not said or run.keys() & {*RELATIVE, "fall", "rise"}:
        raise CannotChange("the run's way is not said by the compass alone")
    longest = max(said, key=lambda way: said[way])
    out = dict(run)
    for way in dict.fromkeys((*said, *DIRECTIONS)):
        like = way if said.get(way) else longest
        number, unit = _number(run[like], said[like])
        size = round(sum(a * b for a, b in zip(sides, DIRECTIONS[way], strict=True)) * number / said[like], 9)
        out[way] = inches_text(size) if unit == TAPE else f"{size:.10g} {unit}".strip()
        if size <= 0.0:
            del out[way]
    return out


def _onward(run: dict[str, str], start: float) -> dict[str, str]:
    """A later piece of a run goes on as the first has turned: left, and then ahead."""
    return {("ahead" if start and way in RELATIVE else way): text for way, text in run.items()}


def _run(script: Script, line: str, step: int) -> dict[str, str]:
    node = script.step(line, step)
    if node.pairs is None:
        raise CannotChange("the step is no run")
    run = {plain(key.text or ""): script.slice(value) for key, value in node.pairs}
    turns = len(run.keys() & {*RELATIVE})
    if (
        turns > 1
        or not run.keys() <= {*_WAYS, "fall", "rise", "pipe", "past", "sunlit", "clear", "hot"}
        or any("\n" in text for text in run.values())
    ):
        raise CannotChange("the step is no plain run")
    return run


_WAYS = {
    **DIRECTIONS,
    **dict(zip(RELATIVE, (DIRECTIONS[way] for way in ("north", "south", "west", "east")), strict=True)),
}
"""Directions as if the walk faced north: a run's length is the same whichever way it faces."""


_TAPE = re.compile(r"ft|foot|feet|in|['\"′″’”]")
TAPE = "on a tape"
_NUMBER = re.compile(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*([A-Za-z]*)\s*\Z", re.ASCII)


_STEPS = {"m": 0.01, "mm": 10.0, "cm": 1.0, "in": 0.5, "inch": 0.5, "ft": 0.05, TAPE: 0.5}
"""What a saw cuts to, in the units of a tape."""
_MARKS = {"m": 0.001, "mm": 1.0, "cm": 0.1, "in": 0.0625, "inch": 0.0625, "ft": 0.005, TAPE: 0.0625}
"""What a tape tells: a millimetre, a sixteenth of an inch."""


def _part(run: dict[str, str], start: float, stop: float | None) -> dict[str, str]:
    """The part of a run between two distances from its start [m], its longest side in round numbers and the others to a tape's marks, with
    the walk's sum kept to the last digit."""
    if "rest" in run.values():  # what is left is left to the last part
        if sum(way in _WAYS for way in run) > 1:
            raise CannotChange("the run takes up what is left, and goes to a side as well")
        cut = "rest" if stop is None else f"{round(stop, 2) - round(start, 2):.4g} m"
        return {way: cut if text == "rest" else text for way, text in run.items()}
    sizes = {way: quantity(text, "length") for way, text in run.items() if way in _WAYS}
    vector = [sum(size * _WAYS[way][axis] for way, size in sizes.items()) for axis in range(3)]
    whole = math.hypot(*vector)
    plain = {way: _number(run[way], size) for way, size in sizes.items()}
    number, unit = plain[max(sizes, key=lambda way: sizes[way])]
    step = _STEPS.get(unit, 1e-3 * number)

    def share(distance: float) -> float:
        return round(round(number * distance / whole / step) * step, 9) / number

    low, high = share(start) if start else 0.0, 1.0 if stop is None else share(stop)
    if not high > low:
        raise CannotChange("the run is too short")
    out = dict(run)
    for way, (count, word) in plain.items():
        # Each cut is rounded once, so that the parts add up.
        size = round((count if stop is None else _to_mark(count * high, word)) - _to_mark(count * low, word), 9)
        taped = word == TAPE or (word in ("in", "inch") and (4.0 * size) % 1.0)
        out[way] = inches_text(size) if taped else f"{size:.10g} {word}".strip()
        if size <= 0.0:
            del out[way]
    return out


def _to_mark(size: float, unit: str) -> float:
    """A size to the nearest mark of a tape, where its unit stands on one."""
    mark = _MARKS.get(unit)
    return round(round(size / mark) * mark if mark else size, 9)


def _number(text: str, metres: float) -> tuple[float, str]:
    """A length in the unit that it is written in, in inches where feet and inches or a fraction are."""
    found = _NUMBER.match(text)
    if found:
        return float(found[1]), found[2]
    return (round(metres / 0.0254, 9), TAPE) if _TAPE.search(text) else (metres, "m")


def _run_text(run: dict[str, str]) -> str:
    inner = ", ".join(f"{way}: {text}" for way, text in run.items())
    return inner if len(run) == 1 else f"{{{inner}}}"


def _opened(script: Script, line: str, step: int, opening: float) -> str:
    """A valve's step with its opening."""
    node = script.step(line, step)
    percent = f"{round(100.0 * opening, 6):g} %"
    if not node.pairs:
        return f"{script.slice(node)}: {{opening: {percent}}}"
    key, value = node.pairs[0]
    details: dict[str, str] = {}
    if value.pairs is not None:
        details = {plain(k.text or ""): script.slice(v) for k, v in value.pairs}
    elif value.text and not says_opening(plain(value.text)):
        details = {"id": quoted(value.text)}
    details["opening"] = percent
    return f"{key.text}: {{{', '.join(f'{word}: {text}' for word, text in details.items())}}}"
