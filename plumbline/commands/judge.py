"""Commands that judge a layout: does it lift, does it come back, does it stay clean; what moves the water and shares it out; and what the words mean."""

from __future__ import annotations

import argparse

from ..errors import PlumblineError
from .options import answer, asked_for

__all__ = ["WORK"]


def _check(chosen: argparse.Namespace) -> int:
    from ..check import check
    from ..layout import read_layout
    from ..report.json import as_json
    from ..report.screen import whole_check

    result = check(read_layout(chosen.file))
    return answer(
        chosen,
        lambda: as_json(result),
        lambda: whole_check(result, everything=chosen.all, defaults=chosen.defaults),
        status=1 if result.verdict == "fail" else 0,
    )


def _card(chosen: argparse.Namespace) -> int:
    from ..check import check
    from ..layout import read_layout
    from ..report.card import card_as_json, card_view
    from ..upkeep.card import wall_card, wash_jobs
    from ..upkeep.flushing import flush_ways

    result = check(read_layout(chosen.file))
    washes = wash_jobs(flush_ways(result.layout))
    card = wall_card(result.layout, result.flows, result.upkeep, washes, share=chosen.share, cut=result.cut)
    return answer(chosen, lambda: card_as_json(card), lambda: card_view(card))


def _day(chosen: argparse.Namespace) -> int:
    from ..day import whole_day
    from ..day.told import what_goes_wrong
    from ..layout import read_layout
    from ..report.day import DayView, day_as_json
    from ..report.screen import telling

    layout = read_layout(chosen.file)
    with telling("following the water", quiet=chosen.json) as tell:
        course = whole_day(layout, hours=chosen.hours, progress=lambda share: tell(f"{share:.0%}"))
    return answer(
        chosen,
        lambda: day_as_json(layout, course),
        lambda: DayView(layout, course, everything=chosen.all),
        status=1 if any(one.level == "fail" for one in what_goes_wrong(layout, course)) else 0,
    )


def _mishaps(chosen: argparse.Namespace) -> int:
    from ..layout import read_layout
    from ..mishaps import choose_guards, find_mishaps
    from ..redesign.prices import read_prices
    from ..report.mishaps import mishaps_as_json, mishaps_view
    from ..report.screen import telling

    layout, prices = read_layout(chosen.file), read_prices(chosen.prices)
    with telling("what goes wrong", quiet=chosen.json) as tell:
        found = find_mishaps(
            layout, hours=chosen.hours, progress=lambda n, of, what: tell(f"{n} of {of}: {what}", n, of)
        )
    with telling("what guards against it", quiet=chosen.json) as tell:
        guards = choose_guards(found, prices, progress=lambda n, of, what: tell(f"{n} of {of}: {what}", n, of))
    return answer(
        chosen, lambda: mishaps_as_json(found, guards), lambda: mishaps_view(found, guards, everything=chosen.all)
    )


def _flush(chosen: argparse.Namespace) -> int:
    from ..layout import read_layout
    from ..report.flush import flush_as_json, flush_view
    from ..upkeep.flushing import flush_ways

    found = flush_ways(read_layout(chosen.file))
    return answer(chosen, lambda: flush_as_json(found), lambda: flush_view(found))


def _fouling(chosen: argparse.Namespace) -> int:
    from ..check import flushes
    from ..diagnose.pace import pace_of, text_with_pace, visit_of, with_pace
    from ..hydraulics.find import find_flows
    from ..layout import read_layout, read_visit
    from ..report.fouling import fouling_as_json, fouling_view
    from ..report.screen import telling
    from ..upkeep.fouling import fouling

    file = asked_for(chosen.new, "layout", chosen, *chosen.readings)
    layout = read_layout(chosen.file)
    visits = [read_visit(visit, layout) for visit in chosen.readings] or visit_of(layout)
    if file is not None and not visits:
        raise PlumblineError(
            "There is nothing to write: -o writes the rates that readings tell, with one of when pipe was cleaned, in FILE or by --readings VISIT.yaml."
        )
    pace = None
    if visits:
        with telling("how fast it fouls", quiet=chosen.json) as tell:
            pace = pace_of(layout, visits, tell=lambda n, of: tell(f"{n} of {of}", n, of))
        layout = with_pace(pace)
    with telling("fouling", quiet=chosen.json) as tell:
        opened = flushes(layout, find_flows(layout, margins=False))
        result = fouling(
            layout,
            opened,
            months=chosen.months,
            every=chosen.every,
            progress=lambda n, of: tell(f"{n} of {of}", n, of),
        )
    if file is not None and pace is not None:
        file.write(text_with_pace(pace))
    return answer(chosen, lambda: fouling_as_json(result, pace), lambda: fouling_view(result, pace, chosen.new))


def _rounds(chosen: argparse.Namespace) -> int:
    from ..report.rounds import rounds_as_json, rounds_view
    from ..report.screen import telling
    from ..rounds import make_rounds

    with telling("on the rounds", quiet=chosen.json) as tell:
        stops = make_rounds(
            chosen.folder, ahead=chosen.ahead, progress=lambda n, of, file: tell(f"{n} of {of}: {file}", n, of)
        )
    return answer(
        chosen,
        lambda: rounds_as_json(stops),
        lambda: rounds_view(stops),
        status=1 if any(stop.verdict in ("fail", "unread") for stop in stops) else 0,
    )


def _diagnose(chosen: argparse.Namespace) -> int:
    from ..diagnose import diagnose
    from ..diagnose.learnt import write_learnt
    from ..layout import read_layout, read_visit
    from ..report.diagnose import diagnosis_as_json, diagnosis_view
    from ..report.screen import telling

    file = asked_for(chosen.new, "layout", chosen, chosen.readings)
    layout = read_layout(chosen.file)
    readings = layout.readings if chosen.readings is None else read_visit(chosen.readings, layout)
    with telling("weighing causes", quiet=chosen.json) as tell:
        found = diagnose(layout, readings, tell=lambda n, of: tell(f"{n} of {of}", n, of))
    learnt, unwritten = None, None
    try:
        learnt = None if file is None else (chosen.new, write_learnt(found, file))
    except PlumblineError as error:  # what is found is told all the same
        unwritten = error
    status = answer(
        chosen,
        lambda: diagnosis_as_json(found, learnt and chosen.new),
        lambda: diagnosis_view(found, everything=chosen.all, written=learnt),
    )
    if unwritten is not None:
        raise unwritten
    return status


def _current(chosen: argparse.Namespace) -> int:
    from ..hydraulics.hole_size import tank_answers
    from ..layout import read_layout
    from ..report.current import current_as_json, current_view

    layout = read_layout(chosen.file)
    answers = tank_answers(layout, wanted=chosen.want, length=chosen.fish_length)
    return answer(
        chosen,
        lambda: current_as_json(layout, answers),
        lambda: current_view(layout, answers, everything=chosen.all),
        status=1 if any(answer.verdict == "too fast" for answer in answers) else 0,
    )


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


def _explain(chosen: argparse.Namespace) -> int:
    from ..report.explain import explain, kinds

    print(explain(" ".join(chosen.word)) if chosen.word else kinds())
    return 0


def _names(chosen: argparse.Namespace) -> int:
    from ..report.explain import listing

    print(listing(chosen.what))
    return 0


def _schema(chosen: argparse.Namespace) -> int:
    import json

    from ..layout.schema import layout_schema

    print(json.dumps(layout_schema(), ensure_ascii=False, indent=2))
    return 0


WORK = {
    "check": _check,
    "card": _card,
    "day": _day,
    "mishaps": _mishaps,
    "flush": _flush,
    "fouling": _fouling,
    "rounds": _rounds,
    "diagnose": _diagnose,
    "current": _current,
    "balance": _balance,
    "pumps": _pumps,
    "airlift": _airlift,
    "explain": _explain,
    "names": _names,
    "schema": _schema,
}
"""What does the work of each."""
