"""The equations of a network evaluated for a batch of operating points."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from fuelsim.network.solver.coefficients import (
    ChainKinks,
    GroupCoefficients,
    MergedCoefficients,
    Selection,
    chain_kinks,
    select,
)
from fuelsim.network.solver.plan import Group, Plan
from fuelsim.typing import BoolArray, FloatArray, IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["Batch", "Evaluation", "LinkLosses"]

_FEW = 50_000
"""Number of multiplications up to which losses are added up by a matrix product, else row by row."""
_LEAST_PRESSURE_SLOPE = 1e-9
"""Least slope of an equation in the pressures at its ends, so that a node with no other link never makes the matrix of
a step singular while a regulator does not depend on its pressure."""
_OVERSHOOT_GROWTH = 30.0
"""By what factor the distance of a flow beyond a kink may grow in one step."""


class LinkLosses(NamedTuple):
    """Losses of some links, Pa, and their slopes in the flow unknown, Pa s/m3; each (links, points)."""

    loss: LinkArray
    slope: LinkArray


@dataclass(frozen=True)
class Evaluation:
    """The equations of the chains at some flows and pressures.

    Attributes
    ----------
    residual, flow_slope : array (chains, points)
        E in Pa, and its slope in the chain's flow.
    losses : list of (LinkLosses or None)
        Losses of each group's links, None for a law with an equation.
    up_slope, down_slope, reference_slope : array (chains with an equation, points)
        Slopes of the chains with an equation; without rows where there is none.
    """

    residual: LinkArray
    flow_slope: LinkArray
    losses: list[LinkLosses | None]
    up_slope: LinkArray
    down_slope: LinkArray
    reference_slope: LinkArray


_NO_ROWS: FloatArray = np.zeros((0, 1))


@dataclass(frozen=True)
class Batch:
    """Coefficients, draws and fixed pressures of a network for a batch of operating points.

    Attributes
    ----------
    plan : Plan
    size : int
        Number of points.
    groups, end_groups : tuple of GroupCoefficients
        In the order of the plan's groups.
    draw : array (kept nodes, 1 or points)
        Draw of each kept node in units of the flow unknown, m3/s at the reference density.
    end_flows : array (dead ends, 1 or points)
        Flow of the dead ends' links, same unit.
    head : array (chains, 1 or points)
        Static head of each chain, Pa.
    fixed : array (fixed nodes + 1, 1 or points)
        Pressures of the reservoirs and the atmosphere, Pa over the datum.
    datum : array (1 or points,)
        Pressure of the first reservoir, Pa absolute. All others count from it, so that small differences of pressure
        are not lost in the rounding of the atmosphere's.
    node_head : array (nodes, 1 or points)
        Static head rho g z of every unknown and fixed node, Pa.
    node_draw : array (unknown nodes, 1 or points)
        Draw of every unknown node, m3/s at the reference density.
    merged : tuple of MergedCoefficients
        Links that are merged; needed only to expand the solution.
    kinks : ChainKinks or None
        Where laws turn steep.
    added_resistance : float
        Linear resistance added to every chain, Pa s/m3: zero except during a continuation.
    """

    plan: Plan
    size: int
    groups: tuple[GroupCoefficients, ...]
    end_groups: tuple[GroupCoefficients, ...]
    draw: NodeArray
    end_flows: LinkArray
    head: LinkArray
    fixed: NodeArray
    datum: PointArray
    node_head: NodeArray
    node_draw: NodeArray
    merged: tuple[MergedCoefficients, ...] = ()
    kinks: ChainKinks | None = None
    added_resistance: float = 0.0

    def points(self, points: Selection, size: int) -> Batch:
        """Return the batch of some of the points, of which there are `size`."""
        kinks = self.kinks
        if kinks is not None:
            low, high, margin = (select(values, points) for values in (kinks.low, kinks.high, kinks.margin))
            kinks = ChainKinks(kinks.chains, low, high, margin)
        return replace(
            self,
            size=size,
            groups=tuple(group.points(points) for group in self.groups),
            end_groups=tuple(group.points(points) for group in self.end_groups),
            draw=select(self.draw, points),
            end_flows=select(self.end_flows, points),
            head=select(self.head, points),
            fixed=select(self.fixed, points),
            datum=select(self.datum, points),
            node_head=select(self.node_head, points),
            node_draw=select(self.node_draw, points),
            merged=tuple(merged.points(points) for merged in self.merged),
            kinks=kinks,
        )

    @property
    def only_draws_vary(self) -> bool:
        """Whether all points share every coefficient, so that only draws and fixed pressures differ between them."""
        shared = [self.head]
        for group in self.groups:
            shared += [*group.coefficients, group.head]
            if group.scale is not None:
                shared.append(group.scale)
        return all(values.shape[-1] == 1 for values in shared)

    def mean(self) -> Batch:
        """Return a batch of one point, with the mean of everything that varies."""

        def mean(values: FloatArray) -> FloatArray:
            return values if values.shape[-1] == 1 else np.asarray(values.mean(axis=-1, keepdims=True))

        def mean_of(group: GroupCoefficients) -> GroupCoefficients:
            return GroupCoefficients(
                group.coefficients._make(mean(values) for values in group.coefficients),
                None if group.offset is None else mean(group.offset),
                None if group.scale is None else mean(group.scale),
                mean(group.head),
            )

        kinks = self.kinks
        if kinks is not None:
            kinks = ChainKinks(kinks.chains, mean(kinks.low), mean(kinks.high), mean(kinks.margin))
        return replace(
            self,
            size=1,
            groups=tuple(mean_of(group) for group in self.groups),
            end_groups=tuple(mean_of(group) for group in self.end_groups),
            draw=mean(self.draw),
            end_flows=mean(self.end_flows),
            head=mean(self.head),
            fixed=mean(self.fixed),
            datum=mean(self.datum),
            node_head=mean(self.node_head),
            node_draw=mean(self.node_draw),
            merged=(),
            kinks=kinks,
        )

    def with_draws(self, fraction: PointArray) -> Batch:
        """Return the batch with a fraction, (points,), of every draw."""

        def scaled(group: GroupCoefficients) -> GroupCoefficients:
            return group if group.offset is None else replace(group, offset=group.offset * fraction)

        groups = tuple(scaled(group) for group in self.groups)
        return replace(
            self,
            groups=groups,
            end_groups=tuple(scaled(group) for group in self.end_groups),
            draw=self.draw * fraction,
            end_flows=self.end_flows * fraction,
            node_draw=self.node_draw * fraction,
            kinks=chain_kinks(self.plan, groups),
        )

    def incomplete(self, points: IndexArray) -> BoolArray:
        """Return for some points whether any coefficient is not a number."""
        incomplete = np.zeros(points.size, dtype=bool)
        for group in (*self.groups, *self.end_groups):
            for values in group.coefficients:
                some = values[..., points] if values.shape[-1] > 1 else values
                incomplete |= np.isnan(some).any(axis=tuple(range(some.ndim - 1)))
        return incomplete

    def step_length(self, flow: LinkArray, change: LinkArray, least: float = 0.0) -> PointArray | None:
        """Return the fraction of a step, (points,), that ends no further beyond a kink of a law than its margin.

        Beyond a kink a law is so steep that a step linearised before it ends at an absurd pressure. A flow that is
        beyond already may move away from it by a factor with each step. None where all points may take the whole step.

        Parameters
        ----------
        flow, change : array (chains, points)
            Flows before the step, and the whole step.
        least : float, optional
            Least fraction. Where a kink allows less, the change of its own chain alone is cut, in `change`.
        """
        if self.kinks is None:
            return None
        chains, low, high, margin = self.kinks
        before, step = flow.take(chains, axis=0), change.take(chains, axis=0)
        after = before + step
        if not ((after < low - margin) | (after > high + margin)).any():
            return None
        limit = np.minimum(before - low, 0.0)
        limit *= _OVERSHOOT_GROWTH
        limit += low - margin
        allowed = np.maximum(after, limit)
        limit = np.maximum(before - high, 0.0)
        limit *= _OVERSHOOT_GROWTH
        limit += high + margin
        np.minimum(allowed, limit, out=allowed)
        shortened = allowed != after
        if not shortened.any():
            return None
        allowed -= before
        fraction: PointArray = np.divide(allowed, step, out=np.ones_like(step), where=shortened).min(axis=0)
        if least:
            np.maximum(fraction, least, out=fraction)
            step *= fraction
            within = np.where(step < 0.0, np.maximum(step, allowed), np.minimum(step, allowed))
            change[chains] = within / fraction
        return fraction

    def all_pressures(self, kept: NodeArray) -> NodeArray:
        """Return the pressures of kept nodes, fixed nodes and atmosphere in rows, (rows, points)."""
        pressure = np.empty((len(kept) + len(self.fixed), kept.shape[1]))
        pressure[: len(kept)] = kept
        pressure[len(kept) :] = self.fixed
        return pressure

    def evaluate(self, flow: LinkArray, pressure: NodeArray) -> Evaluation:
        """Return the equations at chain flows (chains, points) and pressures (rows, points)."""
        plan = self.plan
        if plan.incidence is not None and self.size == 1:
            residual = plan.incidence @ pressure
        else:
            residual = pressure.take(plan.down, axis=0)
            residual -= pressure.take(plan.up, axis=0)
        residual -= self.head
        slope = np.zeros(flow.shape)
        losses: list[LinkLosses | None] = []
        pressure_slopes: list[tuple[LinkArray, LinkArray, LinkArray]] = []
        for group, inputs in zip(plan.groups, self.groups, strict=True):
            q = inputs.flow(group, flow)
            if group.law.loss is not None:
                loss, loss_slope = group.law.loss(q, inputs.coefficients)
                if inputs.scale is not None:
                    loss_slope = loss_slope * inputs.scale
                losses.append(LinkLosses(loss, loss_slope))
                if group.sums is not None and group.absolute_sums is not None and group.sums.size * self.size <= _FEW:
                    residual += group.sums @ loss
                    slope += group.absolute_sums @ loss_slope
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
                pressure_slopes.append(self._equation(group, inputs, q, pressure, residual, slope))
        if self.added_resistance:
            residual += self.added_resistance * flow
            slope += self.added_resistance
        if not pressure_slopes:
            return Evaluation(residual, slope, losses, _NO_ROWS, _NO_ROWS, _NO_ROWS)
        up, down, reference = (np.concatenate(parts) for parts in zip(*pressure_slopes, strict=True))
        return Evaluation(residual, slope, losses, up, down, reference)

    def end_pressures(
        self, group: Group, inputs: GroupCoefficients, pressure: NodeArray
    ) -> tuple[LinkArray, LinkArray, LinkArray]:
        """Return p_up, p_down and p_reference of a group with an equation, the static head added at one end."""
        plan = self.plan
        p_up, p_down, p_reference = (
            pressure.take(rows[group.chains], axis=0) for rows in (plan.up, plan.down, plan.reference)
        )
        if group.law.head_applied_at == "down":
            return p_up, p_down - inputs.head, p_reference
        return p_up + inputs.head, p_down, p_reference

    def _equation(
        self,
        group: Group,
        inputs: GroupCoefficients,
        q: LinkArray,
        pressure: NodeArray,
        residual: LinkArray,
        slope: LinkArray,
    ) -> tuple[LinkArray, LinkArray, LinkArray]:
        """Write residual and slope of a group with an equation; return its slopes in the pressures."""
        if group.law.equation is None:
            raise TypeError(f"the law '{group.law.name}' has neither a loss nor an equation")
        value = group.law.equation(q, *self.end_pressures(group, inputs, pressure), inputs.coefficients)
        residual[group.rows] = value.residual
        slope[group.rows] = value.flow_slope if inputs.scale is None else value.flow_slope * inputs.scale
        up, down = (
            np.maximum(np.broadcast_to(slopes, q.shape), _LEAST_PRESSURE_SLOPE)
            for slopes in (value.up_slope, value.down_slope)
        )
        return up, down, np.broadcast_to(value.reference_slope, q.shape)
