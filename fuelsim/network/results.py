"""From a solved batch to a `State`, and from an earlier state to the start of the next solution."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.laws.link import Regime
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.expansion import Solved, regime_of
from fuelsim.network.solver.failure_reasons import Labels
from fuelsim.network.solver.newton import typical_start
from fuelsim.network.state import ByName, State
from fuelsim.outcome import Outcome, OutcomeCode
from fuelsim.typing import FloatLike, LinkArray, NodeArray, PointArray, TextArray

__all__ = ["state_of", "warm_start"]


def warm_start(start: State | None, batch: Batch) -> tuple[LinkArray, NodeArray] | None:
    """Return the chain flows and kept pressures of an earlier state, None where it does not fit the batch.

    Points that did not solve start from typical flows.
    """
    plan = batch.plan
    if start is None or start.topology is not plan.topology or not len(plan.up):
        return None
    if start.chain_flow.shape[1] not in (1, batch.size):
        return None
    flow = np.broadcast_to(start.chain_flow, (len(plan.up), batch.size))
    kept = len(plan.contraction.kept)
    pressure = np.broadcast_to(start.kept_pressure, (kept, batch.size)) - batch.datum
    afresh = np.broadcast_to(~np.atleast_1d(start.outcome.converged), (batch.size,))
    if afresh.any():
        typical_flow, typical_pressure = typical_start(batch)
        flow = flow.copy()
        flow[:, afresh] = typical_flow[:, afresh]
        pressure[:, afresh] = typical_pressure[:kept, afresh]
    return flow, pressure


def state_of(
    batch: Batch, solved: Solved, outcome: Outcome, labels: Labels, density: Sequence[FloatLike], *, scalar: bool
) -> State:
    """Return the state of a solved batch.

    Parameters
    ----------
    batch : Batch
    solved : Solved
    outcome : Outcome
        Each array (points,).
    labels : Labels
    density : sequence
        Density in each link, kg/m3.
    scalar : bool
        Whether results are single values instead of arrays (points,).
    """
    topology = batch.plan.topology
    converged = outcome.code == OutcomeCode.SOLVED

    def shaped(values: PointArray) -> FloatLike:
        return float(values[0]) if scalar else values

    def flow(link: int) -> FloatLike:
        own = density[link]
        return shaped(solved.flow[link] if own is labels.density else solved.flow[link] * (labels.density / own))

    def regime(link: int) -> str | TextArray:
        words = np.array(topology.laws[link].regimes)[regime_of(batch, solved, link)]
        known: TextArray = np.where(converged, words, Regime.UNSOLVED)
        return str(known[0]) if scalar else known

    return State(
        pressure=ByName("node", labels.nodes, lambda node: shaped(solved.pressure[node] + batch.datum)),
        gauge_pressure=ByName(
            "node", labels.nodes, lambda node: shaped(solved.pressure[node] - solved.pressure[topology.atmosphere])
        ),
        flow=ByName("link", labels.links, flow),
        mass_flow=ByName("link", labels.links, lambda link: shaped(solved.flow[link] * labels.density)),
        regime=ByName("link", labels.links, regime),
        outcome=unchecked(outcome.at)(0) if scalar else outcome,
        topology=topology,
        chain_flow=solved.solution.flow,
        kept_pressure=solved.solution.pressure + batch.datum,
    )
