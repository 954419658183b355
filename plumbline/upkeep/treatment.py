"""The order of treatment: water from the fish passes a solids filter before it comes to the plants."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from ..catalogued import finding
from ..findings import Finding, as_tuple
from ..hydraulics.flows import Flows
from ..layout.faults import listed
from ..layout.model import Layout
from .ways import Node, holding, systems, water_ways

if TYPE_CHECKING:
    import networkx as nx

__all__ = ["Order", "order_of_treatment", "treatment"]


@dataclass(frozen=True, slots=True)
class Order:
    """How one system's water comes from its fish to its plants. `unfiltered` are the beds that some water comes to without passing a solids
    filter, each with a shortest way: the steps of the graph. `filters` are all of the system's; `before` whether water from
    the fish goes through one of them and on to plants, past no other fish; `after` those that stand behind plants in that sense."""

    unfiltered: tuple[tuple[str, tuple[Node, ...]], ...]
    filters: tuple[str, ...]
    before: bool
    after: tuple[str, ...]


@as_tuple
def order_of_treatment(layout: Layout, ways: nx.DiGraph[Node]) -> Iterator[Order]:
    """Find the order of treatment in each system that holds both fish and plants, by `water_ways`. A shortest way is one of the least length of
    pipe.

    Reference: Dijkstra's method, by networkx; that a way exists at all is reachability once the filters are taken out.
    """
    import networkx as nx

    number = systems(layout)
    for system in sorted(set(number.values())):
        fish, plants, filters = (
            [node for node in holding(layout, what) if number[node] == system]
            for what in ("fish", "plants", "solids filter")
        )
        if not fish or not plants:
            continue
        past = ways.copy()
        past.remove_nodes_from(filters)
        found = nx.multi_source_dijkstra_path(past, fish, weight="length")
        unfiltered = tuple((bed[1], tuple(found[bed])) for bed in plants if bed in found)
        from_fish = {node for one in fish for node in nx.descendants(ways, one)}
        on = ways.copy()  # from where on no fish make it dirty again
        on.remove_nodes_from(fish)
        before = any(one in from_fish and nx.descendants(on, one) & set(plants) for one in filters)
        after = tuple(one[1] for one in filters if any(one in nx.descendants(on, bed) for bed in plants))
        yield Order(unfiltered, tuple(one[1] for one in filters), before, after)


@as_tuple
def treatment(layout: Layout, flows: Flows) -> Iterator[Finding]:
    """Report plants that get water from the fish past the solids filter: each bed by itself; all at once where the filter stands behind the
    plants, and where there is none."""
    ways = water_ways(layout, flows)
    without: list[tuple[str, tuple[Node, ...]]] = []
    for order in order_of_treatment(layout, ways):
        if not order.filters:
            without += order.unfiltered
        elif order.unfiltered and order.after and not order.before:
            yield _after(ways, order)
        else:
            yield from (_past(ways, bed, way, order.filters) for bed, way in order.unfiltered)
    if without:
        yield _without(without)


def _past(ways: nx.DiGraph[Node], bed: str, way: Sequence[Node], filters: Sequence[str]) -> Finding:
    line = _first_line(ways, way)
    return finding(
        "unfiltered-path",
        f"Water from the fish gets to '{bed}' past the solids filter: {_told(ways, way)}.",
        f"lead what runs in line '{line}' through {_names(filters, 'or')} before it goes on to '{bed}', or shut that way",
        line=line,
    )


def _after(ways: nx.DiGraph[Node], order: Order) -> Finding:
    way = min((way for _, way in order.unfiltered), key=len)
    stands = f"{_names(order.after)} {'stands' if len(order.after) == 1 else 'stand'}"
    return finding(
        "filter-after-plants",
        f"{stands} behind the plants: water from the fish comes to {_names(one for one, _ in order.unfiltered)} first, as by "
        f"{_told(ways, way)}, and leaves its solids there.",
        f"lead the water of '{way[0][1]}' into {_names(order.after, 'or')} first, and from there to the plants",
        line=_first_line(ways, way),
    )


def _without(unfiltered: Sequence[tuple[str, tuple[Node, ...]]]) -> Finding:
    beds = [bed for bed, _ in unfiltered]
    fish = list(dict.fromkeys(way[0][1] for _, way in unfiltered))
    return finding(
        "no-solids-filter",
        f"Water from the fish comes to {_names(beds)} without a solids filter anywhere.",
        f"lead the water of {_names(fish)} through a solids filter first, such as a swirl filter or a settling tank; beds of gravel or "
        "clay pebbles catch the solids themselves, and want rinsing out when they clog",
        vessel=beds[0],
    )


def _first_line(ways: nx.DiGraph[Node], way: Sequence[Node]) -> str:
    """The line by which a way leaves the fish: no way goes from one vessel to another without one."""
    edges = (ways.edges[one, other] for one, other in pairwise(way))
    return next(str(edge["name"]) for edge in edges if edge["kind"] == "line")


def _told(ways: nx.DiGraph[Node], way: Sequence[Node]) -> str:
    """A way in words: its vessels, pumps and lines, one after the other."""
    said = [f"'{way[0][1]}'"]
    for one, other in pairwise(way):
        edge = ways.edges[one, other]
        step = f"{edge['kind']} '{edge['name']}'"
        if said[-1] != step:
            said.append(step)
        if other[0] == "vessel":
            said.append(f"'{other[1]}'")
    return " -> ".join(said)


def _names(names: Iterable[str], last: str = "and") -> str:
    return listed((f"'{name}'" for name in names), last)
