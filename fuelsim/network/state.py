"""The solved network as a person reads it: results by name, a report, a table."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes, unchecked
from fuelsim.errors import InputError, nearest
from fuelsim.network.solver.topology import Topology
from fuelsim.outcome import Outcome, require_points
from fuelsim.shown import Shown
from fuelsim.typing import FloatLike, IndexArray, LinkArray, NodeArray, TextArray, UnitSystem

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ByName", "State"]

_Values = TypeVar("_Values")


class ByName(Mapping[str, _Values], Generic[_Values]):
    """Results by the name of a node or link; an unknown name gets an error with the nearest known one.

    Parameters
    ----------
    what : str
        "node" or "link", for messages.
    names : sequence of str
        Known names in order.
    row : callable
        From the number of the name to its values.
    also_named : mapping of str to str, optional
        Other names, which lead to a known one and are not listed.
    """

    def __init__(
        self,
        what: str,
        names: Sequence[str],
        row: Callable[[int], _Values],
        also_named: Mapping[str, str] | None = None,
    ) -> None:
        self._what = what
        self._number = {name: number for number, name in enumerate(names)}
        self._row = row
        self._also_named = {} if also_named is None else dict(also_named)

    def __getitem__(self, name: str) -> _Values:
        try:
            number = self._number[name if name in self._number else self._also_named.get(name, name)]
        except (KeyError, TypeError):
            raise UnknownName(f"no {self._what} of this name", given=name, accepted=nearest(name, self)) from None
        return self._row(number)

    def __iter__(self) -> Iterator[str]:
        return iter(self._number)

    def __len__(self) -> int:
        return len(self._number)

    def _ipython_key_completions_(self) -> list[str]:
        """Return the names that an editor offers after ``[``."""
        return list(self)

    def __contains__(self, name: object) -> bool:
        return name in self._number or name in self._also_named

    @property
    def what(self) -> str:
        """What the names are names of, for messages."""
        return self._what

    @property
    def also_named(self) -> Mapping[str, str]:
        """Other names, each with the known one that it leads to."""
        return self._also_named

    @classmethod
    def of_values(cls, what: str, values: dict[str, _Values], also_named: dict[str, str]) -> ByName[_Values]:
        """Return results from values computed before, as they arrive from another process or from a file.

        Parameters
        ----------
        what : str
            "node" or "link", for messages.
        values : dict of str to object
            Values by name, in order.
        also_named : dict of str to str
            Other names.

        Examples
        --------
        >>> ByName.of_values("node", {"rail": 3.0}, {"gallery": "rail"})["gallery"]
        3.0
        """
        return cls(what, list(values), list(values.values()).__getitem__, also_named)

    def __reduce__(
        self,
    ) -> tuple[
        Callable[[str, dict[str, _Values], dict[str, str]], ByName[_Values]],
        tuple[str, dict[str, _Values], dict[str, str]],
    ]:
        return self.of_values, (self._what, dict(self), self._also_named)

    def __repr__(self) -> str:
        return "{" + ", ".join(f"{name!r}: {self[name]!r}" for name in self) + "}"


class UnknownName(InputError, KeyError):
    """A name that the network does not have."""


@dataclass(frozen=True)
class State(Shown):
    """Solution of a network at one or many operating points.

    Every value is a float if all inputs were single values, else an array (points,). Points that did not solve are
    NaN in every result; `outcome` says why.

    Attributes
    ----------
    pressure : mapping of str to float or array (points,)
        Node pressures, Pa absolute.
    gauge_pressure : mapping of str to float or array (points,)
        Node pressures over the atmosphere, Pa.
    flow : mapping of str to float or array (points,)
        Volume flow of each link at its own density, m3/s, positive from upstream to downstream.
    mass_flow : mapping of str to float or array (points,)
        Mass flow of each link, kg/s.
    regime : mapping of str to str or array of str (points,)
        Regime of each link: flowing, pumping, regulating, shut and so on; "unsolved" where the point did not solve.
    outcome : Outcome
        Code, residuals, limiting part and reason of each point.
    topology : Topology
        Topology of the network, by which a later solution recognises a usable start.
    chain_flow : array (chains, points)
        Flow unknowns, m3/s, for a later solution to start from.
    kept_pressure : array (kept nodes, points)
        Pressure unknowns, Pa absolute, for the same use.

    Examples
    --------
    >>> from fuelsim.liquid import Liquid
    >>> from fuelsim.network.network import Network
    >>> from fuelsim.parts.line import Line
    >>> net = Network()
    >>> net.add_reservoir("tank", ["110 kPa", "120 kPa"])
    >>> net.add_reservoir("outlet", "100 kPa")
    >>> net.connect("tank", "outlet", Line(length=1.0, bore=0.006), name="feed")
    >>> state = net.solve(Liquid(density=740.0, kinematic_viscosity=0.6e-6))
    >>> state.flow["feed"].shape, bool(state.flow["feed"][1] > state.flow["feed"][0])
    ((2,), True)
    >>> state.take([1]).flow["feed"].shape
    (1,)
    """

    pressure: Mapping[str, FloatLike]
    gauge_pressure: Mapping[str, FloatLike]
    flow: Mapping[str, FloatLike]
    mass_flow: Mapping[str, FloatLike]
    regime: Mapping[str, str | TextArray]
    outcome: Outcome
    topology: Topology = field(compare=False)
    chain_flow: LinkArray = field(compare=False)
    kept_pressure: NodeArray = field(compare=False)

    @takes()
    def take(self, points: IndexArray) -> State:
        """Return the state of some of its operating points, to start another solution from.

        Parameters
        ----------
        points : int array
            Which points of a state that has an array of them.

        Returns
        -------
        State
            With an axis of those points.

        Raises
        ------
        InputError
            For a point that there is not.
        """
        require_points(np.shape(self.outcome.code), points)

        def numbers(results: Mapping[str, FloatLike]) -> ByName[FloatLike]:
            names = list(results)
            return ByName("node or link", names, lambda number: np.asarray(results[names[number]])[points])

        def words(results: Mapping[str, str | TextArray]) -> ByName[str | TextArray]:
            names = list(results)
            return ByName("link", names, lambda number: np.asarray(results[names[number]])[points])

        return State(
            pressure=numbers(self.pressure),
            gauge_pressure=numbers(self.gauge_pressure),
            flow=numbers(self.flow),
            mass_flow=numbers(self.mass_flow),
            regime=words(self.regime),
            outcome=unchecked(self.outcome.at)(points),
            topology=self.topology,
            chain_flow=self.chain_flow[:, points],
            kept_pressure=self.kept_pressure[:, points],
        )

    @takes()
    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return the results as a table, one row per operating point, with the unit in each column's name.

        Parameters
        ----------
        units : str, optional
            ``"SI"``, ``"metric workshop"`` or ``"US workshop"``; the preferred ones, if left out.

        Returns
        -------
        DataFrame
            In metric workshop units columns ``<node>_kPa_gauge``, ``<link>_L_h``, ``<link>_regime`` where a link has
            more than one, and ``outcome``.
        """
        return opener.state_table(self, units)

    @property
    def headline(self) -> str:
        """Return the size of the network, and how many points solved."""
        return f"{len(self.pressure)} nodes and {len(self.flow)} links: {self.outcome.summary()}"
