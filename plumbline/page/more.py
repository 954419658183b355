"""What goes on the page beside the check: the wall card, how it fouls, the parts, and a redesign. Each may be left out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ..check import CheckResult
from ..report.card import card_words
from ..report.fouling_words import access_words, focus, fouling_words, months_words, place_words, told
from ..report.mishaps import worst_sentence
from ..report.parts import sawn_words
from ..report.words import level_word
from ..units import show
from .charts import fouling_chart
from .sketch import sketch
from .sketch.svg import walked
from .tables import Cell, Row, Table

if TYPE_CHECKING:
    from ..mishaps import Mishap, Mishaps
    from ..parts import Bill, Costs, CutPlan
    from ..upkeep.card import WallCard
    from ..upkeep.fouling import Fouling

__all__ = ["Extras", "extra_facts"]


@dataclass(frozen=True)
class Extras:
    """`card`, `fouling`, `parts` as (bill, plan, costs), the check of the layout `after` a redesign, and `mishaps`; None leaves one out."""

    card: WallCard | None = None
    fouling: Fouling | None = None
    parts: tuple[Bill, CutPlan, Costs] | None = None
    after: CheckResult | None = None
    mishaps: Mishaps | None = None


def extra_facts(result: CheckResult, extras: Extras) -> dict[str, Any]:
    """What the templates of the extra sections need; None where a section is left out."""
    return {
        "card": None if extras.card is None else _card(extras.card),
        "fouling": None if extras.fouling is None else _fouling(extras.fouling),
        "parts": None if extras.parts is None else _parts(*extras.parts),
        "after": None if extras.after is None else _after(result, extras.after),
        "mishaps": None if extras.mishaps is None else _mishaps(extras.mishaps),
    }


def _cells(*texts: str) -> tuple[Cell, ...]:
    return tuple(Cell(text) for text in texts)


# ---------------------------------------------------------------------- the wall card


def _card(card: WallCard) -> Mapping[str, Any]:
    words = card_words(card)
    head = tuple(f">{one}" if number else one for number, one in enumerate(words.bucket_head))
    rows = tuple(Row(row[0], _cells(*row[1:])) for row in words.bucket_rows)
    jobs = sum(len(jobs) for _, jobs in words.visits)
    return {"words": words, "buckets": Table(words.then, head, rows, "card"), "crowded": jobs + len(rows) > 10}


# ---------------------------------------------------------------------- fouling


def _fouling(found: Fouling) -> Mapping[str, Any]:
    units, last = found.layout.units, found.months[-1]
    some = sorted({0, last, *(month for month in (1, 2, 3, 6, 12) if month < last)})
    courses = [one for one in found.courses.values() if one.wanted] or [
        one for one in found.courses.values() if max(one.high) > 0.0
    ]
    rows = []
    for one in courses:
        cells = [Cell("" if one.wanted is None else show(one.wanted, "flow", units))]
        for month in some:
            short = one.wanted is not None and one.likely[month] < one.wanted * (1.0 - 1e-6)
            cells.append(Cell(show(one.likely[month], "flow", units, unit=False), "bad" if short else ""))
        low, high = (show(ends[last], "flow", units, unit=False) for ends in (one.low, one.high))
        rows.append(Row(one.vessel, (*cells, Cell(f"{low} to {high}"))))
    table = Table(
        f"What each vessel gets as it fouls, in {units.flow}, if nothing is cleaned",
        ("vessel", ">wants", *(f">month {month}" for month in some), ">range at the end"),
        tuple(rows),
        "fouling",
    )
    vessel = focus(found)
    blame = None
    if vessel is not None:
        worst = sorted(found.blames, key=lambda one: -one.gains[vessel])
        best = sorted(found.cleanings, key=lambda one: -one.gains[vessel])
        blame = Table(
            f"What {vessel} would get back after {months_words(last)}",
            ("if this is clean again", ">gives back"),
            (
                *(Row(place_words(found, one.stretch), _cells(show(one.gains[vessel], "flow", units)))
                  for one in worst[:4] if one.shares[vessel] >= 0.005),
                *(Row(access_words(found, one), _cells(show(one.gains[vessel], "flow", units)))
                  for one in (*(c for c in best[:2] if told(c.gains[vessel], units)), found.all_cleaned)),
            ),
            "fouling",
        )  # fmt: skip
    from markupsafe import Markup

    chart = fouling_chart(found)
    return {
        "sentences": list(fouling_words(found)),
        "table": table,
        "blame": blame,
        "chart": None if chart is None else Markup(chart),
    }


# ---------------------------------------------------------------------- mishaps

MOST_CAUSES = 4
"""Causes that are told of one thing that is seen, the worst first."""


def _mishaps(found: Mishaps) -> Mapping[str, Any]:
    """The table for the owner's wall: by what is seen first, in the order of harm, what it may come from and what to do."""
    seen: dict[str, list[Mishap]] = {}
    for one in found.harmful:
        if one.first is not None:
            seen.setdefault(one.first.words, []).append(one)
    rows = []
    for words, causes in seen.items():
        some = causes[:MOST_CAUSES]
        rows.append(
            Row(words, _cells("; ".join(one.words for one in some), "; ".join(dict.fromkeys(one.do for one in some))))
        )
    table = Table("If you see this first", ("if you see that", "it may be that", "do"), tuple(rows), "mishaps")
    return {"sentence": worst_sentence(found), "table": table}


# ---------------------------------------------------------------------- parts


def _parts(bill: Bill, plan: CutPlan, costs: Costs) -> Mapping[str, Any]:
    units = bill.layout.units
    items = Table(
        "Fittings",
        (">number", "part", "size"),
        tuple(Row(str(item.count), _cells(item.name, item.size)) for item in bill.items),
        "parts",
    )
    pipe = Table(
        "Pipe",
        ("size", ">pieces", ">in all", ">lengths", ">of"),
        tuple(
            Row(
                size.pipe.name,
                _cells(
                    str(sum(len(bar.pieces) for bar in size.bars)),
                    show(size.cut, "length", units),
                    str(len(size.bars)),
                    show(size.stock, "length", units),
                ),
            )
            for size in plan.sizes
        ),
        "parts",
    )
    cuts = [
        {
            "size": size.pipe.name,
            "bars": [
                f"{'; '.join(f'{sawn.mark} {sawn_words(sawn.length, units)}' for sawn in bar.pieces)} (left: "
                f"{sawn_words(bar.offcut, units)})"
                for bar in size.bars
            ],
        }
        for size in plan.sizes
    ]
    return {
        "fittings": items,
        "pipe": pipe,
        "cuts": cuts,
        "notes": list(bill.notes),
        "priced": costs.currency is not None,
    }


# ---------------------------------------------------------------------- a redesign


def _pictures(before: CheckResult, after: CheckResult) -> tuple[Any, Any]:
    """Both as sketches from one corner, without badges: the numbers of the one would be taken for those of the other."""
    from markupsafe import Markup

    old = sketch(before, width=352.0)
    both = (old, sketch(after, width=352.0, corner=old.view))
    bare = (
        replace(one, labels=tuple(label for label in one.labels if not one.texts[label.label.key].findings))
        for one in both
    )
    one, other = (Markup(walked(drawn, ())) for drawn in bare)
    return one, other


def _after(before: CheckResult, after: CheckResult) -> Mapping[str, Any]:
    from ..redesign.proof import difference

    units = before.layout.units
    rows = [
        Row("verdict", _cells(level_word(before.verdict), level_word(after.verdict))),
        Row("points", _cells(f"{before.score.points:.1f}", f"{after.score.points:.1f}")),
        Row("can be cleaned", _cells(f"{before.score.cleanable:.0%}", f"{after.score.cleanable:.0%}")),
    ]
    for name, duty in after.flows.pumps.items():
        old = before.flows.pumps.get(name)
        was = "" if old is None else f"{show(old.flow, 'flow', units)} at {show(old.head, 'head', units)}"
        rows.append(Row(name, _cells(was, f"{show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)}")))
    for name, vessel in after.layout.vessels.items():
        if vessel.wants:
            got = before.flows.vessels.get(name)
            was = "" if got is None else show(got.inflow, "flow", units)
            wants = show(vessel.wants, "flow", units)
            rows.append(
                Row(f"{name}, wants {wants}", _cells(was, show(after.flows.vessels[name].inflow, "flow", units)))
            )
    changes = difference(before, after)

    def said(findings: Iterable[Any]) -> list[str]:
        return [one.message for one in findings if one.level != "advice"]

    table = Table("Before and after, each from its own check", ("what", "as it is", "changed"), tuple(rows), "redesign")
    return {
        "name": after.layout.name,
        "table": table,
        "gone": said(changes.gone),
        "come": said(changes.come),
        "lines": list(dict.fromkeys(said for said in re.findall(r"# changed: (?!out: )(.*)", after.layout.text))),
        "pictures": _pictures(before, after),
    }
