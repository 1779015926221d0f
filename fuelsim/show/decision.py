"""The decision between layouts in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fuelsim.studies.decision import FIGURES, DecisionState
from fuelsim.studies.limits import RAIL_VAPOUR_MARGIN
from fuelsim.units import shown

if TYPE_CHECKING:
    from fuelsim.studies.decision import Decision

__all__ = ["decision_sentences"]


def decision_sentences(decision: Decision) -> list[str]:
    """Return what is preferred, the figures that decide, what each costs, and what would reverse or decide it.

    Parameters
    ----------
    decision : Decision
    """
    if decision.state is DecisionState.ALONE:
        return [f"{decision.layouts[0]}: the only layout compared, nothing to decide."]
    sentences = _verdict(decision)
    for number, figure in enumerate(FIGURES):
        texts = (f"{name} {_band(decision, name, number)}" for name in decision.limits)
        sentences.append(f"{figure.name[0].upper()}{figure.name[1:]}: {', '.join(texts)}.")
    costs = (f"{name} {_cost(decision, name)}" for name in decision.routing)
    sentences.append(f"What each asks for in lines, and the parts in which they differ: {'; '.join(costs)}.")
    if decision.state is DecisionState.PREFERRED:
        sentences.append(_reversal(decision))
    return sentences


def _verdict(decision: Decision) -> list[str]:
    """Return what is preferred and how sure, or what to measure and why."""
    names, figure = decision.layouts, FIGURES[decision.figure].name
    low, middle, high = (shown(kelvin, "temperature difference", digits=2) for kelvin in decision.lead)
    if decision.state is DecisionState.PREFERRED:
        return [
            f"Preferred: {names[0]}, ahead of {decision.rival} by {middle} ({low} to {high} over the bands) in the "
            f"{figure}; nowhere behind over the bands of heat, vapour tolerance, superheat, fuel and tank."
        ]
    if decision.state is DecisionState.EQUAL:
        equal = " and ".join(names)
        return [f"No preference by heat: {equal} are equal within 1 K over the bands; parts and routing decide."]
    to_measure, rail = decision.measure, shown(RAIL_VAPOUR_MARGIN.value, "temperature difference", digits=2)
    measure = f" Measure first: the {to_measure.name} ({to_measure.measure})." if to_measure is not None else ""
    return [
        f"Not decided by what is known.{measure}",
        f"Why not: in the {figure}, {names[0]} is {middle} ahead of {decision.rival}, but {low} to {high} over the "
        "bands of what is not known. Only a layout that is nowhere behind, and whose rail stays "
        f"{rail} from boiling, is preferred.",
    ]


def _band(decision: Decision, name: str, number: int) -> str:
    """Return one figure of one layout with its band."""
    limit = decision.limits[name]
    low, middle, high = (float(value[number]) for value in (limit.low, limit.middle, limit.high))
    texts = [shown(value, FIGURES[number].kind, digits=3) for value in (middle, low, high)]
    return f"{texts[0]} ({texts[1]} to {texts[2]})"


def _cost(decision: Decision, name: str) -> str:
    """Return the lines of a layout by zone, its joints, and the parts that not every layout has."""
    routing = decision.routing[name]
    lines = (f"{shown(metres, 'length', digits=2)} {zone.replace('_', ' ')}" for zone, metres in routing.length.items())
    parts = ", ".join(part.replace("_", " ") for part in decision.parts[name])
    return f"{' and '.join(lines)}, {routing.line_ends} line ends" + (f", {parts}" if parts else "")


def _reversal(decision: Decision) -> str:
    """Return what would reverse the decision."""
    reversal = decision.reversal
    if reversal is None:
        return "None of the inputs varied would reverse it by itself."
    value = shown(reversal.value, reversal.item.kind, digits=3)
    return (
        f"Least change of one input that would reverse it: {reversal.item.name} at {value}, {reversal.bands:.1f} times "
        "its band, by a straight line."
    )
