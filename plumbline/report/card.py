"""The wall card, on a terminal and as plain data: one page to hang beside the tank. Computes nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ..layout.model import Layout
from ..units import Units, show
from ..upkeep.card import AHEAD, WallCard
from ..upkeep.intervals import Intervals, length
from ..upkeep.routine import Job
from ..upkeep.spills import Spill
from ..upkeep.words import access_name, listed
from .care import cautions_of
from .plain import about, fields, heading, in_units

__all__ = [
    "CardView",
    "CardWords",
    "card_as_json",
    "card_words",
    "every_words",
    "job_words",
    "left_words",
    "minutes_words",
    "place_name",
]

_QUICKEST = 5.0
"""A bucket that is full sooner than this [s] cannot be timed by hand."""

_DRIPS = 0.0005
"""Less water than this in the pipe above an opening [m³] is not worth a bucket."""

_BUCKETS = {"L": (0.010, "10 L"), "gal": (2 * 3.785411784e-3, "2 gal")}


@dataclass(frozen=True, slots=True)
class CardWords:
    """A wall card as sentences, the same on a terminal and on paper: `first`, what comes `before`, the `visits` with their jobs, the
    bucket's `bucket_head` and `bucket_rows`, what is `left`, and `care`. Without visits nothing can be cleaned."""

    title: str
    first: str
    before: tuple[str, ...]
    visits: tuple[tuple[str, tuple[str, ...]], ...]
    then: str
    bucket_head: tuple[str, ...]
    bucket_rows: tuple[tuple[str, ...], ...]
    full: str
    left: str
    care: tuple[str, ...]


def card_words(card: WallCard) -> CardWords:
    """What a wall card says."""
    routine, units = card.routine, card.layout.units
    title = f"{card.layout.name}: keeping the pipe clean"
    care = tuple(cautions_of("card", card.layout).values())
    if not routine.visits:
        return CardWords(title, "No rod and no flush reaches any of the pipe.", (), (), "", (), (), "", "", care)
    way = "it follows the water, so that dirt goes on and not back"
    if card.two_sided:
        way = (
            "what comes before the solids filter first, so that it catches the dirt; on each side it follows the water"
        )
    before = _before(card, way)
    visits: list[tuple[str, tuple[str, ...]]] = []
    done: tuple[Job, ...] = ()
    for visit in routine.visits:
        water = f", {show(visit.water, 'volume', units)} of water" if visit.water > 0.0 else ""
        besides = " with these besides" if visits else ""
        fresh = [job for job in visit.jobs if job not in done]
        jobs = tuple(job_words(card.layout, job, done, _of(card, fresh, at)) for at, job in enumerate(fresh))
        visits.append((f"{every_words(visit.every)}{besides}: about {minutes_words(visit.minutes)}{water}", jobs))
        done = visit.jobs
    volume, name = _bucket(units)
    dated = any(one.months is not None for one in card.buckets)
    rows = []
    for one in card.buckets:
        seconds = volume / one.flow
        when = (_after_words(one.months),) if dated else ()
        rows.append(
            (
                f"'{one.line}' into '{one.vessel}'",
                show(one.flow, "flow", units),
                f"{seconds:.0f} s" if seconds >= _QUICKEST else "too quick",
                f"{volume / one.due:.0f} s" if one.due is not None else "",
                *when,
            )
        )
    full = ""
    if card.full is not None:
        full = f"All that can be cleaned, {card.full.cleaned:.0%} of the pipe, takes about {minutes_words(card.full.visits[-1].minutes)}."
    return CardWords(
        title,
        f"The longest round cleans {routine.cleaned:.0%} of the pipe: a short routine that is kept beats a long one that is not.",
        before,
        tuple(visits),
        "Then plug in, wait until the beds run over as usual, and time a bucket",
        (
            "pipe's end",
            "clean",
            f"{name} in",
            "clean again when slower than",
            *(("likely after",) if dated else ()),
        ),
        tuple(rows),
        full,
        left_words(card),
        care,
    )


def _pumps_of(layout: Layout) -> str:
    return "pumps" if sum(1 for name in layout.pumps if layout.fed_by(name)) > 1 else "pump"


def _before(card: WallCard, way: str) -> tuple[str, ...]:
    """What holds for every job of a card; `way` is the order that they follow."""
    spare = [f"'{name}'" for name, pump in card.layout.pumps.items() if pump.stands_by and card.layout.fed_by(name)]
    pumps = _pumps_of(card.layout)
    but = (
        f", but not {listed(spare)} that stand{'s' if len(spare) == 1 else ''} by,"
        if spare and pumps == "pumps"
        else ""
    )
    standing = {access.id for access in card.layout.accesses if access.kind == "standpipe"}
    jobs = [job for visit in card.routine.visits for job in visit.jobs if job.kind == "flush"]
    hard = any(standing.isdisjoint(job.places) for job in jobs)
    floods = [f"'{name}'" for name in card.floods]
    held = [
        f"Do not switch the {pumps} off yet: {listed(some)} would run over. 'plumbline check' names the cure; make that first."
        for some in (floods,)
        if some
    ]
    return (
        *held,
        f"Switch {'all pumps off and pull their plugs' if pumps == 'pumps' else 'the pump off and pull its plug'} before a hand goes into the water.",
        f"Rod with the {pumps} off, in the order below: {way}.",
        "Wipe the brush after each pull; do not carry it from the fish's side to the plants' unrinsed.",
        *(
            f"Fill '{line}' and the pump '{pump}' by hand before it is plugged in again: run dry, it moves nothing and is soon spoilt."
            for pump, line in card.refill.items()
        ),
        *(
            ("What a flush lets out comes hard: lead it to where water may run, away from people, plugs and cables.",)
            if hard
            else ()
        ),
        f"Plug the {pumps} in again{but} only when every cap and union is closed{_hoses_on(card)} and every valve as it was, but where a "
        "flush says so.",
    )


class CardView:
    """A rich renderable of a wall card."""

    def __init__(self, card: WallCard) -> None:
        self.words = card_words(card)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        words = self.words
        yield Text(words.title, style="bold")
        if not words.visits:
            yield Text(f"{words.first[:-1]}: 'plumbline check' tells what to change.")
            return
        yield Text(words.first)
        yield heading("Before you begin")
        yield self._points(words.before)
        for title, jobs in words.visits:
            yield heading(f"{title}")
            table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False, show_header=False)
            table.add_column(justify="right", no_wrap=True)
            table.add_column(no_wrap=True)
            table.add_column(overflow="fold")
            for number, job in enumerate(jobs, 1):
                table.add_row(f"{number}.", "[ ]", Text(job))
            yield Padding(table, (0, 0, 0, 2))
        if words.bucket_rows:
            yield heading(f"{words.then}")
            table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False, header_style="dim")
            for number, head in enumerate(words.bucket_head):
                table.add_column(head, justify="right" if number else "left")
            for row in words.bucket_rows:
                table.add_row(*map(Text, row))
            yield Padding(table, (0, 0, 0, 2))
        if words.full:
            yield Text(f"\n{words.full[:-1]} (--share 100%).")
        if words.left:
            yield heading("What this card leaves out")
            yield self._points([f"{words.left} 'plumbline check' says why, and what would open it."])
        yield heading("Care")
        yield self._points(words.care)

    @staticmethod
    def _points(sentences: Sequence[str]) -> RenderableType:
        table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False, show_header=False)
        table.add_column(no_wrap=True)
        table.add_column(overflow="fold")
        for sentence in sentences:
            table.add_row("-", Text(sentence))
        return Padding(table, (0, 0, 0, 2))


def job_words(layout: Layout, job: Job, done: Sequence[Job] = (), spills: Mapping[str, Spill] | None = None) -> str:
    """One job in a sentence or two; `done` are the jobs of the shorter round, one of which it may take the place of, and `spills` tell what is to be done
    before something is opened, and after."""
    words = _job_words(layout, job, done)
    first, last = _before_and_after(layout, job, spills or {})
    return " ".join(part for part in (first, words, last) if part)


def _of(card: WallCard, jobs: Sequence[Job], at: int) -> Mapping[str, Spill]:
    """What opening lets out in one of a visit's jobs: nothing any more at a standpipe that an earlier one has pulled."""
    out = {place for job in jobs[:at] for place in job.places}
    return {name: spill for name, spill in card.spills.items() if not (spill.down and name in out)}


def _hoses_on(card: WallCard) -> str:
    """What is to be seen to, where a round takes a hose off or pulls a standpipe."""
    taken = {place for visit in card.routine.visits for job in visit.jobs for place in job.places}
    kinds = {access.kind for access in card.layout.accesses if access.id in taken}
    hoses = ", every hose pushed home with its clip tight" if "hose end" in kinds else ""
    return hoses + (", every standpipe back in its socket" if "standpipe" in kinds else "")


def _bucket(units: Units) -> tuple[float, str]:
    """What a bucket holds [m³], and how it is called."""
    return _BUCKETS["gal" if units.volume == "gal" else "L"]


def _before_and_after(layout: Layout, job: Job, spills: Mapping[str, Spill]) -> tuple[str, str]:
    """What is to be shut, plugged or lowered before a job, with what runs out all the same; and what is to be opened again."""
    found = [spills[place] for place in job.places if place in spills]
    names = {access.id: access_name(layout, access) for access in layout.accesses}
    shut = list(dict.fromkeys(name for spill in found for name in spill.shut))
    plug = list(dict.fromkeys(names[mouth] for spill in found for mouth in spill.plug))
    lower = {one.vessel: one for spill in found for one in spill.lower}
    waits = list(dict.fromkeys(f"the siphon in '{name}'" for spill in found for name in spill.waits))
    first = [f"wait until {listed(waits)} {'has' if len(waits) == 1 else 'have'} stopped"] if waits else []
    first += [f"shut {listed(shut)}"] if shut else []
    first += [f"plug {listed(plug)}"] if plug else []
    first += [
        f"take '{name}' down by {show(one.below, 'length', layout.units)} and keep that water"
        for name, one in lower.items()
    ]
    standing = [spill for spill in found if spill.down]
    drips = sum(spill.pipe for spill in found)
    words = f"First {listed(first)}." if first else ""
    if drips > _DRIPS:
        catch = "hold a bucket under" if drips <= _bucket(layout.units)[0] else "see to it first where it may run"
        words += f"{' ' if words else ''}{show(drips, 'volume', layout.units)} run out of the pipe: {catch}."
    for spill in standing:
        runs = [
            f"{'the water' if one.volume is None else show(one.volume, 'volume', layout.units)} of '{one.vessel}'"
            for one in spill.down
        ]
        words += f"{' ' if words else ''}Lift the standpipe out: {listed(runs)} run down its pipe."
    after = [f"open {listed(shut)} as they were" if len(shut) > 1 else f"open {shut[0]} as it was"] if shut else []
    after += [f"unplug {listed(plug)}"] if plug else []
    close = "Push it home when all is done here" if standing else "Close it"
    return words, f"{close}, then {listed(after)}." if after else f"{close}." if standing else ""


def _job_words(layout: Layout, job: Job, done: Sequence[Job]) -> str:
    cleans = f"cleans {_pipe(layout, job.cleans)}"
    again = any((job.places, job.tool) == (one.places, one.tool) for one in done)
    more = " This takes the place of the short one." if again else ""
    if job.kind == "flush":
        water = show(job.water, "volume", layout.units)
        standing = {access.id for access in layout.accesses if access.kind == "standpipe"}
        if standing & {*job.places}:
            return f"Let it run out down the pipe: {cleans}.{more}"
        if all(":" in place for place in job.places):
            return f"Plug in, open {job.tool} until it runs clear, {water} or more, and shut it: {cleans}.{more}"
        return (
            f"With the {_pumps_of(layout)} off open {job.tool}; plug in until it runs clear, {water} or more; unplug, and close it: "
            f"{cleans}.{more}"
        )
    place, long = place_name(layout, job.places[0]), show(job.rod_m, "length", layout.units)
    if len(job.places) > 1:
        return f"From {place} to {place_name(layout, job.places[1])}: pull the {job.tool} through, {long} of it; {cleans}.{more}"
    ways = " both ways" if _both_ways(layout, job) else ""
    return f"At {place}: the {job.tool}, {long} in{ways}; {cleans}.{more}"


def left_words(card: WallCard) -> str:
    """The pipe that no job gets at, and what stays shut because it would flood; empty where all is cleaned."""
    left = (card.full or card.routine).left
    if not left:
        return ""
    pulls = {access.id for access in card.layout.accesses if access.kind == "standpipe"}
    shut = [place_name(card.layout, name) for name in card.left_shut if name not in pulls]
    stays = [place_name(card.layout, name) for name in card.left_shut if name in pulls]
    why = f" With the system full, opening {listed(shut)} would flood the place: leave it shut." if shut else ""
    why += f" Do not pull {listed(stays)} with the system full." if stays else ""
    return f"{_pipe(card.layout, left)}.{why}"


def _both_ways(layout: Layout, job: Job) -> bool:
    """Whether a rod goes in both ways at a union."""
    access = next((one for one in layout.accesses if one.id == job.places[0]), None)
    if access is None or access.kind not in ("union", "hose end", "standpipe"):
        return False
    pieces = job.cleans.get(access.line, ())
    return any(low < access.at - 1e-6 for low, _ in pieces) and any(high > access.at + 1e-6 for _, high in pieces)


def place_name(layout: Layout, place: str) -> str:
    """An access in the user's words."""
    access = next((one for one in layout.accesses if one.id == place), None)
    if access is None:
        return f"'{place}'"
    if access.kind in ("cap", "union"):
        return f"{access.kind} '{access.id}'" if not access.id.startswith(access.kind) else f"'{access.id}'"
    return access_name(layout, access)


def card_as_json(card: WallCard) -> dict[str, Any]:
    """A wall card as plain data."""
    routine = card.routine
    return {
        **about(card.layout),
        "cleaned_fraction": routine.cleaned,
        "proven": routine.proven,
        "visits": [
            {
                "every_months": visit.every,
                **fields(visit, "minutes", "water_l"),
                "jobs": [_job(card, job) for job in visit.jobs],
            }
            for visit in routine.visits
        ],
        "buckets": [
            {**fields(one, "line", "vessel", "flow_l_min", "due_l_min"), **in_units({"due_after_months": one.months})}
            for one in card.buckets
        ],
        **in_units({"left": routine.left}),
    }


def _job(card: WallCard, job: Job) -> dict[str, Any]:
    first, after = _before_and_after(card.layout, job, card.spills)
    return fields(job, "kind", "places", "tool", "rod_m", "water_l", "minutes", "cleans") | {
        "first": first,
        "after": after,
    }


def _pipe(layout: Layout, pipe: Mapping[str, Intervals]) -> str:
    parts = []
    for name, pieces in pipe.items():
        long = length(pieces)
        whole = long > layout.lines[name].length - 1e-6
        parts.append(f"all of '{name}'" if whole else f"{show(long, 'length', layout.units)} of '{name}'")
    return listed(parts)


def _after_words(months: float | None) -> str:
    if months is None:
        return ""
    return f"over {AHEAD} months" if months > AHEAD else "1 month" if months == 1 else f"{months:.0f} months"


def every_words(months: float) -> str:
    """How often, in words."""
    return "Every month" if months == 1.0 else f"Every {months:g} months"


def minutes_words(minutes: float) -> str:
    """How long, in words."""
    return f"{minutes:.0f} minutes" if minutes < 100.0 else f"{minutes / 60.0:.1f} hours"
