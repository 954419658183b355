"""The errors a user can meet. Every one of them is a plain sentence."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Fault", "LayoutError", "PlumblineError", "SolveError"]


class PlumblineError(Exception):
    """Anything that stops the work and that the user can do something about."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a layout file.

    `line` and `column` count from 1; `text` is the offending line of the file; `found` says what stands
    there; `expected` what should; `hint` (optional) is the nearest valid word or what to do;
    `also` holds further lines of the file that take part, as (line, text).
    """

    file: str
    line: int
    column: int
    text: str
    found: str
    expected: str
    hint: str = ""
    also: tuple[tuple[int, str], ...] = ()

    def __str__(self) -> str:
        out = [f"{self.file}:{self.line}:{self.column}: {self.found}"]
        if self.text.strip():
            out.append(f"    {self.line:>4} | {self.text}")
            out.append("         | " + " " * (self.column - 1) + "^")
        for line, text in self.also:
            out.append(f"    {line:>4} | {text}")
        out.append(f"    expected {self.expected}")
        if self.hint:
            out.append(f"    {self.hint}")
        return "\n".join(out)


class LayoutError(PlumblineError):
    """The file cannot be read as a layout; `faults` holds everything wrong with it, in file order."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n\n".join(str(fault) for fault in faults) + f"\n\n{count}; nothing was checked.")


class SolveError(PlumblineError):
    """The flows could not be found. Carries what was reached, so that nobody takes it for an answer.

    `iterations` is the number of Newton steps taken, `residual` the largest energy residual [m of water] left,
    and `worst` names the place where it stands.
    """

    def __init__(self, message: str, *, iterations: int = 0, residual: float = float("nan"), worst: str = "") -> None:
        self.iterations = iterations
        self.residual = residual
        self.worst = worst
        super().__init__(message)
