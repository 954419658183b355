"""Writing files: whole or not at all, over nothing that is read and nothing of another kind, and refused before the work."""

from __future__ import annotations

import argparse
import os
import re
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from plumbline import cli, files
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.files import Kind, new_file

LAYOUTS = Path(__file__).parent.parent / "layouts"

WRITERS = {
    "sketch": ["sketch", "own.yaml", "--force", "-o"],
    "page": ["page", "own.yaml", "--force", "-o"],
    "redesign": ["redesign", "own.yaml", "--force", "-o"],
    "balance": ["balance", "own.yaml", "-o"],
    "diagnose": ["diagnose", "own.yaml", "-o"],
    "fouling": ["fouling", "own.yaml", "--readings", "own.yaml", "-o"],
    "size": ["size", "own.yaml", "--fish", "2 kg/month", "-o"],
    "parts": ["parts", "own.yaml", "--csv"],
    "new": ["new", "--system", "raft", "-o"],
}
"""A command line for each command that writes a file, but for the file's name."""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a layout in it."""
    shutil.copy(LAYOUTS / "siphon.yaml", tmp_path / "own.yaml")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def no_work(*_: object, **__: object) -> None:
    raise AssertionError("the work was begun")


@pytest.mark.invariant
def test_nothing_else_writes_files() -> None:
    writes = re.compile(
        r"""open\([^)]*["'][rb]*[wax+]|\.write_(text|bytes)\(|os\.(replace|rename|link)\(|shutil\.(copy|move)|tempfile"""
    )
    package = Path(files.__file__).parent
    found = {path.name for path in package.rglob("*.py") if writes.search(path.read_text(encoding="utf-8"))}
    assert found == {"files.py"}


@pytest.mark.invariant
def test_every_command_that_writes_is_tried_here() -> None:
    commands = next(one for one in cli._parser()._actions if isinstance(one, argparse._SubParsersAction)).choices
    writes = {name for name, parser in commands.items() if {"-o", "--csv"} & set(parser._option_string_actions)}
    assert writes == set(WRITERS)


@pytest.mark.invariant
@pytest.mark.parametrize("command", [name for name in WRITERS if name != "new"])
@pytest.mark.parametrize("spelling", ["itself", "dots", "absolute", "symbolic link", "hard link"])
def test_what_is_read_is_never_written_over(
    command: str, spelling: str, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    out = {"itself": "own.yaml", "dots": "./x/../own.yaml", "absolute": str(folder / "own.yaml")}.get(
        spelling, "other.svg"
    )
    (folder / "x").mkdir()
    if spelling == "symbolic link":
        (folder / out).symlink_to("own.yaml")
    elif spelling == "hard link":
        os.link("own.yaml", out)
    monkeypatch.setattr("plumbline.layout._layout", no_work)
    text = (folder / "own.yaml").read_bytes()
    assert main([*WRITERS[command], out]) == 2
    assert capsys.readouterr().err == (
        f"'{out}' is the file that is read, 'own.yaml', which is never written over. Give another name.\n"
    )
    assert (folder / "own.yaml").read_bytes() == text


@pytest.mark.invariant
def test_what_is_shown_beside_it_and_prices_are_read_too(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy("own.yaml", "after.yaml")
    Path("prices.yaml").write_text("elbow: {pvc 25: 1}\n", encoding="utf-8")
    assert main(["page", "own.yaml", "--after", "after.yaml", "-o", "after.yaml", "--force"]) == 2
    assert main(["redesign", "own.yaml", "--prices", "prices.yaml", "-o", "prices.yaml", "--force"]) == 2
    assert main(["parts", "own.yaml", "--prices", "prices.yaml", "--csv", "prices.yaml"]) == 2
    assert capsys.readouterr().err.count("is the file that is read") == 3
    assert Path("prices.yaml").read_text(encoding="utf-8") == "elbow: {pvc 25: 1}\n"


@pytest.mark.invariant
@pytest.mark.parametrize("command", WRITERS)
@pytest.mark.parametrize("there", ["a file", "a dangling link", "a folder", "no folder", "no name"])
def test_it_is_refused_before_the_work(
    command: str, there: str, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    words = [word for word in WRITERS[command] if word != "--force"]
    out = {"no folder": "nowhere/out", "no name": "-", "a folder": "sub"}.get(there, "out")
    said = {"no folder": "there is no folder", "no name": "is no name for a file", "a folder": "is a folder"}
    (folder / "sub").mkdir()
    if there == "a file":
        Path(out).write_text("mine", encoding="utf-8")
    elif there == "a dangling link":
        Path(out).symlink_to("not there")
    for work in ("plumbline.layout._layout", "plumbline.husbandry.read.read_wish", "plumbline.start.asking.wish_from"):
        monkeypatch.setattr(work, no_work)
    assert main([*words, out]) == 2
    assert said.get(there, "is there already") in capsys.readouterr().err
    if there == "a file":
        assert Path(out).read_text(encoding="utf-8") == "mine"


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("kind", "held", "said"),
    [
        ("picture", "vessels: {tank: {base: 0 m, water: 1 m}}\n", "holds a layout"),
        ("page", "name: x\nlines:\n  a: {}\n", "holds a layout"),
        ("page", '{"lines": {}}', "holds a layout"),
        ("layout", "<!DOCTYPE html><title>x</title>", "holds a page"),
        ("layout", '<?xml version="1.0"?>\n<svg/>', "holds a picture"),
        ("picture", "<!doctype html>\nlines: 3", "holds a"),
    ],
)
def test_force_puts_nothing_in_the_place_of_another_kind(kind: Kind, held: str, said: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.write_text(held, encoding="utf-8")
    with pytest.raises(PlumblineError, match=said):
        new_file(out, kind, over=True)
    assert out.read_text(encoding="utf-8") == held


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_what_the_commands_write_is_known_again(folder: Path) -> None:
    for command, kind in (("sketch", "picture"), ("page", "page"), ("parts", "table"), ("new", "layout")):
        out = f"{command}.out"
        main([*WRITERS[command], out])
        for other in ("layout", "picture", "page", "table"):
            if other == kind:
                new_file(out, kind, over=True)
            else:
                with pytest.raises(PlumblineError, match=f"holds a {kind}"):
                    new_file(out, other, over=True)


@pytest.mark.invariant
def test_a_device_or_pipe_is_no_file_to_put_another_in_place_of(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for special in ("/dev/null", tmp_path / "pipe"):
        with pytest.raises(PlumblineError, match="no ordinary file"):
            new_file(special, "page", over=True)


@pytest.mark.invariant
def test_a_link_that_leads_nowhere_is_told_before_the_work(tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(PlumblineError, match="a link that leads round to itself"):
        new_file(tmp_path / "loop", "page", over=True)


@pytest.mark.invariant
def test_force_writes_through_a_link_and_keeps_the_mode(tmp_path: Path) -> None:
    real, link = tmp_path / "sub" / "real.svg", tmp_path / "link.svg"
    real.parent.mkdir()
    real.write_text("<svg/>", encoding="utf-8")
    real.chmod(0o640)
    link.symlink_to("sub/real.svg")
    new_file(link, "picture", over=True).write("<svg>new</svg>")
    assert link.is_symlink()
    assert real.read_text(encoding="utf-8") == "<svg>new</svg>"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert sorted(path.name for path in real.parent.iterdir()) == ["real.svg"]


@pytest.mark.invariant
def test_force_makes_what_a_link_points_to(tmp_path: Path) -> None:
    link = tmp_path / "link.svg"
    link.symlink_to("real.svg")
    new_file(link, "picture", over=True).write("<svg/>")
    assert link.is_symlink()
    assert (tmp_path / "real.svg").read_text(encoding="utf-8") == "<svg/>"


@pytest.mark.invariant
@pytest.mark.parametrize("over", [None, False, True])
def test_it_works_without_hard_links(over: bool | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    out = tmp_path / "out.svg"
    new_file(out, "picture", over=over).write("<svg/>")
    assert out.read_text(encoding="utf-8") == "<svg/>"
    assert [path.name for path in tmp_path.iterdir()] == ["out.svg"]


@pytest.mark.invariant
def test_without_hard_links_what_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no)
    monkeypatch.setattr(os, "replace", no)
    with pytest.raises(PlumblineError, match="cannot be written: Operation not permitted"):
        new_file(tmp_path / "out.svg", "picture").write("<svg/>")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.invariant
def test_a_file_that_comes_while_the_work_is_done_is_kept(tmp_path: Path) -> None:
    out = tmp_path / "out.svg"
    file = new_file(out, "picture")
    out.write_text("mine", encoding="utf-8")
    with pytest.raises(PlumblineError, match="is there already"):
        file.write("<svg/>")
    assert out.read_text(encoding="utf-8") == "mine"


KILLED = """
import os, signal, sys
from plumbline import files
os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)
files.new_file(sys.argv[1], "picture").write("<svg/>")
"""


@pytest.mark.invariant
def test_the_draft_of_a_killed_run_is_cleared_by_the_next(tmp_path: Path) -> None:
    assert subprocess.run([sys.executable, "-c", KILLED, str(tmp_path / "out.svg")], check=False).returncode == -9
    assert len(list(tmp_path.iterdir())) == 1
    new_file(tmp_path / "other.svg", "picture").write("<svg/>")
    assert [path.name for path in tmp_path.iterdir()] == ["other.svg"]


@pytest.mark.invariant
def test_the_draft_of_a_run_at_work_is_let_be(tmp_path: Path) -> None:
    with files._draft(str(tmp_path), "<svg/>") as draft:
        new_file(tmp_path / "other.svg", "picture").write("<svg/>")
        assert os.path.exists(draft)
    assert [path.name for path in tmp_path.iterdir()] == ["other.svg"]


@pytest.mark.invariant
def test_an_interrupt_while_writing_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    with pytest.raises(KeyboardInterrupt):
        new_file(tmp_path / "out.svg", "picture").write("<svg/>")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.invariant
def test_a_disk_that_is_full_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: object) -> None:
        raise OSError(28, "No space left on device")

    out = tmp_path / "out.svg"
    out.write_text("<svg>old</svg>", encoding="utf-8")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(PlumblineError, match="cannot be written: No space left on device"):
        new_file(out, "picture", over=True).write("<svg/>")
    assert out.read_text(encoding="utf-8") == "<svg>old</svg>"
    assert [path.name for path in tmp_path.iterdir()] == ["out.svg"]


@pytest.mark.invariant
def test_only_drafts_are_cleared(tmp_path: Path) -> None:
    """Neither what is called otherwise, nor a link, nor a folder of that name."""
    name = f".{'0' * 16}{files._DRAFT}"
    (tmp_path / "mine").write_text("mine", encoding="utf-8")
    (tmp_path / f"notes{files._DRAFT}").write_text("mine", encoding="utf-8")
    (tmp_path / name).symlink_to("mine")
    (tmp_path / name.replace("0", "1")).mkdir()
    before = sorted(path.name for path in tmp_path.iterdir())
    new_file(tmp_path / "out.svg", "picture").write("<svg/>")
    assert sorted([*before, "out.svg"]) == sorted(path.name for path in tmp_path.iterdir())
