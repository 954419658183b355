"""Commands that change a layout or put it to paper: a redesign, the parts, a sketch, the page, a walk by taps."""

from __future__ import annotations

import argparse
import math
import os
import sys
import threading
from typing import TYPE_CHECKING

from ..errors import PlumblineError
from .options import Commands, answer, asked_for, command, money, months, pixels, port, share

if TYPE_CHECKING:
    from ..check import CheckResult

__all__ = ["add_to"]


def add_to(commands: Commands) -> None:
    """Add these commands to the parser."""
    redesign = command(
        commands,
        "redesign",
        _redesign,
        "the cheapest changes that make a layout good, proven by a check of the changed layout",
    )
    redesign.add_argument("-o", metavar="NEW.yaml", dest="new", help="write the changed layout to a new file")
    redesign.add_argument(
        "--force", action="store_true", help="write over a file that is there; never over FILE itself"
    )
    redesign.add_argument(
        "--cleanable",
        metavar="SHARE",
        type=share,
        default=1.0,
        help="share of the pipe that is to be cleanable, 0 to 1 or in %%; left out, all",
    )
    redesign.add_argument(
        "--margin",
        metavar="SHARE",
        type=share,
        help="spare flow above what each vessel wants; left out, the layout's limit",
    )
    redesign.add_argument("--dead-legs", action="store_true", help="let dead legs over the limit be")
    redesign.add_argument(
        "--afresh",
        action="store_true",
        help="a clean sheet: vessels and pumps stay, and all plain pipe between them is laid anew",
    )
    redesign.add_argument("--budget", metavar="MONEY", type=money, help="what it may cost at most, labour included")
    redesign.add_argument(
        "--prices",
        metavar="FILE",
        help="your price file, YAML or CSV: prices of parts, and of changes and labour if you like",
    )
    redesign.add_argument("--hour", metavar="MONEY", type=money, help="what an hour of labour costs; 0 for your own")
    redesign.add_argument(
        "--minutes",
        metavar="N",
        type=money,
        default=math.inf,
        help="after which it writes the best set found; left out, the clock ends nothing",
    )
    redesign.add_argument("--quick", action="store_true", help="leave out what each change wins and the best buys")
    redesign.add_argument("--all", action="store_true", help="show every finding gone and come")

    parts = command(commands, "parts", _parts, "what to buy and how to cut it: fittings, pipe, a cutting list, prices")
    parts.add_argument("--prices", metavar="FILE", help="your price file, YAML or CSV; left out, there are no prices")
    parts.add_argument("--stock", metavar="LENGTH", help="what pipe is sold in, for instance '3 m'")
    parts.add_argument("--kerf", metavar="WIDTH", help="what a saw cut takes, for instance '3 mm'")
    parts.add_argument("--csv", metavar="OUT.csv", help="also write all of it to a new CSV file")

    sketch = command(commands, "sketch", _sketch, "a picture of the pipe with its trouble marked, as SVG", json=False)
    sketch.add_argument("-o", metavar="OUT.svg", dest="out", required=True, help="the picture to write")
    sketch.add_argument(
        "--view",
        default="iso",
        choices=("iso", "plan", "south", "north", "east", "west"),
        help="isometric, plan, or an elevation by the side it is seen from (default: iso)",
    )
    sketch.add_argument("--width", metavar="PIXELS", type=pixels, default=960, help="of the picture (default: 960)")
    sketch.add_argument("--to-scale", action="store_true", help="keep all lengths to scale, however short")
    sketch.add_argument("--force", action="store_true", help="write over a picture that is there")

    page = command(commands, "page", _page, "the report that a client keeps, as one HTML file", json=False)
    page.add_argument("-o", metavar="OUT.html", dest="out", required=True, help="the page to write")
    page.add_argument("--force", action="store_true", help="write over a page that is there")
    page.add_argument("--after", metavar="NEW.yaml", help="a redesign of it, to show beside it as it would be")
    page.add_argument("--months", metavar="N", type=months, default=12, help="how far to follow slime; left out, 12")
    page.add_argument("--mishaps", action="store_true", help="with what can go wrong, as a table for the owner's wall")
    page.add_argument(
        "--readings",
        metavar="VISIT.yaml",
        help="a file of a visit, to show what is wrong; left out, the readings in FILE",
    )

    walk = command(
        commands,
        "walk",
        _walk,
        "walk a layout in by taps, on a page on this machine; every tap is saved in the file",
        file="a layout file; one that is not there is begun",
        json=False,
    )
    walk.add_argument(
        "--phone", action="store_true", help="serve the page to the local network too, and show a code to scan"
    )
    walk.add_argument("--port", type=port, default=0, help="to serve the page on (default: a free one)")

    watch = command(
        commands, "watch", _watch, "check again on every save, with the page in a browser on this machine", json=False
    )
    watch.add_argument("--port", type=port, default=0, help="to serve the page on (default: a free one)")


def _redesign(chosen: argparse.Namespace) -> int:
    from ..layout import read_layout
    from ..parts import bill_of
    from ..parts import difference as parts_between
    from ..redesign.bends import WALKS
    from ..redesign.buys import best_buys, one_thing, within, worth
    from ..redesign.prices import read_prices
    from ..redesign.search import NothingFoundError, Targets, difference, prove, search, search_afresh
    from ..report.progress import telling
    from ..report.redesign import RedesignView, redesign_as_json

    file = asked_for(chosen.new, "layout", chosen, chosen.prices)
    layout = read_layout(chosen.file)
    prices = read_prices(chosen.prices, chosen.hour)
    targets = Targets(chosen.margin, chosen.cleanable, legs=not chosen.dead_legs)
    with telling("trying", quiet=chosen.json) as tell:
        try:
            found = (search_afresh if chosen.afresh else search)(
                layout, targets, prices, minutes=chosen.minutes, tell=tell
            )
        except NothingFoundError as why:
            more = "" if math.isinf(chosen.minutes) else ", or give it more --minutes"
            raise PlumblineError(f"{why} Ask for less, for instance --cleanable 80% or --dead-legs{more}.") from None
        over = chosen.budget is not None and found.cost > chosen.budget
        if over and found.sheet is not None:
            raise PlumblineError(
                f"Laid afresh it costs {found.cost:.2f}, labour included: more than {chosen.budget:g}. "
                "Without --afresh the best for the money is looked for."
            )
        quick = chosen.quick or found.stopped or found.sheet is not None
        buys = best_buys(found, prices.hour, tell) if over or not quick else ()
        if over:
            found = within(found, buys, chosen.budget)
        worths = () if quick else worth(found, tell)
    result = prove(found, file)
    changes = difference(found.before, result)
    left_out = prices.placeholders(found.changes)
    moved = {change.line for change in found.changes if change.kind in WALKS}
    new_parts = parts_between(bill_of(found.before.layout), bill_of(result.layout), moved)
    told = (found, changes, new_parts, worths, buys, one_thing(found, worths, prices.hour))
    known = {"hour": prices.hour, "written": chosen.new}
    left = None if prices.file is None else left_out
    notes = () if prices.file is None else prices.file.notes
    return answer(
        chosen,
        lambda: redesign_as_json(*told, **known, placeholders=any(left_out)),
        lambda: RedesignView(*told, **known, placeholders=left, notes=notes, everything=chosen.all),
        status=1 if result.verdict == "fail" else 0,
    )


def _parts(chosen: argparse.Namespace) -> int:
    from ..layout import read_layout
    from ..parts import bill_of, cost_of, csv_text, plan_for, read_price_file
    from ..report.parts import PartsView, parts_as_json

    file = asked_for(chosen.csv, "table", chosen, chosen.prices)
    bill = bill_of(read_layout(chosen.file))
    prices = None if chosen.prices is None else read_price_file(chosen.prices)
    plan = plan_for(bill, prices, stock=chosen.stock, kerf=chosen.kerf)
    costs = cost_of(bill, plan, prices)
    if file is not None:
        file.write(csv_text(bill, plan, costs))
    return answer(chosen, lambda: parts_as_json(bill, plan, costs), lambda: PartsView(bill, plan, costs))


def _sketch(chosen: argparse.Namespace) -> int:
    from ..check import check
    from ..files import new_file
    from ..layout import read_layout
    from ..page.sketch import sketch
    from ..page.sketch.svg import standalone

    file = new_file(chosen.out, "picture", inputs=(chosen.file,), over=chosen.force)
    result = check(read_layout(chosen.file))
    drawn = sketch(result, view=chosen.view, width=chosen.width, to_scale=chosen.to_scale)
    file.write(standalone(drawn))
    return 0


def _page(chosen: argparse.Namespace) -> int:
    from ..check import check
    from ..files import new_file
    from ..layout import read_layout, read_visit
    from ..page.extras import extras_of
    from ..page.page import page
    from ..report.progress import telling

    file = new_file(chosen.out, "page", inputs=(chosen.file, chosen.after, chosen.readings), over=chosen.force)
    with telling("page") as tell:
        tell("checking")
        layout = read_layout(chosen.file)
        readings = layout.readings if chosen.readings is None else read_visit(chosen.readings, layout)
        result = check(layout)
        after = None if chosen.after is None else check(read_layout(chosen.after))
        extras = extras_of(result, after, months=chosen.months, mishaps=chosen.mishaps, readings=readings, tell=tell)
        tell("drawing")
        text = page(result, extras)
    file.write(text)
    return 1 if result.verdict == "fail" else 0


def _watch(chosen: argparse.Namespace) -> int:
    from ..page.watch import Live, follow, serve
    from ..report.screen import print_verdict

    if not os.path.exists(chosen.file):
        raise PlumblineError(f"There is no file '{chosen.file}'.")
    if os.path.isdir(chosen.file):
        raise PlumblineError(f"'{chosen.file}' is a folder. Give the layout file in it.")
    live = Live(chosen.file)
    stop = threading.Event()

    def tell(found: CheckResult | PlumblineError) -> None:
        print_verdict(found)
        sys.stdout.flush()
        if getattr(sys.stdout, "gone", False):
            stop.set()

    with serve(live, chosen.port) as address:
        print(f"The page is at {address}, on this machine only. Ctrl-C ends it.", flush=True)
        try:
            follow(live, tell, stop=stop)
        except KeyboardInterrupt:
            print()
    return 0


def _walk(chosen: argparse.Namespace) -> int:
    import time

    from ..page.walk.server import LOOPBACK, Site, local_address, serve
    from ..page.walk.session import begin

    site = Site(begin(chosen.file))
    reached = local_address() if chosen.phone else LOOPBACK
    with serve(site, address=reached, port=chosen.port) as address:
        if chosen.phone:
            from ..report.screen import code_on

            print(code_on(address))
            print(
                "Scan this with a phone in the same network, or open the address. Whoever has it can edit the file until Ctrl-C; nothing that\n"
                "goes over the network is encrypted."
            )
        print(
            f"{address}\n{'' if chosen.phone else 'Open that in a browser on this machine. '}Every tap is saved in '{chosen.file}'. "
            "Ctrl-C ends it.",
            flush=True,
        )
        try:
            while True:
                time.sleep(3600)
        except KeyboardInterrupt:
            print()
    return 0
