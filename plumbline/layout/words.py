"""The words of the language: every key a layout may hold, what it takes and what it means.

One set of tables serves the reader, the published schema and the reference in the docs, so they cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

__all__ = [
    "AIRLIFT", "BOX", "DIRECTIONS", "DRIP", "ELECTRICITY", "END", "END_KINDS", "FITTING_KEYS", "HEIGHTS", "HOLDS", "HOSE",
    "HOSE_SUPPLY", "LAYOUT", "LINE", "MANIFOLD", "NOT_HERE", "OPPOSITE", "PIPE", "PLACE", "PUMP", "READING", "RELATIVE", "RESERVED", "ROD", "ROD_LIKE",
    "RUN", "SPRAY", "TABLES", "TRADE", "VESSEL", "VISIT", "WATER", "WISH", "Key", "fitting_keys", "fittings",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Key:
    """One key. `takes` is a dimension of `plumbline.units`, or "text", "choice", "switch", "count", "opening", "aim", "head", or the
    name of a larger thing that the reader knows ("end", "route", "pipe", …). An opening's choice is the handle. `low` is the least value; `above` forbids
    `low` itself."""

    takes: str
    says: str
    example: str
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    above: bool = False
    high: float | None = None


DIRECTIONS: Mapping[str, tuple[float, float, float]] = {
    "up": (0.0, 0.0, 1.0), "down": (0.0, 0.0, -1.0), "north": (0.0, 1.0, 0.0), "south": (0.0, -1.0, 0.0),
    "east": (1.0, 0.0, 0.0), "west": (-1.0, 0.0, 0.0),
}  # fmt: skip

RELATIVE = ("ahead", "back", "left", "right")
"""Directions as one walks: they turn with the walk."""

OPPOSITE = {
    "ahead": "back",
    "back": "ahead",
    "left": "right",
    "right": "left",
    "up": "down",
    "down": "up",
    "north": "south",
    "south": "north",
    "east": "west",
    "west": "east",
}

RESERVED = ("cap", "plug", "open air")
"""Words that end a line, and so cannot be names."""

NOT_HERE = {"<<": "each value written out, not taken over from elsewhere"}
"""Words that mean something elsewhere, and what to do instead."""

HOLDS = ("fish", "plants", "solids filter", "biofilter", "sump", "header")

LAYOUT = {
    "name": Key("text", "what the layout is called", "Two-bed courtyard"),
    "water": Key("water", "the water's temperature, or its density and viscosity", "22 degC"),
    "altitude": Key("length", "height of the site above the sea, for the weight of the air; left out, sea level", "350 m",
                    low=-500.0, high=9000.0),
    "electricity": Key("electricity", "what electricity costs, for the cost of pumping", "{price: 0.30, currency: EUR}"),
    "wish": Key("wish", "how much fish and how large beds are wished for, for `plumbline size`", "{fish: 5 kg/month, leafy: 6 m^2}"),
    "hose supply": Key("hose supply", "a garden hose to flush with, for `plumbline flush`",
                       "{pressure: 3 bar, flow: 20 L/min}"),
    "code": Key("code", "the plumbing code whose rules on access the drains are held against; left out, none", "ipc"),
    "vessels": Key("vessels", "tanks, beds, filters and sumps, by name", "tank: {base: 0 m, water: 0.85 m}"),
    "pumps": Key("pumps", "pumps, by name", "lift: {in: tank, curve: [[0 L/min, 3 m], [40 L/min, 0.6 m]]}"),
    "lines": Key(
        "lines",
        "the pipework, each line a walk from one end to the other",
        "riser: {pipe: pvc 25, from: lift, route: [up: 1.2 m], to: bed}",
        required=True,
    ),
    "rods": Key(
        "rods",
        "the rods and brushes at hand; left out, the catalogue's",
        "brush: {length: 4 m, bends up to: 22.5 deg, turns in all: 45 deg, bores: 20 mm to 55 mm}",
    ),
    "limits": Key("limits", "thresholds of your own, by the catalogue's names", "dead leg: 4"),
    "how sure": Key("how sure", "how far your numbers may be out, by the catalogue's names", "pump curve: 5 %"),
    "fouling": Key("fouling", "how fast your pipe fouls, by the catalogue's names: one number, or three for the rates slow, likely "
                   "and fast", "film time: [4, 2, 1]"),
    "readings": Key("readings", "what was read on a visit, for `plumbline diagnose`", "[{at: riser.to, caught: 10 L in 42 s}]"),
}  # fmt: skip

VISIT = {"readings": replace(LAYOUT["readings"], required=True)}
"""What a file of a visit holds."""

READING = {
    "at": Key("text", "where: an end of a line, `riser.to`; a step of it, `riser.3`; or the name of a cap, valve or other fitting",
              "riser.to"),
    "caught": Key("caught", "the litres that ran out of that end, and in what time", "10 L in 42 s"),
    "head": Key("length", "how high the water stands in a clear hose, over the middle of the pipe where the hose is put on: behind a "
                "step, as the line is walked", "1.32 m", low=-100.0),
    "opening": Key("opening", "how far a valve was found open", "40 %", low=0.0, high=1.0),
    "vessel": Key("text", "the vessel whose depth was read", "sump"),
    "depth": Key("length", "of the water over the vessel's floor, with the pumps on", "0.41 m", low=0.0),
    "pump": Key("text", "the pump whose power was read", "lift"),
    "power": Key("power", "that it draws from the mains", "38 W", low=0.0),
    "line": Key("text", "the line that was cleaned", "riser"),
    "cleaned": Key("time", "how long ago that was", "8 months", low=0.0),
    "give or take": Key("doubt", "how far the reading may be out: a length for a depth or a head, else a share; left out, by the "
                        "catalogue (`plumbline names readings`)", "5 %"),
}  # fmt: skip

WATER = {
    "temperature": Key("temperature", "of the water", "22 degC", low=0.0, high=100.0),
    "density": Key("density", "of the water", "998 kg/m^3", low=0.0, above=True),
    "viscosity": Key("viscosity", "dynamic viscosity", "1.002e-3 Pa s", low=0.0, above=True),
}

ELECTRICITY = {
    "price": Key("ratio", "of one kilowatt-hour, a plain number", "0.30", required=True, low=0.0),
    "currency": Key("text", "what the price is in", "EUR"),
    "hours a day": Key(
        "ratio", "how long a pump runs each day that does not say so itself; left out, 24", "18", low=0.0, high=24.0
    ),
}

WISH = {
    "fish": Key("mass rate", "fish to harvest", "5 kg/month", low=0.0, above=True),
    "leafy": Key("area", "bed area for leafy plants", "6 m^2", low=0.0),
    "fruiting": Key("area", "bed area for fruiting plants", "2 m^2", low=0.0),
    "beds": Key("choice", "what sort of beds they are; left out, raft", "media", choices=("raft", "media", "towers")),
    "tank": Key("volume", "water in the fish tank; left out, it is worked out", "1000 L", low=0.0, above=True),
    "oxygen from": Key(
        "choice", "what gives the fish their oxygen; left out, air stones", "flow", choices=("air stones", "flow")
    ),
    "put in at": Key("mass", "weight of a fish when it is put in", "50 g", low=0.0, above=True),
    "harvest at": Key("mass", "weight of a fish when it is harvested", "500 g", low=0.0, above=True),
    "growing time": Key("time", "in which it grows from the one to the other", "210 days", low=0.0, above=True),
    "feed conversion": Key("ratio", "feed for each kilogram that the fish gain", "1.5", low=0.5, high=5.0),
    "protein": Key("ratio", "protein in the feed", "32 %", low=0.05, high=0.9),
    "drippers": Key("count", "how many drippers the towers have", "40"),
    "dripper": Key("flow", "what each dripper gives", "2 L/h", low=0.0, above=True),
}

HOSE_SUPPLY = {
    "pressure": Key("pressure", "at its tap with nothing running", "3 bar", required=True, low=0.0, above=True),
    "flow": Key("flow", "that runs out of its free end: time it into a bucket", "20 L/min", required=True, low=0.0,
                above=True),
}  # fmt: skip

SHAPES = ("round", "square", "long")

VESSEL = {
    "holds": Key("choice", "what the vessel is for", "fish", choices=HOLDS),
    "base": Key("length", "height of the inside floor above the site's datum, the one level that all heights are counted from", "1.05 m", required=True),
    "water": Key("length", "normal depth of water", "0.22 m", required=True, low=0.0),
    "rim": Key("length", "height of the rim above the vessel's own floor", "0.30 m", low=0.0, above=True),
    "area": Key("areas", "free surface in plan, or, of a vessel that is not as wide everywhere, heights above its floor each with the "
                "area there; left out, the level is held as stated whatever flows", "2 m^2", low=0.0, above=True),
    "loses": Key("flow", "what goes to the air and to plants, day and night", "10 L/day", low=0.0),
    "wants": Key("flow", "the flow that the vessel should get", "14 L/min", low=0.0),
    "handles": Key("flow", "the largest flow that a filter, or another vessel, can take, as its maker states", "40 L/min",
                   low=0.0, above=True),
    "at": Key("place", "where it stands in plan", "{east: 2 m, north: 0 m}"),
    "shape": Key("choice", "in plan; left out, taken as round", "round", choices=SHAPES),
    "again": Key("count", "how many there are of it in a row, named `tower 1`, `tower 2` and so on", "10"),
    "smallest fish": Key("length", "length of the smallest fish that is put in", "8 cm", low=0.0, above=True),
}  # fmt: skip

PLACE = {
    word: Key("length", f"how far {word} of the site's own zero", "2 m") for word in ("east", "north", "west", "south")
}

PUMP = {
    "in": Key("text", "the vessel a submersible pump stands in; leave out for a pump with a suction line", "tank"),
    "height": Key("length", "height of its outlet above the vessel's floor", "0.05 m", low=0.0),
    "curve": Key("curve", "points of flow and head, or what its box prints; needed, but for an airlift",
                 "[[0 L/min, 3 m], [40 L/min, 0.6 m]]"),
    "airlift": Key("airlift", "air blown in at the foot of an upright riser, in place of a curve; its `height` is the riser's top",
                   "{air: 20 L/min, riser: pvc 40, length: 1.0 m}"),
    "runs": Key("runs", "when it runs: so long on and so long off, or windows of the day; left out, always; no, where it stands by",
                "{on: 15 min, off: 45 min}"),
    "switch": Key("level switch", "a float or level switch that turns it on and off",
                  "{vessel: sump, on above: 0.4 m, off below: 0.2 m}"),
    "power": Key("power", "drawn from the mains at full speed", "45 W", low=0.0),
    "speed": Key("ratio", "the speed it is set to, as a share of that of its curve and power", "80 %", low=0.0, above=True,
                 high=1.5),
    "npsh": Key("length", "the net positive suction head that its maker asks for at its inlet; it counts where a suction line feeds the pump",
                "2.5 m", low=0.0),
    "hours a day": Key("ratio", "how long it runs each day, for its cost and for what settles while it rests; left out, as `electricity` says, or 24", "12", low=0.0,
                       high=24.0),
}  # fmt: skip

RUNS = {
    "on": Key("time", "for how long it runs", "15 min", low=0.0, above=True, high=86400.0),
    "off": Key("time", "for how long it then stands", "45 min", low=0.0, above=True, high=86400.0),
    "after": Key(
        "time", "how long after midnight it first goes on; left out, at once", "10 min", low=0.0, high=86400.0
    ),
    "from": Key("clock", "the time of day at which it goes on", "06:00"),
    "to": Key("clock", "the time of day at which it goes off", "18:00"),
}

SWITCH = {
    "vessel": Key("text", "the vessel whose water it feels", "sump", required=True),
    "on above": Key(
        "length", "it turns the pump on as the water rises past this height above the floor", "0.4 m", low=0.0
    ),
    "off below": Key("length", "and off as it falls past this", "0.2 m", low=0.0),
    "on below": Key(
        "length", "it turns the pump on as the water falls past this height above the floor", "0.2 m", low=0.0
    ),
    "off above": Key("length", "and off as it rises past this", "0.4 m", low=0.0),
}

AIRLIFT = {
    "air": Key("flow", "free air, as an air pump's sheet gives it at the depth of the inlet", "20 L/min", required=True, low=0.0,
               above=True, high=0.1),
    "riser": Key("pipe", "the pipe that air and water rise in", "pvc 40", required=True),
    "length": Key("length", "of the riser, from the air inlet up to its top, where the water runs out", "1.0 m", required=True,
                  low=0.0, above=True),
}  # fmt: skip

BOX = {
    "highest head": Key("length", "the head at which nothing flows any more", "3 m", required=True,
                        low=0.0, above=True),
    "largest flow": Key("flow", "the flow with no height to lift", "40 L/min", required=True, low=0.0, above=True),
}  # fmt: skip

LINE = {
    "pipe": Key("pipe", "the pipe all its runs are of, unless they say otherwise", "pvc 25"),
    "from": Key("end", "where the walk begins", "lift", required=True),
    "route": Key("route", "the steps: runs and fittings, in order", "[{up: 1.5 m}, elbow, {east: 2 m}]"),
    "to": Key("end", "where the walk ends", "bed", required=True),
    "again": Key(
        "count", "how often it stands; left out, as often as the row or the manifold that it begins or ends at", "10"
    ),
}

RUN = {
    **{word: Key("length", f"how far the run goes {word}", "1.2 m", low=0.0) for word in DIRECTIONS},
    **{
        word: Key("length", f"how far the run goes {said}", "1.2 m", low=0.0)
        for word, said in (
            ("ahead", "on, as you walk"),
            ("back", "back, as you walk"),
            ("left", "to your left, as you walk"),
            ("right", "to your right, as you walk"),
        )
    },
    "fall": Key("slope", "how much it falls on its way", "2 %", low=0.0, above=True, high=1.0),
    "rise": Key("slope", "how much it rises on its way", "1 in 50", low=0.0, above=True, high=1.0),
    "buried": Key("switch", "it lies in the ground: nobody cuts it, or puts an opening into it", "yes"),
    "behind": Key("text", "what it runs behind, where no hand gets at it", "wall"),
    "under": Key("text", "what it runs under, where no hand gets at it", "slab"),
    "past": Key("text", "what it goes round, over or under that stays: a redesign leaves the run where it is", "kerb"),
    "sunlit": Key("switch", "the sun or a plant lamp shines on it", "yes"),
    "clear": Key("switch", "light goes through its wall, as through clear hose", "yes"),
    "hot": Key("temperature", "how hot it gets there, beside a heater or under a roof", "50 degC"),
    "pipe": Key("pipe", "the pipe of this run alone", "pvc 32"),
    "bore left": Key(
        "length", "what slime or sludge has left of its bore; left out, all", "19 mm", low=0.0, above=True
    ),
}

HOSE = {
    **RUN,
    "length": Key("length", "length of the hose itself, if longer than from end to end", "1.5 m",
                  low=0.0, above=True),
    "bends": Key("angle", "how much it bends on its way, all its bends together", "180 deg", low=0.0),
    "radius": Key("length", "of its bends; left out, five times its bore", "150 mm", low=0.0, above=True),
}  # fmt: skip

MANIFOLD = {
    **RUN,
    "id": Key("text", "its name; its outlets are tees, `header 1`, `header 2` and so on", "header", required=True),
    "outlets": Key("count", "how many outlets it has", "10", required=True, low=1.0),
    "spacing": Key("length", "how far apart they are; left out, evenly along it", "0.4 m", low=0.0, above=True),
}

SPRAY = {
    **RUN,
    "holes": Key("count", "how many holes are drilled along it", "12", required=True, low=1.0),
    "hole": Key("length", "diameter of a hole", "4 mm", required=True, low=0.0, above=True),
    "in": Key("text", "the vessel that the jets fall into; left out, open air", "tank"),
    "aim": Key(
        "aim",
        "where the holes point: along the wall, to turn the tank's water, or how far off the wall; left out, it turns nothing",
        "along the wall",
        low=0.0,
        high=1.5707963267948966,
    ),
}

DRIP = {
    **RUN,
    "drippers": Key("count", "how many drippers sit along it", "12", required=True, low=1.0),
    "dripper": Key("flow", "what each gives, as its maker states", "4 L/h", required=True, low=0.0, above=True),
    "at": Key("pressure", "the pressure at which it gives that; left out, 1 bar", "1 bar", low=0.0, above=True),
    "in": Key("text", "the vessel that they drip into; left out, open air", "towers"),
}

FITTING_KEYS = {
    "id": Key("text", "its name, for tees, caps and anything that you want named in the report", "t1"),
    "K": Key("ratio", "a stated loss coefficient, in place of the fitting's own", "0.9", low=0.0),
    "Kv": Key("ratio", "a stated flow factor, m³/h at 1 bar", "24.7", low=0.0, above=True),
    "opening": Key(
        "opening",
        "how far a valve is open: a share, or shut, quarter, half, open; of a lever also 30 deg open or 30 deg "
        "shut, of a wheel 2 turns of 5",
        "40 %",
        low=0.0,
        high=1.0,
    ),
    "faces": Key("heading", "which way a cap opens; left out, in line with the longer leg of a corner, else up", "up"),
    "room": Key(
        "length",
        "clear space in front of a cap, to a wall or whatever else is there; left out, as far as the next "
        "pipe that the file tells of",
        "100 mm",
        low=0.0,
    ),
    "loses": Key(
        "head",
        "the head that it takes at the flow `at`, as its maker states it; it goes with the flow squared",
        "0.4 m",
        low=0.0,
    ),
    "at": Key("flow", "the flow at which it loses that", "40 L/min", low=0.0, above=True),
    "clogged": Key(
        "ratio", "the share of its open area that dirt has closed; left out, none", "30 %", low=0.0, high=0.95
    ),
    "bore": Key("length", "the bore inside a barb, or of a nozzle's mouth", "15 mm", low=0.0, above=True),
    "air": Key("flow", "the air that a venturi draws in, for the parts list", "2 L/min", low=0.0),
    "opens": Key(
        "choice",
        "which legs of a three-way valve are open: from where the walk comes to the one ahead, to the side one, to both; "
        "or from the one ahead to the side",
        "side",
        choices=("ahead", "side", "both", "ahead to side", "shut"),
    ),
    "port": Key("choice", "how the ball of a three-way valve is drilled; left out, T", "L", choices=("T", "L")),
    "runs": Key(
        "runs",
        "when a valve is open: so long on and so long off, or windows of the day; it is shut otherwise",
        "{on: 10 min, off: 50 min}",
    ),
    "angle": Key("angle", "of a bend", "30 deg", low=0.0, above=True, high=3.141592653589794),
    "to": Key("pipe", "the pipe that a reducer, an expander or a barb goes on in", "pvc 20"),
}


@cache
def fittings() -> Mapping[str, tuple[str, ...]]:
    """Each fitting's details, as the catalogue's row has them, a plain value in place of a mapping being the first of them; and
    whatever opens and shuts may do so by a timer."""
    from .. import catalogue

    return {name: (*row.details, *(("runs",) if "opening" in row.details else ()))
            for name, row in catalogue.fittings().items() if row.place == "route"}  # fmt: skip


def fitting_keys(kind: str) -> dict[str, Key]:
    """The keys of one fitting; its opening knows what the valve is opened by."""
    from .. import catalogue

    handle = catalogue.fittings()[kind].handle
    return {
        word: replace(FITTING_KEYS[word], choices=(handle,)) if word == "opening" else FITTING_KEYS[word]
        for word in fittings()[kind]
    }


END_KINDS = ("vessel", "pump", "tee", "cap", "plug", "open air", "draws", "supply", "indexing valve")
"""The words that say what an end is; just one of them."""

HEIGHTS = ("standpipe", "overflow", "siphon", "notch", "weir", "height")
"""The words of an end that say how high it is; at most one of them."""

END = {
    "vessel": Key("text", "the vessel it ends in", "bed"),
    "standpipe": Key(
        "length",
        "height of a standpipe's crest above the vessel's floor; the walk starts at the crest",
        "0.22 m",
        low=0.0,
    ),
    "overflow": Key(
        "length",
        "height of the middle of an overflow in the wall above the vessel's floor; the walk starts there, sideways",
        "0.80 m",
        low=0.0,
    ),
    "siphon": Key(
        "length",
        "height of the crest of an automatic (bell or loop) siphon above the vessel's floor; the walk starts at the crest",
        "0.22 m",
        low=0.0,
    ),
    "notch": Key(
        "length",
        "height of the lowest place of a notch in the wall above the vessel's floor; the walk starts there, and falls",
        "0.20 m",
        low=0.0,
    ),
    "weir": Key(
        "length",
        "height of a wall's edge above the vessel's floor, which water runs over along its whole width; the walk starts there, and falls",
        "0.20 m",
        low=0.0,
    ),
    "width": Key("length", "of a notch or a weir", "100 mm", low=0.0, above=True),
    "angle": Key("angle", "between the sides of a V-notch", "90 deg", low=0.3490658503988659, high=1.7453292519943295),
    "breaks": Key("length", "height above the floor at which such a siphon lets go", "0.05 m", low=0.0),
    "bell": Key("length", "bore of the bell over it", "110 mm", low=0.0, above=True),
    "float valve": Key(
        "length",
        "a float valve lets water in until it stands so high above the vessel's floor",
        "0.30 m",
        low=0.0,
        above=True,
    ),
    "sleeve": Key(
        "length",
        "bore of a wider pipe around a standpipe, open at the floor: water and solids are drawn from there",
        "104 mm",
        low=0.0,
        above=True,
    ),
    "height": Key(
        "length",
        "height of a port above the vessel's floor; with open air, a draw, a cap or a plug, height "
        "above the site's datum",
        "0.05 m",
    ),
    "pump": Key("text", "the pump it ends at", "lift"),
    "tee": Key("text", "the tee or wye it ends at", "t1"),
    "cap": Key("text", "an access cap of that name closes it", "c2"),
    "plug": Key("switch", "a plug closes it for good", "yes"),
    "pulls out": Key("switch", "a standpipe that is not glued: a hand lifts it out of its socket", "yes"),
    "indexing valve": Key(
        "text",
        "an indexing valve of that name, which feeds its outlets in turn: the next one each time that its inflow "
        "has stopped and starts again; a line from outlet 1 begins at `turner 1`",
        "turner",
    ),
    "outlets": Key(
        "count", "how many outlets an indexing valve has; one that no line begins at is capped", "6", low=2.0, high=8.0
    ),
    "at least": Key(
        "flow", "the least flow at which an indexing valve turns, as its maker states", "20 L/min", low=0.0, above=True
    ),
    "buried": Key("switch", "it lies in gravel or clay, where no hand gets at it", "yes"),
    "open air": Key("switch", "it ends in open air", "yes"),
    "room": Key(
        "length", "clear space in front of a cap, an open end, or a pipe's mouth in a vessel", "100 mm", low=0.0
    ),
    "draws": Key("flow", "a fixed flow taken out there; negative puts water in", "2 L/min"),
    "supply": Key(
        "flow", "water that comes in from outside: so much with nothing in its way", "10 L/min", low=0.0, above=True
    ),
    "K": Key("ratio", "a stated loss coefficient, in place of the end's own", "0", low=0.0),
}

PIPE = {
    "bore": Key("length", "inside diameter", "26 mm", required=True, low=0.0, above=True),
    "roughness": Key("length", "of the wall", "0.0015 mm", low=0.0),
    "material": Key("material", "a catalogue name, for its roughness", "pvc"),
    "outside": Key("length", "outside diameter", "32 mm", low=0.0, above=True),
}

ROD = {
    "length": Key("length", "from your hand to the brush", "4 m", required=True, low=0.0, above=True),
    "bends up to": Key("angle", "the sharpest single turn it passes", "22.5 deg", required=True, low=0.0,
                       high=3.141592653589794),
    "turns in all": Key("angle", "all turns together", "45 deg", required=True, low=0.0),
    "bores": Key("bores", "the bores that it cleans; it goes through wider pipe too", "20 mm to 55 mm", required=True),
    "room": Key("length", "the clear space that it takes in front of an opening; left out, the threshold `hand room`", "200 mm",
                low=0.0),
    "pulled through": Key("switch", "a cord with a brush, pulled from one opening to another", "yes"),
    "like": Key("text", "a rod of the catalogue (`plumbline names rods`) that it is like: only what differs is then needed",
                "sprung cable"),
}  # fmt: skip

ROD_LIKE = {word: replace(key, required=word == "like") for word, key in ROD.items()}
"""A rod that is like one of the catalogue's."""

TRADE = {
    id(VESSEL): "vessel",
    id(PUMP): "pump",
    id(LINE): "line",
    id(END): "end",
    **{id(table): "run" for table in (RUN, HOSE, MANIFOLD)},
}
"""Where words of the trade are known, by the table that does not have them."""

TABLES: Mapping[str, Mapping[str, Key]] = {
    "layout": LAYOUT, "water": WATER, "electricity": ELECTRICITY, "wish": WISH, "hose supply": HOSE_SUPPLY, "vessel": VESSEL, "place": PLACE, "pump": PUMP, "airlift": AIRLIFT, "box": BOX,
    "runs": RUNS, "switch": SWITCH, "line": LINE, "run": RUN, "hose": HOSE, "manifold": MANIFOLD, "spray bar": SPRAY, "drip line": DRIP, "fitting": FITTING_KEYS, "end": END, "pipe": PIPE, "rod": ROD, "reading": READING,
}  # fmt: skip
"""Every table by the name that the docs use."""
