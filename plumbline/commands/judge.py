"""Commands that judge a layout: does it lift, does it come back, does it stay clean."""

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
    from ..layout import read_layout
    from ..report.current import current_as_json, current_view
    from ..tank_answer import tank_answers

    layout = read_layout(chosen.file)
    answers = tank_answers(layout, wanted=chosen.want, length=chosen.fish_length)
    return answer(
        chosen,
        lambda: current_as_json(layout, answers),
        lambda: current_view(layout, answers, everything=chosen.all),
        status=1 if any(answer.verdict == "too fast" for answer in answers) else 0,
    )


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
}
"""What does the work of each."""
