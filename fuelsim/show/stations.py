"""Which stations the columns of a table stand for: each rail and each pump's inlet by name where there are several."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from fuelsim.numerics.pointwise import greatest_at_each_point, least_at_each_point
from fuelsim.typing import FloatArray

if TYPE_CHECKING:
    from fuelsim.system.plumbing import Plumbing

__all__ = ["greatest_over", "inlet_columns", "least_over", "pump_inlets", "rail_columns"]


def rail_columns(plumbing: Plumbing) -> dict[str, str]:
    """Return the name of a column for each rail: ``"rail"`` for the only one, else the rail's own.

    Parameters
    ----------
    plumbing : Plumbing

    Returns
    -------
    dict of str to str
        From the column to the station.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> rail_columns(Car.named("plover").system("pot").plumbing)
    {'left_rail': 'left_rail', 'right_rail': 'right_rail'}
    """
    rails = plumbing.rails
    return {"rail": rails[0]} if len(rails) == 1 else {rail: rail for rail in rails}


def inlet_columns(plumbing: Plumbing) -> dict[str, str]:
    """Return the name of a column for each pump's inlet: ``"pump_inlet"`` for the only one, else with the pump's name.

    Parameters
    ----------
    plumbing : Plumbing

    Returns
    -------
    dict of str to str
        From the column to the station.

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> inlet_columns(Car.named("plover").system("pot").plumbing)
    {'lift_inlet': 'lift_inlet', 'left_pump_inlet': 'pot', 'right_pump_inlet': 'pot'}
    """
    pumps = plumbing.pumps
    if len(pumps) == 1:
        return {"pump_inlet": pumps[0].upstream}
    return {f"{pump.name}_inlet": pump.upstream for pump in pumps}


def pump_inlets(plumbing: Plumbing) -> tuple[str, ...]:
    """Return the stations from which pumps draw, each once.

    Parameters
    ----------
    plumbing : Plumbing

    Examples
    --------
    >>> from fuelsim.car.car import Car
    >>> pump_inlets(Car.named("plover").system("pot").plumbing)
    ('lift_inlet', 'pot')
    """
    return tuple(dict.fromkeys(inlet_columns(plumbing).values()))


def least_over(values: Mapping[str, FloatArray], stations: Iterable[str]) -> FloatArray:
    """Return the least value of some stations at each point.

    Parameters
    ----------
    values : mapping of str to array
        By station.
    stations : iterable of str
        At least one.

    Examples
    --------
    >>> import numpy as np
    >>> least_over({"left": np.array([1.0, 4.0]), "right": np.array([3.0, 2.0])}, ["left", "right"]).tolist()
    [1.0, 2.0]
    """
    return least_at_each_point([values[station] for station in stations])


def greatest_over(values: Mapping[str, FloatArray], stations: Iterable[str]) -> FloatArray:
    """Return the greatest value of some stations at each point.

    Parameters
    ----------
    values : mapping of str to array
        By station.
    stations : iterable of str
        At least one.

    Examples
    --------
    >>> import numpy as np
    >>> greatest_over({"left": np.array([1.0, 4.0]), "right": np.array([3.0, 2.0])}, ["left", "right"]).tolist()
    [3.0, 4.0]
    """
    return greatest_at_each_point([values[station] for station in stations])
