"""What the water does in the pipe, for those who ask for everything: what it carries, how old it gets, where it stands."""

from __future__ import annotations

from rich.table import Table
from rich.text import Text

from ..check import CheckResult
from ..units import show
from ..upkeep.carried import carried
from ..upkeep.groups import adjoining, steps_of

__all__ = ["carry_table"]


def carry_table(result: CheckResult) -> Table:
    """Each line's stretches by what they carry; neighbours of one class are told as one, by the slowest."""
    layout = result.layout
    classes = carried(layout, result.flows)
    table = plain_table("pipe", "", ">slowest", ">wall shear", "")
    for line in layout.lines:
        for word in dict.fromkeys(classes[stretch.id].word for stretch in layout.stretches if stretch.line == line):
            same = [s for s in layout.stretches if s.line == line and classes[s.id].word == word]
            for group in adjoining(same):
                slowest = min((classes[stretch.id] for stretch in group), key=lambda one: one.velocity)
                size = sum(stretch.length for stretch in group)
                moving = word != "empty"
                told = f"{word} ({slowest.rest:.3g} h a day)" if "off" in word and slowest.rest > 0.0 else word
                table.add_row(
                    Text(line), f"{show(size, 'length', layout.units)}, {steps_of(group)}",
                    show(slowest.velocity, "speed", layout.units) if moving else "",
                    f"{slowest.shear:.2g} Pa" if moving else "", told,
                )  # fmt: skip
    return table


def plain_table(*columns: str) -> Table:
    """A plain table; a column whose name begins with > is set to the right."""
    table = Table(box=None, show_edge=False, header_style="dim")
    table.padding = (0, 1, 0, 1)
    for column in columns:
        table.add_column(column.lstrip(">"), justify="right" if column.startswith(">") else "left", overflow="fold")
    return table
