"""The network of a run as it was solved: pumps, injectors and liquids with the heat and vapour of each point."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import NamedTuple, cast

import numpy as np

from fuelsim.liquid import Liquid
from fuelsim.network.network import Network
from fuelsim.network.state import State
from fuelsim.system.coupled_problem import CoupledProblem
from fuelsim.system.fixed_point import Iterate
from fuelsim.system.pump_drive import running_pumps
from fuelsim.system.results import Run
from fuelsim.typing import IndexArray, LinkArray, PointArray, TextArray

__all__ = ["SolvedNetwork", "solved_network"]


class SolvedNetwork(NamedTuple):
    """A network whose steady answer is a run's.

    Attributes
    ----------
    network : Network
        With pumps and injectors at each point.
    liquids : dict of str to Liquid
        What flows in each link.
    temperature : array (links, points)
        Mean temperature in each link, K.
    """

    network: Network
    liquids: dict[str, Liquid]
    temperature: LinkArray


class _Read(NamedTuple):
    """What the coupled problem reads of a state of the network, by the same names; every array is (points,)."""

    pressure: Mapping[str, PointArray]
    mass_flow: Mapping[str, PointArray]
    regime: Mapping[str, TextArray]
    flow: Mapping[str, PointArray]


def solved_network(run: Run, points: IndexArray) -> SolvedNetwork:
    """Return the network of some points of a run.

    Parameters
    ----------
    run : Run
    points : int array
        Numbers of points that have a result.

    Returns
    -------
    SolvedNetwork

    Examples
    --------
    >>> import fuelsim as fs
    >>> run = fs.Car.named("finch").system("return").solve(rpm=[1000, 6000])
    >>> made = solved_network(run, np.array([0, 1]))
    >>> state = made.network.solve(made.liquids)
    >>> bool(np.allclose(state.pressure["rail"], run.pressure["rail"], rtol=1e-5))
    True
    """
    car, plumbing, fuel, operating_points, _ = run.solved
    staged_on = {name: np.reshape(run.pump_on[name], -1) for name in plumbing.stages}
    pumps = running_pumps(plumbing, fuel.tables(), operating_points, staged_on)
    problem = CoupledProblem.of(car, plumbing, fuel.tables(), operating_points, pumps).take(points)
    solution = run.as_solved
    read = _Read(
        {name: values[points] for name, values in solution.pressure.items()},
        {name: values[points] for name, values in solution.mass_flow.items()},
        {name: values[points] for name, values in solution.regime.items()},
        {},
    )
    state = cast("State", read)
    nodes = np.stack([solution.temperature[name][points] for name in plumbing.stations])
    outlets = np.stack([solution.outlet_temperature[link.name][points] for link in plumbing.links])
    inlets = np.stack([state.pressure[link.upstream] for link in plumbing.pumps])
    iterate = Iterate.of(nodes, outlets, problem.inlet_gas(nodes[problem.draws.inlets], inlets))
    mean = problem.mean_temperatures(iterate)
    density = problem.tables.density(mean)
    vapour = problem.update(iterate, state, density).vapour
    iterate = dataclasses.replace(iterate, vapour=vapour)
    liquids = problem.liquids(iterate, mean, density, state)
    flow = {name: mass / liquids[name].density for name, mass in read.mass_flow.items()}
    return SolvedNetwork(problem.network(iterate, cast("State", read._replace(flow=flow))), liquids, mean)
