"""The wall card, on a terminal and as plain data: one page to hang beside the tank. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from ..layout.model import Layout
from ..layout.readings import measure_for
from ..units import show
from ..upkeep.card import AHEAD, WallCard
from ..upkeep.intervals import Intervals, length
from ..upkeep.routine import Job
from ..upkeep.spills import Spill
from ..upkeep.words import access_name, listed
from .plain import about, cautions_of, fields, heading, plain_table, view

__all__ = [
    "CardWords",
    "card_as_json",
    "card_view",
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


@dataclass(frozen=True, slots=True)
class CardWords:
    """A wall card as sentences, the same on a terminal and on paper: `first`, what comes `before`, the `visits` with their jobs, the
    bucket's `bucket_head` and `bucket_rows`, what is `left`, and `care`. Without visits nothing can be cleaned, or not as the system stands."""

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
    if not card.visits:
        return CardWords(title, _no_job(card), (), (), "", (), (), "", "", care)
    full = ""
    if card.full is not None:
        takes = minutes_words(card.full.visits[-1].minutes)
        full = f"All that can be cleaned, {card.full.cleaned:.0%} of the pipe, takes about {takes}."
    dated = any(one.months is not None for one in card.buckets)
    heads = ("pipe's end", "clean", "caught", "clean again when slower than", "likely after")
    rows = (
        (
            f"'{one.line}' into '{one.vessel}'",
            show(one.flow, "flow", units),
            f"{name} in {volume / one.flow:.0f} s" if volume / one.flow >= _QUICKEST else "too quick",
            f"{volume / one.due:.0f} s" if one.due is not None else "",
            _after_words(one.months),
        )
        for one in card.buckets
        for volume, name in [measure_for(one.flow, units)]
    )
    return CardWords(
        title,
        f"The longest round cleans {routine.cleaned:.0%} of the pipe: a short routine that is kept beats a long one that is not.",
        tuple(_before(card)),
        tuple(_visits(card)),
        "Then plug in, wait until the water stands and runs as usual, and time what is caught of each",
        heads if dated else heads[:-1],
        tuple(row if dated else row[:-1] for row in rows),
        full,
        left_words(card),
        care,
    )


def _visits(card: WallCard) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each round with the jobs that the shorter one has not."""
    done: tuple[Job, ...] = ()
    for visit in card.visits:
        water = f", {show(visit.water, 'volume', card.layout.units)} of water" if visit.water > 0.0 else ""
        besides = " with these besides" if done else ""
        fresh = [job for job in visit.jobs if job not in done]
        jobs = tuple(job_words(card.layout, job, done, _of(card, fresh, at)) for at, job in enumerate(fresh))
        yield f"{every_words(visit.every)}{besides}: about {minutes_words(visit.minutes)}{water}", jobs
        done = visit.jobs


def _no_job(card: WallCard) -> str:
    """Why a card has no job on it."""
    if not card.floods:
        return "No rod and no flush reaches any of the pipe: 'plumbline check' tells what to change."
    floods = listed(f"'{name}'" for name in card.floods)
    return (
        f"Do not switch the {_pumps_of(card.layout)} off yet: {floods} would run over. Every job of this card wants that, so that none is told. "
        "'plumbline check' names the cure; make that first."
    )


def _pumps_of(layout: Layout) -> str:
    return "pumps" if sum(1 for name in layout.pumps if layout.fed_by(name)) > 1 else "pump"


def _kinds(layout: Layout, places: Iterable[str]) -> set[str | None]:
    """What sorts of access some places are."""
    kinds = {access.id: access.kind for access in layout.accesses}
    return {kinds.get(place) for place in places}


def _before(card: WallCard) -> Iterator[str]:
    """What holds for every job of a card."""
    layout, pumps = card.layout, _pumps_of(card.layout)
    jobs = [job for visit in card.visits for job in visit.jobs]
    off = "all pumps off and pull their plugs" if pumps == "pumps" else "the pump off and pull its plug"
    yield f"Switch {off} before a hand goes into the water."
    way = "it follows the water, so that dirt goes on and not back"
    if card.two_sided:
        way = (
            "what comes before the solids filter first, so that it catches the dirt; on each side it follows the water"
        )
    yield f"Rod with the {pumps} off, in the order below: {way}."
    yield "Wipe the brush after each pull; do not carry it from the fish's side to the plants' unrinsed."
    for pump, line in card.refill.items():
        yield f"Fill '{line}' and the pump '{pump}' by hand before it is plugged in again: run dry, it moves nothing and is soon spoilt."
    if any(job.kind == "flush" and "standpipe" not in _kinds(layout, job.places) for job in jobs):
        yield "What a flush lets out comes hard: lead it to where water may run, away from people, plugs and cables."
    spare = [f"'{name}'" for name, pump in layout.pumps.items() if pump.stands_by and layout.fed_by(name)]
    by = f", but not {listed(spare)} that stand{'s' if len(spare) == 1 else ''} by,"
    # What is to be seen to where a round takes a hose off or pulls a standpipe.
    kinds = _kinds(layout, (place for job in jobs for place in job.places))
    hoses = ", every hose pushed home with its clip tight" if "hose end" in kinds else ""
    pipes = ", every standpipe back in its socket" if "standpipe" in kinds else ""
    yield (
        f"Plug the {pumps} in again{by if spare and pumps == 'pumps' else ''} only when every cap and union is closed{hoses}{pipes} and every "
        "valve as it was, but where a flush says so."
    )


@view
def card_view(card: WallCard) -> Iterator[RenderableType]:
    """A wall card."""
    words = card_words(card)
    yield Text(words.title, style="bold")
    if not words.visits:
        yield Text(words.first)
        return
    yield Text(words.first)
    yield heading("Before you begin")
    yield _list(("-", said) for said in words.before)
    for title, jobs in words.visits:
        yield heading(title)
        yield _list(((f"{number}.", "[ ]", job) for number, job in enumerate(jobs, 1)), marks=2)
    if words.bucket_rows:
        yield heading(words.then)
        first, *more = words.bucket_head
        table = plain_table(first, *(f">{head}" for head in more), rows=words.bucket_rows)
        yield Padding(table, (0, 0, 0, 2))
    if words.full:
        yield Text(f"\n{words.full[:-1]} (--share 100%).")
    if words.left:
        yield heading("What this card leaves out")
        yield _list([("-", f"{words.left} 'plumbline check' says why, and what would open it.")])
    yield heading("Care")
    yield _list(("-", said) for said in words.care)


def _list(rows: Iterable[tuple[str, ...]], marks: int = 1) -> Padding:
    """Sentences, each behind its marks, with the marks in columns of their own."""
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False, show_header=False)
    for _ in range(marks):
        table.add_column(justify="right", no_wrap=True)
    table.add_column(overflow="fold")
    for row in rows:
        table.add_row(*map(Text, row))
    return Padding(table, (0, 0, 0, 2))


def job_words(layout: Layout, job: Job, done: Sequence[Job] = (), spills: Mapping[str, Spill] | None = None) -> str:
    """One job in a sentence or two; `done` are the jobs of the shorter round, one of which it may take the place of, and `spills` tell what is to be done
    before something is opened, and after."""
    words = _job_words(layout, job, done, _shut_for(job, spills or {}))
    first, last = _before_and_after(layout, job, spills or {})
    return " ".join(part for part in (first, words, last) if part)


def _of(card: WallCard, jobs: Sequence[Job], at: int) -> Mapping[str, Spill]:
    """What opening lets out in one of a visit's jobs: nothing any more at a standpipe that an earlier one has pulled."""
    out = {place for job in jobs[:at] for place in job.places}
    return {name: spill for name, spill in card.spills.items() if not (spill.down and name in out)}


def _opened(job: Job, spills: Mapping[str, Spill]) -> list[Spill]:
    """What a job's places let out, prepared as it wants them."""
    found = [spills[place] for place in job.places if place in spills]
    return [spill.drained or spill for spill in found] if job.drained else found


def _shut_for(job: Job, spills: Mapping[str, Spill]) -> list[str]:
    """The valves to be shut for a job."""
    return list(dict.fromkeys(name for spill in _opened(job, spills) for name in spill.shut))


def _before_and_after(layout: Layout, job: Job, spills: Mapping[str, Spill]) -> tuple[str, str]:
    """What is to be shut, plugged or lowered before a job, with what runs out all the same; and what is to be opened again."""
    units, found = layout.units, _opened(job, spills)
    names = {access.id: access_name(layout, access) for access in layout.accesses}
    shut = _shut_for(job, spills)
    plug = list(dict.fromkeys(names[mouth] for spill in found for mouth in spill.plug))
    waits = list(dict.fromkeys(f"the siphon in '{name}'" for spill in found for name in spill.waits))
    ebbs = {one.vessel: one.below for spill in found for one in spill.ebbs}
    lower = {one.vessel: one.below for spill in found for one in spill.lower}
    first = [f"wait until {listed(waits)} {'has' if len(waits) == 1 else 'have'} stopped"] if waits else []
    first += [f"wait until '{name}' has run down by {show(by, 'length', units)}" for name, by in ebbs.items()]
    first += [f"{verb} {listed(some)}" for verb, some in (("shut", shut), ("plug", plug)) if some]
    first += [f"take '{name}' down by {show(by, 'length', units)} and keep that water" for name, by in lower.items()]
    words = [f"First {listed(first)}."] if first else []
    drips = sum(spill.pipe for spill in found)
    if drips > _DRIPS:
        catch = "hold a bucket under" if drips <= measure_for(1.0, units)[0] else "see to it first where it may run"
        words.append(f"{show(drips, 'volume', units)} run out of the pipe: {catch}.")
    standing = [spill for spill in found if spill.down]
    for spill in standing:
        much = ("the water" if one.volume is None else show(one.volume, "volume", units) for one in spill.down)
        runs = listed(f"{water} of '{one.vessel}'" for water, one in zip(much, spill.down, strict=True))
        words.append(f"Lift the standpipe out: {runs} run down its pipe.")
    after = [f"open {listed(shut)} as {'they were' if len(shut) > 1 else 'it was'}"] if shut else []
    after += [f"take the plug{'s' if len(plug) > 1 else ''} out of {listed(plug)}"] if plug else []
    if job.kind == "flush" and not standing:
        return " ".join(words), f"Then {listed(after)}." if after else ""
    close = "Push it home when all is done here" if standing else "Close it"
    last = f"{close}, then {listed(after)}." if after else f"{close}." if standing else ""
    return " ".join(words), last


def _job_words(layout: Layout, job: Job, done: Sequence[Job], shut: Sequence[str]) -> str:
    again = any((job.places, job.tool) == (one.places, one.tool) for one in done)
    cleans = f"cleans {_pipe(layout, job.cleans)}.{' This takes the place of the short one.' if again else ''}"
    if job.kind == "flush":
        until = f"until it runs clear, {show(job.water, 'volume', layout.units)} or more"
        if "standpipe" in _kinds(layout, job.places):
            return f"Let it run out down the pipe: {cleans}"
        if all(":" in place for place in job.places):
            return f"Plug in, open {job.tool} {until}, and shut it: {cleans}"
        # Water that a valve keeps back comes when the cap is off and the valve is opened.
        valves, them = ("those valves", "them") if len(shut) > 1 else ("that valve", "it")
        on, off, close = (f" and open {valves}", f"shut {them} again, ", "up") if shut else ("", "", "it")
        return f"With the {_pumps_of(layout)} off open {job.tool}; plug in{on} {until}; {off}unplug, and close {close}: {cleans}"
    place, *to = (place_name(layout, one) for one in job.places)
    long = show(job.rod_m, "length", layout.units)
    if to:
        return f"From {place} to {to[0]}: pull the {job.tool} through, {long} of it; {cleans}"
    return f"At {place}: the {job.tool}, {long} in{' both ways' if _both_ways(layout, job) else ''}; {cleans}"


def left_words(card: WallCard) -> str:
    """The pipe that no job gets at, and what stays shut because it would flood; empty where all is cleaned."""
    layout, left = card.layout, (card.full or card.routine).left
    if not left:
        return ""
    pulled = [place for place in card.left_shut if "standpipe" in _kinds(layout, [place])]
    shut = [place_name(layout, place) for place in card.left_shut if place not in pulled]
    why = f" With the system full, opening {listed(shut)} would flood the place: leave it shut." if shut else ""
    stays = listed(place_name(layout, place) for place in pulled)
    return f"{_pipe(layout, left)}.{why}" + (f" Do not pull {stays} with the system full." if pulled else "")


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
        **fields(routine, "cleaned_fraction=cleaned proven"),
        "visits": [
            fields(visit, "every_months=every minutes water_l") | {"jobs": [_job(card, job) for job in visit.jobs]}
            for visit in card.visits
        ],
        **fields(card, "floods"),
        "buckets": [fields(one, "line vessel flow_l_min due_l_min due_after_months=months") for one in card.buckets],
        **fields(routine, "left"),
    }


def _job(card: WallCard, job: Job) -> dict[str, Any]:
    first, after = _before_and_after(card.layout, job, card.spills)
    return fields(job, "kind places tool rod_m water_l minutes cleans") | {"first": first, "after": after}


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
