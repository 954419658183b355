"""What reaches a terminal, a file or a pipe: no name steers it, no letter stops it, and whatever happens is one sentence."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from plumbline import cli
from plumbline.cli import main
from plumbline.streams import STEERS, shown

LAYOUTS = Path(__file__).parent.parent / "layouts"
PROGRAM = [sys.executable, "-m", "plumbline"]

EVIL = "\\x1b[31mA\\x1b]0;t\\a\\u202eb\\x9b2J\\u2066\\x7f"
"""As it is typed in a layout: colour, window title, the direction turned, the screen cleared."""

HOSTILE = f"""
name: "n{EVIL}"
water: 20 degC
vessels:
  "v{EVIL}": {{holds: fish, base: 0 m, rim: 1 m, water: 0.8 m, area: 1 m^2}}
  "w{EVIL}": {{holds: plants, base: 1.2 m, rim: 0.3 m, water: 0.2 m, area: 1 m^2, wants: 30 L/min}}
pumps:
  "p{EVIL}": {{in: "v{EVIL}", height: 0 m, power: 40 W, curve: [[0 L/min, 3 m], [40 L/min, 0.6 m]]}}
electricity: {{price: 0.3, currency: "c{EVIL}"}}
rods:
  "r{EVIL}": {{length: 4 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 20 mm to 55 mm}}
lines:
  "l{EVIL}":
    pipe: pvc 25
    from: "p{EVIL}"
    route: [up: 1.9 m, {{cap: {{id: "c{EVIL}", faces: up}}}}, east: 1 m, {{ball valve: "k{EVIL}"}}, east: 1 m, elbow, down: 0.2 m]
    to: "w{EVIL}"
  "d{EVIL}":
    pipe: pvc 50
    from: {{vessel: "w{EVIL}", standpipe: 0.2 m}}
    route: [down: 0.7 m, elbow, {{west: 2 m, down: 50 mm}}, elbow, down: 0.2 m]
    to: "v{EVIL}"
"""

COMMANDS = {
    "check": ["check", "FILE", "--all", "--defaults"],
    "check json": ["check", "FILE", "--json"],
    "card": ["card", "FILE"],
    "balance": ["balance", "FILE"],
    "redesign": ["redesign", "FILE", "--all", "--quick"],
    "pumps": ["pumps", "FILE"],
    "airlift": ["airlift", "FILE"],
    "parts": ["parts", "FILE"],
    "fouling": ["fouling", "FILE", "--months", "3"],
    "flush": ["flush", "FILE"],
    "current": ["current", "FILE"],
    "size": ["size", "FILE", "--fish", "2 kg/month"],
}


NAMELESS = ("current", "size")
"""Commands that say no name of this layout: it has no spray bar, and a size has no names."""


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    path = tmp_path / "evil\x1b[2J\u202e.yaml"
    path.write_text(HOSTILE, encoding="utf-8")
    return path


def on_a_terminal(arguments: list[str], encoding: str = "utf-8") -> tuple[int, bytes]:
    """Run the program on a terminal of its own; its status and all that it wrote there."""
    ours, theirs = pty.openpty()
    environment = {**os.environ, "PYTHONIOENCODING": encoding, "TERM": "xterm", "COLUMNS": "120"}
    with subprocess.Popen([*PROGRAM, *arguments], stdin=theirs, stdout=theirs, stderr=theirs, env=environment) as run:
        os.close(theirs)
        out = b""
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                break
            if not piece:
                break
            out += piece
    os.close(ours)
    return run.returncode, out


@pytest.mark.some(3)
@pytest.mark.invariant
@pytest.mark.parametrize("command", COMMANDS)
def test_a_name_steers_nothing_into_a_file(command: str, hostile: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status = main([str(hostile) if word == "FILE" else word for word in COMMANDS[command]])
    told = capsys.readouterr()
    assert status in (0, 1), told.err
    assert told.err == ""
    assert STEERS.findall(told.out) == []
    assert ("\\u001b[31m" if "--json" in COMMANDS[command] else "\\x1b[31m") in told.out or command in NAMELESS
    if "--json" in COMMANDS[command]:
        assert json.loads(told.out)["layout"] == "n\x1b[31mA\x1b]0;t\x07\u202eb\x9b2J\u2066\x7f"


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_a_name_steers_no_terminal(command: str, hostile: Path) -> None:
    status, out = on_a_terminal([str(hostile) if word == "FILE" else word for word in COMMANDS[command]])
    assert status in (0, 1)
    text = out.decode("utf-8")
    for steers in ("\x1b[31mA", "\x1b]0;t", "\x07", "\u202e", "\x9b", "\u2066", "\x7f", "\x1b[2J"):
        assert steers not in text
    assert "[31mA" in text or command in NAMELESS


@pytest.mark.invariant
@pytest.mark.parametrize(
    "said", [["check", "FILE"], ["check", "FILE.no"], ["explain", "FILE"], ["FILE"], ["size", "--fish", "3 \x1b[31m"]]
)
def test_what_was_typed_steers_nothing_when_it_is_wrong(
    said: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "f\x1b[31m\u202e\udcff.yaml"
    Path(os.fsdecode(os.fsencode(path))).write_text("lines: {a: 3}\n", encoding="utf-8")
    try:
        status = main([word.replace("FILE", str(path)) for word in said])
    except SystemExit as stopped:
        status = int(str(stopped.code))
    told = capsys.readouterr()
    assert status == 2
    assert told.out == ""
    assert "\\x1b[31m" in told.err or "\N{REPLACEMENT CHARACTER}[31m" in told.err
    assert STEERS.findall(told.err) == []


@pytest.mark.invariant
def test_a_name_has_room_in_a_table_for_what_it_is_shown_as(hostile: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["balance", str(hostile)]) in (0, 1)
    rows = capsys.readouterr().out.split("What each vessel gets")[1].splitlines()
    assert any(row.startswith(shown("w\x1b[31mA\x1b]0;t\u202eb\x9b2J\u2066\x7f  30.0 L/min")) for row in rows)


@pytest.mark.invariant
def test_what_is_no_control_is_shown_as_it_is() -> None:
    for text in ("Blüte", "水槽", "خزان الأسماك", "बिस्तर", "\U0001f41f bed\twith\ntwo lines", "می‌خواهم"):
        assert shown(text) == text


@pytest.mark.invariant
@pytest.mark.parametrize(
    "encoding", ["ascii", *(pytest.param(name, marks=pytest.mark.slow) for name in ("latin-1", "cp1252", "utf-8"))]
)
def test_into_a_file_it_is_utf_8_whatever_the_terminal(encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_text(
        (LAYOUTS / "siphon.yaml").read_text(encoding="utf-8").replace("fish tank", "水槽 ½ Blüte"), encoding="utf-8"
    )
    run = subprocess.run(
        [*PROGRAM, "check", str(path)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        check=False,
    )
    assert run.returncode == 1
    assert run.stderr == b""
    assert "水槽 ½ Blüte" in run.stdout.decode("utf-8")


@pytest.mark.some(1)
@pytest.mark.invariant
@pytest.mark.parametrize(
    ("encoding", "name"),
    [("ascii", "?? 1/2 Blute 90 deg"), ("latin-1", "?? ½ Blüte 90°"), ("cp1252", "?? ½ Blüte 90°")],
)
def test_a_terminal_is_shown_what_it_can_show(encoding: str, name: str, tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    text = (LAYOUTS / "siphon.yaml").read_text(encoding="utf-8")
    path.write_text(text.replace("fish tank", "水槽 ½ Blüte 90°"), encoding="utf-8")
    status, out = on_a_terminal(["check", str(path)], encoding)
    assert status == 1
    assert name in out.decode(encoding)
    status, out = on_a_terminal(["check", str(tmp_path / "½ nowhere °.yaml")], encoding)
    assert status == 2
    assert b"Traceback" not in out


# ---------------------------------------------------------------------- nobody listens, no room


def run(script: str) -> subprocess.CompletedProcess[str]:
    """Run a line of the shell in which "plumbline" is the program and "FILE" a layout that fails."""
    line = script.replace("plumbline", " ".join(PROGRAM)).replace("FILE", str(LAYOUTS / "siphon.yaml"))
    return subprocess.run(["bash", "-c", line], capture_output=True, text=True, check=False)


@pytest.mark.some(2)
@pytest.mark.invariant
@pytest.mark.parametrize(
    ("script", "status", "said"),
    [
        ("plumbline check FILE > /dev/full", 2, "The answer cannot be written: No space left on device.\n"),
        pytest.param(
            "plumbline check FILE --json > /dev/full",
            2,
            "The answer cannot be written: No space left on device.\n",
            marks=pytest.mark.slow,
        ),
        ("plumbline --help > /dev/full", 2, "The answer cannot be written: No space left on device.\n"),
        ("plumbline check FILE >&-", 2, "The answer cannot be written: standard output is closed.\n"),
        pytest.param("plumbline check FILE >&- 2>&-", 2, "", marks=pytest.mark.slow),
        ("plumbline check nowhere.yaml 2>&-", 2, ""),
        pytest.param("plumbline check nowhere.yaml 2> /dev/full", 2, "", marks=pytest.mark.slow),
        ("plumbline check FILE <&- > /dev/null", 1, ""),
        ("cd $(mktemp -d) && plumbline new -o n.yaml <&- > /dev/null && test -s n.yaml", 0, ""),
        (
            "d=$(mktemp -d) && cd $d && rmdir $d && plumbline sketch FILE -o x.svg",
            2,
            "'x.svg' cannot be written: No such file or directory.\n",
        ),
        ("plumbline check FILE | true; exit ${PIPESTATUS[0]}", 1, ""),
        pytest.param(
            "plumbline check FILE --json | head -c 1 > /dev/null; exit ${PIPESTATUS[0]}", 1, "", marks=pytest.mark.slow
        ),
    ],
)
def test_where_it_cannot_be_written_is_said_plainly(script: str, status: int, said: str) -> None:
    done = run(script)
    assert (done.returncode, done.stdout, done.stderr) == (status, "", said)


@pytest.mark.invariant
def test_with_everything_closed_a_picture_is_still_whole(tmp_path: Path) -> None:
    assert run(f"plumbline sketch FILE -o {tmp_path}/out.svg <&- >&- 2>&-").returncode == 0
    assert (tmp_path / "out.svg").read_bytes().endswith(b"</svg>\n")


@pytest.mark.invariant
def test_nothing_typed_where_an_answer_is_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def none(_: str) -> str:
        raise EOFError

    monkeypatch.setattr("plumbline.start.asking.wish_from", lambda *_, **__: none(""))
    assert main(["new", "-o", "nowhere.yaml"]) == 2
    assert capsys.readouterr().err == "stopped: no answer came\n"
    assert not os.path.exists("nowhere.yaml")


# ---------------------------------------------------------------------- the outermost place


@pytest.mark.invariant
@pytest.mark.parametrize(
    "error", [ZeroDivisionError("x"), RecursionError("deep"), MemoryError(), KeyError("a\nb"), AssertionError()]
)
def test_what_nobody_foresaw_is_one_sentence_and_status_3(
    error: Exception, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fall(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr("plumbline.layout._layout", fall)
    assert main(["check", str(LAYOUTS / "siphon.yaml")]) == 3
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert f"itself is at fault here ({type(error).__name__} in " in told.err
    assert "please send this sentence, the command and the layout" in told.err


@pytest.mark.invariant
def test_an_interrupt_is_no_fault(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_run", stop)
    assert main(["check", "x"]) == 130
    assert capsys.readouterr().err == "stopped\n"


@pytest.mark.invariant
@pytest.mark.slow
def test_an_interrupt_in_the_first_second_leaves_no_traceback() -> None:
    """From when the interpreter itself has started, which no program has a say in."""
    stopped = 0
    for wait in range(12):
        script = "print(flush=True); import runpy; runpy.run_module('plumbline', run_name='__main__', alter_sys=True)"
        command = [
            sys.executable,
            "-c",
            f"import sys; sys.argv[1:] = ['check', {str(LAYOUTS / 'tangle.yaml')!r}]; {script}",
        ]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(0.06 + 0.08 * wait)
            process.send_signal(signal.SIGINT)
            _, told = process.communicate()
        assert "Traceback" not in told
        stopped += process.returncode == 130
    assert stopped >= 6


SCRIPTS = "水槽 한국 خزان बिस्तर บ่อ தொட்டி ტანკი 🐟 𝄞 ⠿ \U000a1b2c \ue000"
"""A name in scripts for which no one font has the letters; the last two are no letters at all."""


@pytest.mark.invariant
@pytest.mark.slow
def test_a_name_in_any_script_draws_without_a_librarys_remarks(tmp_path: Path) -> None:
    path = tmp_path / "scripts.yaml"
    text = (LAYOUTS / "marginal_pump.yaml").read_text(encoding="utf-8")
    path.write_text(text.replace("tank", SCRIPTS).replace("bed", f"{SCRIPTS} 2"), encoding="utf-8")
    for command, more in (("page", ["--months", "2"]), ("sketch", [])):
        out = tmp_path / f"{command}.out"
        made = subprocess.run(
            [*PROGRAM, command, str(path), "-o", str(out), *more], capture_output=True, text=True, check=False
        )
        assert (made.stdout, made.stderr) == ("", "")
        # The library's own warnings are errors here, where the program lets none through.
        os.remove(out)
        assert main([command, str(path), "-o", str(out), *more]) in (0, 1)
        assert "水槽" in out.read_text(encoding="utf-8")
