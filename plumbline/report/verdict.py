"""The verdict in a few lines, for a terminal that is looked at while a layout is typed. Computes nothing."""

from __future__ import annotations

from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from ..check import CheckResult
from ..errors import PlumblineError
from .plain import headed
from .screen import Screen
from .words import first_sentence, level_word, place_of

__all__ = ["VerdictView", "print_verdict"]

_STYLES = {"fail": "bold red", "attention": "bold yellow", "ok": "bold green", "warn": "yellow"}
_FEW = 5


@dataclass(frozen=True)
class VerdictView:
    """A rich renderable: the verdict, the score, and the worst few findings."""

    result: CheckResult

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        result = self.result
        head = headed(result.layout.name, level_word(result.verdict), _STYLES[result.verdict])
        head.append(f", {result.score.points:.1f} of 100", style="not bold")
        yield head
        yield Text(first_sentence(result))
        worst = [one for one in result.findings if one.level != "advice"]
        for finding in worst[:_FEW]:
            line = Text(f"  {finding.level:<5}", style=_STYLES[finding.level])
            line.append(f"{finding.message} [{place_of(finding) or finding.kind}]", style="none")
            yield line
        if len(worst) > _FEW:
            yield Text(f"  and {len(worst) - _FEW} more", style="dim")


def print_verdict(found: CheckResult | PlumblineError, console: Console | None = None) -> None:
    """Print the verdict of a check, or what is wrong with its file, after the time of day."""
    from datetime import datetime

    screen = console or Screen()
    screen.print(Text(f"\n{datetime.now():%H:%M:%S}", style="dim"))
    screen.print(VerdictView(found) if isinstance(found, CheckResult) else Text(str(found)))
