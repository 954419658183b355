"""What goes on the page beside the check: the wall card, how it fouls, the parts, a redesign, and what can go wrong. Each may be left
out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ..catalogue import notes
from ..check import CheckResult, flushes
from ..errors import SolveError
from ..report.card import card_words
from ..report.diagnose import FEW, alike_words, cure_words, further_words, headline, reading_rows, suspect_rows
from ..report.fouling import by_vessel
from ..report.fouling_words import (
    access_words,
    best_accesses,
    focus,
    fouling_words,
    months_words,
    place_words,
    worst_stretches,
)
from ..report.mishaps import worst_sentence
from ..report.parts import sawn_words
from ..report.words import level_word
from ..units import show
from .charts import fouling_chart
from .sketch import Sketch, sketch
from .sketch.suspects import shaded
from .sketch.svg import walked
from .tables import Bad, Table

if TYPE_CHECKING:
    from ..diagnose import Diagnosis
    from ..hydraulics.flows import Duty
    from ..layout.model import Reading
    from ..mishaps import Mishap, Mishaps
    from ..parts import Bill, CutPlan
    from ..parts.plan import Bar
    from ..upkeep.card import WallCard
    from ..upkeep.fouling import Fouling

__all__ = ["Extras", "extra_facts", "extras_of"]

MOST_CAUSES = 4
"""Causes that are told of one thing that is seen, the worst first."""


@dataclass(frozen=True)
class Extras:
    """`card`, `fouling`, `parts` with how they are cut, the check of the layout `after` a redesign, `mishaps`, and the
    `diagnosis` of a visit; None leaves one out."""

    card: WallCard | None = None
    fouling: Fouling | None = None
    parts: tuple[Bill, CutPlan] | None = None
    after: CheckResult | None = None
    mishaps: Mishaps | None = None
    diagnosis: Diagnosis | None = None


def extras_of(
    result: CheckResult,
    after: CheckResult | None = None,
    *,
    months: int = 12,
    mishaps: bool = False,
    readings: Sequence[Reading] = (),
    tell: Callable[[str], None] = lambda _: None,
) -> Extras:
    """Plan the cleaning, follow the fouling for some `months`, and count the parts of a checked layout; with `mishaps`, which take a while,
    each part goes wrong, too; `readings` of a visit are weighed. `after` is the check of a redesign of it; `tell` is called with what is being worked out. The fouling is left
    out where the fouled pipe has no steady flow any more."""
    from ..diagnose import diagnose
    from ..mishaps import find_mishaps
    from ..parts import bill_of, plan_for
    from ..upkeep.card import wall_card, wash_jobs
    from ..upkeep.flushing import flush_ways
    from ..upkeep.fouling import fouling

    layout = result.layout
    tell("planning the cleaning")
    card = wall_card(layout, result.flows, result.upkeep, wash_jobs(flush_ways(layout)), cut=result.cut)
    tell(f"following the fouling for {months} months")
    try:
        fouled = fouling(layout, flushes(layout, result.flows), months=months)
    except SolveError:
        fouled = None
    tell("counting parts")
    bill = bill_of(layout)
    wrong = None
    if mishaps:
        wrong = find_mishaps(layout, progress=lambda number, of, what: tell(f"{number} of {of} mishaps: {what}"))
    found = None
    if readings:
        found = diagnose(layout, readings, tell=lambda number, of: tell(f"{number} of {of} causes weighed"))
    return Extras(card, fouled, (bill, plan_for(bill, None)), after, wrong, found)


def extra_facts(result: CheckResult, extras: Extras) -> dict[str, Any]:
    """What the templates of the extra sections need; None where a section is left out."""
    return {
        "card": None if extras.card is None else _card(extras.card),
        "fouling": None if extras.fouling is None else _fouling(extras.fouling),
        "parts": None if extras.parts is None else _parts(*extras.parts),
        "after": None if extras.after is None else _after(result, extras.after),
        "mishaps": None if extras.mishaps is None else _mishaps(extras.mishaps),
        "diagnosis": None if extras.diagnosis is None else _diagnosis(result, extras.diagnosis),
    }


def _card(card: WallCard) -> Mapping[str, Any]:
    words = card_words(card)
    first, *more = words.bucket_head or ("",)
    buckets = Table(words.then, (first, *(f">{one}" for one in more)), words.bucket_rows, "card")
    jobs = sum(len(jobs) for _, jobs in words.visits)
    return {"words": words, "buckets": buckets, "crowded": jobs + len(words.bucket_rows) > 10}


def _fouling(found: Fouling) -> Mapping[str, Any]:
    columns, vessels = by_vessel(found)
    rows = [
        (name, wants, *(Bad(flow) if short else flow for flow, short in flows), spread)
        for name, wants, flows, spread in vessels
    ]
    caption = f"What each vessel gets as it fouls, in {found.layout.units.flow}, if nothing is cleaned"
    return {
        "sentences": fouling_words(found),
        "table": Table(caption, columns, rows, "fouling"),
        "blame": _blame(found),
        "chart": fouling_chart(found),
    }


def _blame(found: Fouling) -> Table | None:
    """What cleaning gives back to the vessel that the forecast speaks of: the worst stretches, and the best openings."""
    vessel = focus(found)
    if vessel is None:
        return None
    gains = [(place_words(found, one.stretch), one.gains) for one in worst_stretches(found, vessel, 4)]
    gains += [(access_words(found, one), one.gains) for one in (*best_accesses(found, vessel, 2), found.all_cleaned)]
    caption = f"What {vessel} would get back after {months_words(found.months[-1])}"
    rows = [(said, show(back[vessel], "flow", found.layout.units)) for said, back in gains]
    return Table(caption, ("if this is clean again", ">gives back"), rows, "fouling")


def _mishaps(found: Mishaps) -> Mapping[str, Any]:
    """The table for the owner's wall: by what is seen first, in the order of harm, what it may come from and what to do."""
    seen: dict[str, list[Mishap]] = {}
    for one in found.harmful:
        seen.setdefault(one.harms[0].words, []).append(one)
    worst = {words: causes[:MOST_CAUSES] for words, causes in seen.items()}
    rows = [
        (words, "; ".join(one.words for one in some), "; ".join(dict.fromkeys(one.do for one in some)))
        for words, some in worst.items()
    ]
    table = Table("If you see this first", ("if you see that", "it may be that", "do"), rows, "mishaps")
    return {"sentence": worst_sentence(found), "table": table}


def _diagnosis(result: CheckResult, found: Diagnosis) -> Mapping[str, Any]:
    shown = found.suspects[:FEW]
    drawn = _unnumbered(sketch(result, width=640.0))
    columns, readings = reading_rows(found, shown)
    suspects = suspect_rows(found, shown)
    read = "What was read, and what each suspect would have it be"
    return {
        "headline": headline(found),
        "picture": walked(drawn, shaded(drawn, found, shown)),
        "suspects": Table("Suspects", ("", ">chance", "what", "between"), suspects, "diagnosis"),
        "readings": Table(read, ("reading", *(f">{one}" for one in columns)), readings, "diagnosis"),
        "alike": list(alike_words(found)),
        "cures": cure_words(shown[:3], shown),
        "next": further_words(found),
        "taken": " ".join(notes("diagnose")),
    }


def _parts(bill: Bill, plan: CutPlan) -> Mapping[str, Any]:
    units = bill.layout.units
    fittings = [(str(item.count), item.name, item.size) for item in bill.items]
    pipe = [
        (
            size.pipe.name,
            str(sum(len(bar.pieces) for bar in size.bars)),
            show(size.cut, "length", units),
            str(len(size.bars)),
            show(size.stock, "length", units),
        )
        for size in plan.sizes
    ]

    def cut(bar: Bar) -> str:
        pieces = "; ".join(f"{sawn.mark} {sawn_words(sawn.length, units)}" for sawn in bar.pieces)
        return f"{pieces} (left: {sawn_words(bar.offcut, units)})"

    return {
        "fittings": Table("Fittings", (">number", "part", "size"), fittings, "parts"),
        "pipe": Table("Pipe", ("size", ">pieces", ">in all", ">lengths", ">of"), pipe, "parts"),
        "cuts": {size.pipe.name: [cut(bar) for bar in size.bars] for size in plan.sizes},
        "notes": bill.notes,
    }


def _pictures(before: CheckResult, after: CheckResult) -> list[Any]:
    """Both as sketches from one corner, without badges: the numbers of the one would be taken for those of the other."""
    old = sketch(before, width=352.0)
    return [walked(_unnumbered(one), ()) for one in (old, sketch(after, width=352.0, corner=old.view))]


def _unnumbered(drawn: Sketch) -> Sketch:
    return replace(drawn, labels=tuple(placed for placed in drawn.labels if not placed.label.findings))


def _changed(text: str) -> Iterator[str]:
    """What the marks in a redesign's text say, each with its line of pipe."""
    from ..redesign.script import read_script

    starts = [(line.key.start, name) for name, line in read_script(text).lines.items()]
    for mark in re.finditer(r"# changed: (?!out: )(.*)", text):
        names = [name for start, name in starts if start < mark.start()]
        yield f"{names[-1]}: {mark[1]}" if names else mark[1]


def _after(before: CheckResult, after: CheckResult) -> Mapping[str, Any]:
    from ..redesign.search import difference

    units, old_vessels, old_pumps = before.layout.units, before.flows.vessels, before.flows.pumps

    def works(duty: Duty | None) -> str:
        return f"{show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)}" if duty else ""

    rows = [
        ("verdict", level_word(before.verdict), level_word(after.verdict)),
        ("points", f"{before.score.points:.1f}", f"{after.score.points:.1f}"),
        ("can be cleaned", f"{before.score.cleanable:.0%}", f"{after.score.cleanable:.0%}"),
        *((name, works(old_pumps.get(name)), works(duty)) for name, duty in after.flows.pumps.items()),
    ]
    for name, vessel in after.layout.vessels.items():
        if vessel.wants:
            was = show(old_vessels[name].inflow, "flow", units) if name in old_vessels else ""
            gets = show(after.flows.vessels[name].inflow, "flow", units)
            rows.append((f"{name}, wants {show(vessel.wants, 'flow', units)}", was, gets))
    changes = difference(before, after)
    return {
        "table": Table("Before and after, each from its own check", ("what", "as it is", "changed"), rows, "redesign"),
        "gone": [one.message for one in changes.gone if one.level != "advice"],
        "come": [one.message for one in changes.come if one.level != "advice"],
        "lines": list(dict.fromkeys(_changed(after.layout.text))),
        "pictures": _pictures(before, after),
    }
