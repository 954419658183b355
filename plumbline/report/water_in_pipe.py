"""What the water does in the pipe, for those who ask for everything: what it carries, how old it gets, where it stands."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text

from .. import catalogue
from ..check import CheckResult
from ..units import show
from ..upkeep.age import hours, stagnant, water_ages
from ..upkeep.carried import carried
from ..upkeep.dead_legs import by_shape
from ..upkeep.groups import adjoining, steps_of
from .plain import plain_table

__all__ = ["age_words", "carry_table", "code_words", "dead_leg_table"]


def carry_table(result: CheckResult) -> Table:
    """Each line's stretches by what they carry, and on which side of the solids filter; neighbours that are alike are told as
    one, by the slowest."""
    layout = result.layout
    classes, side = carried(layout, result.flows), result.upkeep.sides
    table = plain_table("pipe", "", "side", ">slowest", ">wall shear", "")
    for line in layout.lines:
        mine = [stretch for stretch in layout.stretches if stretch.line == line]
        for word, which in dict.fromkeys((classes[stretch.id].word, side[stretch.id]) for stretch in mine):
            same = [s for s in mine if classes[s.id].word == word and side[s.id] == which]
            for group in adjoining(same):
                slowest = min((classes[stretch.id] for stretch in group), key=lambda one: one.velocity)
                size = sum(stretch.length for stretch in group)
                moving = word != "empty"
                told = f"{word} ({slowest.rest:.3g} h a day)" if "off" in word and slowest.rest > 0.0 else word
                table.add_row(
                    Text(line),
                    f"{show(size, 'length', layout.units)}, {steps_of(group)}",
                    which or "",
                    show(slowest.velocity, "speed", layout.units) if moving else "",
                    show(slowest.shear, "shear", layout.units) if moving else "",
                    told,
                )
    return table


def age_words(result: CheckResult) -> str:
    """How much water the pipe holds, how much of it stands, and how old the rest gets."""
    layout, units = result.layout, result.layout.units
    found = stagnant(water_ages(layout, result.flows))
    said = f"The pipe holds {show(found.volume, 'volume', units)}; {show(found.standing, 'volume', units)} of it stand."
    if found.where is not None:
        line = found.where.rpartition(".")[0]
        said += f" The oldest that moves is {hours(found.oldest)} out of its last vessel, in '{line}'."
    moving = found.old - found.standing
    if moving > 1e-9:
        said += f" {show(moving, 'volume', units)} of it are older than {hours(layout.limits['water age'])}."
    return said


def code_words(result: CheckResult) -> str:
    """Which code the file chose, and what that is worth."""
    code = catalogue.codes()[result.layout.code or ""]
    return (
        f"The file asks for {f'{code.title} {code.edition}'.strip()}: a selection of its rules is looked at, those on access to drains, so that "
        "a layout without such a finding is not said to meet it. The code that is adopted where the system stands, with its amendments, governs."
    )


def dead_leg_table(result: CheckResult) -> Table:
    """Each dead leg against what standards allow, in its own bores; those that hang in air are left out."""
    rows = catalogue.dead_legs()
    heads = [f"{row.name}: {row.diameters:g} from {row.start}" for row in rows.values()]
    told = (
        (
            leg.pieces[0][0].line,
            leg.root,
            f"{leg.ratio:.3g}",
            *("met" if leg.met()[name] else "too long" for name in rows),
        )
        for leg in by_shape(result.layout)
        if not leg.drained
    )
    return plain_table("dead leg", "from", ">bores", *heads, rows=told)
