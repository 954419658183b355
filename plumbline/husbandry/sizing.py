"""From fish and plants to feed, stock, bacteria, oxygen, flow and water used: each number a range, with its rule and its sources.

All is by the day's mean, in SI inside: kg, m, s.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from ..catalogue import sizing
from ..catalogue.rows import SizeKind
from ..errors import PlumblineError
from ..units import COMMON, Units, show
from .oxygen import oxygen_saturation
from .wish import Between, Wish, largest

__all__ = ["Row", "Sizing", "size"]


@dataclass(frozen=True, slots=True)
class Row:
    """One number: its `subject` and `name`, the `value`, what `kind` of number it is, the `rule` in words, and the names of
    the catalogue's rows that it stands on. `counts` is False for a flow that governs nothing here."""

    subject: str
    name: str
    value: Between
    kind: SizeKind
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

    Returns:
        `Sizing`; where both are wished for, the fish set the feed, and a note tells the mismatch

    Raises:
        PlumblineError: where nothing is wished for

    Validity: warm-water fish on pellets in a small system that runs in balance; the start, cold and sick fish need more care
    than a sum.
    """
    if wish.fish is None and wish.area <= 0.0:
        raise PlumblineError("Nothing is wished for: say how much fish, or how large the beds.")
    sums = _Sums(wish, units)
    for told in (sums.feeding, sums.stock, sums.bacteria, sums.oxygen, sums.flows, sums.beds, sums.water):
        told()
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
        self.crops = {"leafy": wish.leafy, "fruiting": wish.fruiting}

    def put(self, name: str, value: Between, *, counts: bool = True, **said: str) -> Between:
        """Write a row, as the catalogue has it; what its rule leaves open is `said`."""
        told = sizing()[name]
        rows = tuple(row for row in told.rows if self.crops.get(row.split()[0], 1.0))
        self.rows.append(Row(told.subject, name, value, told.kind, told.rule.format(**said), rows, counts))
        return value

    def feeding(self) -> None:
        """Feed a day, from the plants and from the fish."""
        wish, number = self.wish, self.wish.number
        plants = fish = None
        if wish.area > 0.0:
            plants = wish.leafy * number("leafy feed") + wish.fruiting * number("fruiting feed")
            self.put("feed for the plants", plants)
            self.put("by the round rule", wish.area * number("round feed"))
        if wish.fish is not None:
            first, last = number("start weight").likely, number("harvest weight").likely
            if first >= last:
                raise PlumblineError(f"Fish put in at {first * 1000:g} g cannot be harvested at {last * 1000:g} g.")
            gained = 1.0 - first / last
            fish = self.put("feed for the fish", wish.fish * gained * number("feed conversion"))
        self.feed = fish or plants or self.feed
        if fish is not None and plants is not None:
            self.match(fish, plants)

    def match(self, fish: Between, plants: Between) -> None:
        """How far fish and plants fit together."""
        share = self.put("fish's feed over the plants'", fish / plants)
        area = show(self.wish.area * share.likely, "area", self.units, decimals=1)
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
        stock, by = self.put("stock by feeding", self.feed / number("feeding rate")), "stock by feeding"
        if wish.fish is not None:
            stock, by = self.put("stock by growth", self.by_growth(wish.fish)), "stock by growth"
        self.tank = self.put("water for the fish", stock / number("stocking"), stock=by)
        if wish.tank is not None:
            self.tank = Between.exactly(wish.tank)
            density = self.put("fish in the tank's water", stock / wish.tank)
            if density.likely > number("stocking").high:
                self.notes.append(
                    f"The tank is small for its fish: {crowded(density.likely, self.units)}, where "
                    f"{crowded(number('stocking').high, self.units)} is the most for a small system."
                )

    def by_growth(self, harvest: float) -> Between:
        """Stock where as many fish go in each day as come out: n·T·(w₂ − w₁)/ln(w₂/w₁), with n = harvest/w₂."""
        first, last = self.wish.number("start weight").likely, self.wish.number("harvest weight").likely
        mean = (last - first) / log(last / first)
        return harvest / last * mean * self.wish.number("growing time")

    def bacteria(self) -> None:
        """Ammonia, and the surface that bacteria need."""
        number = self.wish.number
        fed = self.feed * number("protein")
        self.ammonia = self.put("ammonia nitrogen", fed * number("ammonia of protein"))
        other = fed * number("nitrogen in protein") * number("nitrogen wasted") * number("ammonia of nitrogen")
        self.put("ammonia by the other rule", other)
        surface = self.put("surface for bacteria", other / number("nitrification"))
        self.put("media for that surface", surface / number("media surface"))

    def oxygen(self) -> None:
        """Oxygen used."""
        number = self.wish.number
        fish = self.put("oxygen for the fish", self.feed * number("fish oxygen"))
        bacteria = self.put("oxygen for the bacteria", self.ammonia * number("bacteria oxygen"))
        self.put("oxygen in all", fish + bacteria)

    def flows(self) -> None:
        """The flow that each limit asks for."""
        wish, number = self.wish, self.wish.number
        self.put("turnover", self.tank * number("turnover"))
        self.put("ammonia", self.ammonia / (number("ammonia in tank") * number("removal a pass")))
        saturation = oxygen_saturation(wish.celsius, wish.pressure)
        brought = (saturation * number("inlet saturation")).less(number("oxygen in tank"))
        if brought.likely <= 0.0:
            raise PlumblineError(f"Water of {wish.celsius:g} °C holds too little oxygen to bring the fish any.")
        use = self.feed * number("fish oxygen") * number("feeding peak")
        # What the water brings in the worst case may be nothing; then no flow is enough.
        high = use.high / brought.low if brought.low > 0.0 else float("inf")
        self.put("oxygen", Between(use.low / brought.high, use.likely / brought.likely, high), counts=not wish.air)
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
        self.put("plants", wish.leafy * number("leafy plants") + wish.fruiting * number("fruiting plants"))
        if wish.beds == "raft":
            held = self.put("water under the rafts", wish.area * number("raft depth"))
            self.put("flow through the rafts", held / number("raft stay"))
        elif wish.beds == "media":
            held = self.put("media in the beds", wish.area * number("media depth"))
            surface = self.put("surface of that media", held * number("media surface"))
            needed = next(row.value for row in self.rows if row.name == "surface for bacteria")
            if surface.likely >= needed.likely:
                self.notes.append(
                    "The beds' media has surface enough for the bacteria; it fouls in time, and is best kept "
                    "behind a solids filter."
                )
            else:
                self.notes.append("The beds' media has too little surface for the bacteria: a biofilter besides.")
        elif wish.drippers:
            self.put("flow through the drippers", Between.exactly(wish.drippers * wish.dripper))

    def water(self) -> None:
        """Water used."""
        wish, number = self.wish, self.wish.number
        held = self.tank + wish.area * number("raft depth") if wish.beds == "raft" else self.tank
        self.put("to top up", held * number("water lost"))
        if wish.leafy > 0.0:
            self.put("by leafy plants", wish.leafy * number("leafy yield") * number("leafy water"))
            self.put("for a head of lettuce", number("head weight") * number("leafy water"))
            self.put("for one grown in soil", number("head weight") * number("soil water"))
