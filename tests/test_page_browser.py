"""The page and the sketch as a browser shows them: measured from what is drawn, not from what was meant.

Skipped where there is no browser or no driver; `.ci/run` installs both.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from checks import checked, page_of, page_with_card
from conftest import ReadText
from test_sketch import EVIL, LAYOUTS, drawn, evil

from plumbline.page.extras import Extras
from plumbline.page.page import page
from plumbline.page.sketch.svg import standalone
from plumbline.units import show

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

LARGEST = pytest.param("terraces.yaml", marks=pytest.mark.slow)

BROWSER = os.environ.get("PLUMBLINE_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    driver = pytest.importorskip("playwright.sync_api", reason="the browser's driver is not installed")
    if BROWSER is None:
        pytest.skip("no browser is installed (looked for chromium; PLUMBLINE_BROWSER names another)")
    with driver.sync_playwright() as run:
        browser = run.chromium.launch(executable_path=BROWSER, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


class Opened:
    """A page in a browser, with all that it said and asked for."""

    def __init__(self, browser: Browser, path: Path, text: str, width: int = 1200, **settings: Any) -> None:
        path.write_text(text, encoding="utf-8")
        self.page: Page = browser.new_page(viewport={"width": width, "height": 800}, **settings)
        self.told: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.told.append(message.text))
        self.page.on("pageerror", lambda error: self.told.append(str(error)))
        self.page.on("dialog", lambda dialog: (self.told.append(dialog.message), dialog.dismiss()))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(path.as_uri())
        self.url = path.as_uri()

    def run(self, script: str, argument: object = None) -> Any:
        return self.page.evaluate(script, argument)


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Any]:
    """Open a text in a fresh page; closed at the end."""
    pages: list[Opened] = []

    def open_it(text: str, width: int = 1200, **settings: Any) -> Opened:
        pages.append(Opened(browser, tmp_path / "page.html", text, width, **settings))
        return pages[-1]

    yield open_it
    for one in pages:
        one.page.close()


# ---------------------------------------------------------------------- quiet


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["tangle.yaml", "courtyard.yaml", LARGEST])
def test_it_opens_without_a_word_and_without_asking_for_anything(name: str, opened: Any) -> None:
    got = opened(page_of(name))
    got.page.locator("a.stretch:visible").first.hover(force=True)
    assert got.told == []
    assert got.asked == [got.url]


@pytest.mark.invariant
def test_names_run_nothing(read_text: ReadText, opened: Any) -> None:
    got = opened(page(evil(read_text)))
    assert got.told == []
    assert got.page.locator("h1").inner_text() == EVIL
    assert got.run("document.scripts.length") == 1
    got.page.locator("a.stretch").first.dispatch_event("click")
    assert got.page.locator("#pipe-facts b").inner_text().startswith(EVIL)
    assert got.told == []


# ---------------------------------------------------------------------- clicks

LIT = """(number) => {
  const shown = (one) => one.getClientRects().length > 0;
  const at = (path, s) => path.getPointAtLength(s).matrixTransform(path.getCTM());
  const points = (path) => path.tagName === 'circle'
    ? [new DOMPoint(path.cx.baseVal.value, path.cy.baseVal.value).matrixTransform(path.getCTM())]
    : Array.from({length: 240}, (_, k) => at(path, k / 239 * path.getTotalLength()));
  const lit = Array.from(document.querySelectorAll('.light.on')).filter(shown);
  const pipes = {};
  for (const one of document.querySelectorAll('a.stretch .hit')) {
    if (!shown(one)) continue;
    const line = one.closest('a').dataset.line;
    (pipes[line] = pipes[line] || []).push(...points(one));
  }
  return lit.map((one) => {
    const near = {};
    for (const [line, all] of Object.entries(pipes)) {
      near[line] = Math.max(...points(one).map((p) => Math.min(...all.map((q) => Math.hypot(p.x - q.x, p.y - q.y)))));
    }
    const order = Object.entries(near).sort((a, b) => a[1] - b[1]);
    return {finding: one.dataset.finding, line: order[0][0], off: order[0][1]};
  });
}"""
"""Which findings are lit, and which line's pipe lies nearest under the light, by how much at its worst point [px]."""


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("width", [1200, 360])
def test_a_click_on_a_finding_lights_its_pipe(width: int, opened: Any) -> None:
    got = opened(page_of("tangle.yaml"), width)
    findings = checked("tangle.yaml").findings
    lit_lines = 0
    for number, finding in enumerate(findings, start=1):
        badge = got.page.locator(f"li.finding[data-finding='{number}'] .badge")
        if badge.get_attribute("data-light") is None:
            continue
        badge.click()
        lit = got.run(LIT, str(number))
        assert [one["finding"] for one in lit] == [str(number)]
        assert badge.get_attribute("aria-pressed") == "true"
        assert lit[0]["off"] < 2.5
        if finding.start is not None and finding.start != finding.stop:
            assert lit[0]["line"] == finding.line, finding
            lit_lines += 1
    assert lit_lines > 10
    assert got.run("document.getElementById('picture').getBoundingClientRect().top") < 800
    badge.click()
    assert got.run(LIT, "") == []


@pytest.mark.invariant
def test_the_keyboard_does_what_a_click_does(opened: Any) -> None:
    got = opened(page_of("tangle.yaml"))
    badge = got.page.locator("li.finding[data-finding='3'] .badge")
    badge.focus()
    got.page.keyboard.press("Enter")
    assert [one["finding"] for one in got.run(LIT, "")] == ["3"]
    got.page.keyboard.press("Space")
    assert got.run(LIT, "") == []
    pipe = got.page.locator("a.stretch:visible").nth(2)
    pipe.focus()
    got.page.keyboard.press("Enter")
    assert got.page.locator("#pipe-facts b").inner_text() == pipe.get_attribute("data-stretch")


@pytest.mark.invariant
def test_a_click_on_a_pipe_shows_its_numbers(opened: Any) -> None:
    result = checked("tangle.yaml")
    got = opened(page_of("tangle.yaml"))
    for stretch in result.layout.stretches:
        got.page.locator(f'.for-wide a.stretch[data-stretch="{stretch.id}"]').dispatch_event("click")
        assert got.page.locator("#pipe-facts b").inner_text() == stretch.id
        shown = got.page.locator("#pipe-facts").inner_text()
        flow = result.flows.stretches[stretch.id].flow
        assert f"flow\n{show(flow, 'flow', result.layout.units)}" in shown
        assert f"length\n{show(stretch.length, 'length', result.layout.units)}" in shown


# ---------------------------------------------------------------------- without a script


@pytest.mark.invariant
def test_it_reads_without_its_script(browser: Browser, tmp_path: Path) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 1200, "height": 800})
    try:
        path = tmp_path / "page.html"
        path.write_text(page_of("tangle.yaml"), encoding="utf-8")
        bare = context.new_page()
        bare.goto(path.as_uri())
        for number in range(1, len(checked("tangle.yaml").findings) + 1):
            assert bare.locator(f"#finding-{number}").is_visible()
        assert bare.locator(".rule").first.is_visible()
        assert bare.locator("#pipe-facts").is_hidden()
        link = bare.locator(".for-wide a.stretch").first
        assert bare.locator(link.get_attribute("href") or "").is_visible()
    finally:
        context.close()


# ---------------------------------------------------------------------- room


@pytest.mark.invariant
@pytest.mark.parametrize("width", [320, 360, 768])
@pytest.mark.parametrize("name", ["tangle.yaml", "courtyard.yaml", LARGEST])
def test_a_phone_has_no_sideways_scroll(name: str, width: int, opened: Any) -> None:
    got = opened(page_of(name), width)
    assert got.run("document.documentElement.scrollWidth") == width


@pytest.mark.invariant
def test_letters_are_large_enough_on_a_phone(opened: Any) -> None:
    got = opened(page_of("tangle.yaml"), 360)
    small = got.run("""() => Array.from(document.querySelectorAll('svg text')).filter((one) => one.getClientRects().length)
        .map((one) => parseFloat(getComputedStyle(one).fontSize) * Math.hypot(one.getScreenCTM().a, one.getScreenCTM().b))""")
    assert min(small) >= 9.0


@pytest.mark.invariant
def test_the_verdict_and_the_sketch_are_on_a_phones_first_screen(opened: Any) -> None:
    got = opened(page_of("tangle.yaml"), 360)
    box = got.page.locator(".for-narrow svg").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < 800
    assert got.page.locator(".verdict").bounding_box()["y"] < 100


@pytest.mark.slow
@pytest.mark.invariant
@pytest.mark.parametrize("width", [320, 390])
def test_a_phone_shows_whole_captions_and_the_whole_wall_card(width: int, opened: Any) -> None:
    got = opened(page_with_card("tangle.yaml"), width)
    off = got.run(
        "(wide) => Array.from(document.querySelectorAll('caption > span, #card *')).filter((one) => one.getClientRects().length && "
        "one.getBoundingClientRect().right > wide + 0.5).map((one) => one.textContent.slice(0, 40))",
        width,
    )
    assert off == []


@pytest.mark.slow
@pytest.mark.invariant
def test_no_half_of_a_wide_screen_is_empty_beside_the_sketch(opened: Any) -> None:
    """Under the sketch stands what it is read by: no more than a gap is empty there."""
    got = opened(page_of("tangle.yaml"), 1200)
    picture, under = (got.page.locator(one).bounding_box() for one in ("#picture", ".front .under"))
    assert under["y"] - (picture["y"] + picture["height"]) < 30
    owner = got.page.locator(".owner").bounding_box()
    assert owner["x"] >= picture["x"] + picture["width"]
    assert abs(owner["y"] - picture["y"]) < 30


@pytest.mark.invariant
def test_print_has_whole_pages(opened: Any) -> None:
    got = opened(page_of("tangle.yaml"))
    pdf = got.page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert 5 <= len(boxes) <= 24
    for width, height in boxes:
        assert float(width) == pytest.approx(595.28, abs=1.0)
        assert float(height) == pytest.approx(841.89, abs=1.0)
    # What may not be broken across pages fits on one: A4 less its margins, at 96 px an inch.
    wide, high = (210 - 26) / 25.4 * 96, (297 - 29) / 25.4 * 96
    got.page.set_viewport_size({"width": int(wide), "height": int(high)})
    got.page.emulate_media(media="print")
    tall = got.run("""() => Array.from(document.querySelectorAll('body *')).filter((one) => getComputedStyle(one).breakInside === 'avoid')
        .map((one) => one.getBoundingClientRect().height)""")
    assert len(tall) > 50
    assert max(tall) < high
    assert got.run("document.documentElement.scrollWidth") <= int(wide)
    front = got.run("document.querySelector('.key').getBoundingClientRect().bottom")
    assert front < high, "the verdict, the sketch and its key stand on the first page"


# ---------------------------------------------------------------------- what is drawn

CONTRAST = """() => {
  const parse = (text) => { const m = text.match(/[\\d.]+/g).map(Number); return m.length > 3 ? m : [...m, 1]; };
  const part = (v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
  const light = ([r, g, b]) => 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
  const behind = (one) => {
    const rect = one.closest('.number') && one.closest('.number').querySelector('rect');
    const pump = one.classList.contains('letter') && one.previousElementSibling;
    if (rect || pump) return parse(getComputedStyle(rect || pump).fill);
    for (let up = one; up; up = up.parentElement) {
      const colour = parse(getComputedStyle(up).backgroundColor);
      if (colour[3] > 0.5) return colour;
    }
    return [255, 255, 255, 1];
  };
  const found = [];
  for (const one of document.querySelectorAll('body *')) {
    const text = Array.from(one.childNodes).filter((node) => node.nodeType === 3).map((node) => node.data).join('').trim();
    if (!text || !one.getClientRects().length || ['SCRIPT', 'STYLE', 'title'].includes(one.tagName)) continue;
    const style = getComputedStyle(one);
    const colour = parse(one instanceof SVGElement ? style.fill : style.color);
    const [a, b] = [light(colour), light(behind(one))].sort((x, y) => y - x);
    found.push([(a + 0.05) / (b + 0.05), text.slice(0, 30), style.color]);
  }
  return found;
}"""
"""Contrast of every piece of text with what is behind it, as WCAG 2.1 counts it."""


@pytest.mark.published
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_what_is_behind_it(scheme: str, opened: Any) -> None:
    """WCAG 2.1, 1.4.3: at least 4.5 (from memory)."""
    got = opened(page_of("tangle.yaml"), color_scheme=scheme)
    found = got.run(CONTRAST)
    assert len(found) > 300
    assert min(found)[0] >= 4.5, min(found)


@pytest.mark.published
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_trouble_stands_out_from_the_paper(scheme: str, opened: Any) -> None:
    """WCAG 2.1, 1.4.11: at least 3 for what is no text (from memory)."""
    got = opened(page_of("tangle.yaml"), color_scheme=scheme)
    found = got.run("""() => {
      const part = (v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
      const light = (text) => { const [r, g, b] = text.match(/[\\d.]+/g).map(Number);
                                return 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b); };
      const paper = light(getComputedStyle(document.body).backgroundColor);
      return Array.from(document.querySelectorAll('.pipe')).map((one) => {
        const [a, b] = [light(getComputedStyle(one).stroke), paper].sort((x, y) => y - x);
        return [(a + 0.05) / (b + 0.05), one.getAttribute('class')];
      });
    }""")
    assert len(found) > 20
    assert min(found)[0] >= 3.0, min(found)


OVERLAPS = """() => {
  const labels = Array.from(document.querySelectorAll('.labels text')).filter((one) => one.getClientRects().length)
    .map((one) => ({text: one.textContent, rect: one.getBoundingClientRect(), group: one.parentNode}));
  const bad = [];
  const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
  // The box of a text has room above its letters; what is read stands between a fifth of it and its end less a seventh.
  const core = (r) => ({left: r.left, right: r.right, top: r.top + 0.2 * r.height, bottom: r.bottom - 0.15 * r.height});
  labels.forEach((a, i) => labels.slice(i + 1).forEach((b) => {
    if (meet(core(a.rect), core(b.rect))) bad.push([a.text, b.text]);
  }));
  let points = 0;
  for (const pipe of document.querySelectorAll('.stretch .hit')) {
    if (!pipe.getClientRects().length) continue;
    const matrix = pipe.getScreenCTM(), whole = pipe.getTotalLength();
    for (let s = 0; s <= whole; s += 1) {
      const p = pipe.getPointAtLength(s).matrixTransform(matrix);
      points += 1;
      for (const one of labels) {
        const r = core(one.rect);
        if (r.left < p.x && p.x < r.right && r.top < p.y && p.y < r.bottom) bad.push([one.text, 'pipe']);
      }
    }
  }
  return {labels: labels.length, points, bad: bad.slice(0, 5)};
}"""


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("width", [960.0, 360.0])
@pytest.mark.parametrize(
    "name", ["tangle.yaml", "terraces.yaml", "call_outs.yaml", "ring_main.yaml", "unbalanced.yaml"]
)
def test_no_label_hides_another_or_a_pipe(name: str, width: float, opened: Any) -> None:
    svg = standalone(drawn(name, "iso", width)).split("?>", 1)[1]
    got = opened(f"<!DOCTYPE html><body style='margin:0'>{svg}", int(width))
    found = got.run(OVERLAPS)
    assert found["labels"] >= 10
    assert found["points"] > 500
    assert found["bad"] == []


@pytest.mark.slow(2)
@pytest.mark.invariant
def test_texts_are_no_wider_than_counted(opened: Any) -> None:
    scene = drawn("terraces.yaml")
    got = opened(f"<!DOCTYPE html><body style='margin:0'>{standalone(scene).split('?>', 1)[1]}", 960)
    widths = got.run(
        "() => Array.from(document.querySelectorAll('.name text')).map((one) => [one.textContent, one.getBBox().width])"
    )
    room = {line: label.width for label in scene.wanted for line in label.lines}
    assert len(widths) > 30
    for text, width in widths:
        assert width <= room[text] + 0.5, text


@pytest.mark.invariant
@pytest.mark.slow
def test_a_served_page_reloads_by_itself(browser: Browser, tmp_path: Path) -> None:
    from plumbline.page.watch import Live, serve

    path = tmp_path / "mine.yaml"
    layouts = Path(__file__).parent.parent / "layouts"
    path.write_text((layouts / "siphon.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    live = Live(str(path))
    live.update()
    told: list[str] = []
    view = browser.new_page()
    try:
        view.on("console", lambda message: told.append(message.text))
        with serve(live) as address:
            view.goto(address)
            first = view.title()
            view.wait_for_timeout(1500)
            path.write_text("name: [", encoding="utf-8")
            live.update()
            view.locator("p.verdict", has_text="Cannot be checked").wait_for(timeout=15000)
            path.write_text((layouts / "courtyard.yaml").read_text(encoding="utf-8"), encoding="utf-8")
            live.update()
            view.locator("h1", has_text="Two-bed courtyard").wait_for(timeout=15000)
            assert first != view.title()
            assert told == []
            view.close()
    finally:
        if not view.is_closed():
            view.close()


@pytest.mark.invariant
@pytest.mark.slow
def test_a_served_page_tells_what_became_of_its_file_and_its_program(browser: Browser, tmp_path: Path) -> None:
    from plumbline.page.watch import Live, serve

    path = tmp_path / "mine.yaml"
    text = (Path(__file__).parent.parent / "layouts" / "tangle.yaml").read_text(encoding="utf-8")
    path.write_text(text, encoding="utf-8")
    live = Live(str(path))
    view = browser.new_page(viewport={"width": 700, "height": 700})
    try:
        with serve(live) as address:
            view.goto(address)
            view.locator("p.verdict", has_text="Checking").wait_for(timeout=5000)
            live.update()
            view.locator("h1", has_text="Six summers").wait_for(timeout=15000)
            # The place and the lit finding outlast the next check, though the finding has another number then.
            lit = view.locator("li.finding", has_text="check valve").first
            words = lit.locator(".said").inner_text().partition(" ")[2]
            lit.locator(".badge").click()
            view.evaluate("scrollTo(0, 900)")
            path.write_text(text.replace("opening: 50 %}    #", "opening: 20 %}    #"), encoding="utf-8")
            before = view.evaluate("document.documentElement.dataset.stamp")
            live.update()
            view.wait_for_function("(was) => document.documentElement.dataset.stamp !== was", arg=before, timeout=15000)
            view.locator("li.finding.lit").wait_for(timeout=5000)
            assert view.locator("li.finding.lit .said").inner_text().partition(" ")[2] == words
            assert abs(view.evaluate("scrollY") - 900) < 40
            live.lost()
            view.locator(".live", has_text="The layout file is gone").wait_for(timeout=5000)
        view.locator(".live", has_text="Plumbline has stopped").wait_for(timeout=10000)
        assert view.locator("h1").inner_text().startswith("Six summers")
    finally:
        view.close()


# ---------------------------------------------------------------------- the layers


@pytest.mark.slow
@pytest.mark.invariant
@pytest.mark.parametrize("name", sorted(path.name for path in LAYOUTS.glob("*.yaml")))
def test_the_wall_card_stands_on_one_sheet_of_its_own(name: str, opened: Any) -> None:
    """On A4 and on Letter: what is printed is as wide as the narrower of the two allows, and as high as the lower."""
    got = opened(page_with_card(name))
    wide, high = (210 - 26) / 25.4 * 96, (279.4 - 29) / 25.4 * 96
    got.page.set_viewport_size({"width": int(wide), "height": int(high)})
    got.page.emulate_media(media="print")
    assert got.page.locator("#card").bounding_box()["height"] <= high
    breaks = got.run(
        "(() => { const style = getComputedStyle(document.getElementById('card')); return [style.breakBefore, style.breakAfter]; })()"
    )
    assert breaks == ["page", "page"]
    # The owner's sheet before it is one as well.
    assert (
        got.page.locator(".key").bounding_box()["y"]
        + got.page.locator(".key").bounding_box()["height"]
        - got.page.locator(".top").bounding_box()["y"]
        <= high + 40
    )


# ---------------------------------------------------------------------- what moves


@pytest.mark.invariant
def test_drops_run_at_the_solved_speed_and_still_pipe_stands_still(opened: Any) -> None:
    result = checked("tangle.yaml")
    got = opened(page_of("tangle.yaml"), reduced_motion="no-preference")
    found = got.run("""() => Object.fromEntries(Array.from(document.querySelectorAll('.for-wide .drops')).map((one) =>
        [one.dataset.stretch, [parseFloat(getComputedStyle(one).animationDuration), getComputedStyle(one).animationName,
                               getComputedStyle(one).animationDirection]]))""")
    for stretch in result.layout.stretches:
        flow = result.flows.stretches[stretch.id]
        if abs(flow.flow) < 1e-9:
            assert stretch.id not in found
            continue
        seconds, name, way = found[stretch.id]
        assert name == "run"
        assert way == ("reverse" if flow.flow < 0.0 else "normal")
        # 18 px a period at 60 px a metre: 0.3 m.
        assert seconds == pytest.approx(0.3 / flow.velocity, abs=0.0051)
    assert len(found) > 10
    got.page.get_by_role("button", name="Stop the water").click()
    assert got.run(
        "Array.from(document.querySelectorAll('.drops')).every((one) => getComputedStyle(one).display === 'none')"
    )


@pytest.mark.invariant
def test_nothing_moves_for_who_wants_it_still(opened: Any) -> None:
    got = opened(page_of("tangle.yaml"), reduced_motion="reduce")
    assert got.run("document.getAnimations().length") == 0
    assert got.page.locator("#water").is_hidden()


@pytest.mark.invariant
def test_an_opening_shows_what_the_rod_brushes_from_it(opened: Any) -> None:
    result = checked("courtyard.yaml")
    got = opened(page_of("courtyard.yaml"))
    for access in result.layout.accesses:
        covers = [push.covers for push in result.upkeep.pushes if push.access == access.id]
        mark = got.page.locator(f'.for-wide a.opening[data-opening="{access.id}"]')
        if not covers:
            assert mark.count() == 0
            continue
        mark.dispatch_event("click")
        most = max(sum(high - low for pieces in one.values() for low, high in pieces) for one in covers)
        assert f"brushes {show(most, 'length', result.layout.units)}" in got.page.locator("#pipe-facts").inner_text()
        rods = got.run("Array.from(document.querySelectorAll('.for-wide .rod.on')).map((one) => one.dataset.opening)")
        assert set(rods) == {access.id}
    got.page.keyboard.press("Escape")
    assert got.page.locator("#pipe-facts").is_hidden()


@pytest.mark.invariant
def test_a_pipe_tells_its_findings_and_their_cures(opened: Any) -> None:
    got = opened(page_of("tangle.yaml"))
    finding = next(
        one for one in checked("tangle.yaml").findings if one.kind == "unreachable" and one.line == "tomato feed"
    )
    stretch = next(one for one in checked("tangle.yaml").layout.stretches if one.line == "tomato feed")
    got.page.locator(f'.for-wide a.stretch[data-stretch="{stretch.id}"]').dispatch_event("click")
    shown = got.page.locator("#pipe-facts").inner_text()
    assert finding.message in shown
    assert finding.cure in shown


@pytest.mark.invariant
def test_a_sketch_is_one_stop_for_the_tab_key(opened: Any) -> None:
    got = opened(page_of("tangle.yaml"))
    stops = got.run(
        "Array.from(document.querySelectorAll('.for-wide svg a')).filter((one) => one.tabIndex >= 0).length"
    )
    assert stops == 1
    first = got.page.locator(".for-wide svg a").first
    first.focus()
    got.page.keyboard.press("ArrowRight")
    assert got.run("Array.from(document.querySelectorAll('.for-wide svg a')).indexOf(document.activeElement)") == 1


@pytest.mark.slow(14)
@pytest.mark.invariant
def test_the_slider_moves_the_water(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text(page(checked("siphon_bed")), encoding="utf-8")
    view = browser.new_page()
    try:
        view.goto(path.as_uri())
        told = json.loads(view.locator(".through").get_attribute("data-moments"))
        for k in (0, 40, 333):
            view.locator("#hour").evaluate(f"(one) => {{ one.value = {k}; one.dispatchEvent(new Event('input')); }}")
            moved = view.locator(".through path.water[data-vessel=bed]").get_attribute("transform")
            assert moved == f"translate(0 {told['vessels']['bed']['down'][k]})"
            said = view.locator(".through output").text_content()
            assert told["clock"][k] in said
            assert f"bed {told['vessels']['bed']['depth'][k]}" in said
    finally:
        view.close()


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("script", [True, False])
def test_before_and_after_under_one_slider(script: bool, browser: Browser, tmp_path: Path) -> None:
    text = page(checked("tangle.yaml"), Extras(after=checked("courtyard.yaml")))
    path = tmp_path / "page.html"
    path.write_text(text, encoding="utf-8")
    context = browser.new_context(java_script_enabled=script)
    try:
        view = context.new_page()
        view.goto(path.as_uri())
        pictures = [view.locator(".change .as-is"), view.locator(".change .changed")]
        boxes = [one.bounding_box() for one in pictures]
        assert (boxes[0]["x"], boxes[0]["y"]) == (boxes[1]["x"], boxes[1]["y"]) if script else boxes[0] != boxes[1]
        if script:
            for value, shown in ((0, ["1", "0"]), (100, ["0", "1"])):
                view.locator("#change").evaluate(
                    f"(one) => {{ one.value = {value}; one.dispatchEvent(new Event('input')); }}"
                )
                assert [one.evaluate("(one) => getComputedStyle(one).opacity") for one in pictures] == shown
    finally:
        context.close()
