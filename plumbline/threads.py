"""One thread for the linear algebra: the matrices of a household's pipework are so small that several only wait for each other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["one_thread"]


@contextmanager
def one_thread() -> Iterator[None]:
    """Keep the matrix library to one thread while this lasts.

    On two cores that others use as well, a check of 78 stretches took 40 s of wall time with two threads and 4 s with one.

    >>> with one_thread():
    ...     pass
    """
    from threadpoolctl import threadpool_limits

    with threadpool_limits(limits=1, user_api="blas"):
        yield
