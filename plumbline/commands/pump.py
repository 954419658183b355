"""Commands about what moves the water and shares it out: valves, pumps, airlifts."""

from __future__ import annotations

import argparse

from ..errors import PlumblineError
from .options import answer, asked_for

__all__ = ["WORK"]


def _balance(chosen: argparse.Namespace) -> int:
    from ..hydraulics.balance import balance
    from ..layout import read_layout
    from ..report.balance import balance_as_json, balance_view

    file = asked_for(chosen.new, "layout", chosen)
    result = balance(read_layout(chosen.file))
    if file is not None:
        from ..write import write_balanced

        write_balanced(result, file)
    return answer(
        chosen,
        lambda: balance_as_json(result),
        lambda: balance_view(result, written=chosen.new),
        status=1 if result.fails or not result.enough else 0,
    )


def _pumps(chosen: argparse.Namespace) -> int:
    from ..hydraulics.pumping import compare_pumps
    from ..layout import read_layout
    from ..report.pumps import pumps_as_json, pumps_view

    layout = read_layout(chosen.file)
    comparisons = compare_pumps(layout)
    return answer(chosen, lambda: pumps_as_json(layout, comparisons), lambda: pumps_view(layout, comparisons))


def _airlift(chosen: argparse.Namespace) -> int:
    from ..hydraulics.airlift_duty import airlift_duty, sensitivities
    from ..hydraulics.airlift_plan import plan_airlift
    from ..hydraulics.find import find_flows
    from ..hydraulics.how_sure import how_sure
    from ..layout import read_layout
    from ..report.airlift import AtWork, airlift_as_json, airlift_view

    layout = read_layout(chosen.file)
    flows = find_flows(layout)
    if chosen.pump is not None and chosen.pump not in flows.pumps:
        spare = layout.pumps.get(chosen.pump)
        idle = " is not in the file" if spare is None else " stands by" if spare.stands_by else " feeds no line"
        raise PlumblineError(f"Pump '{chosen.pump}'{idle}. There are: {', '.join(flows.pumps) or 'none'}.")
    names = [name for name in flows.pumps if chosen.pump in (None, name)]
    if not names:
        raise PlumblineError("No pump feeds a line, so that there is nothing to compare an airlift with.")
    plans = [
        plan_airlift(layout, flows, name, depth=chosen.depth) for name in names if layout.pumps[name].airlift is None
    ]
    sure = how_sure(layout, flows) if len(plans) < len(names) else None
    working = [
        AtWork(
            airlift_duty(layout, flows, name),
            sure.pumps[name].flow if sure is not None and name in sure.pumps else None,
            sensitivities(layout, flows, name),
        )
        for name in names
        if layout.pumps[name].airlift is not None
    ]
    return answer(chosen, lambda: airlift_as_json(layout, plans, working), lambda: airlift_view(layout, plans, working))


WORK = {"balance": _balance, "pumps": _pumps, "airlift": _airlift}
"""What does the work of each."""
