"""The one equation form in which the network sees every part.

A link is one scalar equation ``E(q, p_up, p_down, p_reference) = 0`` in pascals, where q is the volume flow
through the link at the link's own density, positive from its upstream to its downstream node, with

    dE/dq > 0,   dE/dp_up = -a_up,   dE/dp_down = +a_down,   0 <= a <= 1.

All links of one law are evaluated in a single call: every argument has the links on the first axis and the
operating points on the last, and so have the coefficients, whose last axis is 1 or the number of points. A
coefficient that is a table has its rows before these: (rows, links, 1 or points).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

from fuelsim.constants import L_PER_HOUR

__all__ = ["SHUT_SLOPE", "LinkEquation", "LinkLaw"]

SHUT_SLOPE = 1e6 / (1e-3 * L_PER_HOUR)
"""Slope dE/dq of whatever is shut, Pa s/m3: 1 MPa across it leaks 0.001 L/h, too little to read in any result."""


class LinkEquation(NamedTuple):
    """Value and slopes of the link equations, each broadcastable to (links, points).

    Attributes
    ----------
    residual : array
        E, Pa.
    flow_slope : array
        dE/dq, Pa s/m3, positive.
    up_slope : array or float
        a_up = -dE/dp_up, from 0 to 1.
    down_slope : array or float
        a_down = dE/dp_down, from 0 to 1.
    reference_slope : array or float
        dE/dp_reference, of any sign, 0 where the law looks at no third node.
    """

    residual: Any
    flow_slope: Any
    up_slope: Any
    down_slope: Any
    reference_slope: Any


@dataclass(frozen=True, eq=False)
class LinkLaw:
    """One kind of link; two laws are the same only if they are the same object.

    Attributes
    ----------
    name : str
        The law in words.
    coefficients : tuple of str
        Names of the coefficients in the order in which a part hands them over.
    tables : tuple of str
        Which of the coefficients are tables, with rows on their first axis.
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
    corners : callable or None
        ``corners(coefficients) -> (low, high, margin)``, m3/s: flows where the law turns steep, downwards below `low`
        and upwards above `high` (infinite where there is none), and how far beyond them one step of the iteration may
        go. It only speeds up the solution.
    senses : str
        ``"up"`` or ``"down"``: the end at whose height an equation compares pressures; the static head is added at
        the other end.
    regimes : tuple of str
        Words for the states this law can be in.
    regime : callable or None
        ``regime(q, p_up, p_down, p_reference, coefficients) -> int array`` of indices into `regimes`, read off the
        solution.

    Exactly one of `loss` and `equation` is given. The static head is added by the network, never by a law.
    """

    name: str
    coefficients: tuple[str, ...]
    tables: tuple[str, ...] = ()
    series: tuple[str, ...] = ()
    split: Callable[..., tuple[Any, Any]] | None = None
    loss: Callable[..., tuple[Any, Any]] | None = None
    equation: Callable[..., LinkEquation] | None = None
    typical_flow: Callable[..., Any] | None = None
    corners: Callable[..., tuple[Any, Any, Any]] | None = None
    senses: str = "up"
    regimes: tuple[str, ...] = ("flowing",)
    regime: Callable[..., Any] | None = None
