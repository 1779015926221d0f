"""Checks of a network before solving: errors for what cannot be solved, findings for what a builder should know."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from fuelsim.errors import InputError, nearest
from fuelsim.finding import Finding, Severity
from fuelsim.laws.controlled_pump import CONTROLLED_PUMP, ControlledPumpCoefficients
from fuelsim.laws.pump_curve import PUMP_CURVE, PumpCoefficients
from fuelsim.laws.regulator import REDUCING_REGULATOR, RETURN_REGULATOR
from fuelsim.laws.valve import CHECK_VALVE
from fuelsim.liquid import Liquid
from fuelsim.network.elements import Elements, Link
from fuelsim.network.solver.topology import unreachable_nodes
from fuelsim.parts.regulator import ReducingRegulator, ReturnRegulator
from fuelsim.sources import cite
from fuelsim.units import shown

__all__ = [
    "check_every_node_reaches_a_reservoir",
    "check_name_is_new",
    "check_node_is_known",
    "check_there_is_a_reservoir",
    "dead_head_pressures",
    "float_valves_forced_open",
    "pumps_open_to_backflow",
    "ratings_below_dead_head",
    "set_pressures_beyond_dead_head",
]

_SEPARATING_LAWS = (PUMP_CURVE, CONTROLLED_PUMP, RETURN_REGULATOR, REDUCING_REGULATOR)
"""Laws of links whose two ends are at different pressures even at small flow."""


def check_name_is_new(name: object, what: str, known: Collection[str]) -> None:
    """Refuse a name that is not text, is empty, or is used already."""
    if not isinstance(name, str) or not name.strip():
        raise InputError(f"the name of a {what} is text", given=name, accepted="a name such as 'rail'")
    if name in known:
        raise InputError(f"there is a {what} of this name already", given=name, accepted="a name of its own", part=name)


def check_node_is_known(name: object, known: Collection[str], part: str) -> None:
    """Refuse a node that has not been added; nodes are never made by connecting."""
    if name not in known:
        raise InputError(
            "no such node; add it first with add_node or add_reservoir",
            given=name,
            accepted=nearest(name, known),
            part=part,
        )


def check_there_is_a_reservoir(network: Elements) -> None:
    """Refuse a network without any fixed pressure."""
    if not network.reservoirs:
        raise InputError(
            "the network has no reservoir, so no pressure is known",
            accepted="at least one, as in add_reservoir('tank', pressure=101325.0)",
        )


def check_every_node_reaches_a_reservoir(network: Elements) -> None:
    """Refuse nodes that no link joins to a reservoir: their pressure is not determined."""
    number = network.numbers()
    names = list(number)
    links = network.links.values()
    isolated = unreachable_nodes(
        [number[link.up] for link in links],
        [number[link.down] for link in links],
        len(names),
        [number[name] for name in network.reservoirs],
    )
    if isolated:
        listed = ", ".join(f"'{names[index]}'" for index in isolated[:8])
        raise InputError(
            f"not connected to any reservoir: {listed}",
            accepted="every node joined to a reservoir by links",
            part=names[isolated[0]],
        )


def _dead_head(link: Link, liquid: Liquid) -> float:
    """Return the greatest pressure rise of a pump link, Pa; zero for other links."""
    own = link.part.coefficients(liquid)
    if not isinstance(own, PumpCoefficients | ControlledPumpCoefficients):
        return 0.0
    return max(float(np.max(own.rise)), getattr(link.part, "highest_dead_head", None) or 0.0)


def dead_head_pressures(network: Elements, liquid: Liquid) -> dict[str, float]:
    """Return the greatest pressure each node can reach, Pa over its reservoir: all pumps on the way at zero flow.

    Pumps in series add up, pumps in parallel do not.
    """
    rises = {name: _dead_head(link, liquid) for name, link in network.links.items()}
    around: dict[str, list[tuple[str, str, float]]] = {name: [] for name in (*network.nodes, *network.reservoirs)}
    for name, link in network.links.items():
        around[link.up].append((link.down, name, rises[name]))
        if not rises[name]:
            around[link.down].append((link.up, name, 0.0))
    best: dict[str, float] = {}
    visited: set[tuple[str, frozenset[str]]] = set()
    stack: list[tuple[str, float, frozenset[str]]] = [(name, 0.0, frozenset()) for name in network.reservoirs]
    while stack:
        node, rise, used = stack.pop()
        if (node, used) in visited:
            continue
        visited.add((node, used))
        best[node] = max(best.get(node, 0.0), rise)
        for after, name, more in around[node]:
            if name not in used and after not in network.reservoirs:
                stack.append((after, rise + more, used | {name} if more else used))
    return best


def set_pressures_beyond_dead_head(network: Elements, liquid: Liquid) -> list[Finding]:
    """Find regulators whose set pressure no pump reaches: they never regulate."""
    reach = dead_head_pressures(network, liquid)
    findings = []
    for name, link in network.links.items():
        set_pressure = getattr(link.part, "set_pressure", None)
        if set_pressure is None or link.part.law is CONTROLLED_PUMP:
            continue
        least, most = float(np.min(set_pressure)), max(reach.get(link.up, 0.0), reach.get(link.down, 0.0))
        if most and least > most:
            findings.append(
                Finding(
                    Severity.WARNING,
                    name,
                    f"set to {shown(least, 'pressure difference')}, but the pumps before it reach "
                    f"{shown(most, 'pressure difference')} at zero flow",
                    "choose a lower set pressure or a pump with a higher dead-head pressure",
                    source=cite("common_practice"),
                )
            )
    return findings


def float_valves_forced_open(network: Elements, liquid: Liquid) -> list[Finding]:
    """Find float valves whose inlet may stand at more than their floats hold: behind a reducer its set pressure."""
    reach = dead_head_pressures(network, liquid)
    findings = []
    for name, link in network.links.items():
        limit = getattr(link.part, "flooding_pressure", None)
        if limit is None:
            continue
        held, most = float(np.min(limit)), _standing_pressure(network, link.up, reach)
        if held < most:
            findings.append(
                Finding(
                    Severity.FAILURE,
                    name,
                    f"its float holds {shown(held, 'pressure difference')}, but {shown(most, 'pressure difference')} "
                    "may stand at its inlet: the bowl floods",
                    "fit a reducing regulator before it, set below what the float holds",
                    caution="petrol that overflows onto a hot engine burns",
                    source=cite("computed"),
                )
            )
    return findings


def _standing_pressure(network: Elements, node: str, reach: Mapping[str, float]) -> float:
    """Return the greatest gauge pressure at a node without flow, Pa: what reducers hold, if they stand on every way."""
    stack, seen, greatest = [node], {node}, 0.0
    while stack:
        here = stack.pop()
        before = [link for link in network.links.values() if link.down == here]
        if here in network.reservoirs or not before:  # a way without a reducer
            return reach.get(node, 0.0)
        for link in before:
            if isinstance(link.part, ReducingRegulator):
                greatest = max(greatest, float(np.max(link.part.set_pressure)))
            elif link.up not in seen:
                seen.add(link.up)
                stack.append(link.up)
    return greatest


def _held_pressures(network: Elements) -> dict[str, float]:
    """Return the highest set pressure, Pa, held at each node that only lines join to a return regulator's inlet."""
    held: dict[str, float] = {}
    lines = [(link.up, link.down) for link in network.links.values() if link.part.law not in _SEPARATING_LAWS]
    regulators = [
        (link.up, float(np.max(link.part.set_pressure)))
        for link in network.links.values()
        if isinstance(link.part, ReturnRegulator)
    ]
    for inlet, most in regulators:
        stack = [inlet]
        while stack:
            node = stack.pop()
            if held.get(node, 0.0) >= most or node in network.reservoirs:
                continue
            held[node] = most
            stack += [one if other == node else other for one, other in lines if node in (one, other)]
    return held


def ratings_below_dead_head(network: Elements, liquid: Liquid) -> list[Finding]:
    """Find parts rated below a set pressure, which fail, or below what the pumps reach when all flow is blocked."""
    reach, held = dead_head_pressures(network, liquid), _held_pressures(network)
    findings = []
    for name, link in network.links.items():
        working_pressure = getattr(link.part, "working_pressure", None)
        if working_pressure is None:
            continue
        rated, most = float(np.min(working_pressure)), max(reach.get(link.up, 0.0), reach.get(link.down, 0.0))
        if rated < most:
            held_here = max(held.get(link.up, 0.0), held.get(link.down, 0.0))
            severity, than = Severity.WARNING, f"but the pumps reach {shown(most, 'pressure difference')} at zero flow"
            if rated < held_here:
                severity, than = (
                    Severity.FAILURE,
                    f"below the set pressure of {shown(held_here, 'pressure difference')}",
                )
            findings.append(
                Finding(
                    severity,
                    name,
                    f"rated {shown(rated, 'pressure difference')}, {than}",
                    "fit a part of a higher rating, or a pump with a relief valve below the rating",
                    caution="petrol under pressure burns; a line that bursts near an exhaust starts a fire",
                    source=cite("common_practice"),
                )
            )
    return findings


def pumps_open_to_backflow(network: Elements, liquid: Liquid) -> list[Finding]:
    """Find pumps without a check valve behind which other pumps hold more than their own dead-head pressure."""
    rises = {name: _dead_head(link, liquid) for name, link in network.links.items()}
    held = _held_pressures(network)
    findings = []
    for name, link in network.links.items():
        own = link.part.coefficients(liquid)
        if not isinstance(own, PumpCoefficients) or np.all(np.asarray(own.check_valve) > 0.0):
            continue
        others = _pressures_of_others(network, rises, name)
        most = min(others.get(link.down, 0.0), held.get(link.down, np.inf))
        least = others.get(link.up, 0.0) + rises[name]
        if most > least:
            findings.append(
                Finding(
                    Severity.WARNING,
                    name,
                    f"passes fuel backwards where the other pumps hold more than its dead-head pressure of "
                    f"{shown(least, 'pressure difference')}; they reach {shown(most, 'pressure difference')}",
                    "fit a check valve behind it, or set check_valve if the pump has its own",
                    source=cite("computed"),
                )
            )
    return findings


def _pressures_of_others(network: Elements, rises: Mapping[str, float], pump: str) -> dict[str, float]:
    """Return the greatest pressure, Pa over the reservoirs, at each node that the pumps other than one can reach.

    Check valves and pumps pass forwards only. Each pump adds its rise once on the way.
    """
    best = dict.fromkeys(network.reservoirs, 0.0)
    limit = sum(rise for name, rise in rises.items() if name != pump)
    changed = True
    while changed:
        changed = False
        for name, link in network.links.items():
            if name == pump:
                continue
            ways = [(link.up, link.down, rises[name])]
            if not rises[name] and link.part.law is not CHECK_VALVE:
                ways.append((link.down, link.up, 0.0))
            for start, stop, rise in ways:
                if start not in best or stop in network.reservoirs:
                    continue
                # A loop with a pump would add its rise without end.
                reached = min(best[start] + rise, limit)
                if stop not in best or reached > best[stop]:
                    best[stop], changed = reached, True
    return best
