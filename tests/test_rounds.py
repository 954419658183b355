"""A mender's rounds: what stands in the table is what each file's own check and card say, and what is due is counted by hand."""

from __future__ import annotations

import json
import os
import shutil
from datetime import date, datetime
from pathlib import Path

import pytest

from plumbline import check, read_layout
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.report.rounds import rounds_as_json
from plumbline.rounds import _files, make_rounds, visit
from plumbline.upkeep.card import wall_card
from plumbline.upkeep.fouling import fouling

LAYOUTS = Path(__file__).parent.parent / "layouts"
DAY = date(2026, 9, 1)
VISIT = "readings:\n  - {vessel: tank, depth: 0.8 m}\n"


def put(folder: Path, name: str, when: date) -> Path:
    """A copy of an example, last changed on a day."""
    path = folder / f"{name}.yaml"
    folder.mkdir(exist_ok=True)
    shutil.copy(LAYOUTS / f"{name}.yaml", path)
    changed(path, when)
    return path


def changed(path: Path, when: date) -> None:
    seconds = datetime(when.year, when.month, when.day, 12).timestamp()
    os.utime(path, (seconds, seconds))


@pytest.fixture
def clients(tmp_path: Path) -> Path:
    """Three systems and a file that is none; a hidden one, a visit and a note are left out."""
    put(tmp_path, "troughs", date(2026, 5, 1))
    put(tmp_path, "siphon", DAY)
    put(tmp_path / "old", "timer_bed", DAY)
    for name, text in (
        ("broken.yaml", "lines: 3\n"),
        (".hidden.yaml", "lines: 3\n"),
        ("visit.yaml", VISIT),
        ("notes.txt", "call again\n"),
    ):
        (tmp_path / name).write_text(text, encoding="utf-8")
        changed(tmp_path / name, DAY)
    return tmp_path


@pytest.mark.invariant
def test_a_file_of_a_visit_is_no_system(clients: Path) -> None:
    assert [Path(file).name for file in _files(clients)] == [
        "broken.yaml",
        "timer_bed.yaml",
        "siphon.yaml",
        "troughs.yaml",
    ]


@pytest.mark.second_method
@pytest.mark.slow
def test_the_table_says_what_each_check_says(clients: Path) -> None:
    stops = {Path(stop.file).stem: stop for stop in make_rounds(clients, today=DAY, cores=1)}
    assert set(stops) == {"troughs", "siphon", "timer_bed", "broken"}
    for name in ("troughs", "siphon", "timer_bed"):
        result = check(read_layout(LAYOUTS / f"{name}.yaml"))
        assert stops[name].verdict == result.verdict
        assert stops[name].points == pytest.approx(result.score.points)
        worst = [one for one in result.findings if one.level != "advice"]
        assert (stops[name].why, stops[name].do) == ((worst[0].message, worst[0].cure) if worst else ("", ""))
    assert stops["broken"].verdict == "unread"
    assert stops["broken"].why == "line 1: 'lines' is '3'"
    assert stops["troughs"].since == date(2026, 5, 1)


@pytest.mark.invariant
@pytest.mark.slow
def test_the_worst_come_first_and_every_file_stands_in_it(clients: Path) -> None:
    seen: list[tuple[int, int]] = []
    stops = make_rounds(clients, today=DAY, cores=1, progress=lambda n, of, _: seen.append((n, of)))
    order = [stop.verdict for stop in stops]
    assert order == sorted(order, key=("fail", "unread", "attention", "ok").index)
    assert order[0] == "fail"
    assert seen == [(n, 4) for n in range(1, 5)]


@pytest.mark.second_method
def test_what_is_due_is_counted_from_the_last_change(tmp_path: Path) -> None:
    """The card's rounds come every so many months; 1 June to 1 September are 92 days, 3.02 months of 30.44 days."""
    path = put(tmp_path, "troughs", date(2026, 6, 1))
    result = check(read_layout(path))
    card = wall_card(result.layout, result.flows, result.upkeep)
    (due,) = visit(str(path), DAY, 1.0).due
    longest = [one for one in card.routine.visits if one.every <= 92 / 30.44 + 1.0][-1]
    assert (due.every, due.minutes) == (longest.every, longest.minutes)
    assert due.months == pytest.approx(92 / 30.44 - longest.every)
    assert visit(str(path), date(2026, 6, 2), 0.0).due == ()
    assert visit(str(path), date(2026, 6, 2), 0.0).carry == ()


@pytest.mark.second_method
@pytest.mark.slow
def test_fouling_is_due_when_the_whole_course_says(tmp_path: Path) -> None:
    """The tangle's lettuce bed, by all three rates of `plumbline fouling`; here by the likely one alone."""
    path = put(tmp_path, "tangle", date(2026, 3, 1))
    layout = read_layout(path)
    first = fouling(layout, {}, months=7).first
    assert first is not None
    stop = visit(str(path), DAY, 1.0)
    (due,) = [one for one in stop.due if one.every is None]
    assert due.what.startswith(f"'{first.vessel}'")
    month = first.short_after["likely"]
    assert month is not None
    assert due.months == pytest.approx((DAY - date(2026, 3, 1)).days / 30.44 - month)


@pytest.mark.invariant
@pytest.mark.slow
def test_all_cores_say_what_one_says(clients: Path) -> None:
    assert make_rounds(clients, today=DAY, cores=2) == make_rounds(clients, today=DAY, cores=1)


@pytest.mark.pinned
def test_a_folder_without_layouts_is_said_plainly(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(PlumblineError, match=r"no file in it ends in \.yaml or \.yml"):
        make_rounds(tmp_path)
    assert main(["rounds", str(tmp_path / "nowhere")]) == 2
    assert "is no folder. Give one that holds layouts" in capsys.readouterr().err


@pytest.mark.invariant
def test_one_broken_file_is_a_row_and_not_the_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "broken.yml").write_bytes(b"\xff\xfe\x00 lines")
    assert main(["rounds", str(tmp_path)]) == 1
    told = capsys.readouterr().out
    assert "1 system: 1 cannot be read" in told
    assert "Traceback" not in told


@pytest.mark.invariant
def test_the_promise_to_other_programs(tmp_path: Path) -> None:
    put(tmp_path, "troughs", date(2026, 5, 1))
    told = json.loads(json.dumps(rounds_as_json(make_rounds(tmp_path, today=DAY, cores=1))))
    (system,) = told["systems"]
    assert set(system) == {"file", "name", "verdict", "since", "points", "why", "do", "due", "carry"}
    assert system["since"] == "2026-05-01"
    assert system["due"][0]["months_over"] > 0.0
