"""Short phrases that every report uses."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from .. import catalogue
from ..catalogue.rows import NumberRow
from ..check import CheckResult
from ..findings import Finding
from ..hydraulics.flows import Duty
from ..layout.model import Airlift, Pump
from ..units import Shown, Units, show

__all__ = [
    "duty_words",
    "enough_words",
    "first_mentions",
    "first_sentence",
    "gets_enough",
    "level_word",
    "limit_words",
    "place_of",
    "power_cut_words",
    "range_words",
]

_LEAST_STAND = 5e-3
"""An open top in which the water stands higher than the riser's end by less than this runs free [m]."""

_LEAST_FALL = 1e-3
"""A siphon that lowers its vessel by less than this is not worth a word [m]."""


_SHOWN: dict[str, Shown] = {"m": "length", "mm": "length", "m/s": "speed", "Pa": "shear"}


def limit_words(row: NumberRow, units: Units) -> str:
    """A threshold of the catalogue, in feet and inches for who reads in them.

    >>> for length in ("m", "ft"):
    ...     print(limit_words(catalogue.limits()["hand room"], Units(length=length)))
    457 mm
    1' 6"
    """
    return show(row.value, _SHOWN[row.unit], units) if units.length == "ft" and row.unit in _SHOWN else row.shown


_EXPLAINED = ("closure", "datum", "invert", "sleeve")
"""Words that are explained where a reader first meets them."""
_WORD = re.compile(rf"(?<![\w'-])({'|'.join(_EXPLAINED)})(?![\w'-])")


def first_mentions(texts: Iterable[str]) -> Iterator[str]:
    """Texts in their order, with words that not every reader knows explained where they first stand, unless in quotes, as names do.

    >>> list(first_mentions(["'datum' lies 1 m above the datum", "the datum"]))
    ["'datum' lies 1 m above the datum (the one level of the site that all heights are counted from)", 'the datum']
    """
    left = {word: catalogue.terms()[word].partition(";")[0] for word in _EXPLAINED}

    def explained(found: re.Match[str]) -> str:
        return f"{found[0]} ({left.pop(found[0])})" if found[0] in left else found[0]

    for text in texts:
        yield _WORD.sub(explained, text)


def level_word(verdict: str) -> str:
    """The verdict as a headline."""
    return {"ok": "sound", "attention": "works, wants attention", "fail": "fails"}[verdict]


def first_sentence(result: CheckResult) -> str:
    """What the verdict comes to, in a sentence or two."""
    fails = [finding for finding in result.findings if finding.level == "fail"]
    warns = [finding for finding in result.findings if finding.level == "warn"]
    cleanable = f"{result.score.cleanable:.0%} of the pipe can be cleaned."
    if fails:
        more = f" And {len(fails) - 1} more that fail." if len(fails) > 1 else ""
        return f"{fails[0].message}{more} {cleanable}"
    wanting = [vessel for vessel in result.layout.vessels.values() if vessel.wants]
    lifts = "Every vessel gets what it wants. " if wanting else ""
    if warns:
        things = "one thing wants" if len(warns) == 1 else f"{len(warns)} things want"
        return f"{lifts}{cleanable} {things.capitalize()} attention."
    return f"{lifts}{cleanable} " + ("Nothing worse than advice." if result.findings else "Nothing to say against it.")


def power_cut_words(result: CheckResult) -> str:
    """What happens when all pumps stop, in a sentence or two."""
    cut, units = result.cut, result.layout.units
    if cut is None:
        return "Not known: no state was found in which the water comes to rest."
    before = {row.vessel: row.before for row in cut.vessels}
    moving = [siphon for siphon in cut.siphons if before[siphon.giver] - siphon.down_to > _LEAST_FALL]
    over = [row.vessel for row in cut.vessels if row.spilled > 0.0]
    unknown = [row.vessel for row in cut.vessels if row.after is None]
    first = "Nothing siphons back."
    if moving:
        givers = list(dict.fromkeys(siphon.giver for siphon in moving))
        first = f"{', '.join(givers)} {'siphons' if len(givers) == 1 else 'siphon'} out."
    runs = show(abs(cut.drained), "volume", units)
    moved = f"{runs} run down out of the pipes" if cut.drained >= 0.0 else f"{runs} run up into empty pipe"
    words = f"{first} {moved}, and vessels drain to their ways out."
    if over:
        words += f" {', '.join(over)} {'overtops' if len(over) == 1 else 'overtop'}."
    else:
        words += " Nothing overtops." if not unknown else " Nothing overtops where that is known."
    if cut.lost > 0.0:
        words += f" {show(cut.lost, 'volume', units)} run out onto the ground."
    if unknown:
        words += f" How far the water moves in {', '.join(unknown)} is not known without an area."
    return words


def place_of(finding: Finding) -> str:
    """Where a finding is, in the user's own names."""
    if finding.line is None:
        return ""
    return f"{finding.line} step {finding.step}" if finding.step is not None else finding.line


def gets_enough(result: CheckResult, vessel: str) -> str:
    """Whether a vessel gets "too little", "just enough", "enough" or "far more than wanted"; "" where it wants nothing."""
    got = result.flows.vessels[vessel]
    if got.margin is None or got.short:
        return "" if got.margin is None else "too little"
    if got.margin >= 1.0:
        return "far more than wanted"
    return "enough" if got.margin >= result.layout.limits["margin"] else "just enough"


def enough_words(result: CheckResult, vessel: str) -> str:
    """Whether a vessel gets enough, with how sure that is."""
    enough = gets_enough(result, vessel)
    sure = result.sure.vessels[vessel].word if result.sure is not None else None
    if sure not in ("surely", "probably", "doubtful") or enough == "far more than wanted":
        return enough
    return f"{enough}, {'that is doubtful' if sure == 'doubtful' else sure}"


def without_water(result: CheckResult) -> set[str]:
    """The vessels that get no water, though the file does not say how much they want."""
    return {
        one.vessel
        for one in result.findings
        if one.kind == "too-little-water" and one.vessel is not None and not result.layout.vessels[one.vessel].wants
    }


def range_words(result: CheckResult, vessel: str) -> str:
    """What a vessel most likely gets; nothing where that is not known or it gets none."""
    if result.sure is None or result.sure.vessels[vessel].inflow.value <= 0.0:
        return ""
    found, units = result.sure.vessels[vessel].inflow, result.layout.units
    return f"{show(found.low, 'flow', units, unit=False)} to {show(found.high, 'flow', units, unit=False)}"


def duty_words(pump: Pump, duty: Duty, units: Units) -> str:
    """What a pump's duty point means."""
    if pump.airlift is not None:
        return _airlift_words(pump, pump.airlift, duty, units)
    last = duty.curve[-1][0]
    highest = show(duty.curve[0][1], "head", units)
    share = duty.flow / last if last > 0.0 else 0.0
    where = {
        "shut-off": f"It moves nothing: its highest head is {highest}.",
        "backwards": f"Water runs backwards through it: its highest head is {highest}.",
        "run-out": f"That is past the end of its curve ({show(last, 'flow', units)}).",
        "below first point": "That is short of the first point of its curve.",
        "by its switch": "That flow is the mean: its switch has it run for part of the time, and the head is while it does.",
    }.get(duty.state)
    if where is None:
        if share < 0.25:
            where = f"It works high on its curve, near its highest head of {highest}: little to spare for more height."
        elif share > 0.85:
            where = f"It works low on its curve, near its last point of {show(last, 'flow', units)}."
        else:
            where = f"It works at {share:.0%} of its curve's largest flow; it moves nothing any more at {highest}."
    if duty.power and duty.state in ("on curve", "run-out", "below first point"):
        where += f" Of {duty.power:.0f} W from the mains, {duty.useful:.1f} W reach the water."
    return where


def _airlift_words(pump: Pump, airlift: Airlift, duty: Duty, units: Units) -> str:
    """What an airlift's duty point means."""
    highest = show(duty.curve[0][1], "head", units)
    if duty.state in ("shut-off", "backwards"):
        moves = "moves nothing" if duty.state == "shut-off" else "lets water run back"
        return f"An airlift; by its model it {moves}: with no flow the mixture holds up {highest}."
    stands = duty.head - (airlift.length - airlift.depth)
    words = f"An airlift with {show(airlift.air, 'flow', units)} of air {show(airlift.depth, 'length', units)} under the water. "
    if stands > _LEAST_STAND:
        words += f"In its open top the water stands {show(stands, 'length', units)} over the riser's end: the top has to reach higher."
    else:
        words += "Its top runs free."
    if duty.power:
        said = "" if pump.power is not None else "about "
        words += f" Of {said}{duty.power:.0f} W from the mains, {duty.useful:.1f} W reach the water."
    return words
