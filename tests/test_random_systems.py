"""Random whole systems, each with one slip of the pen, through every command that takes a layout.

Whatever the file says, a command ends with status 0, 1 or 2, in a bounded time, and the user's file is as it was. A few
by default; `--systems N` runs so many, `--systems-from SEED` begins elsewhere, `--commands check,page` runs those alone, and
`--found FOLDER` keeps the file of each that fails instead of stopping there, one a line in its `found.txt`.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import io
import pkgutil
import re
import signal
import time
import traceback
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from types import FrameType, FunctionType, ModuleType
from unittest.mock import patch

import pytest
from random_systems import random_system, slipped, small_system

import plumbline
from plumbline.cli import _parser, main
from plumbline.hydraulics import solver
from plumbline.layout import layout_of, read_layout
from plumbline.page.walk.look import seen
from plumbline.page.walk.session import begin
from plumbline.page.watch import Live
from plumbline.upkeep.dead_legs import by_shape

LONGEST = 60.0
"""Seconds of the processor's time after which a command on so small a system is said to hang, however busy the machine is."""

MORE = {
    "balance": ["-o", "new.yaml"],
    "check": ["--all", "--defaults"],
    "day": ["--hours", "3"],
    "fouling": ["--months", "2"],
    "mishaps": ["--hours", "0.05"],
    "page": ["-o", "new.html", "--months", "2"],
    "parts": ["--csv", "new.csv"],
    "redesign": ["-o", "new.yaml", "--quick", "--minutes", "0.02"],
    "size": ["--fish", "2 kg/month", "-o", "new.yaml"],
    "sketch": ["-o", "new.svg"],
}
"""What a command is given besides the file, so that it has all its work to do; none where nothing is said."""


TORN = re.compile(
    r"(?<!\w)(?:nan|inf|None|-0\.?0*(?= |$))(?!\w)"
    r"|(?<![\w.,'] )(?<![\w.,])1 (?:bed|pump|line|vessel|place|piece|change|point|hour|minute|day|month|cap|tee|elbow|length|time|opening"
    r"|fitting|stretche|valve|plant|tank|hole|rod|brushe|part)s\b"
    r"|\b(?!had|that|is|tee|pump|cap|line|bed|raft|sump|airlift|header)([a-z]{2,}) \1\b",
    re.MULTILINE,
)
"""What no sentence for a reader holds: a number that is none, one of several, a word said twice."""


SHUT = """
vessels:
  sump: {base: 0 m, water: 0.5 m, rim: 0.8 m, area: 1 m^2}
  bed: {base: 1 m, water: 0.2 m, rim: 0.4 m, area: 1 m^2}
pumps:
  lift: {curve: [[0 L/min, 3 m], [40 L/min, 0.5 m]]}
lines:
  suction: {pipe: pvc 40, from: {vessel: sump, height: 0.05 m}, route: [south: 0.2 m, gate valve: shut, south: 0.3 m], to: lift}
  feed: {pipe: pvc 25, from: lift, route: [up: 1.5 m], to: bed}
"""
"""A pump with a shut valve before it."""


class TooLongError(BaseException):
    """The work went on and on. No `except Exception` of the program's own may swallow it."""


SHARED = ("read_layout", "find_flows", "how_sure", "follow_day", "flush_ways", "look_after", "check", "sketch")
"""What several commands begin with: of one file it is worked out once, and what it raises is raised again for each of them."""


class Remembered:
    """Functions that are called once with the same layout, and else answer what they had answered."""

    def __init__(self) -> None:
        self.known: dict[object, tuple[object, object, BaseException | None]] = {}

    def of(self, name: str, work: Callable[..., object]) -> Callable[..., object]:
        """The function of that name."""

        def remembered(*given: object, progress: object = None, **named: object) -> object:
            key = (name, *(one if isinstance(one, str) else id(one) for one in given), repr(sorted(named.items())))
            if key not in self.known:
                try:
                    self.known[key] = given, work(*given, **named), None
                except (Exception, TooLongError) as error:
                    self.known[key] = given, None, error
            _, answer, error = self.known[key]
            if error is not None:
                raise error
            return answer

        return remembered


@cache
def places_of_shared() -> list[tuple[ModuleType, str]]:
    """Where the program holds what is shared: all of its modules are loaded first, so that none takes over what a trial puts there."""
    loaded = [
        importlib.import_module(one.name)
        for one in pkgutil.walk_packages(plumbline.__path__, "plumbline.")
        if one.name != "plumbline.__main__"
    ]
    return [(module, name) for module in loaded for name in SHARED if isinstance(vars(module).get(name), FunctionType)]


@contextlib.contextmanager
def worked_out_once() -> Iterator[None]:
    """While this lasts, commands given the same file work out once what several of them begin with."""
    remembered = Remembered()
    with contextlib.ExitStack() as patches:
        for module, name in places_of_shared():
            patches.enter_context(patch.object(module, name, remembered.of(name, vars(module)[name])))
        yield


def commands() -> list[str]:
    """Every command that takes a layout, as the parser has them."""
    groups = next(one for one in _parser()._actions if isinstance(one, argparse._SubParsersAction))
    return sorted(name for name, one in groups.choices.items() if any(action.dest == "file" for action in one._actions))


@contextlib.contextmanager
def no_longer_than(seconds: float) -> Iterator[None]:
    def stop(_signal: int, frame: FrameType | None) -> None:
        raise TooLongError("".join(traceback.format_stack(frame)[-6:]))

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def run(command: str, folder: Path) -> str:
    """Run one command in a folder that holds layout.yaml alone; what is wrong, in words, or nothing."""
    file, more = folder / "layout.yaml", MORE.get(command, [])
    before = file.read_bytes()
    out, err = io.StringIO(), io.StringIO()
    wrong, status = "", -1
    try:
        with (
            contextlib.chdir(folder),
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
            patch("plumbline.cli._own_fault", lambda _: traceback.format_exc()),
            no_longer_than(LONGEST),
        ):
            if command == "watch":
                Live("layout.yaml").update()
                status = 0
            elif command == "walk":
                # As its page has it: the command itself would serve that until it is interrupted.
                seen(begin("layout.yaml").text, "layout.yaml")
                status = 0
            else:
                status = main([command, "layout.yaml", *more])
    except SystemExit as left:
        status = left.code if isinstance(left.code, int) else -1
    except TooLongError as over:
        wrong = f"hangs\n{over}"
    except Exception:
        wrong = traceback.format_exc()
    if not wrong and status not in (0, 1, 2):
        wrong = f"status {status}\n{err.getvalue()[-2000:]}"
    if not wrong and status == 2 and not err.getvalue().strip():
        wrong = "status 2 without a word"
    if not file.exists() or file.read_bytes() != before:
        wrong += "\nthe user's file is changed or lost"
        file.write_bytes(before)
    if not wrong and (torn := TORN.search(out.getvalue() + err.getvalue())):
        said = out.getvalue() + err.getvalue()
        wrong = f"says '{said[max(0, torn.start() - 60) : torn.end() + 30]}'"
    made = {one.name for one in folder.iterdir()} - {"layout.yaml"}
    wanted = {one for one in more if one.startswith("new.")}
    if not wrong and (made - wanted or (status == 0 and not made >= wanted) or (status == 2 and made)):
        wrong = f"status {status}, and these files are there: {sorted(made)}"
    for name in made:
        (folder / name).unlink()
    return wrong


@pytest.mark.invariant
def test_systems_without_a_slip_are_valid() -> None:
    for seed in range(60):
        layout_of(random_system(seed))
        layout_of(small_system(seed))


@pytest.mark.invariant
def test_every_command_that_takes_a_layout_is_run() -> None:
    assert {"check", "card", "balance", "redesign", "parts", "page", "sketch", "watch"} <= set(commands()) >= set(MORE)


@pytest.mark.invariant
def test_what_commands_share_is_worked_out_once_and_is_each_ones_own_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "layout.yaml").write_text(SHUT, encoding="utf-8")
    file = str(tmp_path / "layout.yaml")
    main(["check", file])
    alone = capsys.readouterr().out
    with worked_out_once(), patch("plumbline.hydraulics.solver._solve", wraps=solver._solve) as solved:
        main(["check", file])
        first, shared = solved.call_count, capsys.readouterr().out
        main(["check", file])
        assert 0 < first == solved.call_count
        assert capsys.readouterr().out == alone
    main(["check", file])
    assert alone == shared == capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.invariant
@pytest.mark.parametrize("made", [random_system, small_system], ids=["large", "small"])
def test_random_systems_go_through_every_command(
    request: pytest.FixtureRequest, tmp_path: Path, made: Callable[[int], str]
) -> None:
    number, first = request.config.getoption("--systems"), request.config.getoption("--systems-from")
    kept, only = request.config.getoption("--found"), request.config.getoption("--commands").split(",")
    failures = []
    for seed in range(first, first + number):
        text = slipped(seed, made)
        (tmp_path / "layout.yaml").write_bytes(text.encode("utf-8"))
        with worked_out_once():
            for command in [one for one in commands() if one in only or only == [""]]:
                began = time.process_time()
                wrong = run(command, tmp_path)
                took = time.process_time() - began
                if kept and took > LONGEST / 3.0:
                    note(Path(kept), f"slow {seed} {command} {took:.0f} s", seed, text)
                if wrong:
                    failures.append(f"seed {seed}, {command}: {wrong}")
                    if not kept:
                        pytest.fail(failures[0])
                    note(Path(kept), f"FAILS {seed} {command} {wrong.strip().splitlines()[-1]}", seed, text, wrong)
    assert not failures


def note(folder: Path, words: str, seed: int, text: str, wrong: str = "") -> None:
    """Keep a file with what was found with it."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{seed}.yaml").write_bytes(text.encode("utf-8"))
    with open(folder / "found.txt", "a", encoding="utf-8") as file:
        file.write(words + "\n")
    if wrong:
        with open(folder / f"{seed}.txt", "a", encoding="utf-8") as file:
            file.write(f"{words}\n{wrong}\n\n")


@pytest.mark.invariant
def test_a_shut_valve_before_a_pump_is_a_dead_leg_through_the_pump(tmp_path: Path) -> None:
    """What the trial found: pipe on both sides of a pump hangs together, so the way to its furthest point leads through it."""
    (tmp_path / "layout.yaml").write_text(SHUT, encoding="utf-8")
    lengths = sorted(leg.length for leg in by_shape(read_layout(tmp_path / "layout.yaml")))
    assert lengths == pytest.approx([0.2, 1.8])
    assert not run("check", tmp_path)
