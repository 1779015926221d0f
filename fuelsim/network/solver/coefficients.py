"""Coefficients of a network's links for a batch of operating points, in the order in which they are evaluated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fuelsim.network.solver.plan import Group, Plan
from fuelsim.typing import FloatArray, FloatLike, IndexArray, LinkArray

__all__ = [
    "ChainKinks",
    "GroupCoefficients",
    "MergedCoefficients",
    "Selection",
    "chain_kinks",
    "select",
    "stacked",
]

Selection = slice | IndexArray
"""Some points of a batch."""


def select(values: FloatArray, points: Selection) -> FloatArray:
    """Return the values of some points, or all where all points share a value."""
    return values if values.shape[-1] == 1 else np.ascontiguousarray(values[..., points])


@dataclass(frozen=True)
class GroupCoefficients:
    """What the law of one group of links is evaluated with; every last axis is 1 or the number of points.

    Attributes
    ----------
    coefficients : NamedTuple of array
        Coefficients of the group's law: (links, 1 or points), tables (rows, links, 1 or points).
    offset : array (links, 1 or points) or None
        By how much each flow differs from that of its chain, m3/s.
    scale : array (links, 1 or points) or None
        Reference density over the density in the link; turns the flow unknown into volume flow.
    head : array (links, 1 or points)
        Static head, rho g (z_up - z_down), Pa.
    """

    coefficients: NamedTuple
    offset: LinkArray | None
    scale: LinkArray | None
    head: LinkArray

    def flow(self, group: Group, chain_flow: LinkArray) -> LinkArray:
        """Return the volume flow of the group's links, m3/s."""
        if isinstance(group.rows, slice) and not group.shared:
            flow = chain_flow[group.rows]
        else:
            flow = chain_flow.take(group.chains, axis=0)
        if group.signs is not None:
            flow = flow * group.signs
        if self.offset is not None:
            flow = flow + self.offset
        if self.scale is not None:
            flow = flow * self.scale
        return flow

    def points(self, points: Selection) -> GroupCoefficients:
        """Return the coefficients at some of the points."""
        return GroupCoefficients(
            self.coefficients._make(select(values, points) for values in self.coefficients),
            None if self.offset is None else select(self.offset, points),
            None if self.scale is None else select(self.scale, points),
            select(self.head, points),
        )


@dataclass(frozen=True)
class MergedCoefficients:
    """Coefficients of links that are merged into the first of them; every last axis is 1 or the number of points.

    Attributes
    ----------
    links : tuple of int
    coefficients : NamedTuple of array (links, 1 or points)
        Coefficients of each link.
    head : array (links, 1 or points)
        Static head of each link, Pa.
    """

    links: tuple[int, ...]
    coefficients: NamedTuple
    head: LinkArray

    def points(self, points: Selection) -> MergedCoefficients:
        """Return the coefficients at some of the points."""
        coefficients = self.coefficients._make(select(values, points) for values in self.coefficients)
        return MergedCoefficients(self.links, coefficients, select(self.head, points))


class ChainKinks(NamedTuple):
    """Chains whose laws turn steep at some flow, and where in the chain's flow.

    Attributes
    ----------
    chains : int array (chains,)
    low, high : array (chains, 1 or points)
        Flow below and above which a law turns steep, m3/s.
    margin : array (chains, 1 or points)
        How far beyond them one step may go, m3/s.
    """

    chains: IndexArray
    low: LinkArray
    high: LinkArray
    margin: LinkArray


def stacked(rows: Sequence[FloatLike]) -> FloatArray:
    """Stack scalars and arrays (1 or points,) into (rows, 1 or points)."""
    arrays = [(number, row) for number, row in enumerate(rows) if type(row) is not float and np.ndim(row)]
    if not arrays:
        return np.array(rows, dtype=float).reshape(len(rows), 1)
    scalars = [row if type(row) is float or not np.ndim(row) else 0.0 for row in rows]
    out = np.repeat(np.array(scalars, dtype=float)[:, None], max(np.size(row) for _, row in arrays), axis=1)
    for number, row in arrays:
        out[number] = row
    return out


def chain_kinks(plan: Plan, groups: Sequence[GroupCoefficients]) -> ChainKinks | None:
    """Return the kinks of the laws in terms of the chains' flows."""
    kinks: dict[int, tuple[LinkArray, LinkArray, LinkArray]] = {}
    for group, inputs in zip(plan.groups, groups, strict=True):
        if group.law.kinks is None:
            continue
        limits = [
            np.full((len(group.links), 1), values) if np.ndim(values) == 0 else np.asarray(values)
            for values in group.law.kinks(inputs.coefficients)
        ]
        for row, chain in enumerate(group.chains.tolist()):
            low, high, margin = (values[row] for values in limits)
            if inputs.scale is not None:
                low, high, margin = (values / inputs.scale[row] for values in (low, high, margin))
            if inputs.offset is not None:
                low, high = low - inputs.offset[row], high - inputs.offset[row]
            if group.signs is not None and group.signs[row, 0] < 0.0:
                low, high = -high, -low
            if chain in kinks:
                other_low, other_high, other_margin = kinks[chain]
                low, high = np.maximum(low, other_low), np.minimum(high, other_high)
                margin = np.minimum(margin, other_margin)
            kinks[chain] = (low, high, margin)
    if not kinks:
        return None
    low, high, margin = (stacked(values) for values in zip(*kinks.values(), strict=True))
    return ChainKinks(np.array(list(kinks), dtype=np.intp), low, high, margin)
