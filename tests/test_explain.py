"""`plumbline explain WORD` knows every word of the language, of the catalogue, of the trade, and of the findings."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from plumbline import catalogue
from plumbline.cli import main
from plumbline.errors import PlumblineError
from plumbline.layout import words
from plumbline.report.explain import explain


def every_word() -> Iterator[str]:
    for name, table in words.TABLES.items():
        yield name
        for word, key in table.items():
            yield word
            yield from key.choices
    yield from catalogue.fittings().words
    yield from catalogue.pipes().words
    for rows in (
        catalogue.findings(),
        catalogue.limits(),
        catalogue.uncertainty(),
        catalogue.fouling(),
        catalogue.terms(),
    ):
        yield from rows
    for some in catalogue.trade_words().values():
        yield from some


@pytest.mark.invariant
def test_it_knows_every_word() -> None:
    unknown = []
    ends = {row.name for row in catalogue.fittings().values() if row.place == "end"}
    for word in dict.fromkeys(every_word()):
        try:
            assert explain(word)
        except PlumblineError:
            unknown.append(word)
    assert set(unknown) <= ends


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
