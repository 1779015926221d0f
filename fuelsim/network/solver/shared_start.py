"""Starts of all points of a batch from the solution of their mean, with one matrix for all.

Where only draws and fixed pressures vary, the laws need not be evaluated at every point for that: each is replaced by
its tangent at the mean. Terms of higher order would not help: the flows that are furthest off are those that turn or
pass between laminar and turbulent, where no expansion holds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from fuelsim.laws.link import LinkLaw
from fuelsim.network.solver.coefficients import GroupCoefficients
from fuelsim.network.solver.elimination import SharedSolver
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.newton import (
    UNDAMPED_STEPS,
    evaluate_iterate,
    limited_step,
    matrix_values,
    newton_step,
    take_secants,
    typical_start,
)
from fuelsim.network.solver.plan import Plan
from fuelsim.typing import LinkArray, NodeArray

__all__ = ["SharedStart", "shared_start"]

_MEAN_TOLERANCE = 0.1
"""Largest error of the flows of the mean, over the largest flow; the first step of the points takes the rest away."""


class _Tangent(NamedTuple):
    """Coefficients of `_tangent_loss`, each (links, 1): the loss is ``loss + slope * (flow - at_flow)``."""

    at_flow: LinkArray
    loss: LinkArray
    slope: LinkArray


def _tangent_loss(flow: LinkArray, c: _Tangent) -> tuple[LinkArray, LinkArray]:
    """Return the loss of a law's tangent, and its slope."""
    loss = flow - c.at_flow
    loss *= c.slope
    loss += c.loss
    return loss, c.slope


_TANGENT = LinkLaw(name="tangent", coefficients=_Tangent, loss=_tangent_loss)


@dataclass(frozen=True)
class SharedStart:
    """Flows and pressures of the mean of a batch, from which all its points start.

    Attributes
    ----------
    flow, pressure : array (chains, 1), (rows, 1)
        Solution of the mean of all points, m3/s and Pa over the datum.
    plan : Plan
        With tangents instead of laws where only draws and fixed pressures vary.
    tangents : tuple of (GroupCoefficients or None)
        Coefficients of each group's tangents, None for a group that keeps its law: those with an equation, and all
        where coefficients vary over the batch.
    solve : SharedSolver
        Solver with the matrix of the mean.
    """

    flow: LinkArray
    pressure: NodeArray
    plan: Plan
    tangents: tuple[GroupCoefficients | None, ...]
    solve: SharedSolver

    def __call__(self, part: Batch) -> tuple[LinkArray, NodeArray]:
        """Return the start of some points of the batch, (chains, points) and (rows, points)."""
        kept = len(part.plan.contraction.kept)
        flow = np.repeat(self.flow, part.size, axis=1)
        pressure = part.all_pressures(np.repeat(self.pressure[:kept], part.size, axis=1))
        groups = tuple(
            inputs if tangent is None else GroupCoefficients(tangent.coefficients, inputs.offset, None, tangent.head)
            for tangent, inputs in zip(self.tangents, part.groups, strict=True)
        )
        iterate = evaluate_iterate(replace(part, plan=self.plan, groups=groups), flow, pressure, errors=False)
        flow_change, change = limited_step(part, flow, *newton_step(part, iterate, self.solve))
        flow += flow_change
        pressure[:kept] += change
        return flow, pressure


def shared_start(batch: Batch) -> SharedStart | None:
    """Return the start of a batch from its mean; None where the mean does not converge."""
    plan, mean = batch.plan, batch.mean()
    flow, pressure = typical_start(mean)
    kept = len(plan.contraction.kept)
    for step in range(UNDAMPED_STEPS):
        iterate = evaluate_iterate(mean, flow, pressure, errors=step > 1)
        if iterate.flow_error[0] < _MEAN_TOLERANCE:
            break
        if not step:
            take_secants(mean, iterate)
        flow_change, change = limited_step(mean, flow, *newton_step(mean, iterate))
        flow = flow + flow_change
        pressure[:kept] += change
    else:
        return None
    solve = plan.elimination.shared_solver(matrix_values(plan, iterate))
    if not batch.only_draws_vary:
        return SharedStart(flow, pressure, plan, (None,) * len(plan.groups), solve)
    tangents: list[GroupCoefficients | None] = []
    groups = []
    for group, inputs, losses in zip(plan.groups, mean.groups, iterate.evaluation.losses, strict=True):
        if losses is None:
            tangents.append(None)
            groups.append(group)
            continue
        # In the flow unknown, of which the slopes are too.
        at = GroupCoefficients(inputs.coefficients, inputs.offset, None, inputs.head)
        tangent = _Tangent(at.flow(group, flow), losses.loss, losses.slope)
        tangents.append(GroupCoefficients(tangent, None, None, inputs.head))
        groups.append(replace(group, law=_TANGENT))
    return SharedStart(flow, pressure, replace(plan, groups=tuple(groups)), tuple(tangents), solve)
