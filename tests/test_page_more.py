"""What stands on the page beside the check: the wall card, the fouling, the parts, and a redesign."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from plumbline import check, read_layout
from plumbline.cli import main
from plumbline.page.extras import extras_of
from plumbline.page.more import Extras
from plumbline.page.page import page
from plumbline.report.card import job_words

LAYOUTS = Path(__file__).parent.parent / "layouts"
ANCHORS = ("card", "fouling", "redesign", "parts")


def section(text: str, anchor: str) -> str:
    """What a section says, without its tags."""
    found = re.search(rf'<section id="{anchor}" .*?</section>', text, flags=re.DOTALL)
    return "" if found is None else html.unescape(re.sub(r"<[^>]+>", " ", found[0]))


@pytest.mark.invariant
@pytest.mark.slow
def test_the_page_of_the_tangle_holds_all_of_them_and_agrees_with_the_commands(tmp_path: Path) -> None:
    result = check(read_layout(LAYOUTS / "tangle.yaml"))
    after = check(read_layout(LAYOUTS / "courtyard.yaml"))
    extras = extras_of(result, after, months=6)
    assert extras.card is not None
    assert extras.fouling is not None
    assert extras.parts is not None
    text = page(result, extras)
    card = section(text, "card")
    for visit in extras.card.routine.visits[:1]:
        for job in visit.jobs:
            assert job_words(result.layout, job) in card
    assert "Every month: about 30 minutes" in card
    assert "10 L in a bucket" in card
    fouled = section(text, "fouling")
    assert "month 6" in fouled
    flow = extras.fouling.courses["tomato bed"].likely[-1] * 60_000
    assert f"{flow:.1f}" in fouled
    parts = section(text, "parts")
    for item in extras.parts[0].items:
        assert item.name in parts
    assert f"left: {1000 * extras.parts[1].sizes[0].bars[0].offcut:.0f} mm" in re.sub(r"\s+", " ", parts)
    redesign = section(text, "redesign")
    assert f"{result.score.points:.1f}" in redesign
    assert f"{after.score.points:.1f}" in redesign
    assert "'herb trough' overtops" in redesign
    for anchor in ANCHORS:
        assert f'id="method-{anchor}"' in text


@pytest.mark.invariant
def test_without_them_there_is_no_trace_of_them() -> None:
    text = page(check(read_layout(LAYOUTS / "courtyard.yaml")), Extras())
    for anchor in ANCHORS:
        assert f'<section id="{anchor}"' not in text


@pytest.mark.pinned
@pytest.mark.slow
def test_the_command_writes_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "page.html"
    assert main(["page", str(LAYOUTS / "courtyard.yaml"), "-o", str(out), "--months", "2"]) == 0
    text = out.read_text(encoding="utf-8")
    assert [anchor for anchor in ANCHORS if f'<section id="{anchor}"' in text] == ["card", "fouling", "parts"]
    assert "Every 3 months: about 25 minutes" in section(text, "card")
    again = tmp_path / "again.html"
    same = str(LAYOUTS / "courtyard.yaml")
    assert main(["page", same, "-o", str(again), "--months", "1", "--after", same]) == 0
    assert "Before and after" in section(again.read_text(encoding="utf-8"), "redesign")
    assert main(["page", same, "-o", str(out), "--after", str(tmp_path / "none.yaml")]) == 2
    assert "none.yaml" in capsys.readouterr().err


@pytest.mark.invariant
@pytest.mark.slow
def test_names_from_the_file_stay_text(tmp_path: Path) -> None:
    nasty = "<script>alert(1)</script>"
    text = (LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8")
    text = text.replace("north union", nasty).replace("south bed", "<b>bed</b>")
    path = tmp_path / "nasty.yaml"
    path.write_text(text, encoding="utf-8")
    result = check(read_layout(path))
    written = page(result, extras_of(result, result, months=1))
    assert nasty not in written
    assert nasty in section(written, "card")
    assert "<b>bed" not in written


@pytest.mark.invariant
@pytest.mark.slow
def test_the_largest_layout_stays_under_a_megabyte() -> None:
    result = check(read_layout(LAYOUTS / "terraces.yaml"))
    assert len(page(result, extras_of(result, months=3)).encode()) < 1_000_000
