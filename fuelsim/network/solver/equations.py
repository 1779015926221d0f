"""The figures of a network for a batch of operating points, and the equations evaluated on them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np

from fuelsim.network.solver.plan import Group, Plan

__all__ = ["Batch", "Evaluation", "GroupFigures", "MergedFigures"]

_FEW_POINTS = 16
"""Up to so many points losses are added up by a matrix product, for more points row by row."""
_GROWTH = 30.0
"""How much further a flow beyond a kink may go with one step, over how far it is beyond."""


@dataclass(frozen=True)
class GroupFigures:
    """Figures of one group of links; every last axis is 1 or the number of points.

    Attributes
    ----------
    coefficients : NamedTuple of array
        Coefficients of the group's law: (links, 1 or points), tables (rows, links, 1 or points).
    offset : array (links, 1 or points) or None
        Flow beside that of the chain, m3/s.
    scale : array (links, 1 or points) or None
        Reference density over the density in the link; turns the flow unknown into volume flow.
    head : array (links, 1 or points)
        Static head, rho g (z_up - z_down), Pa.
    """

    coefficients: NamedTuple
    offset: Any
    scale: Any
    head: Any

    def flow(self, group: Group, chain_flow: Any) -> Any:
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

    def points(self, chosen: Any) -> GroupFigures:
        """Return the figures of some of the points."""
        return GroupFigures(
            self.coefficients._make(_points(values, chosen) for values in self.coefficients),
            _points(self.offset, chosen),
            _points(self.scale, chosen),
            _points(self.head, chosen),
        )


def _points(values: Any, chosen: Any) -> Any:
    return values if values is None or values.shape[-1] == 1 else np.ascontiguousarray(values[..., chosen])


@dataclass(frozen=True)
class MergedFigures:
    """Figures of links that are merged into the first of them; every last axis is 1 or the number of points.

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
    head: Any


@dataclass(frozen=True)
class Evaluation:
    """The equations of the chains at some flows and pressures.

    Attributes
    ----------
    residual, flow_slope : array (chains, points)
        E in Pa, and its slope in the chain's flow.
    losses : list of (array (links, points), array (links, points)) or None
        For each group its links' losses, Pa, and slopes in the flow unknown, None for a law with an equation.
    up_slope, down_slope, reference_slope : array (chains with an equation, points)
        Slopes of the chains with an equation.
    """

    residual: Any
    flow_slope: Any
    losses: list[Any]
    up_slope: Any = None
    down_slope: Any = None
    reference_slope: Any = None


@dataclass(frozen=True)
class Batch:
    """Figures of a network for a batch of operating points.

    Attributes
    ----------
    plan : Plan
    size : int
        Number of points.
    groups, end_groups : tuple of GroupFigures
        In the order of the plan's groups.
    draw : array (kept nodes, 1 or points)
        Draw of each kept node in units of the flow unknown, m3/s at the reference density.
    end_flows : array (dead ends, 1 or points)
        Flow of the dead ends' links, same unit.
    head : array (chains, 1 or points)
        Static head of each chain, Pa.
    fixed : array (fixed nodes + 1, 1 or points)
        Pressures of the reservoirs and the atmosphere, Pa absolute.
    merged : tuple of MergedFigures
        Of the whole batch: needed for its results alone.
    kinks : tuple of (int array, array, array, array) or None
        Chains whose laws have kinks, and in their flows the low and the high kink and the margin, each
        (chains with kinks, 1 or points), m3/s.
    added_resistance : float
        Linear resistance added to every chain, Pa s/m3: zero but on the way of a continuation.
    """

    plan: Plan
    size: int
    groups: tuple[GroupFigures, ...]
    end_groups: tuple[GroupFigures, ...]
    draw: Any
    end_flows: Any
    head: Any
    fixed: Any
    merged: tuple[MergedFigures, ...] = ()
    kinks: tuple[Any, Any, Any, Any] | None = None
    added_resistance: float = field(default=0.0)

    def points(self, chosen: Any, size: int) -> Batch:
        """Return the batch of some of the points; `chosen` is a slice or an index array."""
        return replace(
            self,
            size=size,
            groups=tuple(group.points(chosen) for group in self.groups),
            end_groups=tuple(group.points(chosen) for group in self.end_groups),
            draw=_points(self.draw, chosen),
            end_flows=_points(self.end_flows, chosen),
            head=_points(self.head, chosen),
            fixed=_points(self.fixed, chosen),
            kinks=self.kinks and (self.kinks[0], *(_points(values, chosen) for values in self.kinks[1:])),
        )

    def incomplete(self, points: Any) -> Any:
        """Return for some points (an index array) whether any coefficient is not a number."""
        found = np.zeros(points.size, dtype=bool)
        for figures in (*self.groups, *self.end_groups):
            for values in figures.coefficients:
                some = values[..., points] if values.shape[-1] > 1 else values
                found |= np.isnan(some).any(axis=tuple(range(some.ndim - 1)))
        return found

    def longest_step(self, flow: Any, change: Any) -> Any:
        """Return the share of a step, (points,), that goes no further beyond a kink of a law than its margin.

        Beyond a kink a law is so steep that a step which was aimed before it ends at an absurd pressure. A flow
        that is beyond already may go further by a factor with each step. Returns None where the whole step may be
        taken by all points.
        """
        if self.kinks is None:
            return None
        rows, low, high, margin = self.kinks
        before, step = flow.take(rows, axis=0), change.take(rows, axis=0)
        after = before + step
        if not ((after < low - margin) | (after > high + margin)).any():
            return None
        limit = np.minimum(before - low, 0.0)
        limit *= _GROWTH
        limit += low - margin
        allowed = np.maximum(after, limit)
        limit = np.maximum(before - high, 0.0)
        limit *= _GROWTH
        limit += high + margin
        np.minimum(allowed, limit, out=allowed)
        cut = allowed != after
        if not cut.any():
            return None
        allowed -= before
        share = np.divide(allowed, step, out=np.ones_like(step), where=cut).min(axis=0)
        return share

    def all_pressures(self, kept: Any) -> Any:
        """Return the pressures of kept nodes, fixed nodes and atmosphere in rows, (rows, points)."""
        pressure = np.empty((len(kept) + len(self.fixed), kept.shape[1]))
        pressure[: len(kept)] = kept
        pressure[len(kept) :] = self.fixed
        return pressure

    def evaluate(self, flow: Any, pressure: Any) -> Evaluation:
        """Return the equations at chain flows (chains, points) and pressures (rows, points)."""
        plan = self.plan
        residual = pressure.take(plan.down, axis=0)
        residual -= pressure.take(plan.up, axis=0)
        residual -= self.head
        slope = np.zeros_like(flow)
        losses: list[Any] = []
        extra: list[Any] = []
        for group, figures in zip(plan.groups, self.groups, strict=True):
            q = figures.flow(group, flow)
            if group.law.loss is not None:
                loss, loss_slope = group.law.loss(q, figures.coefficients)
                if figures.scale is not None:
                    loss_slope = loss_slope * figures.scale
                losses.append((loss, loss_slope))
                if group.sums is not None and self.size <= _FEW_POINTS:
                    residual += group.sums @ loss
                    slope += np.abs(group.sums) @ loss_slope
                    continue
                if group.signs is not None:
                    loss = loss * group.signs
                first = len(loss) - len(group.shared)
                residual[group.rows] += loss[:first]
                slope[group.rows] += loss_slope[:first]
                for link, chain in group.shared:
                    residual[chain] += loss[link]
                    slope[chain] += loss_slope[link]
            else:
                losses.append(None)
                extra.append(self._equation(group, figures, q, pressure, residual, slope))
        if self.added_resistance:
            residual += self.added_resistance * flow
            slope += self.added_resistance
        if not extra:
            return Evaluation(residual, slope, losses)
        up, down, looking = (np.concatenate(parts) for parts in zip(*extra, strict=True))
        return Evaluation(residual, slope, losses, up, down, looking)

    def ends(self, group: Group, figures: GroupFigures, pressure: Any) -> tuple[Any, Any, Any]:
        """Return p_up, p_down and p_reference of an equation's links, the static head applied as the law asks."""
        plan = self.plan
        p_up, p_down, p_reference = (
            pressure.take(rows[group.chains], axis=0) for rows in (plan.up, plan.down, plan.reference)
        )
        if group.law.head_applied_at == "down":
            return p_up, p_down - figures.head, p_reference
        return p_up + figures.head, p_down, p_reference

    def _equation(
        self, group: Group, figures: GroupFigures, q: Any, pressure: Any, residual: Any, slope: Any
    ) -> tuple[Any, Any, Any]:
        assert group.law.equation is not None
        found = group.law.equation(q, *self.ends(group, figures, pressure), figures.coefficients)
        residual[group.rows] = found.residual
        slope[group.rows] = found.flow_slope if figures.scale is None else found.flow_slope * figures.scale
        up, down, looking = (
            values if np.shape(values) == q.shape else np.full(q.shape, values) for values in found[2:]
        )
        return up, down, looking
