"""The guide to the language: its tables come from the reader's own, and every example in it is read.

`python tests/test_language_docs.py` writes the tables anew; the tests only compare.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml
from reference_tables import TABLE_NAMES, reference_table

from plumbline.layout import words
from plumbline.layout.model import Layout

ReadText = Callable[[str], Layout]
PAGE = Path(__file__).parent.parent / "docs" / "language.md"
TABLE = re.compile(r"<!-- table: ([a-z ]+) -->\n(.*?)<!-- end -->", re.DOTALL)
BLOCK = re.compile(r"^```yaml ?([a-z ]*)\n(.*?)^```", re.DOTALL | re.MULTILINE)

AROUND = {
    "vessels": "{tank: {base: 0 m, rim: 1 m, water: 0.85 m}, bed: {base: 1.05 m, rim: 0.3 m, water: 0.22 m}}",
    "pumps": "{lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 1 m]]}}",
    "lines": "{riser: {pipe: pvc 25, from: lift, route: [{up: 1.5 m}, elbow, {east: 1 m}], to: bed}}",
}


def with_tables(text: str) -> str:
    """The page with its tables as the reader's own tables have them now."""
    return TABLE.sub(lambda m: f"<!-- table: {m[1]} -->\n{reference_table(m[1])}\n<!-- end -->", text)


def blocks(kind: str) -> list[str]:
    return [text for info, text in BLOCK.findall(PAGE.read_text(encoding="utf-8")) if info == kind]


@pytest.mark.invariant
def test_the_tables_are_in_step() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert with_tables(text) == text


@pytest.mark.invariant
def test_every_table_is_in_it() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert sorted(match[0] for match in TABLE.findall(text)) == sorted(TABLE_NAMES)
    for table in words.TABLES.values():
        for word, key in table.items():
            assert f"| `{word}`" in text
            assert f"`{word}: {key.example}`" in text


@pytest.mark.invariant
@pytest.mark.parametrize("text", blocks("complete"), ids=lambda text: text[:20])
def test_every_complete_example_is_read(read_text: ReadText, text: str) -> None:
    assert read_text(text).lines


@pytest.mark.invariant
@pytest.mark.parametrize("text", blocks("in a layout"), ids=lambda text: text[:20])
def test_every_part_of_a_layout_is_read(read_text: ReadText, text: str) -> None:
    """Put into a layout that has the rest."""
    rest = {word: value for word, value in AROUND.items() if f"{word}:" not in text}
    assert read_text(text + "".join(f"{word}: {value}\n" for word, value in rest.items())).lines


@pytest.mark.invariant
@pytest.mark.parametrize("text", blocks("route"), ids=lambda text: text[:20])
def test_every_route_is_read(read_text: ReadText, text: str) -> None:
    head = "vessels: {tank: {base: 0 m, water: 1 m}}\n"
    head += "lines:\n  a:\n    pipe: pvc 25\n    from: tank\n    to: cap\n    route:\n"
    assert read_text(head + textwrap.indent(text, "      ")).lines


@pytest.mark.invariant
def test_every_way_to_write_a_length_is_read(read_text: ReadText) -> None:
    (text,) = blocks("fragments")
    head = "lines:\n  a:\n    pipe: pvc 25\n    from: open air\n    to: cap\n    route:\n"
    parts = read_text(head + textwrap.indent(text, "      ")).lines["a"].parts
    lengths = [1.2, 1.2, 1.2192, 1.6764, 0.01905, 0.0381, 1.6764]
    assert [part.length for part in parts] == pytest.approx(lengths)


@pytest.mark.invariant
def test_the_first_layout_is_built_up_of_its_steps(read_text: ReadText) -> None:
    """The pieces that the first pages show are, put together, a layout; and no other kind of block is left unread."""
    steps = [yaml.safe_load(text) for text in blocks("") if "$schema" not in text]
    assert [list(step) for step in steps] == [["vessels"], ["pumps"], ["lines"], ["lines"]]
    steps[2]["lines"].update(steps[3]["lines"])
    whole = yaml.safe_load(blocks("complete")[0])
    assert {name: line["from"] for name, line in steps[2]["lines"].items()} == {
        name: line["from"] for name, line in whole["lines"].items()
    }
    assert read_text(yaml.safe_dump({**steps[0], **steps[1], **steps[2]})).lines.keys() == {"riser", "return"}
    kinds = {info for info, _ in BLOCK.findall(PAGE.read_text(encoding="utf-8"))}
    assert kinds == {"", "complete", "in a layout", "route", "fragments"}


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
