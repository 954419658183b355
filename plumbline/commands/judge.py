"""Commands that judge a layout: does it lift, does it come back, does it stay clean."""

from __future__ import annotations

import argparse

from ..errors import PlumblineError
from .options import Commands, answer, asked_for, command, fish_length, hours, months, speed

__all__ = ["add_to"]


def add_to(commands: Commands) -> None:
    """Add these commands to the parser."""
    check = command(
        commands, "check", _check, "does it lift, does it come back, can it be cleaned: the verdict on a layout"
    )
    check.add_argument("--all", action="store_true", help="show every finding and every row")
    check.add_argument("--defaults", action="store_true", help="also list every value that the file left out")

    card = command(commands, "card", _card, "a wall card: the least cleaning that keeps the pipe sound, for the owner")
    card.add_argument(
        "--share",
        metavar="PART",
        default="80%",
        help="how much of the pipe that can be cleaned; left out, 80%%",
    )

    day = command(
        commands,
        "day",
        _day,
        "the water through the day: levels, floods and drains, timers, switches, siphons and top-up",
    )
    day.add_argument("--hours", metavar="N", type=hours, default=24.0, help="for how long, from midnight; left out, 24")
    day.add_argument("--all", action="store_true", help="show everything that happens")

    command(
        commands,
        "flush",
        _flush,
        "what opening each cap or drain valve scours, how long it takes and the water it costs",
    )

    mishaps = command(
        commands,
        "mishaps",
        _mishaps,
        "every single part gone wrong, one at a time: the first harm, when, and which few guards take most of it away",
    )
    mishaps.add_argument(
        "--hours", metavar="N", type=hours, default=12.0, help="for how long each is followed; left out, 12"
    )
    mishaps.add_argument("--prices", metavar="PRICES.yaml", help="your own prices, as for a parts list")
    mishaps.add_argument("--all", action="store_true", help="show every mishap, harmless ones too")

    fouling = command(
        commands,
        "fouling",
        _fouling,
        "what slime and sludge leave of the flow, month by month, and what cleaning wins back",
    )
    fouling.add_argument("--months", metavar="N", type=months, default=24, help="how many months; left out, 24")
    fouling.add_argument(
        "--clean-every", metavar="N", type=months, dest="every", help="clean all that can be reached every N months"
    )
    fouling.add_argument(
        "--readings",
        metavar="VISIT.yaml",
        nargs="+",
        default=(),
        help="files of visits, to find how fast this system fouls; left out, the readings in FILE",
    )
    fouling.add_argument(
        "-o", metavar="NEW.yaml", dest="new", help="write the layout with the rates found to a new file"
    )
    fouling.add_argument("--force", action="store_true", help="write over a file that is there; never over FILE itself")

    rounds = commands.add_parser(
        "rounds", help="all systems of a folder in one table, the worst first: verdict, what is due, what to carry"
    )
    rounds.add_argument("folder", metavar="FOLDER", help="a folder of layout files")
    rounds.add_argument(
        "--ahead", metavar="N", type=months, default=1, help="months to look ahead for what falls due; left out, 1"
    )
    rounds.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    rounds.set_defaults(work=_rounds)

    diagnose = command(
        commands,
        "diagnose",
        _diagnose,
        "what is wrong with a system that runs otherwise than its file says, from readings on site",
        file="a layout file, with its readings or without",
    )
    diagnose.add_argument(
        "--readings", metavar="VISIT.yaml", help="a file of a visit, with a block of readings; left out, those in FILE"
    )
    diagnose.add_argument(
        "-o", metavar="NEW.yaml", dest="new", help="write the layout with what is learnt to a new file"
    )
    diagnose.add_argument(
        "--force", action="store_true", help="write over a file that is there; never over FILE itself"
    )
    diagnose.add_argument("--all", action="store_true", help="show every suspect")

    current = command(
        commands,
        "current",
        _current,
        "how a spray bar turns its tank: each hole's jet, the current, what the fish can swim, which drill",
    )
    current.add_argument(
        "--want", metavar="SPEED", type=speed, help="the current to find holes for, for instance '20 cm/s'"
    )
    current.add_argument(
        "--fish-length", metavar="LENGTH", type=fish_length, help="of the smallest fish, for instance '8 cm'"
    )
    current.add_argument("--all", action="store_true", help="show every hole")


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
    from ..report.card import CardView, card_as_json
    from ..units import NotAQuantity, quantity
    from ..upkeep.card import wall_card, wash_jobs
    from ..upkeep.flushing import flush_ways

    try:
        share = quantity(chosen.share, "ratio")
    except NotAQuantity as error:
        raise PlumblineError(f"{error}, for --share, for instance 80%") from None
    if not 0.0 < share <= 1.0:
        raise PlumblineError(f"'{chosen.share}' is no share of the pipe: above 0 and at most 100 %, for instance 80%.")
    result = check(read_layout(chosen.file))
    washes = wash_jobs(flush_ways(result.layout))
    card = wall_card(result.layout, result.flows, result.upkeep, washes, share=share, cut=result.cut)
    return answer(chosen, lambda: card_as_json(card), lambda: CardView(card))


def _day(chosen: argparse.Namespace) -> int:
    from ..day import follow_day, with_worst_cut
    from ..day.told import what_goes_wrong
    from ..layout import read_layout
    from ..report.day import DayView, day_as_json
    from ..report.progress import telling

    layout = read_layout(chosen.file)
    with telling("following the water", quiet=chosen.json) as tell:
        course = with_worst_cut(
            layout, follow_day(layout, hours=chosen.hours, progress=lambda share: tell(f"{share:.0%}"))
        )
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
    from ..report.mishaps import MishapsView, mishaps_as_json
    from ..report.progress import telling

    layout, prices = read_layout(chosen.file), read_prices(chosen.prices)
    with telling("what goes wrong", quiet=chosen.json) as tell:
        found = find_mishaps(layout, hours=chosen.hours, progress=lambda n, of, what: tell(f"{n} of {of}: {what}"))
    with telling("what guards against it", quiet=chosen.json) as tell:
        guards = choose_guards(found, prices, progress=lambda n, of, what: tell(f"{n} of {of}: {what}"))
    return answer(
        chosen, lambda: mishaps_as_json(found, guards), lambda: MishapsView(found, guards, everything=chosen.all)
    )


def _flush(chosen: argparse.Namespace) -> int:
    from ..layout import read_layout
    from ..report.flush import FlushView, flush_as_json
    from ..upkeep.flushing import flush_ways

    found = flush_ways(read_layout(chosen.file))
    return answer(chosen, lambda: flush_as_json(found), lambda: FlushView(found))


def _fouling(chosen: argparse.Namespace) -> int:
    from ..check import flushes
    from ..diagnose.pace import pace_of, text_with_pace, visit_of, with_pace
    from ..hydraulics.find import find_flows
    from ..layout import read_layout, read_visit
    from ..report.fouling import FoulingView, fouling_as_json, progress_on
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
        with progress_on("how fast it fouls") as progress:
            pace = pace_of(layout, visits, tell=progress)
        layout = with_pace(pace)
    with progress_on("fouling") as progress:
        opened = flushes(layout, find_flows(layout, margins=False))
        result = fouling(layout, opened, months=chosen.months, every=chosen.every, progress=progress)
    if file is not None and pace is not None:
        file.write(text_with_pace(pace))
    return answer(chosen, lambda: fouling_as_json(result, pace), lambda: FoulingView(result, pace, chosen.new))


def _rounds(chosen: argparse.Namespace) -> int:
    from ..report.progress import telling
    from ..report.rounds import RoundsView, rounds_as_json
    from ..rounds import make_rounds

    with telling("on the rounds", quiet=chosen.json) as tell:
        stops = make_rounds(
            chosen.folder, ahead=chosen.ahead, progress=lambda n, of, file: tell(f"{n} of {of}: {file}")
        )
    return answer(
        chosen,
        lambda: rounds_as_json(stops),
        lambda: RoundsView(stops),
        status=1 if any(stop.verdict in ("fail", "unread") for stop in stops) else 0,
    )


def _diagnose(chosen: argparse.Namespace) -> int:
    from ..diagnose import diagnose
    from ..diagnose.learnt import write_learnt
    from ..layout import read_layout, read_visit
    from ..report.diagnose import DiagnosisView, diagnosis_as_json
    from ..report.fouling import progress_on

    file = asked_for(chosen.new, "layout", chosen, chosen.readings)
    layout = read_layout(chosen.file)
    readings = layout.readings if chosen.readings is None else read_visit(chosen.readings, layout)
    with progress_on("weighing causes") as progress:
        found = diagnose(layout, readings, tell=progress)
    learnt = None if file is None else (chosen.new, write_learnt(found, file))
    return answer(
        chosen,
        lambda: diagnosis_as_json(found, chosen.new),
        lambda: DiagnosisView(found, everything=chosen.all, written=learnt),
    )


def _current(chosen: argparse.Namespace) -> int:
    from ..layout import read_layout
    from ..report.current import CurrentView, current_as_json
    from ..tank_answer import tank_answers

    layout = read_layout(chosen.file)
    answers = tank_answers(layout, wanted=chosen.want, length=chosen.fish_length)
    return answer(
        chosen,
        lambda: current_as_json(layout, answers),
        lambda: CurrentView(layout, answers, everything=chosen.all),
        status=1 if any(answer.verdict == "too fast" for answer in answers) else 0,
    )
