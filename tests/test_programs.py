"""Mixed-integer programs: what comes out, and that nothing else does."""

from __future__ import annotations

import ctypes
import os

import pytest
import scipy.optimize

from plumbline.programs import Program


@pytest.mark.invariant
def test_what_the_solver_says_past_python_stays_off_standard_output(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    solver = scipy.optimize.milp

    def talks(*args: object, **options: object) -> object:
        os.write(1, b"heard at once\n")
        ctypes.CDLL(None).puts(b"heard when it is flushed")
        return solver(*args, **options)

    monkeypatch.setattr(scipy.optimize, "milp", talks)
    program = Program(2)
    program.add({0: 1.0, 1: 1.0}, 1.0)
    assert program.solve([3.0, 2.0]).chosen(2) == frozenset({1})
    ctypes.CDLL(None).fflush(None)
    print("and this")
    assert capfd.readouterr().out == "and this\n"
