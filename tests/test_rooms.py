"""Imports point one way: of modules, and of the rooms that they stand in, wherever in a module an import stands."""

from __future__ import annotations

import ast
from pathlib import Path

import networkx as nx
import pytest

PACKAGE = Path(__file__).parent.parent / "plumbline"


def imported(name: str, text: str, modules: set[str], *, package: bool) -> set[str]:
    """The modules of the program that a module's text imports, those within functions and for types alone too.

    Parameters:
        name: of the module, with dots.
        modules: all there are.
        package: whether the module is a folder's own.
    """
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found |= {one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = name.split(".")[: name.count(".") + 1 - node.level + package] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            found |= {f"{base}.{one.name}" if f"{base}.{one.name}" in modules else base for one in node.names}
    return (found & modules) - {name}


def dotted(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@pytest.fixture(scope="module")
def arrows() -> nx.DiGraph:
    paths = {dotted(path): path for path in PACKAGE.rglob("*.py")}
    graph = nx.DiGraph()
    for name, path in paths.items():
        text, package = path.read_text(encoding="utf-8"), path.name == "__init__.py"
        graph.add_edges_from((name, other) for other in imported(name, text, set(paths), package=package))
    return graph


def circles(graph: nx.DiGraph) -> list[list[str]]:
    return [sorted(some) for some in nx.strongly_connected_components(graph) if len(some) > 1]


@pytest.mark.invariant
def test_no_modules_import_in_a_circle(arrows: nx.DiGraph) -> None:
    assert arrows.number_of_edges() > 1000
    assert circles(arrows) == []


@pytest.mark.invariant
def test_no_rooms_import_in_a_circle(arrows: nx.DiGraph) -> None:
    """A room is a folder, or a module beside them; the package itself only hands on."""
    rooms = nx.DiGraph()
    for one, other in arrows.edges:
        pair = tuple(name.split(".")[1] if "." in name else name for name in (one, other))
        if "plumbline" not in pair and pair[0] != pair[1]:
            rooms.add_edge(*pair)
    assert ("hydraulics", "layout") in rooms.edges
    assert circles(rooms) == []


@pytest.mark.invariant
def test_an_import_within_a_function_counts() -> None:
    modules = {"plumbline", "plumbline.a", "plumbline.a.b", "plumbline.c", "plumbline.c.d"}
    text = "def late():\n    from ..c import d\n    from . import nothing\n    import plumbline.c\n"
    assert imported("plumbline.a.b", text, modules, package=False) == {"plumbline.c.d", "plumbline.a", "plumbline.c"}
    assert imported("plumbline.a", "from .b import x", modules, package=True) == {"plumbline.a.b"}
