"""From fish and plants to feed, stock, bacteria, oxygen, flow and water used: each number a range, with its rule and its sources.

All is by the day's mean, in SI inside: kg, m, s.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..errors import PlumblineError
from ..units import COMMON, Units, show
from .between import Between, largest
from .oxygen import oxygen_saturation
from .wish import Wish

__all__ = ["Kind", "Row", "Sizing", "size"]

Kind = Literal["mass rate", "mass", "area", "volume", "flow", "number", "ratio", "water rate", "concentration", "time"]
"""What a row's number is: mass rate [kg/s], water rate [m³/s] by the day, flow [m³/s] of a pump, concentration [kg/m³]."""


@dataclass(frozen=True, slots=True)
class Row:
    """One number: its `subject` and `name`, the `value`, what `kind` of number it is, the `rule` in words, and the names of
    the catalogue's rows that it stands on. `counts` is False for a flow that governs nothing here."""

    subject: str
    name: str
    value: Between
    kind: Kind
    rule: str
    rows: tuple[str, ...] = ()
    counts: bool = True


@dataclass(frozen=True)
class Sizing:
    """All rows for a wish. `feed` [kg/s] is what the system is sized for; `tank` [m³]; `flow` [m³/s] through the fish
    tank, the largest of the limits that count; `governing` names that limit by its likely value; `notes` say what does
    not fit together."""

    wish: Wish
    rows: tuple[Row, ...]
    feed: Between
    tank: Between
    flow: Between
    governing: str
    notes: tuple[str, ...]

    def value(self, name: str) -> Between:
        """The number of that name."""
        return next(row.value for row in self.rows if row.name == name)


METRIC = Units()


def size(wish: Wish, units: Units = METRIC) -> Sizing:
    """Size a system for a wish.

    Parameters
    ----------
    wish : fish to harvest, or bed area, or both
    units : that its notes are told in

    Returns
    -------
    `Sizing`; where both are wished for, the fish set the feed, and a note tells the mismatch

    Raises
    ------
    PlumblineError
        where nothing is wished for

    Validity: warm-water fish on pellets in a small system that runs in balance; the start, cold and sick fish need more care
    than a sum.
    """
    if wish.fish is None and wish.area <= 0.0:
        raise PlumblineError("Nothing is wished for: say how much fish, or how large the beds.")
    sums = _Sums(wish, units)
    sums.feeding()
    sums.stock()
    sums.bacteria()
    sums.oxygen()
    sums.flows()
    sums.beds()
    sums.water()
    counting = [row for row in sums.rows if row.subject == "Flow through the fish tank" and row.counts]
    governing = max(counting, key=lambda row: row.value.likely)
    return Sizing(
        wish,
        tuple(sums.rows),
        sums.feed,
        sums.tank,
        largest(*(row.value for row in counting)),
        governing.name,
        tuple(sums.notes),
    )


def crowded(density: float, units: Units) -> str:
    """How much fish there is in the water [kg/m³], in words.

    >>> crowded(20.0, METRIC), crowded(20.0, Units(mass="lb"))
    ('20 kg in a cubic metre', '0.17 lb in a gallon')
    """
    if units.mass == "lb":
        return f"{density * COMMON['m^3']['gal'] / COMMON['kg']['lb']:.2g} lb in a gallon"
    return f"{density:.0f} kg in a cubic metre"


class _Sums:
    """The sums, in order; each writes its rows."""

    def __init__(self, wish: Wish, units: Units) -> None:
        self.wish = wish
        self.units = units
        self.rows: list[Row] = []
        self.notes: list[str] = []
        self.feed = self.tank = self.ammonia = Between.exactly(0.0)

    def put(
        self, subject: str, name: str, value: Between, kind: Kind, rule: str, *rows: str, counts: bool = True
    ) -> Between:
        self.rows.append(Row(subject, name, value, kind, rule, rows, counts))
        return value

    def feeding(self) -> None:
        """Feed a day, from the plants and from the fish."""
        wish, number = self.wish, self.wish.number
        plants = round_rule = fish = None
        if wish.area > 0.0:
            plants = wish.leafy * number("leafy feed") + wish.fruiting * number("fruiting feed")
            self.put(
                "Feed",
                "feed for the plants",
                plants,
                "mass rate",
                "bed area x feed rate",
                *(name for name, area in (("leafy feed", wish.leafy), ("fruiting feed", wish.fruiting)) if area),
            )
            round_rule = wish.area * number("round feed")
            self.put("Feed", "by the round rule", round_rule, "mass rate", "bed area x round rate", "round feed")
        if wish.fish is not None:
            first, last = number("start weight"), number("harvest weight")
            if first.likely >= last.likely:
                raise PlumblineError(
                    f"Fish put in at {first.likely * 1000:g} g cannot be harvested at {last.likely * 1000:g} g."
                )
            gained = 1.0 - first.likely / last.likely
            fish = wish.fish * gained * number("feed conversion")
            self.put(
                "Feed",
                "feed for the fish",
                fish,
                "mass rate",
                "harvest less what the young fish weighed, x feed conversion",
                "feed conversion",
                "start weight",
                "harvest weight",
            )
        self.feed = fish if fish is not None else plants if plants is not None else self.feed
        if fish is not None and plants is not None:
            self.match(fish, plants)

    def match(self, fish: Between, plants: Between) -> None:
        """How far fish and plants fit together."""
        wish = self.wish
        share = fish / plants
        self.put("Feed", "fish's feed over the plants'", share, "ratio", "feed for the fish / feed for the plants")
        area = show(wish.area * share.likely, "area", self.units, decimals=1)
        if share.high < 1.0:
            self.notes.append(f"The fish are too few for the plants: their feed does for about {area} of these beds.")
        elif share.low > 1.0:
            self.notes.append(
                f"The plants are too few for the fish: {area} of such beds would use their feed; what they "
                "do not use gathers in the water as nitrate."
            )
        else:
            self.notes.append(
                f"Fish and plants fit, as far as the rules can tell: the feed does for about {area} of such beds."
            )

    def stock(self) -> None:
        """Fish in the tank, and the tank."""
        wish, number = self.wish, self.wish.number
        by_feed = self.feed / number("feeding rate")
        self.put("Fish", "stock by feeding", by_feed, "mass", "feed / feeding rate", "feeding rate")
        stock = by_feed
        if wish.fish is not None:
            stock = self.put(
                "Fish",
                "stock by growth",
                self.by_growth(wish.fish),
                "mass",
                "fish of all ages from evenly spread batches, growing at an even rate by the day",
                "start weight",
                "harvest weight",
                "growing time",
            )
        by_stock = stock / number("stocking")
        rule = "stock by growth / stocking" if wish.fish is not None else "stock by feeding / stocking"
        self.put("Fish", "water for the fish", by_stock, "volume", rule, "stocking")
        self.tank = by_stock if wish.tank is None else Between.exactly(wish.tank)
        if wish.tank is not None:
            density = stock / wish.tank
            self.put("Fish", "fish in the tank's water", density, "concentration", "stock / the tank's water")
            if density.likely > number("stocking").high:
                self.notes.append(
                    f"The tank is small for its fish: {crowded(density.likely, self.units)}, where "
                    f"{crowded(number('stocking').high, self.units)} is the most for a small system."
                )

    def by_growth(self, harvest: float) -> Between:
        """Stock where as many fish go in each day as come out: n·T·(w₂ − w₁)/ln(w₂/w₁), with n = harvest/w₂."""
        from math import log

        first, last = self.wish.number("start weight").likely, self.wish.number("harvest weight").likely
        mean = (last - first) / log(last / first)
        return harvest / last * mean * self.wish.number("growing time")

    def bacteria(self) -> None:
        """Ammonia, and the surface that bacteria need."""
        number = self.wish.number
        fed = self.feed * number("protein")
        self.ammonia = self.put(
            "Ammonia",
            "ammonia nitrogen",
            fed * number("ammonia of protein"),
            "mass rate",
            "feed x protein x fraction",
            "protein",
            "ammonia of protein",
        )
        other = fed * number("nitrogen in protein") * number("nitrogen wasted") * number("ammonia of nitrogen")
        self.put(
            "Ammonia",
            "ammonia by the other rule",
            other,
            "mass rate",
            "feed x protein x nitrogen x wasted x 1.2",
            "protein",
            "nitrogen in protein",
            "nitrogen wasted",
            "ammonia of nitrogen",
        )
        surface = self.put(
            "Ammonia",
            "surface for bacteria",
            other / number("nitrification"),
            "area",
            "ammonia by the other rule / nitrification",
            "nitrification",
        )
        self.put(
            "Ammonia",
            "media for that surface",
            surface / number("media surface"),
            "volume",
            "surface / surface of the media",
            "media surface",
        )

    def oxygen(self) -> None:
        """Oxygen used."""
        number = self.wish.number
        fish = self.put(
            "Oxygen",
            "oxygen for the fish",
            self.feed * number("fish oxygen"),
            "mass rate",
            "feed x oxygen of the fish",
            "fish oxygen",
        )
        bacteria = self.put(
            "Oxygen",
            "oxygen for the bacteria",
            self.ammonia * number("bacteria oxygen"),
            "mass rate",
            "ammonia nitrogen x oxygen of the bacteria",
            "bacteria oxygen",
        )
        self.put("Oxygen", "oxygen in all", fish + bacteria, "mass rate", "the two together")

    def flows(self) -> None:
        """The flow that each limit asks for."""
        wish, number = self.wish, self.wish.number
        subject = "Flow through the fish tank"
        self.put(
            subject,
            "turnover",
            self.tank * number("turnover"),
            "flow",
            "water in the tank x changes an hour",
            "turnover",
        )
        self.put(
            subject,
            "ammonia",
            self.ammonia / (number("ammonia in tank") * number("removal a pass")),
            "flow",
            "ammonia nitrogen / (most in the tank x removal a pass)",
            "ammonia in tank",
            "removal a pass",
        )
        saturation = oxygen_saturation(wish.celsius, wish.pressure)
        brought = (saturation * number("inlet saturation")).less(number("oxygen in tank"))
        if brought.likely <= 0.0:
            raise PlumblineError(f"Water of {wish.celsius:g} °C holds too little oxygen to bring the fish any.")
        use = self.feed * number("fish oxygen") * number("feeding peak")
        # What the water brings in the worst case may be nothing; then no flow is enough.
        high = use.high / brought.low if brought.low > 0.0 else float("inf")
        flow = Between(use.low / brought.high, use.likely / brought.likely, high)
        words = "oxygen of the fish at its peak / (what the water brings less what it must keep)"
        self.put(
            subject,
            "oxygen",
            flow,
            "flow",
            words,
            "fish oxygen",
            "feeding peak",
            "inlet saturation",
            "oxygen in tank",
            counts=not wish.air,
        )
        if wish.air:
            self.notes.append(
                "Air stones are taken to give the fish their oxygen; without them the flow under 'oxygen' is "
                "needed as well."
            )

    def beds(self) -> None:
        """What the beds hold and want."""
        wish, number = self.wish, self.wish.number
        if wish.area <= 0.0:
            return
        plants = wish.leafy * number("leafy plants") + wish.fruiting * number("fruiting plants")
        self.put(
            "Beds",
            "plants",
            plants,
            "number",
            "bed area x plants on a square metre",
            *(name for name, area in (("leafy plants", wish.leafy), ("fruiting plants", wish.fruiting)) if area),
        )
        if wish.beds == "raft":
            held = self.put(
                "Beds",
                "water under the rafts",
                wish.area * number("raft depth"),
                "volume",
                "bed area x depth",
                "raft depth",
            )
            self.put(
                "Beds",
                "flow through the rafts",
                held / number("raft stay"),
                "flow",
                "water under the rafts / stay",
                "raft stay",
            )
        elif wish.beds == "media":
            held = self.put(
                "Beds",
                "media in the beds",
                wish.area * number("media depth"),
                "volume",
                "bed area x depth",
                "media depth",
            )
            surface = self.put(
                "Beds",
                "surface of that media",
                held * number("media surface"),
                "area",
                "media x its surface",
                "media surface",
            )
            needed = next(row.value for row in self.rows if row.name == "surface for bacteria")
            if surface.likely >= needed.likely:
                self.notes.append(
                    "The beds' media has surface enough for the bacteria; it fouls in time, and is best kept "
                    "behind a solids filter."
                )
            else:
                self.notes.append("The beds' media has too little surface for the bacteria: a biofilter besides.")
        elif wish.drippers:
            self.put(
                "Beds",
                "flow through the drippers",
                Between.exactly(wish.drippers * wish.dripper),
                "flow",
                "drippers x what each gives",
            )

    def water(self) -> None:
        """Water used."""
        wish, number = self.wish, self.wish.number
        held = self.tank
        if wish.beds == "raft":
            held = held + wish.area * number("raft depth")
        self.put(
            "Water used",
            "to top up",
            held * number("water lost"),
            "water rate",
            "all the water x what is lost of it",
            "water lost",
        )
        if wish.leafy > 0.0:
            grown = wish.leafy * number("leafy yield")
            self.put(
                "Water used",
                "by leafy plants",
                grown * number("leafy water"),
                "water rate",
                "harvest x water for it",
                "leafy yield",
                "leafy water",
            )
            self.put(
                "Water used",
                "for a head of lettuce",
                number("head weight") * number("leafy water"),
                "volume",
                "its weight x water for it",
                "head weight",
                "leafy water",
            )
            self.put(
                "Water used",
                "for one grown in soil",
                number("head weight") * number("soil water"),
                "volume",
                "its weight x water for it in soil",
                "head weight",
                "soil water",
            )
