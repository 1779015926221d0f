"""A network built as it is plumbed: nodes, reservoirs, and parts that connect them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fuelsim import opener, units
from fuelsim.constants import STANDARD_ATMOSPHERE
from fuelsim.errors import InputError, SolveError, nearest
from fuelsim.finding import Finding
from fuelsim.laws.liquid import Liquid
from fuelsim.network import checks
from fuelsim.network.solver.assemble import Figures, assemble
from fuelsim.network.solver.equations import Batch
from fuelsim.network.solver.failure_reasons import Names, regime_of, verdict
from fuelsim.network.solver.newton import typical_start
from fuelsim.network.solver.plan import Plan, make_plan
from fuelsim.network.solver.solve import Fields, solve_batch
from fuelsim.network.solver.topology import Topology
from fuelsim.network.state import ByName, State
from fuelsim.network.words import ratings_in_words
from fuelsim.outcome import Outcome
from fuelsim.parts.part import Part

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Link", "Network", "Node", "Reservoir"]


@dataclass(frozen=True)
class Node:
    """A place whose pressure is to be found; `height` in m."""

    height: float


@dataclass(frozen=True)
class Reservoir:
    """A place of fixed pressure (Pa absolute, a float or an array over points); `height` in m."""

    pressure: Any
    height: float


@dataclass(frozen=True)
class Link:
    """A part between two nodes, and the node its law looks at (None is the atmosphere)."""

    up: str
    down: str
    part: Part
    reference: str | None


class Network:
    """Nodes, reservoirs and the parts between them.

    Parameters
    ----------
    atmospheric_pressure : quantity, optional
        Pa absolute, one value or an array (points,); gauge pressures count from it, and so do laws without a
        reference node.

    Examples
    --------
    Petrol through an orifice of 1 mm from a tank at 300 kPa over the atmosphere:

    >>> from fuelsim.laws.liquid import Liquid
    >>> from fuelsim.parts.orifice import Orifice
    >>> net = Network()
    >>> net.add_reservoir("rail", pressure="300 kPa gauge")
    >>> net.add_reservoir("cup", pressure=101325.0)
    >>> net.connect("rail", "cup", Orifice(diameter="1 mm"), name="jet")
    >>> state = net.solve(Liquid(density=740.0, kinematic_viscosity=0.6e-6))
    >>> round(state.flow["jet"] * 3.6e6, 1)
    49.1
    """

    def __init__(self, atmospheric_pressure: Any = STANDARD_ATMOSPHERE) -> None:
        self.atmospheric_pressure = units.convert(atmospheric_pressure, "absolute pressure")
        self.nodes: dict[str, Node] = {}
        self.reservoirs: dict[str, Reservoir] = {}
        self.links: dict[str, Link] = {}
        self._plan: Plan | None = None

    def add_node(self, name: str, height: Any = 0.0) -> None:
        """Add a node of unknown pressure.

        Parameters
        ----------
        name : str
        height : quantity, optional
            m above any level that all heights share.

        Raises
        ------
        InputError
            If the name is taken.
        """
        checks.check_name_is_new(name, "node", {**self.nodes, **self.reservoirs})
        self.nodes[name] = Node(self._height(height, name))
        self._plan = None

    def add_reservoir(self, name: str, pressure: Any, height: Any = 0.0) -> None:
        """Add a place of fixed pressure: a tank, a manifold, the open end of a line.

        Parameters
        ----------
        name : str
        pressure : quantity
            Pa absolute, one value or one for each operating point; text may give gauge pressure ("2 bar gauge").
        height : quantity, optional
            m.

        Raises
        ------
        InputError
            If the name is taken or the pressure is not a positive pressure.
        """
        checks.check_name_is_new(name, "node", {**self.nodes, **self.reservoirs})
        self.reservoirs[name] = Reservoir(self._reservoir_pressure(pressure, name), self._height(height, name))
        self._plan = None

    def connect(self, up: str, down: str, part: Part, name: str, reference: str | None = None) -> None:
        """Connect two nodes by a part; flow counts positive from `up` to `down`.

        Parameters
        ----------
        up, down : str
            Names of nodes or reservoirs that have been added.
        part : Part
        name : str
            Name of the link in all results.
        reference : str, optional
            Node or reservoir to which the part refers: the manifold or the own outlet of a regulator, the rail of a
            controlled pump; None is the atmosphere.

        Raises
        ------
        InputError
            For an unknown node, a taken name, or something that is no part.
        """
        checks.check_name_is_new(name, "link", self.links)
        known = {**self.nodes, **self.reservoirs}
        for node in (up, down) if reference is None else (up, down, reference):
            checks.check_node_is_known(node, known, name)
        if up == down:
            raise InputError("a link from a node to itself", given=up, accepted="two different nodes", part=name)
        if not isinstance(part, Part):
            raise InputError(
                "not a part", given=part, accepted="a part such as Line(length=3.0, bore=0.008)", part=name
            )
        self.links[name] = Link(up, down, part, reference)
        self._plan = None

    def with_parts(self, parts: Mapping[str, Part], pressures: Mapping[str, Any] | None = None) -> Network:
        """Return the same plumbing with some parts and reservoir pressures replaced.

        Parameters
        ----------
        parts : mapping of str to Part
            New parts by the name of their link.
        pressures : mapping of str to quantity, optional
            New pressures by the name of their reservoir, Pa absolute.
        """
        changed = Network(self.atmospheric_pressure)
        changed.nodes, changed.reservoirs, changed.links = dict(self.nodes), dict(self.reservoirs), dict(self.links)
        kept = True
        for name, part in parts.items():
            if name not in self.links:
                raise InputError("no link of this name", given=name, accepted=nearest(name, self.links))
            kept = kept and part.law is self.links[name].part.law
            changed.links[name] = replace(self.links[name], part=part)
        for name, pressure in (pressures or {}).items():
            if name not in self.reservoirs:
                raise InputError("no reservoir of this name", given=name, accepted=nearest(name, self.reservoirs))
            changed.reservoirs[name] = replace(self.reservoirs[name], pressure=self._reservoir_pressure(pressure, name))
        changed._plan = self._plan if kept else None
        return changed

    def solve(
        self,
        liquid: Liquid | Mapping[str, Liquid],
        draw: Mapping[str, Any] | None = None,
        *,
        mass_draw: Mapping[str, Any] | None = None,
        start: State | None = None,
        raise_on_failure: bool = False,
    ) -> State:
        """Find all pressures and flows.

        Every value may be one number or an array (points,): reservoir pressures, draws, liquids, ratings of parts.

        Parameters
        ----------
        liquid : Liquid or mapping of str to Liquid
            One liquid, or one for each link by name. Mass is what nodes conserve.
        draw : mapping of str to quantity, optional
            Volume drawn at nodes, m3/s at the density of the one liquid.
        mass_draw : mapping of str to quantity, optional
            Mass drawn at nodes, kg/s.
        start : State, optional
            Solution of the same plumbing to start from.
        raise_on_failure : bool, optional
            Whether an operating point that does not solve raises SolveError instead of being NaN with a reason.

        Returns
        -------
        State

        Raises
        ------
        InputError
            For a network that cannot be solved (no reservoir, unconnected node), unknown names, or lists of operating
            points that do not fit together.
        SolveError
            On request, when a point did not solve.
        """
        plan = self._planned()
        names = list(self.links)
        liquids = self._liquids(liquid)
        figures = Figures(names, [link.part for link in self.links.values()], liquids)
        single = isinstance(liquid, Liquid)
        density = liquids[0].density if liquids else 1.0
        draws = self._draws(draw, mass_draw, density, single)
        pressures = [*(node.pressure for node in self.reservoirs.values()), self.atmospheric_pressure]
        number = {name: index for index, name in enumerate([*self.nodes, *self.reservoirs])}
        found = figures.check_lengths(
            plan.topology.laws,
            {
                **{f"the draw at '{name}'": values for name, values in draws.items()},
                **{f"the pressure of '{name}'": node.pressure for name, node in self.reservoirs.items()},
                "the atmospheric pressure": self.atmospheric_pressure,
            },
        )
        drawn = {number[name]: values for name, values in draws.items()}
        heights = [node.height for node in self.nodes.values()] + [node.height for node in self.reservoirs.values()]
        batch = assemble(
            plan,
            figures,
            drawn,
            pressures,
            [heights[a] - heights[b] for a, b in zip(plan.topology.up, plan.topology.down, strict=True)],
            None if single else [density / own for own in figures.density],
            1 if found is None else found,
        )
        fields = solve_batch(batch, self._start(start, batch))
        outcome = verdict(batch, fields, Names(list(number), names, heights, density, drawn))
        bad = ~outcome.converged
        if bad.any():
            if raise_on_failure:
                raise SolveError(outcome.summary(), outcome)
            fields.pressure[:, bad] = np.nan
            fields.flow[:, bad] = np.nan
        return self._state(batch, fields, outcome, density, figures, found is None)

    def findings(self, liquid: Liquid | None = None) -> list[Finding]:
        """Return what a builder should know before trusting the network; see `fuelsim.network.checks`.

        Parameters
        ----------
        liquid : Liquid, optional
            Petrol of 740 kg/m3 and 0.6 mm2/s if not given.
        """
        self._planned()
        liquid = liquid or Liquid(density=740.0, kinematic_viscosity=0.6e-6)
        return [
            *checks.set_pressures_beyond_dead_head(self, liquid),
            *checks.ratings_below_dead_head(self, liquid),
        ]

    def draw(self, state: State | None = None, *, point: int = 0) -> Figure:
        """Draw the network from left to right by distance from its reservoirs.

        Parameters
        ----------
        state : State, optional
            Its solution; gauge pressures in kPa and flows in L/h are then written on it.
        point : int, optional
            Which operating point, where the state has many.
        """
        return opener.draw_network(self, state, point=point)

    def table(self) -> pd.DataFrame:
        """Return the links as a table: from, to, kind of part, what a set pressure is above, and ratings in words."""
        import pandas as pd

        rows = {
            name: {
                "from": link.up,
                "to": link.down,
                "part": type(link.part).__name__,
                "set_pressure": link.part.reference_in_words(link.down, link.reference),
                "ratings": ratings_in_words(link.part),
            }
            for name, link in self.links.items()
        }
        return pd.DataFrame.from_dict(rows, orient="index").rename_axis("link")

    def __repr__(self) -> str:
        return f"<Network of {len(self.nodes)} nodes, {len(self.reservoirs)} reservoirs and {len(self.links)} links>"

    def _height(self, height: Any, name: str) -> float:
        try:
            return float(units.convert(height, "length"))
        except InputError as error:
            raise error.at(part=name, key="height") from None

    def _reservoir_pressure(self, pressure: Any, name: str) -> Any:
        atmosphere = self.atmospheric_pressure
        try:
            value = units.convert(
                pressure, "absolute pressure", atmospheric_pressure=atmosphere if np.ndim(atmosphere) == 0 else None
            )
            if np.any(np.asarray(value) <= 0.0):
                raise InputError(
                    "an absolute pressure is positive",
                    given=pressure,
                    accepted="Pa absolute, or text such as '101 kPa absolute' or '5 kPa gauge'",
                )
        except InputError as error:
            raise error.at(part=name, key="pressure") from None
        return value

    def _planned(self) -> Plan:
        """Check the plumbing and find its plan, once until something is added."""
        if self._plan is None:
            checks.check_there_is_a_reservoir(self)
            checks.check_every_node_reaches_a_reservoir(self)
            number: dict[str | None, int] = {name: index for index, name in enumerate([*self.nodes, *self.reservoirs])}
            number[None] = len(number)
            links = self.links.values()
            self._plan = make_plan(
                Topology(
                    len(self.nodes),
                    len(self.reservoirs),
                    tuple(number[link.up] for link in links),
                    tuple(number[link.down] for link in links),
                    tuple(number[link.reference] for link in links),
                    tuple(link.part.law for link in links),
                )
            )
        return self._plan

    def _liquids(self, liquid: Liquid | Mapping[str, Liquid]) -> list[Liquid]:
        if isinstance(liquid, Liquid):
            return [liquid] * len(self.links)
        if not isinstance(liquid, Mapping):
            raise InputError("not a liquid", given=liquid, accepted="Liquid(density=740.0, kinematic_viscosity=0.6e-6)")
        for name in liquid:
            if name not in self.links:
                raise InputError("a liquid for an unknown link", given=name, accepted=nearest(name, self.links))
        missing = [name for name in self.links if name not in liquid]
        if missing:
            raise InputError("no liquid for a link", accepted="a liquid for every link, by name", part=missing[0])
        return [liquid[name] for name in self.links]

    def _draws(
        self, draw: Mapping[str, Any] | None, mass_draw: Mapping[str, Any] | None, density: Any, single: bool
    ) -> dict[str, Any]:
        """Return draws by node in m3/s at the reference density."""
        if draw and not single:
            raise InputError(
                "a volume drawn needs one liquid", given=dict(draw), accepted="mass_draw, kg/s", key="draw"
            )
        found: dict[str, Any] = {}
        for given, kind, key in ((draw, "volume flow", "draw"), (mass_draw, "mass flow", "mass_draw")):
            for name, value in (given or {}).items():
                if name not in self.nodes:
                    problem = "nothing can be drawn from a reservoir" if name in self.reservoirs else "no such node"
                    raise InputError(problem, given=name, accepted=nearest(str(name), self.nodes), key=key)
                try:
                    flow = units.convert(value, kind)
                except InputError as error:
                    raise error.at(part=name, key=key) from None
                if kind == "mass flow":
                    flow = flow / density
                found[name] = found[name] + flow if name in found else flow
        return found

    def _start(self, start: State | None, batch: Batch) -> tuple[Any, Any] | None:
        """Return the flows and pressures of an earlier state where it fits; unsolved points start afresh."""
        if start is None or start.topology is not batch.plan.topology or not len(batch.plan.up):
            return None
        if start.chain_flow.shape[1] not in (1, batch.size):
            return None
        flow = np.broadcast_to(start.chain_flow, (len(batch.plan.up), batch.size))
        pressure = np.broadcast_to(start.kept_pressure, (len(batch.plan.contraction.kept), batch.size))
        afresh = np.broadcast_to(~np.atleast_1d(start.outcome.converged), (batch.size,))
        if afresh.any():
            typical_flow, typical_pressure = typical_start(batch)
            flow, pressure = flow.copy(), pressure.copy()
            flow[:, afresh] = typical_flow[:, afresh]
            pressure[:, afresh] = typical_pressure[: len(pressure), afresh]
        return flow, pressure

    def _state(
        self, batch: Batch, fields: Fields, outcome: Outcome, density: Any, figures: Figures, scalar: bool
    ) -> State:
        topology = batch.plan.topology
        nodes, links = [*self.nodes, *self.reservoirs], list(self.links)

        def shaped(values: Any) -> Any:
            return values[0].item() if scalar else values

        def regime(link: int) -> Any:
            words = np.array(topology.laws[link].regimes)[regime_of(batch, fields, link)]
            return shaped(np.where(outcome_code == 0, words, "unsolved"))

        outcome_code = outcome.code
        if scalar:
            outcome = Outcome(
                *(
                    values[0]
                    for values in (
                        outcome.code,
                        outcome.iterations,
                        outcome.pressure_residual,
                        outcome.flow_residual,
                        outcome.mass_residual,
                        outcome.worst_part,
                        outcome.reason,
                    )
                )
            )
        return State(
            pressure=ByName("node", nodes, lambda node: shaped(fields.pressure[node])),
            gauge_pressure=ByName(
                "node", nodes, lambda node: shaped(fields.pressure[node] - fields.pressure[topology.atmosphere])
            ),
            flow=ByName(
                "link",
                links,
                lambda link: shaped(
                    fields.flow[link]
                    if figures.density[link] is density
                    else fields.flow[link] * (density / figures.density[link])
                ),
            ),
            mass_flow=ByName("link", links, lambda link: shaped(fields.flow[link] * density)),
            regime=ByName("link", links, regime),
            outcome=outcome,
            topology=topology,
            chain_flow=fields.solution.flow,
            kept_pressure=fields.solution.pressure,
        )
