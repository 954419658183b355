"""What the slow model made of the random systems and days, kept in `data/slow_answers.json` for as long as the model is as it was.

Its answer hangs on nothing but its own source and a seed, and takes seconds; nothing of the program is in it. An answer that was made
by other source is worked out anew. `python tests/slow_answers.py` writes all of them; `test_slow_water.py` works some out again.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from functools import cache, partial
from hashlib import sha256
from pathlib import Path
from typing import Any

__all__ = ["DAYS", "RECORD", "SYSTEMS", "course_of", "model", "recorded"]

FOLDER = Path(__file__).parent
RECORD = FOLDER / "data" / "slow_answers.json"
SOURCE = ("slow_water.py", "slow_reader.py", "water_systems.py", "water_days.py")
SYSTEMS, DAYS = range(240), range(6)
DIGITS = 10


@cache
def model() -> str:
    """What the slow model and the systems drawn for it are told by."""
    source = "".join((FOLDER / name).read_text(encoding="utf-8") for name in SOURCE)
    return sha256(source.encode()).hexdigest()


@cache
def _record() -> dict[str, Any]:
    record = json.loads(RECORD.read_text(encoding="utf-8")) if RECORD.exists() else {}
    return record.get("answers", {}) if record.get("model") == model() else {}


def recorded(name: str, solve: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """The answer of that name, from the record or, where it is not of the model as it is, worked out."""
    known = _record().get(name)
    return solve() if known is None else known


def _short(value: Any) -> Any:
    """Numbers to ten digits."""
    if isinstance(value, dict):
        return {key: _short(one) for key, one in value.items()}
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value


def main() -> None:
    """Work out all that is not in the record yet, and write it down."""
    import water_days
    from water_systems import solved_system

    work: dict[str, Callable[[], dict[str, Any]]] = {f"system {n}": partial(solved_system, n) for n in SYSTEMS}
    work |= {f"day {n}": partial(water_days.solved_day, n) for n in DAYS}
    work |= {day.name: partial(course_of, day.text, day.hours) for day in water_days.DAYS}
    answers = {name: _short(recorded(name, solve)) for name, solve in work.items()}
    rows = ",\n".join(f"{json.dumps(name)}: {json.dumps(answer)}" for name, answer in answers.items())
    RECORD.write_text(f'{{"model": "{model()}", "answers": {{\n{rows}\n}}}}\n', encoding="utf-8")


def course_of(text: str, hours: float) -> dict[str, Any]:
    """A layout's hours by the slow model."""
    from water_days import followed

    return asdict(followed(text, hours))


if __name__ == "__main__":
    main()
