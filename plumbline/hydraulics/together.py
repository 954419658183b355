"""Many networks solved as one that falls into as many pieces: a call costs much the same for one as for twenty.

What is followed through time, or tried, asks for one solve after the other. `side_by_side` does many such jobs at once, each in a lane of
its own, and answers all lanes by one solve whenever each of them waits for one. A lane's flows do not depend on the others, but for rounding.
"""

from __future__ import annotations

import contextvars
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np

from ..deadline import in_time
from ..errors import SolveError
from .network import LISTS, Network, Solution
from .solver import solve
from .stages import Stages

__all__ = ["LANES", "joined", "side_by_side", "solve_all", "solve_from"]

Result = TypeVar("Result")

LANES = 24
"""So many are followed at once; more save little."""

NONE = -1
"""No job is left."""

FEW_STEPS = 20
"""Newton steps after which many together are taken apart again: one of them is hard, and would hold up all."""


FROM_A_START = 100
"""Newton steps that a start is worth; one that leads nowhere in so many is dropped."""


def joined(networks: Sequence[Network]) -> Network:
    """One network of several of the same water, side by side."""
    nodes, links, runs = (np.cumsum([0, *sizes]) for sizes in zip(*map(_sizes, networks), strict=True))
    first = networks[0]

    def put(name: str, add: Sequence[int] | None = None) -> Any:
        rows = [getattr(one, name) for one in networks]
        return np.concatenate(rows if add is None else [row + more for row, more in zip(rows, add, strict=False)])

    by_link = ("run_link", "tee_link", "pump_link", "bar_link")
    stages = [
        replace(one.stages, link=one.stages.link + link, first=one.stages.first + run, last=one.stages.last + run)
        for one, link, run in zip(networks, links, runs, strict=False)
    ]
    rows: dict[str, Any] = {name: put(name) for name in ("fixed_head", *LISTS)} | {
        name: put(name, links.tolist()) for name in by_link
    }
    return replace(
        first,
        **rows,
        tail=put("tail", nodes.tolist()),
        head=put("head", nodes.tolist()),
        pump_curves=tuple(curve for one in networks for curve in one.pump_curves),
        bars=tuple(bar for one in networks for bar in one.bars),
        stages=Stages(*(np.concatenate([getattr(one, name) for one in stages]) for name in Stages.__annotations__)),
    )


def _sizes(network: Network) -> tuple[int, int, int]:
    return len(network.draw), len(network.tail), len(network.run_link)


def solve_all(
    networks: Sequence[Network], starts: Sequence[Solution | None], *, tolerance: float
) -> list[Solution | SolveError]:
    """Solve networks of the same water, each from an earlier solution of its own, or all of them from the beginning.

    Returns:
        For each its solution, or why there is none.
    """
    if len(networks) == 1:
        most = {} if starts[0] is None else {"max_steps": FROM_A_START}
        try:
            return [solve(networks[0], start=starts[0], tolerance=tolerance, **most)]
        except SolveError as error:
            return [error]
    begun = [start for start in starts if start is not None]
    try:
        start = _joined(begun) if begun else None
        whole = solve(joined(networks), start=start, tolerance=tolerance, max_steps=FEW_STEPS)
    except SolveError:
        half = len(networks) // 2
        return [
            one
            for part in (slice(half), slice(half, None))
            for one in solve_all(networks[part], starts[part], tolerance=tolerance)
        ]
    nodes, links, _ = (np.cumsum([0, *sizes]) for sizes in zip(*map(_sizes, networks), strict=True))
    return [
        replace(
            whole,
            heads=whole.heads[n:o],
            floating=whole.floating[n:o],
            **{name: getattr(whole, name)[a:b] for name in ("flows", "closed", "staged", "falls", "turned")},
        )
        for n, o, a, b in zip(nodes, nodes[1:], links, links[1:], strict=False)
    ]


def _joined(solutions: Sequence[Solution]) -> Solution:
    names = ("heads", "floating", "flows", "closed", "staged", "falls", "turned")
    rows: dict[str, Any] = {name: np.concatenate([getattr(one, name) for one in solutions]) for name in names}
    return replace(solutions[0], **rows)


@dataclass
class _Ask:
    """What a lane waits for: its next job, or a solve."""

    lane: int
    network: Network | None = None
    start: Solution | None = None
    tolerance: float = 0.0
    answer: Solution | SolveError | int | None = None

    @property
    def sort(self) -> tuple[float, bool]:
        """What is asked the same way is answered together: how near, and whether from the beginning."""
        return self.tolerance, self.start is None


_MINE = threading.local()
"""What is a thread's own: the lane that it is, and the company that it runs in."""


def solve_from(network: Network, start: Solution | None, tolerance: float) -> Solution:
    """As `solver.solve`, together with what other lanes ask for; from the beginning where a start leads nowhere; `TimeUp` where no time is left."""
    in_time()
    company: _Company | None = getattr(_MINE, "company", None)
    ask = _Ask(0 if company is None else _MINE.lane, network, start, tolerance)
    answer = company.wait(ask) if company is not None else solve_all([network], [start], tolerance=tolerance)[0]
    if isinstance(answer, Solution):
        return answer
    if start is None and isinstance(answer, SolveError):
        raise answer
    return solve(network, tolerance=tolerance)


def side_by_side(jobs: Sequence[Callable[[], Result]]) -> list[Result]:
    """Run jobs that do not depend on each other, and give their results in the same order; the first error of any is raised.

    What they ask of `solve_from` meanwhile is answered together. A job that comes to such jobs itself runs them one by one.
    """
    if len(jobs) < 2 or getattr(_MINE, "company", None) is not None:
        return [job() for job in jobs]
    return _Company().run(jobs)


class _Company:
    """Runs jobs in lanes; what they ask of the solver is answered together."""

    def __init__(self) -> None:
        self.turn = threading.Condition()
        self.waiting: list[_Ask] = []
        self.lanes = 0
        self.jobs: Iterator[int] = iter(())

    def wait(self, ask: _Ask) -> Solution | SolveError | int:
        """Ask, and wait for the answer; the lane that asks last answers all."""
        with self.turn:
            self.waiting.append(ask)
            if len(self.waiting) == self.lanes:
                self.answer()
            self.turn.wait_for(lambda: ask.answer is not None)
        assert ask.answer is not None
        return ask.answer

    def answer(self) -> None:
        """Answer all lanes, in their order, so that the same is always solved with the same; first those that have no job."""
        asks = sorted(self.waiting, key=lambda one: one.lane)
        idle = [ask for ask in asks if ask.network is None]
        for ask in idle:
            ask.answer = next(self.jobs, NONE)
            self.lanes -= ask.answer == NONE
        self.waiting = [ask for ask in asks if ask.network is not None]
        if self.waiting and len(self.waiting) == self.lanes:
            for sort in sorted({ask.sort for ask in self.waiting}):
                self.solve([ask for ask in self.waiting if ask.sort == sort])
            self.waiting = []
        self.turn.notify_all()

    def solve(self, asks: Sequence[_Ask]) -> None:
        """Answer those of one sort."""
        networks, starts = [ask.network for ask in asks if ask.network is not None], [ask.start for ask in asks]
        for ask, answer in zip(asks, solve_all(networks, starts, tolerance=asks[0].tolerance), strict=True):
            ask.answer = answer

    def run(self, jobs: Sequence[Callable[[], Result]]) -> list[Result]:
        """Run all jobs, each as soon as a lane is free."""
        found: dict[int, Result] = {}
        errors: dict[int, BaseException] = {}
        lanes = self.lanes = min(LANES, len(jobs))
        self.jobs = iter(range(len(jobs)))

        def lane(number: int) -> None:
            _MINE.lane, _MINE.company = number, self
            while (job := self.wait(_Ask(number))) != NONE:
                assert isinstance(job, int)
                try:
                    found[job] = jobs[job]()
                except BaseException as error:
                    errors[job] = error

        threads = [
            threading.Thread(target=contextvars.copy_context().run, args=(lane, number), daemon=True)
            for number in range(lanes)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        if errors:
            raise errors[min(errors)]
        return [found[job] for job in range(len(jobs))]
