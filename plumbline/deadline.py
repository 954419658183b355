"""A time by which work is to be done. What takes long asks now and then whether there is time left, and is ended where there is none."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from time import perf_counter

__all__ = ["TimeUp", "in_time", "minutes_from_now", "seconds_left", "until"]

_END: ContextVar[float] = ContextVar("end", default=math.inf)


class TimeUp(Exception):  # noqa: N818 - no fault of anything's
    """The time was up before the work was done."""


def minutes_from_now(minutes: float) -> float:
    """The end of so many minutes, for `until`."""
    return perf_counter() + 60.0 * minutes


@contextmanager
def until(end: float) -> Iterator[None]:
    """What is done in here, in this thread and the lanes that it opens, ends by `TimeUp` at a time [s of `perf_counter`], or at an earlier one set outside.

    >>> with until(minutes_from_now(1)), until(math.inf):
    ...     seconds_left() < 61.0
    True
    """
    token = _END.set(min(end, _END.get()))
    try:
        yield
    finally:
        _END.reset(token)


def seconds_left() -> float:
    """How long there is left [s], without end where no time was set."""
    return _END.get() - perf_counter()


def in_time() -> None:
    """Go on.

    Raises:
        TimeUp: where the time is up.
    """
    if seconds_left() <= 0.0:
        raise TimeUp
