"""The report that a client keeps: one HTML file that needs nothing else."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import PurePath
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element

import yaml

from .. import __version__, catalogue
from ..check import CheckResult
from ..hydraulics.grade import grade_lines
from ..hydraulics.system_curve import system_curve
from ..report.care import cautions_of
from ..report.words import duty_words, first_mentions, first_sentence, level_word, place_of, power_cut_words
from ..units import show
from . import tables
from .charts import day_chart, flows_chart, grade_chart, pump_chart
from .more import Extras, extra_facts
from .owner import ASK, cost_words, things_to_do
from .sketch import sketch
from .sketch.legend import entries, letter_list
from .sketch.svg import caption, drawing, style
from .sketch.trouble import span_of_finding
from .sketch.xml import clean, element, written

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["SECTIONS", "fault_page", "page", "waiting_page"]

SECTIONS: tuple[tuple[str, str], ...] = (
    ("sketch", "The sketch"),
    ("card", "The wall card"),
    ("findings", "What to do"),
    ("lift", "Does it lift"),
    ("back", "Does it come back"),
    ("day", "Through the day"),
    ("power", "If the power fails"),
    ("mishaps", "If something goes wrong"),
    ("head", "Where the head goes"),
    ("reach", "Can it be cleaned"),
    ("fouling", "How it fouls"),
    ("redesign", "Before and after"),
    ("pipes", "The pipe"),
    ("parts", "The parts"),
    ("score", "The score"),
    ("care", "Care"),
    ("rules", "Rules and sources"),
    ("layout", "The layout file"),
)
"""The sections in their order: the name of each one's template and anchor, and its heading. A new section is a row here, a
template of that name in templates/, and what that template needs in `_facts`; one whose template puts nothing out is left out of the
page and of its list of contents."""

NARROW, WIDE = 352, 920
"""Widths of the two sketches [px]: one for phones, one for screens and paper."""

MOST_ROUTES = 24
"""Grade lines drawn at most, the worst off first: each is some 12 kB."""


def page(result: CheckResult, extras: Extras | None = None, *, live: bool = False) -> str:
    """Write the page of a check.

    Parameters:
        result: of a check.
        extras: what else goes on it.
        live: for a page that is served while its layout changes: it asks its server whether it has, and then reloads.

    Returns:
        The text of an HTML file: readable without its script, asking for nothing from elsewhere.
    """
    environment = _environment()
    extras = extras or Extras()
    facts = _facts(result) | extra_facts(result, extras)
    facts |= {"things": things_to_do(result), "costs": list(cost_words(result, extras.card)), "ask": ASK}
    sections = []
    for name, heading in SECTIONS:
        body = environment.get_template(f"{name}.html").render(facts)
        if body.strip():
            sections.append(_Section(name, heading, body.strip()))
    scripts = [_text("page.js").strip(), *([_text("live.js").strip()] if live else [])]
    text = environment.get_template("page.html").render(
        facts,
        sections=sections,
        style=_text("page.css") + style(),
        scripts=scripts,
        digests=list(map(_digest, scripts)),
        live=live,
    )
    return clean(text) + "\n"


def fault_page(file: str, said: str) -> str:
    """Write the page of a layout that cannot be checked, for a page that is served while its layout changes.

    Parameters:
        file: the layout file's name.
        said: what is wrong with it.

    Returns:
        The text of an HTML file.
    """
    return _bare("cannot be read", file, "Cannot be checked", said)


def waiting_page(file: str) -> str:
    """Write the page that is served till the first check is done.

    Parameters:
        file: the layout file's name.
    """
    return _bare("checking", file, "Checking", "")


def _bare(state: str, file: str, word: str, said: str) -> str:
    script = _text("live.js").strip()
    text = (
        _environment()
        .get_template("fault.html")
        .render(
            file=file, state=state, word=word, said=said, style=_text("page.css"), script=script, digest=_digest(script)
        )
    )
    return clean(text) + "\n"


def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("plumbline.page", "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip


def _digest(script: str) -> str:
    """What a page's policy knows a script by."""
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


@dataclass(frozen=True, slots=True)
class _Section:
    name: str
    heading: str
    body: str


@dataclass(frozen=True, slots=True)
class _Pump:
    name: str
    duty: str
    words: str
    chart: str | None


@dataclass(frozen=True, slots=True)
class _Found:
    """A finding as the page shows it. `on_sketch` where the sketch can light its pipe."""

    number: int
    level: str
    where: str
    kind: str
    message: str
    cure: str
    more: str
    on_sketch: bool


def _text(name: str) -> str:
    return resources.files("plumbline.page").joinpath(name).read_text(encoding="utf-8")


def _facts(result: CheckResult) -> dict[str, Any]:
    """All that the templates need."""
    from markupsafe import Markup

    layout = result.layout
    anchors = {stretch.id: f"pipe-{number + 1}" for number, stretch in enumerate(layout.stretches)}
    wide, narrow = sketch(result, width=WIDE), sketch(result, width=NARROW)
    findings = [
        _Found(number + 1, one.level, place_of(one), one.kind, message, one.cure, one.more,
               span_of_finding(result, one) is not None)
        for number, (one, message) in enumerate(zip(result.findings, first_mentions(one.message for one in result.findings), strict=True))
    ]  # fmt: skip
    kinds = {one.kind: None for one in result.findings}
    chart = flows_chart(result)
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
        "counts": [(level, sum(one.level == level for one in findings)) for level in ("fail", "warn", "advice")],
        "findings": findings,
        "wide": Markup(drawing(wide, anchors=anchors)),
        "narrow": Markup(drawing(narrow, anchors=anchors)),
        "caption": caption(wide),
        "letters": letter_list(narrow),
        "key": [(said, Markup(_sample(sample))) for said, sample in entries(wide)],
        "vessels": tables.vessels(result),
        "flows_chart": None if chart is None else Markup(chart),
        "pumps": [_pump(result, name) for name in result.flows.pumps],
        "levels": tables.levels(result),
        "cut_words": power_cut_words(result) if result.flows.pumps else "",
        "day_charts": [] if result.day is None else [(name, Markup(day_chart(result, result.day, name))) for name in result.day.vessels],
        "day_table": None if result.day is None else tables.beds(result),
        "after_cut": tables.after_cut(result),
        "ledger": tables.ledger(result),
        "routes": _routes(result),
        "all_routes": len(result.flows.routes),
        "accesses": tables.accesses(result),
        "pipes": tables.pipes(result, anchors),
        "score": tables.score(result),
        "cautions": list(cautions_of("page", layout).values()),
        "rules": [_rule(kind) for kind in kinds],
        "methods": yaml.safe_load(_text("methods.yaml")),
        "defaults": layout.defaults,
    }  # fmt: skip


def _sample(drawn: list[Element]) -> str:
    return written(element("svg", *drawn, xmlns="http://www.w3.org/2000/svg", viewBox="-24 -14 48 26", width=48, height=26,
                           class_="sketch sample", aria_hidden="true"))  # fmt: skip


def _pump(result: CheckResult, name: str) -> _Pump:
    from markupsafe import Markup

    layout, duty = result.layout, result.flows.pumps[name]
    units = layout.units
    chart = None
    if duty.state != "no path":
        chart = Markup(pump_chart(result, name, system_curve(layout, result.flows, name)))
    said = f"{show(duty.flow, 'flow', units)} at {show(duty.head, 'head', units)} of head"
    return _Pump(name, said, duty_words(layout.pumps[name], duty, units), chart)


def _routes(result: CheckResult) -> list[tuple[str, Any]]:
    """The grade line of each route with its caption: the ways to what is worst off come first."""
    from markupsafe import Markup

    def margin(vessel: str | None) -> float:
        got = result.flows.vessels.get(vessel or "")
        return got.inflow / got.wanted if got is not None and got.wanted else 9.0

    grades = sorted(
        enumerate(grade_lines(result.layout, result.flows)), key=lambda item: (margin(item[1].vessel), item[0])
    )
    return [
        (f"{grade.source} to {grade.vessel or 'the open'}, by {grade.end.rpartition('.')[0]}",
         Markup(grade_chart(grade, result.layout.units, f"grade {number}")))
        for number, grade in grades[:MOST_ROUTES] if len(grade.points) > 1
    ]  # fmt: skip


def _rule(kind: str) -> Mapping[str, Any]:
    """A kind of finding as the catalogue has it, with its limits."""
    row = catalogue.findings()[kind]
    doubt = str(row.extra.get("doubt", "none"))
    limits = [catalogue.limits()[name] for name in row.limits]
    return {
        "kind": kind, "title": row.title, "rule": row.rule, "source": row.source, "mark": row.mark,
        "doubt": "" if doubt == "none" else doubt, "limits": limits,
    }  # fmt: skip
