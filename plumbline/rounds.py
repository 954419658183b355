"""All of a mender's systems in one table: each file checked by itself, on all cores, in the order of harm.

What is due is counted from the day on which a file was last changed, since nothing else in it tells when someone was there.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from datetime import date, datetime
from multiprocessing import get_context
from pathlib import Path
from typing import Literal

from .check import CheckResult, check
from .errors import LayoutError, PlumblineError
from .layout import is_visit, read_layout
from .threads import one_thread
from .upkeep.card import wall_card
from .upkeep.follow import if_left_alone
from .upkeep.words import listed

__all__ = ["Due", "Stop", "make_rounds", "visit"]

MONTH = 30.44
"""Days in a month."""

MOST_MONTHS = 12
"""Fouling is followed for so long at the most: pipe that nobody has seen for longer is due anyway."""


@dataclass(frozen=True, slots=True)
class Due:
    """Something that is due: `what`, `every` so many months (None for what is due once), since `months` it has been, negative where it
    is still to come; the `minutes` that it takes, if known."""

    what: str
    every: float | None
    months: float
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """One system on the rounds. `verdict` is "unread" where the file cannot be read or solved, and `why` then its fault; else `why` is
    the worst finding, and `do` its cheapest cure. `since` is the day the file was last changed; `carry` what goes into the van for what is
    `due`. `points` is the score, 0 where there is none."""

    file: str
    name: str
    verdict: Literal["ok", "attention", "fail", "unread"]
    since: date
    why: str
    do: str = ""
    due: tuple[Due, ...] = ()
    carry: tuple[str, ...] = ()
    points: float = 0.0

    @property
    def harm(self) -> tuple[int, float, str]:
        """Its place in the order of harm."""
        return ("fail", "unread", "attention", "ok").index(self.verdict), self.points, self.file


def make_rounds(
    folder: str | os.PathLike[str],
    *,
    today: date | None = None,
    ahead: float = 1.0,
    cores: int | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> tuple[Stop, ...]:
    """Check every layout in a folder and in the folders in it.

    Parameters:
        folder: of YAML files; hidden ones are left out.
        today: what is due is counted to; left out, today.
        ahead: months to look ahead for what falls due.
        cores: how many to use; left out, all.
        progress: called after each file with how many are done, of how many, and which.

    Returns:
        A row for each file, the worst first; those that cannot be read stand in it with their fault.

    Raises:
        PlumblineError: where there is no such folder, or no file in it.
    """
    files, found = _files(Path(folder)), []
    for stop in _visited(files, today or date.today(), ahead, min(cores or os.cpu_count() or 1, len(files))):
        found.append(stop)
        if progress is not None:
            progress(len(found), len(files), stop.file)
    return tuple(sorted(found, key=lambda stop: stop.harm))


def _visited(files: Sequence[str], today: date, ahead: float, workers: int) -> Iterator[Stop]:
    """Each file as soon as it is checked."""
    if workers == 1:
        yield from (visit(file, today, ahead) for file in files)
        return
    pool = ProcessPoolExecutor(workers, get_context("spawn"), _leave_interrupts)
    try:
        for done in as_completed([pool.submit(visit, file, today, ahead) for file in files]):
            yield done.result()
    finally:
        pool.shutdown(cancel_futures=True)


def _leave_interrupts() -> None:
    """Ctrl-C is for the one who started it all, who lets the others finish what they are at."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _files(folder: Path) -> list[str]:
    if not folder.is_dir():
        raise PlumblineError(
            f"'{folder}' is no folder. Give one that holds layouts, for instance plumbline rounds clients"
        )
    paths = (path for path in folder.rglob("*") if path.suffix.lower() in (".yaml", ".yml") and path.is_file())
    files = sorted(
        str(path)
        for path in paths
        if not any(part.startswith(".") for part in path.relative_to(folder).parts) and not is_visit(path)
    )
    if not files:
        raise PlumblineError(f"There is no layout in '{folder}': no file in it ends in .yaml or .yml.")
    return files


@one_thread()
def visit(file: str, today: date, ahead: float) -> Stop:
    """Check one file, and tell what is due there; a file that cannot be read or solved is told with its fault."""
    since = datetime.fromtimestamp(os.path.getmtime(file)).date()
    try:
        result = check(read_layout(file))
        return _stop(file, since, result, (today - since).days / MONTH, ahead)
    except LayoutError as error:
        fault = error.faults[0]
        more = f", and {len(error.faults) - 1} more" if len(error.faults) > 1 else ""
        return _unread(file, since, f"line {fault.line}: {fault.found}{more}", f"expected {fault.expected}")
    except (PlumblineError, OSError) as error:
        return _unread(file, since, str(error), "")
    except Exception as error:  # the program's own fault in one file is no reason to keep the others from the mender
        said = f"Plumbline itself is at fault here ({type(error).__name__}), not this file"
        return _unread(file, since, said, "please send the file and this sentence to whoever gave you Plumbline")


def _unread(file: str, since: date, why: str, do: str) -> Stop:
    return Stop(file, Path(file).stem, "unread", since, why, do)


def _stop(file: str, since: date, result: CheckResult, age: float, ahead: float) -> Stop:
    worst = next((one for one in result.findings if one.level != "advice"), None)
    card = wall_card(result.layout, result.flows, result.upkeep, cut=result.cut)
    falling = _fouling(result, age, ahead)
    rounds = [visit for visit in card.routine.visits if age + ahead >= visit.every]
    # The longest one that is due holds the shorter ones.
    floods = listed([f"'{name}'" for name in card.floods])
    cleaning = f"cleaning, once {floods} no longer runs over as the pumps stop" if floods else "cleaning by the card"
    due = [Due(cleaning, one.every, age - one.every, one.minutes) for one in rounds[-1:]]
    due += [falling] if falling is not None else []
    carry = tuple(dict.fromkeys(job.tool for visit in rounds for job in visit.jobs))
    said = (worst.message, worst.cure) if worst else ("", "")
    return Stop(file, result.layout.name, result.verdict, since, *said, tuple(due), carry, result.score.points)


def _fouling(result: CheckResult, age: float, ahead: float) -> Due | None:
    """The vessel that falls short first as pipe fouls at the likely rate, if it does so by then."""
    layout, vessels = result.layout, result.flows.vessels
    full = [name for name, got in vessels.items() if got.wanted and got.inflow >= got.wanted]
    months = min(int(age + ahead), MOST_MONTHS)
    if not full or months < 1:
        return None
    for month, flows in enumerate(if_left_alone(layout, months)):
        for name in full:
            got = flows.vessels[name]
            if got.wanted and got.inflow < got.wanted * (1.0 - 1e-6):
                return Due(f"'{name}' gets too little as pipe fouls", None, age - month)
    return None
