"""Takes the picture of the page that the README shows: `python tests/page_picture.py`, where there is a browser.

What stands on it in words is kept in the picture's own file, as a text chunk of PNG (ISO/IEC 15948, 11.3.4), so that a test can tell
whether the page still says it without a browser and without comparing dots.
"""

from __future__ import annotations

import os
import shutil
import struct
import sys
import tempfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from plumbline import check, read_layout
from plumbline.page.page import page

ROOT = Path(__file__).parent.parent
OUT = ROOT / "docs" / "page.png"
HEAD = b"iTXtShown\0\0\0\0\0"
"""A text chunk's kind, its keyword, and that it is neither packed nor in a language of its own."""

SEEN = """() => {
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), seen = [];
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
        const range = document.createRange();
        range.selectNodeContents(node);
        const box = range.getBoundingClientRect(), words = node.data.trim().replace(/\\s+/g, " ");
        if (words && box.width > 1 && box.height > 1 && box.top >= 0 && box.bottom <= innerHeight && node.parentElement.checkVisibility())
            seen.push(words);
    }
    return seen;
}"""
"""The pieces of text that stand whole on the screen."""


def chunks(picture: bytes) -> Iterator[tuple[bytes, bytes]]:
    """The chunks of a PNG file, kind and data."""
    at = 8
    while at < len(picture):
        (size,) = struct.unpack(">I", picture[at : at + 4])
        yield picture[at + 4 : at + 8], picture[at + 8 : at + 8 + size]
        at += 12 + size


def shown() -> list[str]:
    """What the picture shows in words, as it was when it was taken."""
    texts = [data[len(HEAD) - 4 :] for kind, data in chunks(OUT.read_bytes()) if (kind + data).startswith(HEAD)]
    return [] if not texts else texts[0].decode("utf-8").split("\n")


def with_words(picture: bytes, words: list[str]) -> bytes:
    """The picture with its words before its last chunk."""
    body = HEAD + "\n".join(words).encode("utf-8")
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return picture[:-12] + chunk + picture[-12:]


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
        OUT.write_bytes(with_words(view.screenshot(), view.evaluate(SEEN)))
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
