"""Loss coefficients of single fittings: K(Re) = K_inf + K1/Re on the velocity head of a stated bore.

Each function wraps one published method for one fitting, in SI units and radians, and says which bore its
coefficient belongs to. Where a function returns one number it is K_inf, and K1 is zero.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import degrees, inf, pi

__all__ = [
    "bend",
    "crane",
    "hose_bends",
    "reducer",
    "three_k",
    "through",
    "valve_opening",
]

_SMALLEST_BORE, _SMALLEST_NPS = 6.84e-3, 0.125


def three_k(bore: float, K1: float, Ki: float, Kd: float) -> tuple[float, float]:
    """Darby's 3-K method: a loss that knows both Reynolds number and size.

    K = K1/Re + Ki (1 + Kd/D^0.3), D the nominal size in inches.

    Parameters:
        bore: inside diameter [m]; D is the nominal size of the schedule 40 pipe of that bore, in between in proportion.
        K1, Ki: [-].
        Kd: [inch^0.3].

    Returns:
        (K_inf, K1), on the velocity head and Reynolds number of `bore`.

    Validity: fitted to pipe fittings from about ½ in. Below a bore of 6.84 mm (⅛ in) D goes on in proportion.

    >>> K_inf, K1 = three_k(0.05248, 950.0, 0.25, 4.0)
    >>> round(K_inf, 4), K1
    (1.0623, 950.0)

    Reference: Silverberg & Darby, Chemical Engineering 106 (7), 1999, 101; by `fluids.fittings.Darby3K`.
    """
    from fluids.fittings import Darby3K

    if bore < _SMALLEST_BORE:
        size = _SMALLEST_NPS * bore / _SMALLEST_BORE
        return float(Darby3K(NPS=size, Re=inf, K1=K1, Ki=Ki, Kd=Kd)), K1
    return float(Darby3K(Di=bore, Re=inf, K1=K1, Ki=Ki, Kd=Kd)), K1


def crane(bore: float, N: float) -> float:
    """Crane's equivalent-length method: a multiple of the friction factor of clean steel pipe of that size.

    K = N f_T(bore).

    Parameters:
        bore: inside diameter [m].
        N: Crane's number for the fitting, e.g. 30 for a standard elbow [-].

    Returns:
        K_inf [-] on the velocity head of `bore`.

    Validity: complete turbulence, steel pipe sizes from ½ in to 36 in; continued below by the same formula.

    >>> round(crane(0.10226, 30.0), 3)
    0.486

    Reference: Crane Co., TP-410, 2009, appendix A; f_T by `fluids.fittings.ft_Crane`.
    """
    from fluids import ft_Crane

    return N * float(ft_Crane(bore))


def bend(bore: float, angle: float, radius_ratio: float, roughness: float = 0.0, *, reynolds: float = 1e5) -> float:
    """A smooth round bend, with the friction along its arc.

    K = f α r/d + (0.10 + 2.4 f) sin(α/2) + 6.6 f (√sin(α/2) + sin(α/2)) / (r/d)^(4α/π).

    Parameters:
        bore: inside diameter d [m].
        angle: turn α [rad].
        radius_ratio: radius of the centre line over bore r/d [-].
        roughness: of the pipe [m].
        reynolds: at which the friction factor f is taken, once: 100,000 unless stated.

    Returns:
        K_inf [-] on the velocity head of `bore`. At Re 10,000 a smooth bend has half as much again.

    Raises:
        ValueError: for r/d below 0.5 (no such bend) or an angle outside 0–180°.

    Validity: turbulent flow.

    >>> from math import pi
    >>> round(bend(0.026, pi / 2, 1.5, 1.5e-6), 3)
    0.228

    Reference: Rennels & Hudson, *Pipe Flow*, 2012, ch. 15; by `fluids.fittings.bend_rounded`.
    """
    from fluids.fittings import bend_rounded

    if not 0.0 <= angle <= pi:
        raise ValueError(f"a bend turns by 0° to 180°, not by {degrees(angle):g}°")
    if not radius_ratio >= 0.5:
        raise ValueError(f"a bend's radius must be at least half its bore, not {radius_ratio:g} bores")
    if angle == 0.0:
        return 0.0
    return float(
        bend_rounded(
            Di=bore,
            angle=degrees(angle),
            rc=radius_ratio * bore,
            Re=reynolds,
            roughness=roughness,
            method="Rennels",
        )
    )


def hose_bends(bore: float, turn: float, radius: float) -> float:
    """What the bends of a hose cost beside the friction of its length: as many smooth bends of 90° as make up the turn.

    K = (α/90°) (K₉₀ − f (π/2) r/d).

    Parameters:
        bore: inside diameter d [m].
        turn: all its bends together α [rad].
        radius: of their centre lines r [m]; under half a bore, which would be a kink, half a bore is taken.

    Returns:
        K_inf [-] on the velocity head of `bore`.

    Validity: turbulent flow; a hose that keeps its round section. Bends close behind each other cost less than this.

    >>> from math import pi
    >>> round(hose_bends(0.019, pi, 0.095), 3)
    0.217

    Reference: Rennels & Hudson, *Pipe Flow*, 2012, ch. 15, as in `bend`; that bends add up is common practice.
    """
    from fluids import friction_factor

    ratio = max(radius / bore, 0.5)
    along = float(friction_factor(Re=1e5, eD=0.0)) * pi / 2.0 * ratio
    return max(turn / (pi / 2.0) * (bend(bore, pi / 2.0, ratio) - along), 0.0)


def reducer(bore_in: float, bore_out: float, angle: float | None = None) -> tuple[float, float]:
    """A change of bore, both ways through it.

    Narrowing and widening by Rennels; sudden, or a cone of the stated whole angle. On the total head, so the
    velocity head gained or lost is not in it.

    Parameters:
        bore_in: bore on the side where the walk comes from [m].
        bore_out: bore on the side where it goes on [m].
        angle: whole angle of the cone [rad], None for a sudden change.

    Returns:
        (K_forward, K_back) for water going in → out and out → in, **both on the velocity head of `bore_in`**.

    Raises:
        ValueError: for a cone's angle outside 0–180° (zero excluded).

    Validity: turbulent flow; a cone's wall friction is taken for smooth pipe at Re 100,000.

    >>> forward, back = reducer(0.025, 0.05)
    >>> round(forward, 4), round(back, 4)
    (0.5625, 0.4956)

    Reference: Rennels & Hudson, *Pipe Flow*, 2012, ch. 10 and 11; by `fluids.fittings`.
    """
    from fluids.fittings import contraction_conical, contraction_sharp, diffuser_conical, diffuser_sharp

    if bore_in == bore_out:
        return 0.0, 0.0
    wide, narrow = max(bore_in, bore_out), min(bore_in, bore_out)
    if angle is None:
        narrowing = contraction_sharp(Di1=wide, Di2=narrow, method="Rennels")
        widening = diffuser_sharp(Di1=narrow, Di2=wide, method="Rennels")
    else:
        if not 0.0 < angle <= pi:
            said = f"a reducer's cone must open by more than 0° and at most 180°, not {degrees(angle):g}°"
            raise ValueError(said)
        whole = degrees(angle)
        narrowing = contraction_conical(Di1=wide, Di2=narrow, angle=whole, Re=1e5, method="Rennels")
        widening = diffuser_conical(Di1=narrow, Di2=wide, angle=whole, Re=1e5, method="Rennels")
    # the handbook's coefficients belong to the narrow bore
    scale = (bore_in / narrow) ** 4
    narrowing, widening = float(narrowing) * scale, float(widening) * scale
    return (narrowing, widening) if bore_in > bore_out else (widening, narrowing)


def through(bore_in: float, inside: float, bore_out: float) -> tuple[float, float]:
    """A narrower bore inside a fitting, such as a barb's: narrowing into it and widening out of it, both sudden.

    Parameters:
        bore_in: bore on the side where the walk comes from [m].
        inside: bore inside the fitting [m].
        bore_out: bore on the side where the walk goes on [m].

    Returns:
        (K_forward, K_back), **both on the velocity head of `bore_in`**.

    Validity: turbulent flow; friction inside is left out, and so is what the stream has not spread between the two.

    >>> [round(k, 3) for k in through(0.019, 0.0152, 0.019)]
    [0.879, 0.879]

    Reference: Rennels & Hudson, *Pipe Flow*, 2012, ch. 10 and 11, as in `reducer`; that the two add up is common practice.
    """
    into, back_out = reducer(bore_in, inside)
    widening, back_in = reducer(inside, bore_out)
    scale = (bore_in / inside) ** 4
    return into + scale * widening, scale * back_in + back_out


@lru_cache(maxsize=1000)
def valve_opening(K_open: float, opening: float, table: tuple[tuple[float, float], ...], shut_at: float = 0.0) -> float:
    """A valve part shut: its loss when open plus what the table adds.

    K = K_open + e(opening), e = T(opening) − T(1), with 1/√(1 + e) linear between the table's rows and down
    to zero at `shut_at`.

    The table gives the shape, for one valve of its kind; only what it adds to its own open value is taken, so
    K is K_open when fully open, whatever source that came from. 1/√(1 + e) goes as the flow that passes.

    Parameters:
        K_open: of this valve, fully open [-].
        opening: 0 (shut) to 1 (open).
        table: rows (opening, K) in any order, K falling as the valve opens, one row at 1.
        shut_at: opening at and below which nothing passes.

    Returns:
        K_inf [-] on the same velocity head as K_open; infinite when shut.

    Raises:
        ValueError: for an opening outside 0–1, or a table that does not rise and fall as it must.

    Validity: the table's; continuous and falling in the opening.

    >>> gate = ((0.25, 17.0), (0.5, 2.1), (0.75, 0.26), (1.0, 0.15))
    >>> valve_opening(0.2, 1.0, gate), round(valve_opening(0.2, 0.5, gate), 2), valve_opening(0.2, 0.0, gate)
    (0.2, 2.15, inf)

    Reference: common practice, no source, for the sum and between the rows; the table brings its own.
    """
    if not 0.0 <= opening <= 1.0:
        raise ValueError(f"a valve's opening lies between 0 (shut) and 1 (open), not at {opening:g}")
    rows = sorted(table)
    _check_table(rows, shut_at)
    if opening <= shut_at:
        return inf
    openings = [shut_at, *(row[0] for row in rows)]
    passing = [0.0, *((1.0 + row[1] - rows[-1][1]) ** -0.5 for row in rows)]
    i = min(bisect_right(openings, opening), len(rows))
    share = (opening - openings[i - 1]) / (openings[i] - openings[i - 1])
    flow = passing[i - 1] + share * (passing[i] - passing[i - 1])
    return K_open + flow**-2 - 1.0 if flow < 1.0 else K_open


def _check_table(rows: Sequence[tuple[float, float]], shut_at: float) -> None:
    moves = all(a[0] < b[0] and a[1] > b[1] for a, b in pairwise(rows))
    if not rows or not moves or not rows[0][0] > shut_at >= 0.0 or rows[-1][0] != 1.0 or rows[-1][1] < 0.0:
        raise ValueError("a valve's table needs openings above its shut one, up to 1, and a K that falls to there")
