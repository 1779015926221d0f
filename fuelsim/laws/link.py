"""The one equation form in which the network sees every part.

A link is one scalar equation ``E(q, p_up, p_down, p_reference) = 0`` in pascals, where q is the volume flow
through the link at the link's own density, positive from its upstream to its downstream node, with

    dE/dq > 0,   dE/dp_up = -a_up,   dE/dp_down = +a_down,   0 <= a <= 1,

but for a pump with gas at its inlet, whose a_up exceeds 1 because less pressure at its inlet lets it deliver less.

All links of one law are evaluated in a single call: every argument has the links on the first axis and the
operating points on the last, and so have the coefficients, whose last axis is 1 or the number of points. A
coefficient that is a table has its rows before these: (rows, links, 1 or points).

Every law names its coefficients by a class of its own, a `typing.NamedTuple`: a part makes an instance for its own
link, and the network hands the law one whose fields are stacked over all links.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from fuelsim.constants import L_PER_HOUR
from fuelsim.typing import FloatLike, IndexArray, LinkArray, PointArray

__all__ = ["SHUT_SLOPE", "Kinks", "LawSample", "LinkEquation", "LinkLaw", "flows_both_ways"]

SHUT_SLOPE = 1e6 / (1e-3 * L_PER_HOUR)
"""Slope dE/dq of whatever is shut, Pa s/m3: 1 MPa across it leaks 0.001 L/h, too little to read in any result."""


class Regime(StrEnum):
    """What a part does at an operating point; equal to its word, which is what tables and drawings show."""

    FLOWING = "flowing"
    OPEN = "open"
    SHUT = "shut"
    METERING = "metering"
    SATURATED = "saturated"
    BACK_PRESSURED = "back-pressured"
    PUMPING = "pumping"
    DEAD_HEADED = "dead-headed"
    RELIEVING = "relieving"
    PAST_RUN_OUT = "past run-out"
    REVERSE = "reverse"
    CHECK_VALVE_SHUT = "check valve shut"
    REGULATING = "regulating"
    WIDE_OPEN = "wide open"
    FULL_SPEED = "full speed"
    STOPPED = "stopped"
    LEAST_SPEED = "least speed"
    EMPTYING = "emptying"
    UNSOLVED = "unsolved"


class LinkEquation(NamedTuple):
    """Value and slopes of the link equations, each broadcastable to (links, points).

    Attributes
    ----------
    residual : array
        E, Pa.
    flow_slope : array
        dE/dq, Pa s/m3, positive.
    up_slope : array or float
        a_up = -dE/dp_up, from 0 to 1, or more where gas at the inlet grows as its pressure falls.
    down_slope : array or float
        a_down = dE/dp_down, from 0 to 1.
    reference_slope : array or float
        dE/dp_reference, of any sign, 0 where the law does not depend on a third node.
    """

    residual: LinkArray
    flow_slope: LinkArray
    up_slope: FloatLike
    down_slope: FloatLike
    reference_slope: FloatLike


class Kinks(NamedTuple):
    """Flows at which a law turns steep; each a float or an array (links, 1 or points), m3/s.

    Attributes
    ----------
    low, high : float or array
        The law is steep below `low` and above `high`; infinite where there is no such flow.
    margin : float or array
        How far beyond them one step of the iteration may go.
    """

    low: FloatLike
    high: FloatLike
    margin: FloatLike


class LawSample(NamedTuple):
    """Coefficients and flows at which the promises of a law are checked: its slopes and their signs.

    Attributes
    ----------
    coefficients : NamedTuple
        An instance of the law's coefficients for one link: numbers, tables of shape (rows, 1, 1).
    flow : array (points,)
        Volume flows over the range in which the law is meant to hold, m3/s.
    pressure_joins : tuple of float
        Differences of upstream over reference pressure at which two pieces of the law meet, Pa.
    """

    coefficients: NamedTuple
    flow: PointArray
    pressure_joins: tuple[float, ...] = ()


def flows_both_ways(least: float, most: float, *joins: float, most_back: float | None = None) -> PointArray:
    """Return zero, flows of both directions evenly spaced on a logarithmic scale, and flows around joins of a law.

    Parameters
    ----------
    least, most : float
        Range of the flow's size, m3/s.
    *joins : float
        Flows at which two pieces of the law meet, of either sign, m3/s; each is given with neighbours a millionth and
        a tenth away.
    most_back : float, optional
        Greatest flow backwards, m3/s, where it is less than forwards.

    Returns
    -------
    array (points,)
        Rising, m3/s.

    Examples
    --------
    >>> (flows_both_ways(1e-9, 1e-4, 5e-5)[[0, -1]] * 1e6).round(6).tolist()
    [-100.0, 100.0]
    """
    size = np.geomspace(least, most, 40)
    around = np.outer(joins, [0.9, 1.0 - 1e-6, 1.0, 1.0 + 1e-6, 1.1]).ravel()
    back = np.geomspace(least, most if most_back is None else most_back, 40)
    return np.unique(np.concatenate([-back, [0.0], size, around]))


@dataclass(frozen=True, eq=False)
class LinkLaw:
    """One kind of link; two laws are the same only if they are the same object.

    Exactly one of `loss` and `equation` is given. The static head is added by the network, never by a law.

    Attributes
    ----------
    name : str
        The law in words.
    coefficients : type
        The `typing.NamedTuple` class of its coefficients.
    tables : tuple of str
        Which of the coefficients are tables, with rows on their first axis.
    absolute : tuple of str
        Which of the coefficients are pressures as p_up, p_down and p_reference are, and not differences: a part gives
        them in Pa absolute, and the network counts them from the same pressure as the others before a law sees them.
    align : callable or None
        ``align(sequence of coefficients) -> sequence``: the same coefficients of several links with tables of equal
        length; None where the tables of a law are always equally long.
    series : tuple of str
        Which of the coefficients add up when two links carry the same flow one after the other and agree in every
        other coefficient; empty where such links cannot be merged.
    split : callable or None
        ``split(q, loss, slope, merged, own) -> (loss, slope)``: what of a merged link's loss and slope belongs to one
        of its links; given together with `series`, by laws of one regime only.
    loss : callable or None
        ``loss(q, coefficients) -> (loss, slope)`` where E = loss(q) - (p_up - p_down): lines, filters, orifices,
        check valves, pumps (whose loss is negative while they push).
    equation : callable or None
        ``equation(q, p_up, p_down, p_reference, coefficients) -> LinkEquation`` for every other law.
    typical_flow : callable or None
        ``typical_flow(coefficients) -> array``: a flow in m3/s from which Newton's iteration starts well; without it
        10 L/h.
    kinks : callable or None
        ``kinks(coefficients) -> Kinks``: flows where the law turns steep. It only speeds up the solution.
    head_applied_at : str
        ``"up"`` or ``"down"``: the end whose pressure is corrected by the static head, so that an equation compares
        all pressures at the height of the other end.
    one_way : bool
        Whether nothing but a leak flows from the downstream to the upstream node.
    wide_open : callable or None
        ``wide_open(coefficients) -> coefficients`` of the same link not regulating, given by laws that hold the
        pressure of their downstream node: while they do, nothing determines the pressure of an upstream node that has
        no other supply.
    regimes : tuple of Regime
        Words for the states this law can be in.
    regime : callable or None
        ``regime(q, p_up, p_down, p_reference, coefficients) -> int array`` of indices into `regimes`, evaluated on
        the solution.
    sample : callable or None
        ``sample() -> tuple of LawSample``: coefficients over the range of the law, each with the flows at which its
        slopes are checked against finite differences. Every law of this package has one; its docstring says the range.
    """

    name: str
    coefficients: type[NamedTuple]
    tables: tuple[str, ...] = ()
    absolute: tuple[str, ...] = ()
    align: Callable[..., Sequence[NamedTuple]] | None = None
    series: tuple[str, ...] = ()
    split: Callable[..., tuple[LinkArray, LinkArray]] | None = None
    loss: Callable[..., tuple[LinkArray, LinkArray]] | None = None
    equation: Callable[..., LinkEquation] | None = None
    typical_flow: Callable[..., LinkArray] | None = None
    kinks: Callable[..., Kinks] | None = None
    head_applied_at: str = "down"
    one_way: bool = False
    wide_open: Callable[..., NamedTuple] | None = None
    regimes: tuple[Regime, ...] = (Regime.FLOWING,)
    regime: Callable[..., IndexArray] | None = None
    sample: Callable[[], tuple[LawSample, ...]] | None = None
