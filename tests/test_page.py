"""The page as text: whole, safe, small, and everything in it leads somewhere. A real browser looks at it in
`test_page_browser.py`."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from collections import Counter
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from checks import cautions, checked, page_of
from conftest import ReadText
from rich.console import Console
from test_sketch import EVIL, evil

from plumbline import catalogue
from plumbline.check import CheckResult
from plumbline.cli import main
from plumbline.hydraulics.system_curve import SystemCurve
from plumbline.page import tables
from plumbline.page.charts import flows_chart, pump_chart
from plumbline.page.page import SECTIONS, page
from plumbline.report.terminal import check_view

LAYOUTS = Path(__file__).parent.parent / "layouts"
VOID = {"meta", "link", "br", "hr", "img", "input"}


class Tree(HTMLParser):
    """Tags with their attributes, and whether they nest."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


@cache
def tree(name: str) -> Tree:
    return Tree(page_of(name))


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("name", ["tangle.yaml", "courtyard.yaml", "siphon.yaml", "hill_pond.yaml"])
def test_every_link_leads_to_one_place(name: str) -> None:
    ids = Counter(attributes["id"] for _, attributes in tree(name).tags if "id" in attributes)
    assert max(ids.values()) == 1
    links = {attributes["href"] for tag, attributes in tree(name).tags if tag == "a"}
    assert len(links) > 10
    for link in links:
        assert link is not None
        assert link[0] == "#"
        assert link[1:] in ids, link


@pytest.mark.invariant
def test_it_asks_for_nothing_from_elsewhere() -> None:
    text = page_of("tangle.yaml")
    for address in re.findall(r"https?://[^\s\"'<>)]+", text):
        assert address in ("http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"), address
    for tag, attributes in tree("tangle.yaml").tags:
        assert "src" not in attributes
        assert tag not in ("iframe", "object", "embed", "form", "base", "img")
        if tag == "link":
            assert attributes["href"] == "data:,"
    assert "@import" not in text
    assert not re.search(r"url\((?!#)", text)


@pytest.mark.pinned
def test_an_airlifts_page_warns_of_its_air_pump() -> None:
    assert cautions()["air pump"] in "".join(tree("bubbler.yaml").texts)


@pytest.mark.invariant
def test_its_policy_lets_only_its_own_script_run() -> None:
    text = page_of("tangle.yaml")
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    (digest,) = re.findall(r"script-src 'sha256-([^']+)'", text)
    assert base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() == digest
    assert "default-src 'none'" in text


@pytest.mark.invariant
def test_the_verdict_comes_first_and_every_finding_is_told_with_its_rule() -> None:
    result, text = checked("tangle.yaml"), page_of("tangle.yaml")
    said = [one.strip() for one in "".join(tree("tangle.yaml").texts).split("\n") if one.strip()]
    body = said.index("Six summers of additions")
    assert "Fails" in said[body + 1]
    whole = "".join(tree("tangle.yaml").texts)
    for number, finding in enumerate(result.findings, start=1):
        assert finding.message in whole
        assert f"{finding.cure}." in whole
        assert f'id="finding-{number}"' in text
        assert f'id="rule-{finding.kind}"' in text
        assert catalogue.findings()[finding.kind].source in whole
    for hazard, sentence in cautions().items():
        assert (sentence in whole) is (hazard in catalogue.cautions_at("page")), hazard
    assert result.layout.text.strip() in whole


@pytest.mark.invariant
def test_sections_stand_in_order_and_empty_ones_are_left_out() -> None:
    names = [name for name, _ in SECTIONS]
    for layout in ("tangle.yaml", "hill_pond.yaml"):
        found = [attributes["id"] for tag, attributes in tree(layout).tags if tag == "section"]
        assert found == [name for name in names if name in found]
        listed = re.findall(r'<li><a href="#(\w+)">', page_of(layout).split("<nav")[1].split("</nav>")[0])
        assert listed == found
    assert "power" in re.findall(r'<section id="(\w+)"', page_of("tangle.yaml"))


def no_pump(read_text: ReadText) -> CheckResult:
    from plumbline import check

    return check(
        read_text("""
        name: bare
        water: 20 degC
        vessels: {a: {base: 1 m, water: 1 m}, b: {base: 0 m, water: 1 m}}
        lines: {only: {pipe: pvc 25, from: {vessel: a, height: 0.1 m}, route: [{down: 1 m}], to: {vessel: b, height: 0.1 m}}}
    """)
    )


@pytest.mark.invariant
def test_a_layout_without_pumps_has_no_section_for_them(read_text: ReadText) -> None:
    found = re.findall(r'<section id="(\w+)"', page(no_pump(read_text)))
    assert "power" not in found
    assert "back" not in found
    assert found[0] == "sketch"


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("name", ["tangle.yaml", "terraces.yaml"])
def test_tables_have_captions_and_headers(name: str) -> None:
    text = page_of(name)
    tables = re.findall(r"<table.*?</table>", text, re.DOTALL)
    assert len(tables) >= 6
    for table in tables:
        assert "<caption>" in table
        heads = len(re.findall(r'<th scope="col"', table))
        for row in re.findall(r"<tr[^>]*><th scope=\"row\">.*?</tr>", table, re.DOTALL):
            assert 1 + row.count("<td") == heads


@pytest.mark.slow
@pytest.mark.invariant
def test_a_layout_of_150_steps_stays_under_a_megabyte() -> None:
    layout = checked("terraces.yaml").layout
    assert sum(len(line.parts) for line in layout.lines.values()) >= 150
    assert len(page_of("terraces.yaml").encode()) < 1_000_000


@pytest.mark.invariant
def test_names_run_nothing(read_text: ReadText) -> None:
    result = evil(read_text)
    text = page(result)
    assert text.count("<script") == 1
    parsed = Tree(text)
    assert EVIL in "".join(parsed.texts)
    assert not {key for _, attributes in parsed.tags for key in attributes if key.startswith("on")}


@pytest.mark.invariant
def test_dollars_in_names_are_no_formula(tmp_path: Path) -> None:
    from plumbline import check, read_layout

    text = (LAYOUTS / "siphon.yaml").read_text(encoding="utf-8")
    path = tmp_path / "priced.yaml"
    path.write_text(text.replace("fish tank", r"'$\frac{1}$ tank'"), encoding="utf-8")
    chart = flows_chart(check(read_layout(path)))
    assert chart is not None
    assert r"$\frac{1}$ tank" in chart


@pytest.mark.invariant
def test_a_vessel_that_siphons_out_is_told_so_as_on_the_terminal() -> None:
    """Its water is far under its rim then, and that is no room to spare."""
    result = checked("siphon.yaml")
    (siphoned,) = {siphon.giver for siphon in result.cut.siphons} if result.cut is not None else ()
    words = {row[0]: row[1] for row in tables.after_cut(result).rows}
    assert words[siphoned] == "siphons out"
    console = Console(file=io.StringIO(), width=200)
    console.print(check_view(result))
    (told,) = re.findall(rf"^{siphoned} .*siphons out", console.file.getvalue(), re.MULTILINE)  # type: ignore[attr-defined]
    assert told


@pytest.mark.invariant
def test_the_key_of_a_pumps_chart_names_no_line_that_is_not_drawn() -> None:
    """Where the pipe asks for more at any flow than this chart is high, there is no line of it."""
    result = checked("courtyard.yaml")
    top = result.layout.pumps["lift"].curve[0][1]
    over = SystemCurve("lift", ((0.0, 2.0 * top), (1e-4, 3.0 * top)))
    assert "the pipe asks" not in pump_chart(result, "lift", over)
    within = SystemCurve("lift", ((0.0, 0.5 * top), (1e-4, 0.6 * top)))
    assert "the pipe asks" in pump_chart(result, "lift", within)


@pytest.mark.slow(1)
@pytest.mark.invariant
def test_the_same_check_gives_the_same_page() -> None:
    assert page(checked("siphon.yaml")) == page_of("siphon.yaml")


@pytest.mark.invariant
@pytest.mark.slow
def test_the_command_writes_over_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "report.html"
    assert main(["page", str(LAYOUTS / "siphon.yaml"), "-o", str(out)]) == 1
    first = out.read_bytes()
    assert first.startswith(b"<!DOCTYPE html>")
    assert main(["page", str(LAYOUTS / "courtyard.yaml"), "-o", str(out)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert out.read_bytes() == first
    assert main(["page", str(LAYOUTS / "courtyard.yaml"), "-o", str(out), "--force"]) == 0
    assert out.read_bytes() != first
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]
