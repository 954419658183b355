"""The docs say what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from checks import checked
from docs_tools import PAGES, PICTURES, ROOT, picture, refreshed
from page_picture import shown
from test_page import tree

from plumbline import catalogue


@pytest.mark.pinned
@pytest.mark.slow
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
@pytest.mark.usefixtures("worked_out_once")
def test_output_shown_is_what_the_code_prints(page: Path) -> None:
    assert refreshed(page) == page.read_text(encoding="utf-8")


@pytest.mark.pinned
@pytest.mark.few
@pytest.mark.parametrize("name", PICTURES)
def test_pictures_are_what_the_code_draws(name: str) -> None:
    """The same up to a tenth of a pixel here and there: the last digits of a linear program differ between machines."""
    shown = (ROOT / "docs" / name).read_text(encoding="utf-8")
    drawn = picture(name)
    number = re.compile(r"-?\d+(?:\.\d+)?")
    assert number.sub("#", shown) == number.sub("#", drawn)
    pairs = zip(number.findall(shown), number.findall(drawn), strict=True)
    assert max(abs(float(a) - float(b)) for a, b in pairs) < 0.25


@pytest.mark.slow(4)
@pytest.mark.pinned
def test_the_picture_of_the_page_says_what_the_page_says() -> None:
    """Its words and numbers, not its dots: each piece of text on it stands on the page as it is now, and the page's first words on it."""
    said = [" ".join(text.split()) for text in tree("tangle.yaml").texts]
    seen = shown()
    assert len(seen) > 40
    assert [words for words in seen if words not in said] == []
    result = checked("tangle.yaml")
    assert f"{result.score.points:.1f}" in seen
    assert f"{result.score.cleanable:.0%}" in seen
    assert result.layout.name in seen


@pytest.mark.invariant
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        assert (page.parent / target).exists(), target


@pytest.mark.invariant
def test_every_kind_of_finding_has_its_section() -> None:
    text = (ROOT / "docs" / "findings.md").read_text(encoding="utf-8")
    for kind in catalogue.findings():
        assert f"\n## {kind}\n" in text


@pytest.mark.invariant
def test_every_limit_is_named_in_the_catalogue() -> None:
    for row in catalogue.findings().values():
        for name in row.limits:
            assert name in catalogue.limits(), (row.kind, name)


@pytest.mark.invariant
def test_every_kind_has_a_weight_and_its_reason() -> None:
    assert set(catalogue.weights()) == set(catalogue.findings())
    for row in catalogue.weights().values():
        assert row.per
        assert row.reason
        assert set(row.unless) <= set(catalogue.findings())
        weights = [row.value, *(other[0] for other in (row.worse, row.milder) if other is not None)]
        assert all(0.0 <= weight < 1.0 for weight in weights)
        # What only tells costs nothing; what warns or fails costs something, but for what would cost points for opening pipe.
        free = catalogue.findings()[row.kind].level == "advice" or row.kind == "floods-when-opened"
        assert row.value > 0.0 or free, row.kind


@pytest.mark.pinned
def test_the_readme_opens_with_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text.count("```sh\n") == 2


@pytest.mark.invariant
def test_the_layout_in_the_readme_reads_and_is_sound(tmp_path: Path) -> None:
    from plumbline import check, read_layout

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (layout,) = re.findall(r"```yaml\n(.*?)```", text, re.DOTALL)
    path = tmp_path / "readme.yaml"
    path.write_text(layout, encoding="utf-8")
    assert check(read_layout(path)).verdict == "ok"
