"""The flows of a layout: follow its water until it stays, hold what never does, and read the answer back in the layout's own names."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace

from ..errors import SolveError
from ..layout.model import Layout
from .assemble import Supply
from .flows import Flows
from .never_settles import drawn_too_high, never_settle
from .steady import SAME_LEVEL, Run, Settled, Siphons
from .stretches import BARE, intakes, pipes_joined, pushed
from .turns import in_turns

__all__ = ["Settled", "find_flows", "nearby", "settle"]


def find_flows(
    layout: Layout,
    *,
    opened: Collection[str] = (),
    levels: Mapping[str, float] | None = None,
    stopped: bool | Collection[str] = False,
    fed: Mapping[str, Supply] | None = None,
    siphons: Siphons = "likely",
    margins: bool = True,
    spare: bool = True,
) -> Flows:
    """Find the steady flows of a layout.

    Parameters:
        opened: ids of caps that stand open, so that water runs out there (for a flush).
        levels: where the water stands in vessels whose level is not as stated [m above the datum]; left out, it is found.
            With them vessels are held at those levels, as they are for the first minutes, and only flows and duty points are
            found, without routes or what the drains need.
        stopped: all pumps stand still, or those named; water may pass through them.
        fed: water put in from outside, by id of the cap it comes in at; only with `levels`.
        siphons: whether a siphon holds where that is in doubt: as is likely, or all of them held, or broken.
        margins: False leaves out the routes and how much more the drains would carry.
        spare: False leaves out the latter alone, which takes as long as the flows themselves.

    Returns:
        Flows, heads and duty points with the residuals of the equations.

    Raises:
        SolveError: when there is no steady state, or none was found; never a number instead.
    """
    flows = settle(
        layout, opened=opened, levels=levels, stopped=stopped, fed=fed, siphons=siphons, margins=margins, spare=spare
    ).flows
    return _while_on(layout, flows) if margins and levels is None else flows


def _while_on(layout: Layout, flows: Flows) -> Flows:
    """The flows, with what pumps that a switch turns off as they empty their vessel push while they run: the head of their duty is the head then,
    with their vessel midway between on and off. And with what flows past pumps that a clock or a switch stops, while they stand."""
    levels = {name: flows.stands(vessel) for name, vessel in layout.vessels.items()}
    rests = {name for name, pump in layout.pumps.items() if pump.switch or (pump.runs and not pump.runs.always)}
    try:
        off = find_flows(layout, levels=levels, stopped=rests).stretches if rests and flows.held else {}
    except SolveError:
        off = {}
    freed = {name: one for name, one in off.items() if name in flows.held and one.flow}
    switched = {name for name, duty in flows.pumps.items() if duty.state == "by its switch" and duty.flow > 0.0}
    for name in switched:
        switch = layout.pumps[name].switch
        if switch is not None:
            levels[switch.vessel] = layout.vessels[switch.vessel].base + 0.5 * (switch.on + switch.off)
    try:
        on = find_flows(layout, levels=levels) if switched else flows
    except SolveError:
        on = flows
    pieces, pushes = pipes_joined(layout), pushed(layout, switched)
    return replace(
        flows,
        pumps={
            name: replace(duty, head=on.pumps[name].head) if name in switched else duty
            for name, duty in flows.pumps.items()
        },
        held=flows.held - freed.keys(),
        while_on={one.id: on.stretches[one.id] for one in layout.stretches if pieces[one.line] in pushes} | freed,
    )


def nearby(
    layout: Layout,
    near: Settled,
    before: Layout,
    *,
    start: Settled | None = None,
    leaks: Mapping[str, float] | None = None,
    same_level: float | None = None,
) -> Settled:
    """Find the flows of a layout from those of one much like it, in one step, while air stands where it did; else as `settle` does.

    Parameters:
        layout: with the same places and pipes as the one before; heights of vessels and what stands in them may differ.
        start: another that is nearer to it; it only saves time.
        leaks: diameters of holes [m] at places of the network (see `Layout.stretches`); levels are then held as they were, since
            water that leaks away takes them down for ever.
        same_level: levels that move by less than this in the last step have settled [m]; left out, one step is near enough to be compared
            with readings.

    Returns:
        Flows, heads and levels, without routes. Beside a leak air is taken to stand where it did.

    Raises:
        SolveError: where there are none, or a pump would run dry that did not.
    """
    if near.turns:
        starts = near.turns if start is None else start.turns
        all_of_them = zip(in_turns(layout), near.turns, in_turns(before), starts, strict=True)
        return Settled.of(
            [
                nearby(one, its, was, start=begin, leaks=leaks, same_level=same_level)
                for one, its, was, begin in all_of_them
            ]
        )
    still = frozenset(pump.name for pump in layout.pumps.values() if pump.stands_by)
    same_level, exact = same_level or math.inf, same_level is not None
    losses = {name: loss for name, loss in near.losses.items() if layout.vessels[name].loses > 0.0}
    run = Run(layout, frozenset(), still, {}, near, same_level, losses=losses)
    moved = {name: near.levels[name] + layout.vessels[name].level - before.vessels[name].level for name in near.levels}
    run.keep(name for name in run.free() if name not in near.levels)
    if leaks:
        run.hold, moved = run.hold | moved, {}
    state = run.stepped(moved, near, (start or near).solution, leaks, exact=exact)
    levels = state.levels
    dry = [
        name
        for name in state.assembly.pumps
        if any(one.vessel in levels for one in intakes(layout)[name])
        and state.assembly.over_intake(layout, name, state.solution) < BARE
    ]
    if any(near.flows.pumps[name].state not in ("starved", "by its switch") for name in dry):
        raise SolveError(f"pump '{dry[0]}' would run dry")
    if not leaks and run.aired(state)[0] - near.vented:
        # Air gets in, or a siphon would never begin: where it then stands is for the whole way of the water to say.
        there = replace(near, solution=state.solution, levels=levels)
        # The water there is now counts, whatever the file writes.
        run = replace(run, near=there, running=True, same_level=same_level if exact else SAME_LEVEL)
        state = run.settled("likely")
        if never_settle(layout, state.assembly, state.solution, state.levels):
            raise SolveError("a pump would run dry, or a vessel run away")
    flows = run.read(state, margins=False)
    return Settled(flows, state.solution, state.levels, state.vented, state.sleeves, losses=losses)


def settle(
    layout: Layout,
    *,
    opened: Collection[str] = (),
    levels: Mapping[str, float] | None = None,
    stopped: bool | Collection[str] = False,
    fed: Mapping[str, Supply] | None = None,
    near: Settled | None = None,
    running: bool = False,
    margins: bool = True,
    spare: bool = True,
    siphons: Siphons = "likely",
    same_level: float = SAME_LEVEL,
) -> Settled:
    """Find the steady flows of a layout, from those of one much like it where that is given.

    Parameters:
        layout, opened, levels, stopped, fed, siphons, margins, spare: as for `find_flows`.
        near: of a layout with the same places and pipes; it only saves time.
        running: the water there is is that of `near`, whatever the file writes.
        same_level: levels that move by less than this in the last step have settled [m].

    Raises:
        SolveError: as `find_flows` does.
    """
    if turns := in_turns(layout):
        nears = (None,) * len(turns) if near is None else near.turns
        return Settled.of(
            [
                settle(
                    one,
                    opened=opened,
                    levels=levels,
                    stopped=stopped,
                    fed=fed,
                    near=its,
                    running=running,
                    margins=margins,
                    spare=spare,
                    siphons=siphons,
                    same_level=same_level,
                )
                for one, its in zip(turns, nears, strict=True)
            ]
        )
    still = frozenset(layout.pumps) if stopped is True else frozenset(stopped or ())
    still |= {pump.name for pump in layout.pumps.values() if pump.stands_by}
    run = Run(layout, frozenset(opened), still, dict(fed or {}), near, same_level, running)
    if levels is not None:
        run.hold = run.given = {name: levels.get(name, vessel.level) for name, vessel in layout.vessels.items()}
    else:
        run.keep(run.drawn_on(dry=True))
        run.make_good()
    for _ in range(2 * len(layout.vessels) + 2):
        try:
            state = run.settled(siphons)
        except SolveError as error:
            if levels is not None or not (run.forget(run.losses) or run.keep(run.drawn_on())):
                raise (drawn_too_high(layout) or error) from None
            continue
        if run.forget(name for name in run.losses if state.levels.get(name, math.inf) < layout.vessels[name].base):
            continue
        if levels is not None or not run.keep(never_settle(layout, state.assembly, state.solution, state.levels)):
            break
    margins = margins and levels is None
    flows = run.read(state, margins=margins, spare=margins and spare)
    return Settled(flows, state.solution, state.levels, state.vented, state.sleeves, losses=run.losses)
