"""What is said once and stands several times, written out: rows that repeat, manifolds, crosses and three-way valves.

All that follows knows plain lines with runs and tees alone. Names are numbered from 1: `drop 1`, `drop 2`, …
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from .faults import Faults
from .model import Vector
from .names import Names
from .statements import EndSaid, FittingSaid, LineSaid, RunSaid, Said, StepSaid

__all__ = ["spread"]

WAYS = {"ahead": (1, 1, 0), "side": (1, 0, 1), "both": (1, 1, 1), "ahead to side": (0, 1, 1), "shut": (0, 0, 0)}
"""Which of a three-way valve's legs are open: that by which the walk comes, the one ahead, and the one that another line joins."""


def spread(said: Said, names: Names, faults: Faults) -> Said:
    """Write out all that stands several times.

    Parameters:
        said: the file as said; its vessels that repeat are written out already.
    """
    return _Spread(said, names, faults).whole()


class _Spread:
    def __init__(self, said: Said, names: Names, faults: Faults) -> None:
        self.said = said
        self.names = names
        self.faults = faults
        self.counts: dict[str, int] = dict(said.rows)
        self.crosses: dict[str, int] = {}
        self.turns: dict[str, str] = {}
        self.outlets: dict[str, FittingSaid] = {}

    def whole(self) -> Said:
        lines = {name: self.parted(line) for name, line in self.said.lines.items()}
        repeated = self.repeated(lines)
        out: dict[str, LineSaid] = {}
        for name, line in lines.items():
            for one in self.copies(line, repeated[name]) if name in repeated else (line,):
                if one.name in out:
                    found = f"the name '{one.name}' is taken"
                    self.faults.add(line.mark, found, "another name for the line that repeats")
                out[one.name] = self.joined(one)
        return replace(self.said, lines=out)

    # ------------------------------------------------------------------ steps

    def parted(self, line: LineSaid) -> LineSaid:
        """A line with manifolds, crosses and three-way valves in their parts, and an indexing valve at its end in its outlets."""
        steps = [(n, part) for n, step in enumerate(line.steps, 1) for part in self.parts(step)]
        steps += [(len(line.steps) + 1, outlet) for outlet in self.indexed(line)]
        return replace(line, steps=tuple(part for _, part in steps), numbers=tuple(n for n, _ in steps))

    def parts(self, step: StepSaid) -> Iterator[StepSaid]:
        """What a step of the file stands for."""
        if isinstance(step, RunSaid) and step.kind == "manifold":
            yield from self.manifold(step)
        elif isinstance(step, FittingSaid) and step.kind == "cross":
            yield from self.cross(step)
        elif isinstance(step, FittingSaid) and step.kind == "three-way valve" and step.id is not None:
            self.turns[step.id] = step.opens or "both"
            came, ahead, side = map(float, WAYS[step.opens or "both"])
            if not came:
                yield self.leg(step, 0.0, zero=True)
            details = {"three-way": 2.0 if step.port == "L" else 1.0, "came": came, "ahead": ahead, "side": side}
            yield FittingSaid("tee", step.mark, step.id, loss=0.0, details=details)
            yield self.leg(step, ahead)
        else:
            yield step

    def leg(self, valve: FittingSaid, opening: float, *, side: bool = False, zero: bool = False) -> FittingSaid:
        """What a three-way valve costs, and lets through, in one of its legs."""
        details = {**valve.details, **({"side": 1.0} if side else {})}
        return replace(valve, id=None, opening=float(opening), details=details, loss=0.0 if zero else valve.loss)

    def manifold(self, run: RunSaid) -> Iterator[StepSaid]:
        """A run with tees along it; without a stated spacing the first and the last are half a gap from its ends."""
        count = int(run.details["outlets"])
        name = run.id or ""
        length = sum(x * x for x in run.displacement) ** 0.5
        gap = run.details.get("spacing", length / count)
        ends = (length - (count - 1) * gap) / 2.0
        if ends < -1e-9:
            found = f"{count} outlets do not fit on manifold '{name}'"
            self.faults.add(run.mark, found, "a longer run, or less between its outlets")
            ends = 0.0
        self.counts[name] = count
        for k in range(count):
            if k or ends > 1e-9:
                yield self.piece(run, (gap if k else ends) / length)
            yield FittingSaid("tee", run.mark, self.names.take("tee", f"{name} {k + 1}", run.mark))
        if ends > 1e-9:
            yield self.piece(run, ends / length)

    @staticmethod
    def piece(run: RunSaid, share: float) -> RunSaid:
        east, north, up = run.displacement
        way: Vector = (share * east, share * north, share * up)
        return replace(run, kind="run", displacement=way, details={}, id=None)

    def cross(self, step: FittingSaid) -> Iterator[StepSaid]:
        """Two tees at one place, their branches in the order in which the file has the lines that join it."""
        name = step.id or ""
        self.crosses[name] = 0
        for k in (1, 2):
            yield replace(
                step, kind="tee", id=self.names.take("tee", f"{name} {k}", step.mark), details={"cross": float(k)}
            )

    def indexed(self, line: LineSaid) -> Iterator[StepSaid]:
        """An indexing valve at a line's end as tees at one place, one for each outlet that is not capped."""
        end = line.end
        if end is None or end.kind != "indexing valve" or end.name is None:
            return
        refs = [(one, [*self.referred(one)]) for one in self.said.lines.values()]
        joined = {word for _, words in refs for word in words}
        rows = [(one, words) for one, words in refs if end.name in words]
        # A row of fewer lines than there are outlets begins at the first of them; the others are capped.
        counts = [one.again for one, _ in rows] + [self.counts.get(word, 0) for _, words in rows for word in words]
        fed = min([end.outlets, *filter(None, counts)])
        self.counts[end.name] = fed
        first = len(self.outlets)
        for k in range(1, end.outlets + 1):
            name = self.names.take("tee", f"{end.name} {k}", end.mark)
            if name not in joined and (end.name not in joined or k > fed):
                continue
            details = {"outlet": float(k), "outlets": float(end.outlets), "least": end.at_least}
            self.outlets[name] = FittingSaid("indexing valve", end.mark, end.name, loss=end.loss, details=details)
            yield FittingSaid("tee", end.mark, name, loss=0.0, details={"outlet": float(len(self.outlets) - first)})

    # ------------------------------------------------------------------ lines that repeat

    def repeated(self, lines: Mapping[str, LineSaid]) -> dict[str, int]:
        """How often each line stands that stands several times: as it says, or as what it begins or ends at does."""
        found: dict[str, int] = {}
        while True:
            before = len(found)
            for name, line in lines.items():
                if name in found:
                    continue
                counts = {self.counts[ref] for ref in self.referred(line) if ref in self.counts}
                counts |= {len(end.each) for end in (line.start, line.end) if end is not None and end.each}
                counts |= {line.again} if line.again else set()
                if not counts:
                    continue
                found[name] = min(counts)
                if len(counts) > 1:
                    few, more = min(counts), max(counts) - min(counts)
                    wrong = f"line '{name}' would stand {' and '.join(str(count) for count in sorted(counts))} times"
                    hint = f"near tower: {{again: {few}, ...}} and far tower: {{again: {more}, ...}}"
                    hint = f"a row for each manifold, for instance {hint}"
                    self.faults.add(line.mark, wrong, "one number of times for both of its ends", hint=hint)
                self.counts.update(dict.fromkeys(self.own(line), found[name]))
            if len(found) == before:
                return found

    @staticmethod
    def referred(line: LineSaid) -> Iterator[str]:
        """What a line begins, ends or sprays at."""
        for end in (line.start, line.end):
            if end is not None and end.kind not in ("cap", "indexing valve"):
                yield end.word or end.name or ""
        yield from (step.vessel for step in line.steps if isinstance(step, RunSaid) and step.vessel)

    @staticmethod
    def own(line: LineSaid) -> Iterator[str]:
        yield from (step.id for step in line.steps if isinstance(step, FittingSaid) and step.id)
        yield from (end.name for end in (line.start, line.end) if end is not None and end.kind == "cap" and end.name)

    def copies(self, line: LineSaid, count: int) -> Iterator[LineSaid]:
        own = {*self.own(line)}
        for k in range(count):
            for name in own:
                self.names.take("fitting", f"{name} {k + 1}", line.mark)
            steps = tuple(self.numbered(step, k) for step in line.steps)
            start, end = (None if one is None else self.end(one, k) for one in (line.start, line.end))
            yield replace(line, name=f"{line.name} {k + 1}", steps=steps, start=start, end=end)

    def numbered(self, step: StepSaid, k: int) -> StepSaid:
        if isinstance(step, FittingSaid) and step.id:
            return replace(step, id=f"{step.id} {k + 1}")
        if isinstance(step, RunSaid) and step.vessel in self.counts:
            return replace(step, vessel=f"{step.vessel} {k + 1}")
        return step

    def end(self, end: EndSaid, k: int) -> EndSaid:
        if end.each:
            return end.each[k]
        if self.of_a_row(end.word, k):
            return replace(end, word=f"{end.word} {k + 1}")
        if self.of_a_row(end.name, k):
            return replace(end, name=f"{end.name} {k + 1}")
        return end

    def of_a_row(self, name: str | None, k: int) -> bool:
        """Whether a name stands for one of a row: said as such, or as `bed` where the file has a `bed 1` and no `bed`."""
        taken = self.names.taken
        return name in self.counts or (name is not None and name not in taken and f"{name} {k + 1}" in taken)

    # ------------------------------------------------------------------ what joins a cross or a three-way valve

    def joined(self, line: LineSaid) -> LineSaid:
        start, first = self.joining(line.start)
        end, last = self.joining(line.end)
        numbers = (*[0 for _ in first], *line.numbers, *[line.numbers[-1] + 1 if line.numbers else 1 for _ in last])
        return replace(line, start=start, end=end, steps=(*first, *line.steps, *last), numbers=numbers)

    def joining(self, end: EndSaid | None) -> tuple[EndSaid | None, tuple[FittingSaid, ...]]:
        """An end with the tee that it joins by name, and what a three-way valve puts in its way."""
        name = None if end is None else end.word or end.name
        if end is None or name is None:
            return end, ()
        if name in self.crosses:
            self.crosses[name] += 1
            if self.crosses[name] > 2:
                self.faults.add(end.mark, f"a third line joins cross '{name}'", "two lines, one at each side of it")
            word = f"{name} {min(self.crosses[name], 2)}"
            return replace(end, word=word if end.word else None, name=None if end.word else word), ()
        if name in self.turns:
            leg = self.leg(FittingSaid("three-way valve", end.mark), WAYS[self.turns[name]][2], side=True)
            return end, (leg,)
        return end, (self.outlets[name],) if name in self.outlets else ()
