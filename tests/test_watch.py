"""Checking again on every save, and what the page's own server gives and refuses."""

from __future__ import annotations

import http.client
import io
import threading
import time
import urllib.request
from pathlib import Path

import pytest
from checks import checked
from rich.console import Console

from plumbline.check import CheckResult
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.page.watch import Live, follow, serve
from plumbline.report.screen import print_verdict

LAYOUTS = Path(__file__).parent.parent / "layouts"


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    path = tmp_path / "mine.yaml"
    path.write_text((LAYOUTS / "siphon.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    return path


def fetched(address: str) -> str:
    with urllib.request.urlopen(address, timeout=5) as answer:
        assert answer.headers["Cache-Control"] == "no-store"
        return str(answer.read().decode("utf-8"))


@pytest.mark.invariant
def test_the_page_is_served_and_its_stamp_rises(layout: Path) -> None:
    live = Live(str(layout))
    assert isinstance(live.update(), CheckResult)
    with serve(live) as address:
        assert address.startswith("http://127.0.0.1:")
        assert fetched(address).startswith("<!DOCTYPE html>")
        assert "connect-src 'self'" in fetched(address)
        assert fetched(address + "stamp") == f"{live.run}.1 checked"
        assert f'<html data-stamp="{live.run}.1"' in fetched(address)
        layout.write_text("name: [", encoding="utf-8")
        assert isinstance(live.update(), PlumblineError)
        assert fetched(address + "stamp") == f"{live.run}.2 checked"
        assert "Cannot be checked" in fetched(address)


@pytest.mark.invariant
def test_a_page_opened_before_the_first_check_says_so(layout: Path) -> None:
    live = Live(str(layout))
    with serve(live) as address:
        assert "<strong>Checking</strong>" in fetched(address)
        assert fetched(address + "stamp") == f"{live.run}.0 checking"


def asked(address: str, path: str, host: str) -> int:
    where = http.client.HTTPConnection(address.removeprefix("http://").rstrip("/"), timeout=5)
    try:
        where.request("GET", path, headers={"Host": host})
        return where.getresponse().status
    finally:
        where.close()


@pytest.mark.invariant
def test_nothing_else_is_served_and_to_no_other_name(layout: Path) -> None:
    live = Live(str(layout), html="x", stamp=1)
    with serve(live) as address:
        port = address.rstrip("/").rpartition(":")[2]
        assert asked(address, "/", f"127.0.0.1:{port}") == 200
        assert asked(address, "/", f"localhost:{port}") == 200
        assert asked(address, "/", f"elsewhere.example:{port}") == 403
        assert asked(address, "/mine.yaml", f"127.0.0.1:{port}") == 404
        assert asked(address, "/../mine.yaml", f"127.0.0.1:{port}") == 404


@pytest.mark.invariant
def test_a_fault_with_markup_in_it_is_escaped(layout: Path) -> None:
    layout.write_text("name: <script>alert(1)</script>\nwater: <script>alert(1)</script>\n", encoding="utf-8")
    live = Live(str(layout))
    assert isinstance(live.update(), PlumblineError)
    assert live.html.count("<script") == 1
    assert "&lt;script&gt;" in live.html


@pytest.mark.invariant
@pytest.mark.slow
def test_every_save_is_checked(layout: Path) -> None:
    live = Live(str(layout))
    stop = threading.Event()
    told: list[CheckResult | PlumblineError] = []
    thread = threading.Thread(target=follow, args=(live, told.append), kwargs={"stop": stop}, daemon=True)
    thread.start()

    def until(count: int) -> None:
        late = time.monotonic() + 30.0
        while len(told) < count and time.monotonic() < late:
            time.sleep(0.05)
        assert len(told) >= count

    try:
        until(1)
        time.sleep(0.7)  # until the watcher has begun
        (layout.parent / "other.txt").write_text("nothing to do with it", encoding="utf-8")
        layout.write_text("name: [", encoding="utf-8")
        until(2)
        assert isinstance(told[-1], PlumblineError)
        # As editors save: a new file put in the old one's place.
        new = layout.parent / "mine.tmp"
        new.write_text((LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8"), encoding="utf-8")
        new.replace(layout)
        until(3)
        assert isinstance(told[-1], CheckResult)
        assert told[-1].layout.name == "Two-bed courtyard"
        layout.unlink()
        until(4)
        assert str(told[-1]) == f"'{layout}' is gone. It is checked again when it is back."
        assert live.state == "lost"
        layout.write_text((LAYOUTS / "siphon.yaml").read_text(encoding="utf-8"), encoding="utf-8")
        until(5)
        assert isinstance(told[-1], CheckResult)
        assert live.state == "checked"
    finally:
        stop.set()
        thread.join(timeout=10.0)
    assert not thread.is_alive()


@pytest.mark.pinned
def test_the_terminal_gets_a_few_lines() -> None:

    result = checked("tangle")
    console = Console(file=io.StringIO(), width=400, highlight=False)
    print_verdict(result, console)
    lines = console.file.getvalue().splitlines()  # type: ignore[attr-defined]
    assert len(lines) == 10
    assert lines[2].startswith("Six summers of additions: fails, ")
    assert lines[4].startswith("  fail ")
    assert lines[-1].startswith("  and ")


@pytest.mark.invariant
def test_names_are_no_markup_on_the_terminal(tmp_path: Path) -> None:
    from plumbline import check, read_layout

    path = tmp_path / "marked.yaml"
    text = (LAYOUTS / "siphon.yaml").read_text(encoding="utf-8")
    path.write_text(
        text.replace("fish tank", "'[red]tank[/red]'").replace("name: ", "name: '[bold]' #", 1), encoding="utf-8"
    )
    console = Console(file=io.StringIO(), width=200, highlight=False)
    print_verdict(check(read_layout(path)), console)
    said = console.file.getvalue()  # type: ignore[attr-defined]
    assert "[bold]: " in said
    assert "[red]tank[/red]" in said


@pytest.mark.pinned
def test_a_file_that_is_not_there_is_told_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["watch", "nowhere.yaml"]) == 2
    assert capsys.readouterr().err == "There is no file 'nowhere.yaml'.\n"


@pytest.mark.pinned
def test_a_folder_is_told_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["watch", str(tmp_path)]) == 2
    assert capsys.readouterr().err == f"'{tmp_path}' is a folder. Give the layout file in it.\n"


@pytest.mark.pinned
def test_a_port_in_use_is_told(layout: Path) -> None:
    with serve(Live(str(layout))) as address:
        again = serve(Live(str(layout)), int(address.rstrip("/").rpartition(":")[2]))
        with pytest.raises(PlumblineError, match="cannot be listened on"):
            again.__enter__()
