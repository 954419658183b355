"""`plumbline explain WORD` knows every word of the language, of the catalogue, of the trade, and of the findings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest
import rich.table

from plumbline import catalogue, read_layout
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.layout import words
from plumbline.layout.schema import layout_schema
from plumbline.page import tables
from plumbline.report.explain import explain

LAYOUTS = Path(__file__).parents[1] / "layouts"


def every_word() -> Iterator[str]:
    for name, table in words.TABLES.items():
        yield name
        for word, key in table.items():
            yield word
            yield from (*key.choices, *key.also)
    yield from catalogue.fittings().words
    yield from catalogue.pipes().words
    for rows in (
        catalogue.findings(),
        catalogue.limits(),
        catalogue.uncertainty(),
        catalogue.fouling(),
        catalogue.terms(),
        catalogue.columns(),
        catalogue.rods(),
        catalogue.materials().words,
        catalogue.codes().words,
    ):
        yield from rows
    for some in catalogue.trade_words().values():
        yield from some


def unknown(some: Iterable[str]) -> list[str]:
    """The words that it does not know."""
    out = []
    for word in dict.fromkeys(some):
        try:
            assert explain(word)
        except PlumblineError:
            out.append(word)
    return out


@pytest.mark.invariant
def test_it_knows_every_word() -> None:
    assert unknown(every_word()) == []


def schema_words(node: object) -> Iterator[str]:
    """Every word of the language as an editor knows it: the keys, and what may stand after them."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "properties":
                yield from value
            elif key == "enum":
                yield from (str(word) for word in value if word is not None)
            yield from schema_words(value)
    elif isinstance(node, list):
        for one in node:
            yield from schema_words(one)


@pytest.mark.invariant
def test_it_knows_every_word_of_the_schema() -> None:
    words_of_it = set(schema_words(layout_schema()))
    assert len(words_of_it) > 500
    assert unknown(words_of_it) == []


SHOWN = [
    "check courtyard",
    "check timer_bed",
    "card courtyard",
    "card gallons",
    "day siphon_bed",
    "day timer_bed",
    "flush courtyard",
    "fouling courtyard",
    "current round_tank",
    "balance unbalanced",
    "pumps marginal_pump",
    "airlift courtyard",
    "airlift bubbler",
    "parts courtyard",
    "size five_kilos",
    "redesign low_cap",
    "page courtyard",
]
"""A command, and a layout in which it has much to tell."""


@pytest.mark.slow(30)
@pytest.mark.invariant
def test_it_knows_every_heading(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever stands over a column of any table that is put on the screen or on the page, but for names of the user's."""
    found: set[str] = set()
    add_column, make = rich.table.Table.add_column, tables.Table.__init__

    def column(table: rich.table.Table, header: object = "", *rest: Any, **more: Any) -> None:
        found.add(str(header))
        add_column(table, header, *rest, **more)  # type: ignore[arg-type]

    def made(table: tables.Table, *rest: Any, **more: Any) -> None:
        make(table, *rest, **more)
        found.update(head.lstrip(">") for head in table.columns)

    monkeypatch.setattr(rich.table.Table, "add_column", column)
    monkeypatch.setattr(tables.Table, "__init__", made)
    named = set()
    for shown in SHOWN:
        command, name = shown.split()
        more = {"redesign": ["--quick"], "page": ["-o", str(tmp_path / "page.html")]}.get(command, [])
        assert main([command, str(LAYOUTS / f"{name}.yaml"), *more]) in (0, 1)
        named |= set(read_layout(LAYOUTS / f"{name}.yaml").vessels)
    capsys.readouterr()
    assert len(found) > 90
    assert unknown(found - named - {""}) == []
    bare = {re.sub(r"^\d+ | \d+$", "", head) for head in found}
    assert set(catalogue.columns()) - bare == set(), "headings that no table has"


@pytest.mark.invariant
def test_a_word_that_is_several_things_gets_all_of_them() -> None:
    said = explain("sleeve")
    assert said.count("\n\n") == 2
    assert re.search(r"^sleeve \(a word of end\)", said, re.MULTILINE)
    assert "sleeve (in a step): write coupling" in said


@pytest.mark.pinned
def test_a_slip_gets_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "standpip"]) == 2
    assert capsys.readouterr().err == "There is no finding and no word called 'standpip'. Did you mean 'standpipe'?\n"
    assert main(["explain", "globe", "valve"]) == 0
    assert "a rod stops at it" in capsys.readouterr().out


@pytest.mark.invariant
def test_every_word_and_heading_is_explained_by_words() -> None:
    """YAML's own `no` and `yes` are no words: they want quotes."""
    for told in (catalogue.terms(), catalogue.columns(), *catalogue.trade_words().values()):
        assert {type(word) for pair in told.items() for word in pair} == {str}
