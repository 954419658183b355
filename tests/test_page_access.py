"""The pages for everyone: valid, and without anything serious for an accessibility checker."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from checks import page_of
from test_page_browser import browser  # noqa: F401 - a fixture

from plumbline.page.page import fault_page, waiting_page
from plumbline.page.walk.server import Site, serve
from plumbline.page.walk.session import begin

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

LAYOUTS = Path(__file__).parent.parent / "layouts"
NAMES = [
    f"{name}.yaml"
    for name in (
        "courtyard",
        "gallons",
        "overflow",
        "siphon_bed",
        "tangle",
        "terraces",
        "indexing_valve",
        "nursery",
        "bubbler",
        "hill_pond",
        "bypass",
    )
]
"""One of each kind: beds, other units, a chain, a siphon, tees, many beds, turns of a valve, currents, air, suction and a by-pass."""
WALK = Path(__file__).parent.parent / "plumbline" / "page" / "templates" / "walk.html"


@pytest.mark.some(1)
@pytest.mark.few
@pytest.mark.second_method
@pytest.mark.parametrize("name", [*NAMES, "fault", "waiting", "walk"])
def test_pages_are_valid_by_a_parser_of_the_standard(name: str) -> None:
    html5lib = pytest.importorskip("html5lib")
    bare = {
        "fault": lambda: fault_page("a.yaml", "<wrong>"),
        "waiting": lambda: waiting_page("a.yaml"),
        "walk": lambda: WALK.read_text(encoding="utf-8"),
    }
    text = bare[name]() if name in bare else page_of(name)
    parser = html5lib.HTMLParser()
    parser.parse(text)
    assert parser.errors == []


def serious(page: Page) -> list[Any]:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = axe.Axe().run(page).response["violations"]
    return [(one["id"], one["nodes"][0]["html"][:200]) for one in found if one["impact"] in ("serious", "critical")]


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.second_method
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1200])
@pytest.mark.parametrize("name", ["tangle.yaml", "courtyard.yaml", "terraces.yaml", "fault", "waiting"])
def test_a_checker_finds_nothing_serious_on_the_pages(
    name: str,
    width: int,
    scheme: Any,
    browser: Browser,  # noqa: F811
    tmp_path: Path,
) -> None:
    path = tmp_path / "page.html"
    bare = {"fault": fault_page("a.yaml", "wrong"), "waiting": waiting_page("a.yaml")}
    path.write_text(bare[name] if name in bare else page_of(name), encoding="utf-8")
    context = browser.new_context(bypass_csp=True, color_scheme=scheme, viewport={"width": width, "height": 844})
    try:
        page = context.new_page()
        page.goto(path.as_uri())
        assert serious(page) == []
    finally:
        context.close()


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.second_method
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_checker_finds_nothing_serious_on_the_walk(scheme: Any, browser: Browser, tmp_path: Path) -> None:  # noqa: F811
    layout = tmp_path / "mine.yaml"
    layout.write_bytes((LAYOUTS / "tangle.yaml").read_bytes())
    context = browser.new_context(bypass_csp=True, color_scheme=scheme, viewport={"width": 390, "height": 844})
    try:
        with serve(Site(begin(str(layout)))) as address:
            page = context.new_page()
            page.goto(address)
            page.locator("h2", has_text="The site").wait_for()
            assert serious(page) == []
            for thing in ("pond pump", "swirl filter", "overflow"):
                page.locator("button.thing", has_text=thing).first.click()
                assert serious(page) == []
                if thing == "pond pump":
                    page.get_by_role("button", name="more to say …").click()
                    page.locator("dialog[open]").get_by_role("button", name="switch").click()
                    page.locator("dialog[open]", has_text="on above").wait_for()
                    assert serious(page) == []
                    page.locator("dialog[open]").get_by_role("button", name="Cancel").click()
                if thing != "overflow":
                    page.locator("#home").click()
            page.locator(".chip").nth(1).click()
            assert serious(page) == []
            page.get_by_role("button", name="Put before it …").click()
            assert serious(page) == []
            page.locator("dialog[open]").get_by_role("button", name="up", exact=True).click()
            page.locator("dialog[open] .pad").wait_for()
            assert serious(page) == []
    finally:
        context.close()
