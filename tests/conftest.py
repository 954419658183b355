"""What many tests share: a layout from a text, without a file of its own."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbline import read_layout
from plumbline.layout.model import Layout

ReadText = Callable[[str], Layout]


@pytest.fixture
def read_text(tmp_path: Path) -> ReadText:
    """Read a layout given as text."""

    def read(text: str) -> Layout:
        path = tmp_path / "layout.yaml"
        path.write_text(textwrap.dedent(text), encoding="utf-8")
        return read_layout(path)

    return read
