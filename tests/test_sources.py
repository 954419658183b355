"""Sources as users see them: each names a work or says that there is none, and a rule shows the same one wherever it shows."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from checks import checked
from test_layouts import KNOWN

from plumbline import catalogue
from plumbline.report.explain import explain
from plumbline.report.json import as_json

ROOT = Path(__file__).parent.parent
TABLES = sorted((ROOT / "plumbline" / "catalogue").glob("*.yaml"))
NO_WORK = re.compile(
    r"public (page|text|copy|note|dict)|on a page|own page|web ?site|makers?'s? |trade journal|glossary|secondary text|third party|quoted|"
    r"reprinted|textbooks|10\.\d{4}/",
    re.IGNORECASE,
)
"""What stands in a source in place of the work's name."""


def sources(value: Any, *, said: bool = False) -> Iterator[str]:
    """Every text under a key `source` or `others`, however deep."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from sources(inner, said=key in ("source", "others"))
    elif isinstance(value, list):
        for inner in value:
            yield from sources(inner)
    elif said and isinstance(value, str):
        yield value


@pytest.mark.invariant
@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_a_source_is_a_work_or_says_that_there_is_none(path: Path) -> None:
    # What a library's documentation quotes is a work that can be read: the library is named.
    found = [text for text in sources(yaml.safe_load(path.read_text(encoding="utf-8"))) if "fluids" not in text]
    assert [text for text in found if NO_WORK.search(text)] == []


@pytest.mark.invariant
def test_the_words_that_are_looked_for_are_found() -> None:
    for text in (
        "as quoted on a public page",
        "a maker's table",
        "glossary of a trade journal",
        "read by a third party",
    ):
        assert NO_WORK.search(text), text
    assert not NO_WORK.search("common practice, no source")


@pytest.mark.invariant
@pytest.mark.slow
@pytest.mark.parametrize("name", KNOWN)
def test_a_finding_shows_the_source_of_its_kind(name: str) -> None:
    """In the JSON, in `explain` and on the page of findings: letter by letter the same."""
    page = " ".join((ROOT / "docs" / "findings.md").read_text(encoding="utf-8").split())
    for finding in as_json(checked(name))["findings"]:
        kind, source = finding["kind"], " ".join(finding["source"].split())
        assert finding["source"] in catalogue.sources(kind), kind
        assert source in " ".join(explain(kind).split()), kind
        assert source in page, kind


@pytest.mark.invariant
def test_a_published_test_says_how_its_source_was_read() -> None:
    found = 0
    for path in sorted(Path(__file__).parent.glob("test_*.py")):
        text = path.read_text(encoding="utf-8")
        for test in ast.parse(text).body:
            if isinstance(test, ast.FunctionDef) and any(
                "published" in ast.unparse(one) for one in test.decorator_list
            ):
                first = min(one.lineno for one in test.decorator_list)
                own = "\n".join(text.split("\n")[first - 1 : test.end_lineno])
                assert re.search(r"\[[LM]|from memory|looked up|at second hand", own), test.name
                found += 1
    assert found > 80


@pytest.mark.pinned
def test_no_layout_is_said_to_meet_a_code(capsys: pytest.CaptureFixture[str]) -> None:
    from plumbline.cli import main

    assert main(["names", "codes"]) == 0
    listed = " ".join(capsys.readouterr().out.split())
    assert "These rules are a selection" in listed
    assert "does not say that a layout meets the code" in listed


@pytest.mark.invariant
def test_a_rule_of_a_code_is_cited_as_far_as_it_is_known() -> None:
    codes = catalogue.codes()
    assert {codes["ipc"].cite(rule) for rule in codes["ipc"].rules if rule.what == "clearance"} == {
        "International Plumbing Code 2018, 708.1"
    }
    (rule,) = codes["as/nzs 3500.2"].rules
    assert codes["as/nzs 3500.2"].cite(rule) == "AS/NZS 3500.2"


@pytest.mark.pinned
def test_the_brush_of_the_trade_goes_by_one_neutral_name() -> None:
    named = [
        path
        for folder in ("plumbline", "layouts")
        for path in (ROOT / folder).rglob("*")
        if path.suffix in (".py", ".yaml", ".txt", ".html")
    ]
    named += [path for path in (ROOT / "docs").rglob("*.md") if path.name != "changelog.md"]
    assert len(named) > 300
    assert not [
        path.name for path in named if re.search(r"bottle[- ]?brush|brush on conduit", path.read_text(encoding="utf-8"))
    ]


@pytest.mark.invariant
def test_what_others_measured_is_no_file_of_theirs() -> None:
    """A copy of another's file would say where it came from, or whose it is."""
    files = [path for path in (ROOT / "tests" / "data").rglob("*") if path.is_file()]
    assert len(files) > 3
    assert not [
        path.name
        for path in files
        if re.search(r"https?://|\w@\w|licen[cs]e", path.read_text(encoding="utf-8"), re.IGNORECASE)
    ]


@pytest.mark.invariant
@pytest.mark.parametrize(
    "page",
    sorted((ROOT / "docs").glob("methods*.md")) + sorted((ROOT / "docs" / "methods").glob("*.md")),
    ids=lambda path: path.stem,
)
def test_no_passage_of_the_methods_stands_twice(page: Path) -> None:
    """No run of ten words in its prose."""
    prose = re.sub(r"```.*?```|^\|.*$", " ", page.read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE)
    words = re.findall(r"[\w'’/.^]+", prose)
    runs = Counter(tuple(words[at : at + 10]) for at in range(len(words) - 9))
    assert not [" ".join(run) for run, times in runs.items() if times > 1]
