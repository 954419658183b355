"""What stands on the page beside the check: the wall card, the fouling, the parts, and a redesign."""

from __future__ import annotations

import html
import io
import re
from pathlib import Path

import pytest
from checks import card_of, checked, page_with_card
from conftest import ReadText
from rich.console import Console

from plumbline import check, read_layout
from plumbline.cli import main
from plumbline.page.extras import Extras, extras_of
from plumbline.page.page import cost_words, page
from plumbline.report.card import card_view

LAYOUTS = Path(__file__).parent.parent / "layouts"
NAMES = sorted(path.name for path in LAYOUTS.glob("*.yaml"))
ANCHORS = ("card", "fouling", "redesign", "parts")


def section(text: str, anchor: str) -> str:
    """What a section says, without its tags."""
    found = re.search(rf'<section id="{anchor}" .*?</section>', text, flags=re.DOTALL)
    return "" if found is None else html.unescape(re.sub(r"<[^>]+>", " ", found[0]))


@pytest.mark.invariant
@pytest.mark.slow
def test_the_page_of_the_tangle_holds_all_of_them_and_agrees_with_the_commands(tmp_path: Path) -> None:
    result, after = checked("tangle"), checked("courtyard")
    extras = extras_of(result, after, months=6)
    assert extras.card is not None
    assert extras.fouling is not None
    assert extras.parts is not None
    text = page(result, extras)
    card = section(text, "card")
    minutes = extras.card.routine.visits[0].minutes
    assert f"Every month: about {minutes:.0f} minutes" in card
    assert "10 L in" in card
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


@pytest.mark.some(1)
@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("name", ["tangle.yaml", "courtyard.yaml", "hill_pond.yaml", "gallons.yaml", "call_outs.yaml"])
def test_the_card_on_the_page_says_what_the_card_on_the_terminal_says(name: str) -> None:
    """Every word of the one is on the other, but for the commands, which are no business of the owner's."""
    card = card_of(name)
    console = Console(file=io.StringIO(), width=4000, highlight=False)
    console.print(card_view(card))
    told = console.file.getvalue()  # type: ignore[attr-defined]
    shown = " ".join(section(page_with_card(name), "card").split())
    for line in told.splitlines():
        said = re.sub(r"^\s*(-|\d+\.\s+\[ \])?\s*", "", line).strip()
        said = re.sub(r" \(--share 100%\)| 'plumbline check' says why.*|: 'plumbline check' tells.*", "", said)
        for cell in re.split(r"\s{2,}", said):
            assert cell in shown, cell
    assert "plumbline" not in shown


@pytest.mark.few
@pytest.mark.invariant
@pytest.mark.parametrize("name", NAMES)
def test_the_first_sheet_holds_no_command_and_no_formula(name: str) -> None:
    result, text = checked(name), page_with_card(name)
    first = html.unescape(
        re.sub(
            r"<(style|svg|script)\b.*?</\1>|<[^>]+>",
            " ",
            text[text.index("<body>") : text.index('<section id="card"')],
            flags=re.DOTALL,
        )
    )
    assert "plumbline" not in first
    assert not re.search(r"[√²³ρνεΔτπ=]|\bK [0-9]|V/", first)
    assert first.count("licensed") == 3
    asked = [one for one in result.findings if one.level != "advice"]
    assert ("What to do first" in first) == bool(asked)


@pytest.mark.invariant
def test_running_costs_on_the_first_sheet_are_those_of_the_pump(read_text: ReadText) -> None:
    text = (LAYOUTS / "courtyard.yaml").read_text(encoding="utf-8")
    result = check(
        read_text(text.replace("water: 22 degC", "water: 22 degC\nelectricity: {price: 0.30, currency: EUR}"))
    )
    # 40 W the year round: 0.04 kW times 8760 h, and 0.30 of that.
    assert list(cost_words(result, None)) == ["lift draws 40 W: 350 kWh a year, 105 EUR."]


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_without_them_there_is_no_trace_of_them() -> None:
    text = page(checked("courtyard"), Extras())
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
    assert main(["page", same, "-o", str(tmp_path / "third.html"), "--after", str(tmp_path / "none.yaml")]) == 2
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
    result = checked("terraces")
    assert len(page(result, extras_of(result, months=3)).encode()) < 1_000_000
