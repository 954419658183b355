"""What many tests share: a layout from a text, without a file of its own."""

from __future__ import annotations

import os
import tempfile
import textwrap
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from marks import MARKS

# Before numpy is loaded: small matrices are slower with more threads than one, most of all when tests run side by side.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Programs that tests start are compiled once, in a folder that is thrown away, where whoever runs this wants none of it kept.
if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
    os.environ["PYTHONPYCACHEPREFIX"] = (kept := tempfile.TemporaryDirectory()).name

from plumbline import read_layout
from plumbline.layout.model import Layout

# No test is a matter of time; and what a landing is held to is the same each time.
settings.register_profile("plumbline", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("plumbline")


FEW = ("courtyard", "gallons", "siphon_bed")
"""The layouts with which a test marked `few` is run often: two beds, another unit, and a day."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every test says what it rests on, by just one of the four marks; what goes over all layouts at length is slow but for a few, and so is what
    drives a browser. The longest come first, so that none is left for the end while the other cores wait."""
    taken = Counter[str]()
    for item in items:
        few = item.get_closest_marker("few") and not any(name in item.name for name in FEW)
        if few or item.get_closest_marker("browser"):
            item.add_marker("slow")
        some = item.get_closest_marker("some")
        if some and not item.get_closest_marker("slow"):
            case = item.nodeid.partition("[")[0]
            taken[case] += 1
            if taken[case] > some.args[0]:
                item.add_marker("slow")
    unsaid = [
        item.nodeid
        for item in items
        if isinstance(item, pytest.Function) and len(MARKS.keys() & {mark.name for mark in item.iter_markers()}) != 1
    ]
    if unsaid:
        raise pytest.UsageError("\n".join([f"Each of these wants just one mark of {', '.join(MARKS)}:", *unsaid]))
    items.sort(
        key=lambda item: -max((seconds for mark in item.iter_markers("slow") for seconds in mark.args), default=0)
    )


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """On more cores than one each takes a run of tests, whose layouts it checks once, and helps out where it is done before another."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log) if config.getoption("dist") == "load" else None


ReadText = Callable[[str], Layout]


@pytest.fixture
def read_text(tmp_path: Path) -> ReadText:
    """Read a layout given as text."""

    def read(text: str) -> Layout:
        path = tmp_path / "layout.yaml"
        path.write_text(textwrap.dedent(text), encoding="utf-8")
        return read_layout(path)

    return read


@pytest.fixture
def worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands take a diagnosis and a look for mishaps that another test of this process had worked out of the same layout."""
    from checks import once

    from plumbline import diagnose, mishaps

    monkeypatch.setattr(diagnose, "diagnose", once(diagnose.diagnose))
    monkeypatch.setattr(mishaps, "find_mishaps", once(mishaps.find_mishaps))


def pytest_addoption(parser: pytest.Parser) -> None:
    """Options of the random trials, which can run as long as one likes."""
    parser.addoption("--systems", type=int, default=3, help="how many random systems go through every command")
    parser.addoption(
        "--pipework", type=int, default=1250, help="how many random layouts rods are felt along, of two sorts"
    )
    parser.addoption("--faults", type=int, default=None, help="how many random systems faults are put into, eight each")
    parser.addoption("--systems-from", type=int, default=0, help="the seed of the first of them")
    parser.addoption("--commands", default="", help="the only commands that they go through, with commas between")
    parser.addoption("--found", default="", help="a folder that keeps the layouts that fail, instead of stopping there")
