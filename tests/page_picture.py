"""Takes the picture of the page that the README shows: `python tests/page_picture.py`, where there is a browser."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

from plumbline import check, read_layout
from plumbline.page.page import page

ROOT = Path(__file__).parent.parent
OUT = ROOT / "docs" / "page.png"


def main() -> int:
    """Open the tangle's page on a phone-sized screen and keep what is seen."""
    from playwright.sync_api import sync_playwright

    browser_path = os.environ.get("PLUMBLINE_BROWSER") or shutil.which("chromium")
    if browser_path is None:
        print("no browser is installed", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as run:
        path = Path(folder) / "page.html"
        path.write_text(page(check(read_layout(ROOT / "layouts" / "tangle.yaml"))), encoding="utf-8")
        browser = run.chromium.launch(executable_path=browser_path, args=["--no-sandbox", "--disable-gpu"])
        view = browser.new_page(viewport={"width": 360, "height": 780}, device_scale_factor=1.5)
        view.goto(path.as_uri())
        view.locator("li.finding[data-finding='3'] .badge").dispatch_event("click")
        view.evaluate("scrollTo(0, 0)")
        view.screenshot(path=OUT)
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
