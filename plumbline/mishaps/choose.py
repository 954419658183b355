"""Which few guards take away most harm for least money, with the proof: all mishaps again, with those guards in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from ..errors import PlumblineError
from ..redesign.change import clash
from ..redesign.prices import Prices
from .find import FISH, Mishap, Mishaps, find_mishaps
from .guard import AIR, Guard, guarded, guards_for
from .harm import Harm

__all__ = ["Guarded", "Taken", "choose_guards"]

FEW = 5
"""How many guards are chosen at the most."""

WORTH = 0.03
"""A guard that takes away less than this share of all harm is not worth naming."""


@dataclass(frozen=True)
class Taken:
    """A guard that was chosen, its `cost`, and the harms that it takes away, alone, by mishap."""

    guard: Guard
    cost: float
    takes: tuple[tuple[Mishap, tuple[Harm, ...]], ...]


@dataclass(frozen=True)
class Guarded:
    """The guards, the one that gives most for its money first; all mishaps with all of them in, `proof`, None where there are none or they
    do not go together, with why; harm by likelihood `before` and `after`."""

    guards: tuple[Taken, ...]
    proof: Mishaps | None
    before: float
    after: float
    why: str = ""


Gone = dict[tuple[tuple[str, str], tuple[str, str]], float]
"""What harms are gone, by mishap and harm, with what each weighs."""


def choose_guards(
    found: Mishaps, prices: Prices, *, progress: Callable[[int, int, str], None] | None = None
) -> Guarded:
    """Choose guards, the one that takes away most for its money first, each tried alone on the mishaps that it is against.

    Parameters:
        found: the mishaps as it stands.
        prices: of changes.
        progress: called with how many are done, of how many, and what is tried.

    Returns:
        The guards with the proof of all of them together.
    """
    before = sum(one.weight for one in found.mishaps)
    some = list(guards_for(found, prices))
    tried: list[tuple[Guard, Gone]] = []
    for number, guard in enumerate(some):
        if progress is not None:
            progress(number, len(some), guard.change.words)
        gone = _gone(found, guard)
        if sum(gone.values()) >= WORTH * before > 0.0:
            tried.append((guard, gone))
    chosen = _few(tried, prices, before)
    taken = tuple(Taken(guard, guard.change.cost(prices.hour), _told(found, gone)) for guard, gone in chosen)
    if not taken:
        return Guarded((), None, before, before)
    try:
        proof = find_mishaps(
            guarded(found.running.layout, [one.guard for one in taken]), hours=found.running.hours, progress=progress
        )
    except PlumblineError as error:
        return Guarded(taken, None, before, before, f"they cannot be tried together: {error}")
    return Guarded(taken, proof, before, _rest(proof, taken))


def _few(tried: list[tuple[Guard, Gone]], prices: Prices, before: float) -> list[tuple[Guard, Gone]]:
    """The best for its money of what is left, until the rest is not worth it."""
    chosen: list[tuple[Guard, Gone]] = []
    covered: set[object] = set()
    left = list(tried)

    def still(gone: Gone) -> float:
        return sum(weight for key, weight in gone.items() if key not in covered)

    while left and len(chosen) < FEW:
        guard, gone = max(left, key=lambda one: still(one[1]) / max(one[0].change.cost(prices.hour), 1.0))
        if still(gone) < WORTH * before:
            left.remove((guard, gone))
            continue
        chosen.append((guard, gone))
        covered |= set(gone)
        left = [one for one in left if one[0] is not guard and not clash(one[0].change, guard.change)]
    return chosen


def _gone(found: Mishaps, guard: Guard) -> Gone:
    """The harms that a guard takes away of the mishaps that it is against; none where it cannot be built or brings a new harm to running."""
    if guard.change.kind == AIR:
        return {(one.key, (harm.what, harm.where)): _weighs(one, harm)
                for one in guard.against for harm in one.harms if harm.what == FISH[0]}  # fmt: skip
    try:
        after = find_mishaps(
            guarded(found.running.layout, [guard]), hours=found.running.hours, only=[one.key for one in guard.against]
        )
    except PlumblineError:
        return {}
    if {(harm.what, harm.where) for harm in after.already} - {(harm.what, harm.where) for harm in found.already}:
        return {}
    return _less(guard.against, {one.key: one for one in after.mishaps})


def _less(before: Iterable[Mishap], after: Mapping[tuple[str, str], Mishap]) -> Gone:
    gone: Gone = {}
    for one in before:
        then = after.get(one.key)
        if then is None or then.doubt:
            continue
        left = {(harm.what, harm.where) for harm in then.harms}
        gone |= {
            (one.key, (harm.what, harm.where)): _weighs(one, harm)
            for harm in one.harms
            if (harm.what, harm.where) not in left
        }
    return gone


def _weighs(mishap: Mishap, harm: Harm) -> float:
    return mishap.weight * harm.weight / sum(one.weight for one in mishap.harms)


def _told(found: Mishaps, gone: Gone) -> tuple[tuple[Mishap, tuple[Harm, ...]], ...]:
    rows = (
        (one, tuple(harm for harm in one.harms if (one.key, (harm.what, harm.where)) in gone)) for one in found.harmful
    )
    return tuple((one, harms) for one, harms in rows if harms)


def _rest(proof: Mishaps, taken: tuple[Taken, ...]) -> float:
    """The harm that is left; what air stones are there for does none."""
    air = any(one.guard.change.kind == AIR for one in taken)
    return sum(_weighs(one, harm) for one in proof.harmful for harm in one.harms if not (air and harm.what == FISH[0]))
