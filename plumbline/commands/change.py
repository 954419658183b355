"""Commands that begin a layout, change it or put it to paper: a first one, a redesign, the parts, a sketch, the page, a walk by taps."""

from __future__ import annotations

import argparse
import math
import os
import sys
import threading
from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..errors import PlumblineError
from .options import answer, asked_for, wish_options

if TYPE_CHECKING:
    from ..check import CheckResult
    from ..redesign.buys import Buy, Worth

__all__ = ["WORK"]


def _redesign(chosen: argparse.Namespace) -> int:
    from ..deadline import TimeUp, minutes_from_now, until
    from ..layout import read_layout
    from ..parts import bill_of
    from ..parts import difference as parts_between
    from ..redesign.bends import WALKS
    from ..redesign.buys import best_buys, one_thing, within, worth
    from ..redesign.prices import read_prices
    from ..redesign.search import NothingFoundError, Targets, difference, prove, search, search_afresh
    from ..report.redesign import Proposal, redesign_as_json, redesign_view
    from ..report.screen import telling

    file = asked_for(chosen.new, "layout", chosen, chosen.prices)
    layout = read_layout(chosen.file)
    prices = read_prices(chosen.prices, chosen.hour)
    targets = Targets(chosen.margin, chosen.cleanable, legs=not chosen.dead_legs)
    end = minutes_from_now(chosen.minutes)
    with telling("trying", quiet=chosen.json) as tell:
        try:
            found = (search_afresh if chosen.afresh else search)(
                layout, targets, prices, minutes=chosen.minutes, tell=tell
            )
        except NothingFoundError as why:
            ask = "Ask" if math.isinf(chosen.minutes) else "Give it more --minutes, or ask"
            raise PlumblineError(f"{why} {ask} for less, for instance --cleanable 80% or --dead-legs.") from None
        over = chosen.budget is not None and found.cost > chosen.budget
        if over and found.sheet is not None:
            raise PlumblineError(
                f"Laid afresh it costs {found.cost:.2f}, labour included: more than {chosen.budget:g}. "
                "Without --afresh the best for the money is looked for."
            )
        quick = chosen.quick or found.stopped or found.sheet is not None
        buys: Sequence[Buy] = ()
        worths: Sequence[Worth] = ()
        cut_short = found.stopped and not chosen.quick
        try:
            with until(end):
                buys = best_buys(found, prices.hour, tell) if over or not quick else ()
                if over:
                    found = within(found, buys, chosen.budget)
                worths = () if quick else worth(found, tell)
        except TimeUp:
            cut_short = True
            if found.budget is None and over:
                raise PlumblineError(
                    f"{chosen.minutes:g} minutes were up before the best for {chosen.budget:g} was looked for; all that is asked costs {found.cost:.2f}."
                ) from None
    result = prove(found, file)
    changes = difference(found.before, result)
    moved = {change.line for change in found.changes if change.kind in WALKS}
    new_parts = parts_between(bill_of(found.before.layout), bill_of(result.layout), moved)
    first = one_thing(found, worths, prices.hour)
    told = Proposal(found, changes, new_parts, worths, buys, first, prices, chosen.new, cut_short)
    return answer(
        chosen,
        lambda: redesign_as_json(told),
        lambda: redesign_view(told, everything=chosen.all),
        status=1 if result.verdict == "fail" else 0,
    )


def _parts(chosen: argparse.Namespace) -> int:
    from ..layout import read_layout
    from ..parts import bill_of, cost_of, csv_text, plan_for, read_price_file
    from ..report.parts import parts_as_json, parts_view

    file = asked_for(chosen.csv, "table", chosen, chosen.prices)
    bill = bill_of(read_layout(chosen.file))
    prices = None if chosen.prices is None else read_price_file(chosen.prices)
    plan = plan_for(bill, prices, stock=chosen.stock, kerf=chosen.kerf)
    costs = cost_of(bill, plan, prices)
    if file is not None:
        file.write(csv_text(bill, plan, costs))
    return answer(chosen, lambda: parts_as_json(bill, plan, costs), lambda: parts_view(bill, plan, costs))


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
    from ..report.screen import telling

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


def _new(chosen: argparse.Namespace) -> int:
    from ..files import new_file
    from ..start import begin
    from ..start.asking import wish_from

    file = new_file(chosen.new, "layout")
    asks = sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()
    given = {key: getattr(chosen, key) for key in ("system", "name", "flow", "distance", "height", "beds")}
    if given["name"] is not None:
        # Bytes that are no letters come from the command line as halves of letters.
        given["name"] = given["name"].encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    file.write(begin(wish_from(given, ask=asks)))
    print(f"'{chosen.new}' is written; it checks clean. 'plumbline check {chosen.new}' tells about it.")
    return 0


def _size(chosen: argparse.Namespace) -> int:
    from ..husbandry import size
    from ..husbandry.read import read_wish
    from ..report.size import size_as_json, size_view

    file = asked_for(chosen.new, "layout", chosen)
    said = {word: text for word in wish_options() if (text := getattr(chosen, f"wish {word}")) is not None}
    asked = read_wish(chosen.file, said)
    found = size(asked.wish, asked.units)
    first = None
    if file is not None and asked.layout is not None:
        from ..write import write_wants

        write_wants(asked, found, file)
    elif file is not None:
        from ..start import begin_sized

        first = begin_sized(asked, found)
        file.write(first.text)
    return answer(
        chosen,
        lambda: size_as_json(asked, found, first),
        lambda: size_view(asked, found, sources=chosen.all, first=first, written=chosen.new),
    )


WORK = {
    "new": _new,
    "size": _size,
    "redesign": _redesign,
    "parts": _parts,
    "sketch": _sketch,
    "page": _page,
    "watch": _watch,
    "walk": _walk,
}
"""What does the work of each."""
