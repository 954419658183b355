"""The command line. Exit status: 0 nothing worse than advice; 1 at least one finding that fails; 2 not a layout, not
solved, or not understood."""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Sequence
from typing import Literal, NoReturn

from . import __version__
from .errors import PlumblineError
from .threads import one_thread

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status."""
    parser = _parser()
    chosen = parser.parse_args(arguments)
    if not hasattr(chosen, "work"):
        parser.print_help()
        return 2
    try:
        with one_thread():
            status: int = chosen.work(chosen)
        sys.stdout.flush()
        return status
    except PlumblineError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:
        # Whoever reads has closed the pipe; nothing more is to be said, not even at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130


class _Parser(argparse.ArgumentParser):
    """Offers the nearest word for one that it does not know."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong in one sentence, and leave with status 2."""
        found = re.search(r"invalid choice: '(.*)' \(choose from (.*)\)$", message)
        if found is not None:
            from .layout.nearest import nearest_words

            word, known = found[1], re.findall(r"[\w-]+", found[2])
            near = nearest_words(word, known)
            hint = f"Did you mean '{near[0]}'?" if near else f"There are: {', '.join(known)}."
            message = f"'{word}' is not known here. {hint}"
        print(f"{self.prog}: {message} ('{self.prog} --help' tells more)", file=sys.stderr)
        sys.exit(2)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="plumbline",
        description="Checks the plumbing of a small aquaponic system, written down by walking its pipe.",
    )
    parser.add_argument("--version", action="version", version=f"plumbline {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    new = commands.add_parser(
        "new", help="a commented layout of a typical system, to change: asks, or takes the options below"
    )
    new.add_argument("-o", metavar="NEW.yaml", dest="new", required=True, help="the layout to write")
    new.add_argument("--system", choices=("beds", "filter", "raft", "manifold", "whole"),
                     help="two beds and gravity return; overflow through a filter; that into a raft bed; one pump with a manifold; "
                     "fish tank, filter, bed and sump")  # fmt: skip
    new.add_argument("--name", help="of the layout")
    new.add_argument("--flow", metavar="FLOW", help="to each bed, or through the chain, for instance '15 L/min'")
    new.add_argument(
        "--distance", metavar="LENGTH", help="along the pipe from pump to beds, or between beds on a manifold"
    )
    new.add_argument("--height", metavar="LENGTH", help="of the beds' floor above the ground")
    new.add_argument("--beds", metavar="NUMBER", help="on a manifold")
    new.set_defaults(work=_new)

    check = commands.add_parser(
        "check", help="does it lift, does it come back, can it be cleaned: the verdict on a layout"
    )
    check.add_argument("file", metavar="FILE", help="a layout file")
    check.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    check.add_argument("--all", action="store_true", help="show every finding and every row")
    check.add_argument("--defaults", action="store_true", help="also list every value that the file left out")
    check.set_defaults(work=_check)

    balance = commands.add_parser("balance", help="valve openings that give every vessel what it wants")
    balance.add_argument("file", metavar="FILE", help="a layout file")
    balance.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    balance.add_argument(
        "-o", metavar="NEW.yaml", dest="new", help="write the layout with those openings to a new file"
    )
    balance.set_defaults(work=_balance)

    pumps = commands.add_parser(
        "pumps", help="power, cost and least speed of the pumps, and the spare ones in their place"
    )
    pumps.add_argument("file", metavar="FILE", help="a layout file")
    pumps.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    pumps.set_defaults(work=_pumps)

    airlift = commands.add_parser(
        "airlift", help="what airlift would do the same as a pump, and for how much; or how an airlift does"
    )
    airlift.add_argument("file", metavar="FILE", help="a layout file")
    airlift.add_argument("--pump", metavar="NAME", help="only this pump; left out, every pump that feeds a line")
    airlift.add_argument(
        "--depth", metavar="LENGTH", help="of the air inlet under the water; left out, as deep as the vessel allows"
    )
    airlift.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    airlift.set_defaults(work=_airlift)

    card = commands.add_parser("card", help="a wall card: the least cleaning that keeps the pipe sound, for the owner")
    card.add_argument("file", metavar="FILE", help="a layout file")
    card.add_argument(
        "--share",
        metavar="PART",
        default="80%",
        help="how much of the pipe that can be cleaned; left out, 80%%",
    )
    card.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    card.set_defaults(work=_card)

    size = commands.add_parser("size", help="from fish and plants to feed, stock, flow, oxygen and water used")
    size.add_argument("file", metavar="FILE", nargs="?", help="a file with a wish; it may be a whole layout")
    for word, key in _wish_options().items():
        size.add_argument(f"--{word.replace(' ', '-')}", metavar=f"'{key[0]}'", dest=f"wish {word}", help=key[1])
    size.add_argument("--all", action="store_true", help="also show where every number comes from")
    size.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    size.add_argument(
        "-o",
        metavar="NEW.yaml",
        dest="new",
        help="write those wants into a new file: the layout's own, or a first layout where there is none",
    )
    size.set_defaults(work=_size)
    flush = commands.add_parser(
        "flush", help="what opening each cap or drain valve scours, how long it takes and the water it costs"
    )
    flush.add_argument("file", metavar="FILE", help="a layout file")
    flush.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    flush.set_defaults(work=_flush)

    parts = commands.add_parser("parts", help="what to buy and how to cut it: fittings, pipe, a cutting list, prices")
    parts.add_argument("file", metavar="FILE", help="a layout file")
    parts.add_argument("--prices", metavar="PRICES", help="your price file, YAML or CSV; left out, there are no prices")
    parts.add_argument("--stock", metavar="LENGTH", help="what pipe is sold in, for instance '3 m'")
    parts.add_argument("--kerf", metavar="WIDTH", help="what a saw cut takes, for instance '3 mm'")
    parts.add_argument("--csv", metavar="OUT.csv", help="also write all of it to a new CSV file")
    parts.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parts.set_defaults(work=_parts)

    sketch = commands.add_parser("sketch", help="a picture of the pipe with its trouble marked, as SVG")
    sketch.add_argument("file", metavar="FILE", help="a layout file")
    sketch.add_argument("-o", metavar="OUT.svg", dest="out", required=True, help="the picture to write")
    sketch.add_argument("--view", default="iso", choices=("iso", "plan", "south", "north", "east", "west"),
                        help="isometric, plan, or an elevation by the side it is seen from (default: iso)")  # fmt: skip
    sketch.add_argument("--width", metavar="PIXELS", type=_pixels, default=960, help="of the picture (default: 960)")
    sketch.add_argument("--to-scale", action="store_true", help="keep all lengths to scale, however short")
    sketch.add_argument("--force", action="store_true", help="write over a picture that is there")
    sketch.set_defaults(work=_sketch)

    page = commands.add_parser("page", help="the report that a client keeps, as one HTML file")
    page.add_argument("file", metavar="FILE", help="a layout file")
    page.add_argument("-o", metavar="OUT.html", dest="out", required=True, help="the page to write")
    page.add_argument("--force", action="store_true", help="write over a page that is there")
    page.add_argument("--after", metavar="NEW.yaml", help="a redesign of it, to show beside it as it would be")
    page.add_argument("--months", metavar="N", type=_months, default=12, help="how far to follow slime; left out, 12")
    page.set_defaults(work=_page)

    watch = commands.add_parser("watch", help="check again on every save, with the page in a browser on this machine")
    watch.add_argument("file", metavar="FILE", help="a layout file")
    watch.add_argument("--port", type=_port, default=0, help="to serve the page on (default: a free one)")
    watch.set_defaults(work=_watch)
    redesign = commands.add_parser(
        "redesign", help="the cheapest changes that make a layout good, proven by a check of the changed layout"
    )
    redesign.add_argument("file", metavar="FILE", help="a layout file")
    redesign.add_argument("-o", metavar="NEW.yaml", dest="new", help="write the changed layout to a new file")
    redesign.add_argument(
        "--force", action="store_true", help="write over a file that is there; never over FILE itself"
    )
    redesign.add_argument("--cleanable", metavar="SHARE", type=_share, default=1.0, help="share of the pipe that is to be cleanable, 0 to 1 or in %%; left out, all")  # fmt: skip
    redesign.add_argument(
        "--margin",
        metavar="SHARE",
        type=_share,
        help="spare flow above what each vessel wants; left out, the layout's limit",
    )
    redesign.add_argument("--dead-legs", action="store_true", help="let dead legs over the limit be")
    redesign.add_argument("--budget", metavar="MONEY", type=_money, help="what it may cost at most, labour included")
    redesign.add_argument(
        "--prices", metavar="FILE", help="prices of your own, in the form of the catalogue's changes.yaml"
    )
    redesign.add_argument("--hour", metavar="MONEY", type=_money, help="what an hour of labour costs; 0 for your own")
    redesign.add_argument("--quick", action="store_true", help="leave out what each change wins and the best buys")
    redesign.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    redesign.add_argument("--all", action="store_true", help="show every finding gone and come")
    redesign.set_defaults(work=_redesign)
    fouling = commands.add_parser(
        "fouling", help="what slime and sludge leave of the flow, month by month, and what cleaning wins back"
    )
    fouling.add_argument("file", metavar="FILE", help="a layout file")
    fouling.add_argument("--months", metavar="N", type=_months, default=24, help="how many months; left out, 24")
    fouling.add_argument(
        "--clean-every", metavar="N", type=_months, dest="every", help="clean all that can be reached every N months"
    )
    fouling.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    fouling.set_defaults(work=_fouling)

    explain = commands.add_parser("explain", help="the rule, source and limits of a kind of finding")
    explain.add_argument("kind", metavar="KIND", nargs="?", help="for instance dead-leg; left out, lists them all")
    explain.set_defaults(work=_explain)

    current = commands.add_parser(
        "current",
        help="how a spray bar turns its tank: each hole's jet, the current, what the fish can swim, which drill",
    )
    current.add_argument("file", metavar="FILE", help="a layout file")
    current.add_argument(
        "--want", metavar="SPEED", type=_speed, help="the current to find holes for, for instance '20 cm/s'"
    )
    current.add_argument(
        "--fish-length", metavar="LENGTH", type=_fish_length, help="of the smallest fish, for instance '8 cm'"
    )
    current.add_argument("--all", action="store_true", help="show every hole")
    current.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    current.set_defaults(work=_current)

    names = commands.add_parser(
        "names", help="the words a layout may use: pipes, fittings, materials, rods, limits, codes, fouling"
    )
    names.add_argument("what", choices=("pipes", "fittings", "materials", "rods", "limits", "codes", "fouling"))
    names.set_defaults(work=_names)

    schema = commands.add_parser("schema", help="the JSON schema of layout files, for editors")
    schema.set_defaults(work=_schema)
    return parser


def _new(chosen: argparse.Namespace) -> int:
    from .layout.rewrite import write_new
    from .start import begin
    from .start.asking import wish_from

    if os.path.lexists(chosen.new):
        raise PlumblineError(f"'{chosen.new}' is there already, and nothing is written over. Give another name.")
    given = {key: getattr(chosen, key) for key in ("system", "name", "flow", "distance", "height", "beds")}
    write_new(chosen.new, begin(wish_from(given, ask=sys.stdin.isatty() and sys.stdout.isatty())), lambda _: None)
    print(f"'{chosen.new}' is written; it checks clean. 'plumbline check {chosen.new}' tells about it.")
    return 0


def _share(text: str) -> float:
    """A share, as 0.8 or 80 %."""
    from .units import NotAQuantity, quantity

    try:
        number = quantity(text, "ratio")
    except NotAQuantity as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    if not 0.0 <= number <= 1.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no share: 0 to 1, or 0 % to 100 %")
    return number


def _money(text: str) -> float:
    """An amount, 0 or more."""
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0.0 <= number < float("inf"):
        raise argparse.ArgumentTypeError(f"'{text}' is no amount: a number, 0 or more")
    return number


def _check(chosen: argparse.Namespace) -> int:
    from .check import check
    from .layout import read_layout

    result = check(read_layout(chosen.file))
    if chosen.json:
        import json

        from .report.json import as_json

        print(json.dumps(as_json(result), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        from .report.screen import print_check

        print_check(result, everything=chosen.all, defaults=chosen.defaults)
    return 1 if result.verdict == "fail" else 0


def _balance(chosen: argparse.Namespace) -> int:
    from .hydraulics.balance import balance
    from .layout import read_layout
    from .report.balance import BalanceView, balance_as_json
    from .report.screen import put_on_screen

    result = balance(read_layout(chosen.file))
    if chosen.new is not None:
        from .write import write_balanced

        write_balanced(result, chosen.new)
    if chosen.json:
        import json

        print(json.dumps(balance_as_json(result), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        put_on_screen(BalanceView(result, written=chosen.new))
    return 1 if result.fails or not result.enough else 0


def _pumps(chosen: argparse.Namespace) -> int:
    from .hydraulics.pumping import compare_pumps
    from .layout import read_layout
    from .report.pumps import PumpsView, pumps_as_json
    from .report.screen import put_on_screen

    layout = read_layout(chosen.file)
    comparisons = compare_pumps(layout)
    if chosen.json:
        import json

        print(json.dumps(pumps_as_json(layout, comparisons), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        put_on_screen(PumpsView(layout, comparisons))
    return 0


def _airlift(chosen: argparse.Namespace) -> int:
    from .hydraulics.airlift_duty import airlift_duty, sensitivities
    from .hydraulics.airlift_plan import plan_airlift
    from .hydraulics.find import find_flows
    from .hydraulics.how_sure import how_sure
    from .layout import read_layout
    from .report.airlift import AirliftView, AtWork, airlift_as_json
    from .report.screen import put_on_screen
    from .units import NotAQuantity, quantity

    depth = None
    if chosen.depth is not None:
        try:
            depth = quantity(chosen.depth, "length")
        except NotAQuantity as error:
            raise PlumblineError(f"{error}, for --depth, for instance 0.8 m") from None
        if not 0.01 <= depth <= 20.0:
            raise PlumblineError(
                f"'{chosen.depth}' is no depth for an air inlet: from 1 cm to 20 m, for instance 0.8 m."
            )
    layout = read_layout(chosen.file)
    flows = find_flows(layout)
    if chosen.pump is not None and chosen.pump not in flows.pumps:
        idle = " feeds no line" if chosen.pump in layout.pumps else " is not in the file"
        raise PlumblineError(f"Pump '{chosen.pump}'{idle}. There are: {', '.join(flows.pumps) or 'none'}.")
    names = [name for name in flows.pumps if chosen.pump in (None, name)]
    if not names:
        raise PlumblineError("No pump feeds a line, so that there is nothing to compare an airlift with.")
    plans = [plan_airlift(layout, flows, name, depth=depth) for name in names if layout.pumps[name].airlift is None]
    sure = how_sure(layout, flows) if len(plans) < len(names) else None
    working = [
        AtWork(airlift_duty(layout, flows, name), sure.pumps[name].flow if sure is not None and name in sure.pumps else None,
               sensitivities(layout, flows, name))
        for name in names if layout.pumps[name].airlift is not None
    ]  # fmt: skip
    if chosen.json:
        import json

        print(json.dumps(airlift_as_json(layout, plans, working), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        put_on_screen(AirliftView(layout, plans, working))
    return 0


def _card(chosen: argparse.Namespace) -> int:
    from .check import check
    from .layout import read_layout
    from .report.card import CardView, card_as_json
    from .report.screen import put_on_screen
    from .units import NotAQuantity, quantity
    from .upkeep.card import wall_card
    from .upkeep.flushing import flush_ways
    from .upkeep.washes import wash_jobs

    try:
        share = quantity(chosen.share, "ratio")
    except NotAQuantity as error:
        raise PlumblineError(f"{error}, for --share, for instance 80%") from None
    if not 0.0 < share <= 1.0:
        raise PlumblineError(f"'{chosen.share}' is no share of the pipe: above 0 and at most 100 %, for instance 80%.")
    result = check(read_layout(chosen.file))
    washes = wash_jobs(flush_ways(result.layout))
    card = wall_card(result.layout, result.flows, result.upkeep, washes, share=share)
    if chosen.json:
        import json

        print(json.dumps(card_as_json(card), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        put_on_screen(CardView(card))
    return 0


def _wish_options() -> dict[str, tuple[str, str]]:
    """What a wish may say on the command line, with an example and its meaning."""
    from .layout import words

    taken = {**words.WISH, "water": words.WATER["temperature"], "altitude": words.LAYOUT["altitude"]}
    return {word: (key.example, key.says.replace("%", "%%")) for word, key in taken.items()}


def _size(chosen: argparse.Namespace) -> int:
    from .husbandry import size
    from .husbandry.read import read_wish
    from .report.screen import put_on_screen
    from .report.size import SizeView, size_as_json

    said = {word: text for word in _wish_options() if (text := getattr(chosen, f"wish {word}")) is not None}
    asked = read_wish(chosen.file, said)
    found = size(asked.wish)
    first = None
    if chosen.new is not None and asked.layout is not None:
        from .write import write_wants

        write_wants(asked, found, chosen.new)
    elif chosen.new is not None:
        from .layout.rewrite import write_new
        from .start import begin_sized

        if os.path.lexists(chosen.new):
            raise PlumblineError(f"'{chosen.new}' is there already, and nothing is written over. Give another name.")
        first = begin_sized(asked, found)
        write_new(chosen.new, first.text, lambda _: None)
    if chosen.json:
        import json

        print(json.dumps(size_as_json(asked, found, first), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        put_on_screen(SizeView(asked, found, sources=chosen.all, first=first, written=chosen.new))
    return 0


def _flush(chosen: argparse.Namespace) -> int:
    from .layout import read_layout
    from .report.flush import FlushView, flush_as_json
    from .report.screen import put_on_screen
    from .upkeep.flushing import flush_ways

    found = flush_ways(read_layout(chosen.file))
    if chosen.json:
        import json

        print(json.dumps(flush_as_json(found), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        put_on_screen(FlushView(found))
    return 0


def _parts(chosen: argparse.Namespace) -> int:
    from .layout import read_layout
    from .parts import bill_of, cost_of, plan_for, read_price_file, write_csv

    bill = bill_of(read_layout(chosen.file))
    prices = None if chosen.prices is None else read_price_file(chosen.prices)
    plan = plan_for(bill, prices, stock=chosen.stock, kerf=chosen.kerf)
    costs = cost_of(bill, plan, prices)
    if chosen.csv is not None:
        write_csv(chosen.csv, bill, plan, costs)
    if chosen.json:
        import json

        from .report.parts_json import parts_as_json

        print(json.dumps(parts_as_json(bill, plan, costs), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        from .report.parts import PartsView
        from .report.screen import put_on_screen

        put_on_screen(PartsView(bill, plan, costs))
    return 0


def _pixels(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 240 <= int(text) <= 4000:
        raise argparse.ArgumentTypeError(f"'{text}' is not a width in pixels: a whole number from 240 to 4000")
    return int(text)


def _sketch(chosen: argparse.Namespace) -> int:
    from .check import check
    from .layout import read_layout
    from .page.sketch import sketch
    from .page.sketch.svg import standalone
    from .page.write import write_file

    result = check(read_layout(chosen.file))
    drawn = sketch(result, view=chosen.view, width=chosen.width, to_scale=chosen.to_scale)
    write_file(chosen.out, standalone(drawn), force=chosen.force)
    return 0


def _page(chosen: argparse.Namespace) -> int:
    from .check import check
    from .layout import read_layout
    from .page.extras import extras_of
    from .page.page import page
    from .page.write import write_file

    result = check(read_layout(chosen.file))
    after = None if chosen.after is None else check(read_layout(chosen.after))
    extras = extras_of(result, after, months=chosen.months)
    write_file(chosen.out, page(result, extras), force=chosen.force)
    return 1 if result.verdict == "fail" else 0


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"'{text}' is not a port: a whole number from 1 to 65535")
    return int(text)


def _watch(chosen: argparse.Namespace) -> int:
    from .page.watch import Live, follow, serve
    from .report.verdict import print_verdict

    if not os.path.exists(chosen.file):
        raise PlumblineError(f"There is no file '{chosen.file}'.")
    live = Live(chosen.file)
    with serve(live, chosen.port) as address:
        print(f"The page is at {address}, on this machine only. Ctrl-C ends it.", flush=True)
        try:
            follow(live, print_verdict)
        except KeyboardInterrupt:
            print()
    return 0


def _redesign(chosen: argparse.Namespace) -> int:
    from .layout import read_layout
    from .redesign.buys import best_buys, one_thing, within, worth
    from .redesign.prices import read_prices
    from .redesign.proof import difference, prove, write_redesign
    from .redesign.search import Targets, search
    from .report.progress import telling

    layout = read_layout(chosen.file)
    prices = read_prices(chosen.prices, chosen.hour)
    targets = Targets(chosen.margin, chosen.cleanable, legs=not chosen.dead_legs)
    with telling("trying", quiet=chosen.json) as tell:
        found = search(layout, targets, prices, tell=tell)
        if found is None:
            raise PlumblineError("No set of the changes tried meets what is asked. Ask for less, for instance --cleanable 80% or "
                                 "--dead-legs, or see 'plumbline check' for what stands in the way.")  # fmt: skip
        over = chosen.budget is not None and found.cost > chosen.budget
        quick = chosen.quick or found.stopped
        buys = best_buys(found, prices.hour, tell) if over or not quick else ()
        if over:
            found = within(found, buys, chosen.budget)
        worths = () if quick else worth(found, tell)
    result = prove(found) if chosen.new is None else write_redesign(found, chosen.new, over=chosen.force)
    changes = difference(found.before, result)
    first = one_thing(found, worths)
    known = {"hour": prices.hour, "placeholders": prices.placeholders, "written": chosen.new}
    if chosen.json:
        import json

        from .report.redesign_json import redesign_as_json

        print(
            json.dumps(
                redesign_as_json(found, changes, worths, buys, first, **known),
                ensure_ascii=False,
                allow_nan=False,
                indent=1,
            )
        )
    else:
        from .report.redesign import print_redesign

        print_redesign(found, changes, worths, buys, first, **known, everything=chosen.all)
    return 1 if result.verdict == "fail" else 0


def _speed(text: str) -> float:
    return _above_zero(text, "speed")


def _fish_length(text: str) -> float:
    return _above_zero(text, "length")


def _above_zero(text: str, what: Literal["speed", "length"]) -> float:
    from .units import NotAQuantity, quantity

    try:
        value = quantity(text, what)
    except NotAQuantity as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    if not 0.0 < value < 10.0:
        raise argparse.ArgumentTypeError(f"'{text}' is no {what} to ask for here")
    return value


def _current(chosen: argparse.Namespace) -> int:
    from .hydraulics.tank_answer import tank_answers
    from .layout import read_layout
    from .report.current import CurrentView, current_as_json
    from .report.screen import put_on_screen

    layout = read_layout(chosen.file)
    answers = tank_answers(layout, wanted=chosen.want, length=chosen.fish_length)
    if chosen.json:
        import json

        print(json.dumps(current_as_json(layout, answers), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        put_on_screen(CurrentView(layout, answers, everything=chosen.all))
    return 1 if any(answer.verdict == "too fast" for answer in answers) else 0


def _months(text: str) -> int:
    from .upkeep.fouling import MOST_MONTHS

    if not re.fullmatch(r"[0-9]{1,4}", text) or not 1 <= int(text) <= MOST_MONTHS:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of months from 1 to {MOST_MONTHS}")
    return int(text)


def _fouling(chosen: argparse.Namespace) -> int:
    from .check import flushes
    from .hydraulics.find import find_flows
    from .layout import read_layout
    from .report.fouling import fouling_as_json, print_fouling, progress_on
    from .upkeep.fouling import fouling

    layout = read_layout(chosen.file)
    with progress_on("fouling") as progress:
        opened = flushes(layout, find_flows(layout))
        result = fouling(layout, opened, months=chosen.months, every=chosen.every, progress=progress)
    if chosen.json:
        import json

        print(json.dumps(fouling_as_json(result), ensure_ascii=False, allow_nan=False, indent=1))
    else:
        print_fouling(result)
    return 0


def _explain(chosen: argparse.Namespace) -> int:
    from .report.explain import explain, kinds

    print(kinds() if chosen.kind is None else explain(chosen.kind))
    return 0


def _names(chosen: argparse.Namespace) -> int:
    from .report.names import listing

    print(listing(chosen.what))
    return 0


def _schema(chosen: argparse.Namespace) -> int:
    import json

    from .layout.schema import layout_schema

    print(json.dumps(layout_schema(), ensure_ascii=False, indent=2))
    return 0
