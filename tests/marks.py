"""What each test rests on: one of four marks, counted for DEVELOPERS.md and asked of every test that is collected."""

from __future__ import annotations

import ast
import tomllib
from collections import Counter
from pathlib import Path

_REGISTERED = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text(encoding="utf-8"))
_SAID = dict(line.split(": ", 1) for line in _REGISTERED["tool"]["pytest"]["ini_options"]["markers"])

MARKS = {mark: _SAID[mark] for mark in ("published", "second_method", "invariant", "pinned")}
"""The marks, and what each says of a test."""


def table() -> str:
    """How many tests bear each mark, to the nearest ten, as a table in Markdown. A test that is run on many cases counts once."""
    counted: Counter[str] = Counter()
    for path in Path(__file__).parent.glob("test_*.py"):
        for test in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(test, ast.FunctionDef) and test.name.startswith("test_"):
                counted.update(MARKS.keys() & {ast.unparse(one).rpartition(".")[2] for one in test.decorator_list})
    rows = [f"| `{mark}` | about {round(counted[mark], -1)} | {says} |" for mark, says in MARKS.items()]
    return "\n".join(["| mark | tests | what they compare with |", "| --- | --- | --- |", *rows])
