"""The command line itself: words that it does not know, and what it prints of the catalogue."""

from __future__ import annotations

import pytest

from plumbline.catalogue.reading import data
from plumbline.cli import main
from plumbline.commands import WORK
from plumbline.commands.options import READERS


@pytest.mark.pinned
@pytest.mark.parametrize(
    ("said", "answer"),
    [
        (["chek", "x.yaml"], "plumbline: 'chek' is not known here. Did you mean 'check'? "),
        (["names", "pips"], "plumbline names: 'pips' is not known here. Did you mean 'pipes'? "),
        (["names", "xyzzy"], "plumbline names: 'xyzzy' is not known here. There are: pipes, fittings, materials, "),
        (["check"], "plumbline check: the following arguments are required: FILE "),
    ],
)
def test_a_wrong_word_gets_one_sentence(said: list[str], answer: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(said)
    told = capsys.readouterr()
    assert stopped.value.code == 2
    assert told.err.startswith(answer)
    assert told.err.count("\n") == 1
    assert told.out == ""


@pytest.mark.pinned
@pytest.mark.parametrize("said", [["explain", "dead-leg"], ["names", "limits"], ["names", "rods"]])
def test_what_is_listed_fits_the_page(said: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(said) == 0
    lines = capsys.readouterr().out.splitlines()
    assert 90 < max(map(len, lines)) <= 100
    assert any(line.startswith("          ") for line in lines)


@pytest.mark.invariant
def test_every_command_of_the_catalogue_has_its_work_and_every_reader_an_option() -> None:
    table = dict(data("commands.yaml"))
    usual = table.pop("usual")
    assert set(WORK) == set(table)
    given = [one for told in table.values() for one in told.get("takes", {}).values()]
    types = {one["type"] for one in (*given, *usual.values()) if isinstance(one, dict) and "type" in one}
    assert types == set(READERS)
