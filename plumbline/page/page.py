"""The report that a client keeps: one HTML file that needs nothing else."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import PurePath
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element

import yaml

from .. import __version__, catalogue
from ..check import CheckResult
from ..hydraulics.airlift_duty import settled
from ..hydraulics.grade import grade_lines
from ..hydraulics.pumping import running_costs
from ..hydraulics.system_curve import system_curve
from ..report.card import every_words, minutes_words
from ..report.plain import cautions_of, fields
from ..report.words import (
    duty_words,
    first_mentions,
    first_sentence,
    level_word,
    limit_words,
    place_of,
    power_cut_words,
)
from ..units import show
from . import tables
from .charts import day_chart, flows_chart, grade_chart, pump_chart
from .extras import Extras, extra_facts
from .sketch import sketch
from .sketch.legend import entries, letter_list
from .sketch.svg import caption, drawing
from .sketch.through_day import moments, movable
from .sketch.trouble import span_of_finding
from .sketch.xml import clean, element, written

if TYPE_CHECKING:
    from jinja2 import Environment

    from ..day.result import Course
    from ..upkeep.card import WallCard

__all__ = ["SECTIONS", "cost_words", "fault_page", "page", "waiting_page"]


def _text(name: str) -> str:
    return resources.files("plumbline.page").joinpath(name).read_text(encoding="utf-8")


SECTIONS: tuple[tuple[str, str], ...] = tuple(yaml.safe_load(_text("sections.yaml")).items())
"""The sections in their order: the name of each one's template and anchor, and its heading."""

NARROW, WIDE = 352, 920
"""Widths of the two sketches [px]: one for phones, one for screens and paper."""

MOST_ROUTES = 24
"""Grade lines drawn at most, the worst off first: each is some 12 kB."""


MOST_TO_DO = 3
"""Things to do on the first sheet; all of them follow on the trade's pages."""


def page(result: CheckResult, extras: Extras | None = None, *, live: bool = False) -> str:
    """Write the page of a check.

    Parameters:
        result: of a check.
        extras: what else goes on it.
        live: for a page that is served while its layout changes: it asks its server whether it has, and then reloads.

    Returns:
        The text of an HTML file: readable without its script, asking for nothing from elsewhere.
    """
    extras = extras or Extras()
    facts = _facts(result) | extra_facts(result, extras)
    facts |= {
        "things": list(_to_do(result)),
        "costs": list(cost_words(result, extras.card)),
        "ask": catalogue.notes("owner"),
    }
    bodies = [
        (name, heading, _environment().get_template(f"{name}.html").render(facts).strip()) for name, heading in SECTIONS
    ]
    scripts = [_text("page.js").strip(), *([_text("live.js").strip()] if live else [])]
    sections, style = [section for section in bodies if section[2]], _text("page.css") + _text("sketch.css")
    return _framed("page.html", facts, sections=sections, style=style, scripts=scripts, live=live)


def fault_page(file: str, said: str) -> str:
    """Write the page of a layout `file` that cannot be checked, and what is `said` to be wrong with it, for a page that is served while
    its layout changes."""
    return _bare(file=file, state="cannot be read", word="Cannot be checked", said=said)


def waiting_page(file: str) -> str:
    """Write the page that is served till the first check of a layout `file` is done."""
    return _bare(file=file, state="checking", word="Checking", said="")


def _bare(**facts: str) -> str:
    return _framed("fault.html", facts, style=_text("page.css"), scripts=[_text("live.js").strip()])


def _framed(template: str, facts: Mapping[str, Any], *, scripts: list[str], **more: Any) -> str:
    """A whole page; its policy lets no script run but its own, which it knows by their digests."""
    digests = [base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() for script in scripts]
    return clean(_environment().get_template(template).render(facts, scripts=scripts, digests=digests, **more)) + "\n"


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("plumbline.page", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _facts(result: CheckResult) -> dict[str, Any]:
    """All that the templates need of a check."""
    layout, day = result.layout, result.day
    anchors = {stretch.id: f"pipe-{number + 1}" for number, stretch in enumerate(layout.stretches)}
    wide, narrow = sketch(result, width=WIDE), sketch(result, width=NARROW)
    levels = [finding.level for finding in result.findings]
    return {
        "name": layout.name,
        "file": PurePath(layout.path).name,
        "text": layout.text,
        "version": __version__,
        "verdict": result.verdict,
        "word": level_word(result.verdict),
        "sentence": first_sentence(result),
        "points": f"{result.score.points:.1f}",
        "cleanable": f"{result.score.cleanable:.0%}",
        "counts": [(level, levels.count(level)) for level in ("fail", "warn", "advice")],
        "findings": list(_findings(result)),
        "wide": drawing(wide, anchors=anchors),
        "narrow": drawing(narrow, anchors=anchors),
        "caption": caption(wide),
        "letters": letter_list(narrow),
        "key": [(said, _sample(sample)) for said, sample in entries(wide)],
        "vessels": tables.vessels(result),
        "flows_chart": flows_chart(result),
        "pumps": list(_pumps(result)),
        "levels": tables.levels(result),
        "cut_words": power_cut_words(result) if result.flows.pumps else "",
        "day_charts": [] if day is None else [(name, day_chart(result, day, name)) for name in day.vessels],
        **({} if day is None else _through(result, day)),
        "day_table": tables.beds(result),
        "after_cut": tables.after_cut(result),
        "ledger": tables.ledger(result),
        "routes": list(_routes(result)),
        "all_routes": len(result.flows.routes),
        "accesses": tables.accesses(result),
        "pipes": tables.pipes(result, anchors),
        "score": tables.score(result),
        "cautions": list(cautions_of("page", layout).values()),
        "rules": [catalogue.findings()[kind] for kind in dict.fromkeys(finding.kind for finding in result.findings)],
        "limits": catalogue.limits(),
        "limit_words": lambda row: limit_words(row, result.layout.units),
        "methods": yaml.safe_load(_text("methods.yaml")),
        "defaults": result.defaults,
    }


def _through(result: CheckResult, day: Course) -> dict[str, Any]:
    """The day on a sketch, for the time slider."""
    drawn = sketch(result, width=640.0)
    drawn = replace(
        drawn,
        labels=tuple(one for one in drawn.labels if one.label.look in ("vessel", "pump") and not one.label.findings),
    )
    return {"day_picture": movable(drawn), "day_moments": moments(drawn, day), "day_shown": day.window[2]}


def _sample(drawn: list[Element]) -> str:
    paper = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": "-24 -14 48 26", "width": "48", "height": "26"}
    return written(element("svg", *drawn, **paper, class_="sketch sample", aria_hidden="true"))


def _findings(result: CheckResult) -> Iterator[dict[str, Any]]:
    """The findings, each with its number, its place in words, and whether the sketch can light its pipe."""
    messages = first_mentions(finding.message for finding in result.findings)
    for number, (finding, message) in enumerate(zip(result.findings, messages, strict=True), start=1):
        lit = span_of_finding(result, finding) is not None
        told = fields(finding, "level kind cure more")
        yield told | {"number": number, "where": place_of(finding), "message": message, "on_sketch": lit}


def _pumps(result: CheckResult) -> Iterator[dict[str, Any]]:
    layout, units = result.layout, result.layout.units
    for name, duty in result.flows.pumps.items():
        works = duty.state != "no path"
        yield {
            "name": name,
            "duty": f"{show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)} of head",
            "words": duty_words(settled(layout, result.flows, name), duty, units),
            "chart": pump_chart(result, name, system_curve(layout, result.flows, name)) if works else None,
        }


def _routes(result: CheckResult) -> Iterator[tuple[str, str]]:
    """The grade line of each route with its caption: the ways to what is worst off come first."""

    def margin(vessel: str | None) -> float:
        got = result.flows.vessels.get(vessel or "")
        return 9.0 if got is None or got.margin is None else got.margin

    grades = list(enumerate(grade_lines(result.layout, result.flows)))
    for number, grade in sorted(grades, key=lambda item: margin(item[1].vessel))[:MOST_ROUTES]:
        if len(grade.points) > 1:
            said = f"{grade.source} to {grade.vessel or 'the open'}, by {grade.end.rpartition('.')[0]}"
            yield said, grade_chart(grade, result.layout.units, f"grade {number}")


# ---------------------------------------------------------------------- the first sheet, for the owner alone: no command, no formula


def _to_do(result: CheckResult) -> Iterator[dict[str, Any]]:
    """The worst few things, findings with one cure together: the number of the worst of them and its level, what is wrong, what to do, the
    numbers of the others, and whether the sketch can light its pipe."""
    groups: dict[str, list[int]] = {}
    for number, finding in enumerate(result.findings, start=1):
        if finding.level != "advice":
            groups.setdefault(finding.cure, []).append(number)
    for cure, (number, *more) in list(groups.items())[:MOST_TO_DO]:
        worst, do = result.findings[number - 1], _plainly(cure)
        yield {
            "number": number,
            "level": worst.level,
            "wrong": _plainly(worst.message),
            "do": f"{do[:1].upper()}{do[1:]}.",
            "more": more,
            "on_sketch": span_of_finding(result, worst) is not None,
        }


def _plainly(said: str) -> str:
    """A sentence without the clauses that name a command, and without formulas in brackets."""
    said = re.sub(r" \([^()]*(?:\([^()]*\)[^()]*)*[√²³][^()]*(?:\([^()]*\)[^()]*)*\)", "", said)
    return "; ".join(part for part in said.split("; ") if "'plumbline " not in part) or said


def cost_words(result: CheckResult, card: WallCard | None) -> Iterator[str]:
    """What the system costs to run: electricity and time."""
    electricity = result.layout.electricity
    for name, cost in running_costs(result.layout, result.flows).items():
        if cost.power is not None and cost.energy is not None:
            money = "" if cost.money is None or electricity is None else f", {cost.money:.0f} {electricity.currency}"
            yield f"{name} draws {cost.power:.0f} W: {cost.energy:.0f} kWh a year{money}."
    if card is not None and card.routine.visits:
        visit = card.routine.visits[0]
        yield f"Cleaning the pipe: {every_words(visit.every).lower()}, about {minutes_words(visit.minutes)}."
