"""A network built as it is plumbed: nodes, reservoirs, and parts that connect them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from fuelsim import opener
from fuelsim.arguments import number, takes
from fuelsim.constants import GRAVITY, STANDARD_ATMOSPHERE
from fuelsim.declaration_text import ratings_in_words
from fuelsim.errors import InputError, SolveError, nearest
from fuelsim.finding import FindingList
from fuelsim.liquid import Liquid
from fuelsim.network import checks
from fuelsim.network.elements import Elements, Link, Node, Reservoir
from fuelsim.network.inp_file import read_inp
from fuelsim.network.inputs import BULK_MODULUS, HEIGHT, WaveInputs, draws_of, liquids_of, reservoir_pressure
from fuelsim.network.results import state_of, warm_start
from fuelsim.network.solver.assemble import LinkInputs, assemble
from fuelsim.network.solver.failure_reasons import Labels, outcome_of
from fuelsim.network.solver.plan import Plan, make_plan
from fuelsim.network.solver.solve import solve_batch
from fuelsim.network.state import State
from fuelsim.parts.damper import Damper
from fuelsim.parts.part import Part
from fuelsim.shown import html_of
from fuelsim.typing import FloatLike, Given, PlotAxes, Quantity, UnitSystem

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Network"]


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

    >>> from fuelsim.liquid import Liquid
    >>> from fuelsim.parts.orifice import Orifice
    >>> net = Network()
    >>> net.add_reservoir("rail", pressure="300 kPa gauge")
    >>> net.add_reservoir("cup", pressure=101325.0)
    >>> net.connect("rail", "cup", Orifice(diameter="1 mm"), name="jet")
    >>> state = net.solve(Liquid(density=740.0, kinematic_viscosity=0.6e-6))
    >>> round(state.flow["jet"] * 3.6e6, 1)
    49.1
    """

    @takes({"atmospheric_pressure": number("absolute pressure", 1e3, 1e7, example="101 kPa", flat=True)})
    def __init__(self, atmospheric_pressure: Quantity = STANDARD_ATMOSPHERE) -> None:
        self.atmospheric_pressure: FloatLike = atmospheric_pressure
        self.nodes: dict[str, Node] = {}
        self.reservoirs: dict[str, Reservoir] = {}
        self.links: dict[str, Link] = {}
        self._plan: Plan | None = None
        self._inputs: tuple[Liquid, LinkInputs] | None = None
        self.liquid: Liquid | None = None
        self.draws: dict[str, FloatLike] = {}

    @classmethod
    @takes()
    def from_inp(cls, path: str | Path) -> Network:
        """Return the network of a file in EPANET's open input format, at hour 0.

        The liquid and the demands of the file are the network's own: `solve` without a liquid takes both. Of a pipe
        with a check valve the valve is a link of its own, ``<pipe> check valve``, behind a node of that name.

        Parameters
        ----------
        path : str or Path
            A text file, usually ``.inp``, with Darcy-Weisbach friction.

        Returns
        -------
        Network

        Raises
        ------
        InputError
            For whatever the file says and this library cannot, by its name: Hazen-Williams and Chezy-Manning friction,
            emitters, rules, pumps of constant power, valves that break pressure.
        """
        file = read_inp(path)
        net = cls()
        density = float(file.liquid.density)
        for name, (elevation, depth) in file.reservoirs.items():
            net.add_reservoir(name, pressure=STANDARD_ATMOSPHERE + density * GRAVITY * depth, height=elevation)
        for name, elevation in file.junctions.items():
            net.add_node(name, height=elevation)
        for name, link in file.links.items():
            up = link.up
            for part in link.parts[:-1]:
                between = f"{name} check valve"
                net.add_node(between, height=net.elements.heights()[net.elements.numbers()[link.down]])
                net.connect(up, between, part, name=name)
                up, name = between, between
            net.connect(up, link.down, link.parts[-1], name=name)
        net.liquid, net.draws = file.liquid, dict(file.draws)
        return net

    @property
    def elements(self) -> Elements:
        """Nodes, reservoirs and links by name."""
        return Elements(self.nodes, self.reservoirs, self.links)

    @property
    def plan(self) -> Plan:
        """Plan by which the network is solved, made once until something is added.

        Raises
        ------
        InputError
            Where the network has no reservoir, or a node is joined to none.
        """
        if self._plan is None:
            self._inputs = None
            checks.check_there_is_a_reservoir(self.elements)
            checks.check_every_node_reaches_a_reservoir(self.elements)
            self._plan = make_plan(self.elements.topology())
        return self._plan

    @takes({"height": HEIGHT})
    def add_node(self, name: str, height: Quantity = 0.0) -> None:
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
        checks.check_name_is_new(name, "node", self.elements.numbers())
        self.nodes[name] = Node(height)
        self._plan = None

    @takes({"height": HEIGHT})
    def add_reservoir(self, name: str, pressure: Given, height: Quantity = 0.0) -> None:
        """Add a point of fixed pressure: a tank, a manifold, the open end of a line.

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
        checks.check_name_is_new(name, "node", self.elements.numbers())
        value = reservoir_pressure(pressure, name, self.atmospheric_pressure)
        self.reservoirs[name] = Reservoir(value, height)
        self._plan = None

    @takes()
    def connect(self, up: str, down: str, part: Part, name: str, reference: str | None = None) -> None:
        """Connect two nodes by a part; flow counts positive from `up` to `down`.

        Parameters
        ----------
        up, down : str
            Labels of nodes or reservoirs that have been added.
        part : Part
        name : str
            Name of the link in all results.
        reference : str, optional
            Node or reservoir to whose pressure the part refers: the manifold or the own outlet of a regulator, the rail
            of a controlled pump; None is the atmosphere.

        Raises
        ------
        InputError
            For an unknown node, a taken name, or an object that is not a part.
        """
        checks.check_name_is_new(name, "link", self.links)
        known = self.elements.numbers()
        for node in (up, down) if reference is None else (up, down, reference):
            checks.check_node_is_known(node, known, name)
        if up == down:
            raise InputError("a link from a node to itself", given=up, accepted="two different nodes", part=name)
        self.links[name] = Link(up, down, part, reference)
        self._plan = None

    @takes()
    def with_parts(self, parts: Mapping[str, Part], pressures: Mapping[str, Given] | None = None) -> Network:
        """Return the same plumbing with some parts and reservoir pressures replaced.

        Parameters
        ----------
        parts : mapping of str to Part
            New parts by the name of their link.
        pressures : mapping of str to quantity, optional
            New pressures by the name of their reservoir, Pa absolute.

        Returns
        -------
        Network
            A new one; this one stays as it is.

        Raises
        ------
        InputError
            For a name that the network does not have, with the nearest known one.

        Examples
        --------
        >>> from fuelsim.parts.line import Line
        >>> net = Network()
        >>> net.add_reservoir("tank", "120 kPa")
        >>> net.add_reservoir("outlet", "101 kPa")
        >>> net.connect("tank", "outlet", Line(length=1.0, bore=0.006), name="feed")
        >>> net.with_parts({"feed": Line(length=1.0, bore=0.008)}).links["feed"].part.bore
        0.008
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
            value = reservoir_pressure(pressure, name, self.atmospheric_pressure)
            changed.reservoirs[name] = replace(self.reservoirs[name], pressure=value)
        changed._plan = self._plan if kept else None
        return changed

    @takes()
    def solve(
        self,
        liquid: Liquid | Mapping[str, Liquid] | None = None,
        draw: Mapping[str, Given] | None = None,
        *,
        mass_draw: Mapping[str, Given] | None = None,
        start: State | None = None,
        raise_on_failure: bool = False,
    ) -> State:
        """Find all pressures and flows.

        Every value may be one number or an array (points,): reservoir pressures, draws, liquids, ratings of parts.

        Parameters
        ----------
        liquid : Liquid or mapping of str to Liquid, optional
            One liquid, or one for each link by name. Mass is what nodes conserve. Without it, liquid and draws of the
            file that the network was read from.
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
        plan = self.plan
        elements = self.elements
        if liquid is None:
            if self.liquid is None:
                raise InputError("no liquid", accepted="Liquid(density=740.0, kinematic_viscosity=0.6e-6)")
            liquid = self.liquid
            if draw is None and mass_draw is None:
                draw = self.draws
        liquids = liquids_of(liquid, self.links)
        inputs = self._known_inputs(liquid)
        if inputs is None:
            inputs = LinkInputs(list(self.links), [link.part for link in self.links.values()], liquids)
        single = isinstance(liquid, Liquid)
        density: FloatLike = liquids[0].density if liquids else np.nan  # without a link nothing depends on it
        draws = draws_of(elements, draw, mass_draw, density, single)
        size = inputs.check_lengths(
            plan.topology.laws,
            {
                **{f"the draw at '{name}'": values for name, values in draws.items()},
                **{f"the pressure of '{name}'": reservoir.pressure for name, reservoir in self.reservoirs.items()},
                "the atmospheric pressure": self.atmospheric_pressure,
            },
        )
        if inputs.all_scalar and isinstance(liquid, Liquid):
            self._inputs = (liquid, inputs)
        number, heights = elements.numbers(), elements.heights()
        numbered_draws = {number[name]: values for name, values in draws.items()}
        batch = assemble(
            plan,
            inputs,
            numbered_draws,
            [*(reservoir.pressure for reservoir in self.reservoirs.values()), self.atmospheric_pressure],
            heights,
            density,
            None if single else [density / own for own in inputs.density],
            1 if size is None else size,
        )
        result = solve_batch(batch, warm_start(start, batch))
        labels = Labels(list(number), list(self.links), density)
        outcome = outcome_of(batch, result, labels)
        failed = ~outcome.converged
        if failed.any():
            if raise_on_failure:
                raise SolveError(outcome.summary(), outcome)
            result.solved.pressure[:, failed] = np.nan
            result.solved.flow[:, failed] = np.nan
        return state_of(batch, result.solved, outcome, labels, inputs.density, scalar=size is None)

    @takes(
        {
            "duration": number("time", 1e-6, 3600.0, example="50 ms", single=True),
            "bulk_modulus": BULK_MODULUS,
            "vapour_pressure": number("absolute pressure", 0.0, 1e7, example="35 kPa absolute", single=True),
            "step": number("time", 1e-8, 1.0, example="0.1 ms", single=True),
            "output_step": number("time", 1e-8, 3600.0, example="1 ms", single=True, optional=True),
        }
    )
    def transient(
        self,
        liquid: Liquid,
        duration: Quantity,
        *,
        draw: Mapping[str, Given] | None = None,
        pressures: Mapping[str, Given] | None = None,
        opening: Mapping[str, Given] | None = None,
        dampers: Mapping[str, Damper] | None = None,
        bulk_modulus: Quantity = 1.0e9,
        wall_compliance: Given = 0.0,
        wave_speed: Given = None,
        vapour_pressure: Quantity = 35e3,
        friction: Literal["quasi-steady", "unsteady", "none"] = "quasi-steady",
        step: Quantity = 1e-4,
        output_step: Quantity = None,
    ) -> opener.Transient:
        """Return pressures and flows over time, with the pressure waves in all lines, from the steady flow at time 0.

        Waves follow the method of characteristics. Lines that a wave crosses in less than `step` are
        lumped, if the time step does not suit them; all parts that are no lines follow their steady equation at every
        moment. Where the pressure would fall below that of vapour, a cavity opens instead.

        Draws, pressures and openings are one value, a pair (times, values) joined by straight lines, in which a time
        that stands twice is a jump, or a function of the time in s that gives SI. The steady flow is that of time 0,
        before a jump at time 0. Values (points,) compute many points at once.

        Parameters
        ----------
        liquid : Liquid
            Single values.
        duration : quantity
            Time to compute, s.
        draw : mapping of str to quantity over time, optional
            Volume drawn at nodes, m3/s.
        pressures : mapping of str to quantity over time, optional
            Pressure of reservoirs, Pa absolute, where it is another than their own.
        opening : mapping of str to fraction over time, optional
            Flow of a link, no line, over that of the same link fully open; 0 shuts it. At time 0 it is 0 or 1.
        dampers : mapping of str to Damper, optional
            Dampers or other elastic vessels at nodes.
        bulk_modulus : quantity, optional
            Isentropic bulk modulus of the liquid, Pa: density times the square of ``fuel.sound_speed``. A petrol has
            about 1 GPa at 20 degC [assumed].
        wall_compliance : quantity or mapping of str to quantity, optional
            Share of the contents by which lines widen, 1/Pa, for all lines or by name.
        wave_speed : quantity or mapping of str to quantity, optional
            Imposed wave speed, m/s, for all lines or by name, in place of the one from bulk modulus and wall.
        vapour_pressure : quantity, optional
            Pa absolute: ``fuel.bubble_pressure``; the default is that of a petrol of 60 kPa at 20 degC [computed].
        friction : str, optional
            ``"quasi-steady"``, ``"unsteady"`` (with the delay of the velocity profile) or ``"none"``.
        step : quantity, optional
            Greatest time step, s. The one used is the longest below it that moves no wave speed by more than 1 %.
        output_step : quantity, optional
            Time between values that are kept, s; all steps, if left out, but for very long runs.

        Returns
        -------
        Transient

        Raises
        ------
        InputError
            For unknown names, values that are not accepted, or lines that are all shorter than a step.
        SolveError
            Where the network has no steady flow to start from.

        Examples
        --------
        180 L/h in 3 m of 8 mm, stopped at once: the pressure rises by rho a v = 736.1 kPa (Joukowsky).

        >>> from fuelsim import Line, Liquid
        >>> net = Network()
        >>> net.add_reservoir("pump", "1.5 MPa")
        >>> net.add_node("valve")
        >>> net.connect("pump", "valve", Line(length="3 m", bore="8 mm"), name="feed")
        >>> petrol = Liquid(density=740.0, kinematic_viscosity=0.6e-6)
        >>> stopped = {"valve": (["0 s", "0 s"], ["180 L/h", "0 L/h"])}
        >>> result = net.transient(petrol, "20 ms", draw=stopped, wave_speed="1000 m/s")
        >>> rise = result.pressure["valve"][1] - result.pressure["valve"][0]
        >>> round(float(rise) / 1e3)
        736
        """
        given = WaveInputs(
            liquid, draw or {}, dampers or {}, float(bulk_modulus), wall_compliance, wave_speed, friction,
            float(duration), pressures or {}, opening or {}, float(vapour_pressure), float(step),
            None if output_step is None else float(output_step),
        )  # fmt: skip
        return opener.transient_of(self, given)

    @takes({"frequency": number("frequency", 1e-3, 1e6, example="80 Hz", flat=True), "bulk_modulus": BULK_MODULUS})
    def frequency_response(
        self,
        liquid: Liquid,
        node: str,
        frequency: Quantity,
        *,
        draw: Mapping[str, Given] | None = None,
        dampers: Mapping[str, Damper] | None = None,
        bulk_modulus: Quantity = 1.0e9,
        wall_compliance: Given = 0.0,
        wave_speed: Given = None,
        friction: Literal["quasi-steady", "none"] = "quasi-steady",
    ) -> opener.FrequencyResponse:
        """Return how the pressures swing where a small pulsating volume is drawn at one node.

        Exact lines, all else linearised at the steady flow: a second method beside `transient`, without vapour.

        Parameters
        ----------
        liquid : Liquid
            Single values.
        node : str
            Where the pulsating volume is drawn.
        frequency : quantity
            Frequencies, Hz.
        draw : mapping of str to quantity, optional
            Steady volume drawn at nodes, m3/s.
        dampers : mapping of str to Damper, optional
            Dampers or other elastic vessels at nodes.
        bulk_modulus, wall_compliance, wave_speed, friction : optional
            As in `transient`: Pa, 1/Pa, m/s and text.

        Returns
        -------
        FrequencyResponse

        Raises
        ------
        InputError
            For unknown names or values that are not accepted.
        SolveError
            Where the network has no steady flow.

        Examples
        --------
        A dead end of 3 m resonates at a/4L = 83.3 Hz:

        >>> from fuelsim import Line, Liquid
        >>> net = Network()
        >>> net.add_reservoir("pump", "400 kPa")
        >>> net.add_node("end")
        >>> net.connect("pump", "end", Line(length="3 m", bore="8 mm"), name="feed")
        >>> petrol = Liquid(density=740.0, kinematic_viscosity=0.6e-6)
        >>> response = net.frequency_response(petrol, "end", np.arange(20.0, 200.0, 0.1), wave_speed="1000 m/s")
        >>> response.resonances().round(1).tolist()
        [83.3]
        """
        given = WaveInputs(
            liquid, draw or {}, dampers or {}, float(bulk_modulus), wall_compliance, wave_speed, friction
        )
        return opener.frequency_response_of(self, given, node, np.atleast_1d(np.asarray(frequency, dtype=float)))

    def _known_inputs(self, liquid: Liquid | Mapping[str, Liquid]) -> LinkInputs | None:
        """Return the coefficients of the last solution where they are single values and the liquid is the same."""
        if self._plan is None or self._inputs is None or self._inputs[0] is not liquid:
            return None
        return self._inputs[1]

    @takes()
    def findings(self, liquid: Liquid | None = None) -> FindingList:
        """Return what a builder should know before trusting the network; see `fuelsim.network.checks`.

        Parameters
        ----------
        liquid : Liquid, optional
            If not given, that of the file the network was read from, or petrol of 740 kg/m3 and 0.6 mm2/s.

        Returns
        -------
        list of Finding
            Empty where there is nothing to say.

        Raises
        ------
        InputError
            Without a reservoir, or for a node that no link joins to one.
        """
        elements = self.elements
        checks.check_there_is_a_reservoir(elements)
        checks.check_every_node_reaches_a_reservoir(elements)
        liquid = liquid or self.liquid or Liquid(density=740.0, kinematic_viscosity=0.6e-6)
        return FindingList(
            [
                *checks.set_pressures_beyond_dead_head(elements, liquid),
                *checks.ratings_below_dead_head(elements, liquid),
                *checks.pumps_open_to_backflow(elements, liquid),
                *checks.float_valves_forced_open(elements, liquid),
            ]
        )

    @takes()
    def draw(self, state: State | None = None, *, point: int = 0, ax: PlotAxes | None = None) -> Figure:
        """Draw the network from left to right by distance from its reservoirs.

        Parameters
        ----------
        state : State, optional
            Its solution; gauge pressures in kPa and flows in L/h are then written on it.
        point : int, optional
            Which operating point, where the state has many.
        ax : Axes, optional
            Axes of your own.

        Returns
        -------
        matplotlib.figure.Figure
        """
        return opener.draw_network(self, state, point=point, ax=ax)

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return the links as a table: from, to, kind of part, what a set pressure is above, and ratings in words.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        pandas.DataFrame
            One row per link, by its name.
        """
        import pandas as pd

        rows = {
            name: {
                "from": link.up,
                "to": link.down,
                "part": type(link.part).__name__,
                "set_pressure": link.part.reference_in_words(link.down, link.reference),
                "ratings": ratings_in_words(link.part, units),
            }
            for name, link in self.links.items()
        }
        return pd.DataFrame.from_dict(rows, orient="index").rename_axis("link")

    def __repr__(self) -> str:
        return f"<Network of {len(self.nodes)} nodes, {len(self.reservoirs)} reservoirs and {len(self.links)} links>"

    def _repr_html_(self) -> str:
        """Return what a notebook shows: how much there is, and the links."""
        return html_of(repr(self)[1:-1], self.table() if self.links else None)
