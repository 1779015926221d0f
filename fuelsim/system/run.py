"""A car plumbed in one layout, ready to be run at any number of operating points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from fuelsim import opener
from fuelsim.arguments import takes, unchecked, whole
from fuelsim.car.car import Car
from fuelsim.car.rating_lists import broadcast_ratings, rating_shape
from fuelsim.errors import InputError, SolveError, nearest
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.fuels import FuelPerPoint
from fuelsim.shown import Shown
from fuelsim.system.conditions import CONDITIONS, MOST_POINTS, Conditions
from fuelsim.system.coupling import couple
from fuelsim.system.exchange import between, moving_share
from fuelsim.system.operating_points import OperatingPoints
from fuelsim.system.plumb import plumb
from fuelsim.system.plumbing import Plumbing
from fuelsim.system.results import Run, Solved, collect
from fuelsim.typing import FloatLike, Given

__all__ = ["Run", "System"]


@dataclass(frozen=True)
class System(Shown):
    """A car plumbed in one layout.

    Attributes
    ----------
    car : Car
        The car.
    layout : str
        Name of one of `Car.layouts`.
    fuel_in_tank : Fuel or FuelPerPoint, optional
        Another fuel than the car's own, such as what is left of it after hours in a hot tank; or that of each point.
    """

    car: Car
    layout: str
    fuel_in_tank: Fuel | FuelPerPoint | None = None
    plumbing: Plumbing = field(init=False, compare=False, repr=False)

    @property
    def headline(self) -> str:
        """Return the car, its layout and its stations."""
        title, stations = self.plumbing.layout.title, ", ".join(self.plumbing.stations)
        return f"{self.car.name}, layout '{self.layout}', {title}; stations {stations}"

    def __post_init__(self) -> None:
        rating_shape(self.car)
        object.__setattr__(self, "plumbing", plumb(self.car, self.layout))

    @cached_property
    def fuel(self) -> Fuel:
        """The fuel in the tank, the car's own where each point has another; a car with a list of fuels has none."""
        return self.fuel_in_tank if isinstance(self.fuel_in_tank, Fuel) else self.car.fuel.fuel()

    @cached_property
    def _fuel_per_point(self) -> Fuel | FuelPerPoint:
        """The fuel in the tank, or that of each operating point."""
        return self.car.fuel.per_point() if self.fuel_in_tank is None else self.fuel_in_tank

    @takes()
    def solve(
        self,
        conditions: Conditions | None = None,
        *,
        rpm: Given | None = None,
        load: Given | None = None,
        tank_temperature: Given | None = None,
        air_temperature: Given | None = None,
        altitude: Given | None = None,
        supply_voltage: Given | None = None,
        pot_temperatures: Mapping[str, Given] | None = None,
        from_locked: bool = False,
        raise_on_failure: bool = False,
    ) -> Run:
        """Run the system at one or many operating points.

        Ratings of the car's lines, filters, regulators, injectors and wire may be lists, and so may the vapour pressure
        and the ethanol content of its fuel: each entry is then an operating point, and the lists broadcast with the
        conditions.

        Parameters
        ----------
        conditions : Conditions, optional
            All conditions at once; then none of the following is given.
        rpm, load, tank_temperature, air_temperature, altitude, supply_voltage : optional
            As in `Conditions`; numbers, text with a unit, or arrays that broadcast. `load` is 1 if left out,
            the others the car's own.
        pot_temperatures : mapping of pot to float, str or array, optional
            Temperature of the fuel in pots at a moment before they have settled, K; a pot that is left out has the
            steady mean of what flows in.
        from_locked : bool
            Return the state that a car reaches as it cools with pumps that gas has stopped, in place of the one that a
            running car reaches as it warms; they differ where there are two.
        raise_on_failure : bool
            Raise `SolveError` if any point fails.

        Returns
        -------
        Run
            Failed points are NaN in every result, with their reason in ``outcome``.

        Raises
        ------
        InputError
            For wrong conditions.
        SolveError
            On request.

        Examples
        --------
        >>> import fuelsim as fs
        >>> run = fs.Car.named("finch").system("return").solve(rpm=[1000, 6000], tank_temperature="40 degC")
        >>> bool(run.bypass_flow[0] > run.bypass_flow[1])
        True
        """
        single = {
            "rpm": rpm,
            "load": load,
            "tank_temperature": tank_temperature,
            "air_temperature": air_temperature,
            "altitude": altitude,
            "supply_voltage": supply_voltage,
        }
        given = ", ".join(name for name, value in single.items() if value is not None)
        if conditions is not None and given:
            raise InputError(
                "conditions and single values together", given=given, accepted="one or the other", part="solve"
            )
        if conditions is None:
            if rpm is None:
                raise InputError("no engine speed", accepted="rpm=..., or conditions", part="solve", key="rpm")
            conditions = Conditions(
                rpm=rpm,
                load=1.0 if load is None else load,
                tank_temperature=tank_temperature,
                air_temperature=air_temperature,
                altitude=altitude,
                supply_voltage=supply_voltage,
            )
        filled = self.filled(conditions)
        conditions, system = filled.spread(self._shape(filled)), self._at_points(filled)
        pots = self._given_pots(pot_temperatures or {})
        fuel = system._fuel_per_point
        points = OperatingPoints.of(system.car, fuel, conditions, pots)
        solution = couple(system.car, system.plumbing, fuel.tables(), points, from_above=from_locked)
        if raise_on_failure and not np.all(solution.outcome.converged):
            raise SolveError(solution.outcome.summary(), solution.outcome)
        solved = Solved(system.car, system.plumbing, fuel, points, from_locked)
        return collect(solved, conditions, solution)

    @takes({"point": whole(0, MOST_POINTS)})
    def draw(self, run: Run | None = None, *, point: int = 0) -> opener.Drawing:
        """Draw the layout as it is plumbed, with sizes, pressures, temperatures and flows of one operating point.

        Parameters
        ----------
        run : Run, optional
            Results of this system; left out, it is solved at idle.
        point : int, optional
            Number of the operating point, from 0, the last axis fastest.

        Returns
        -------
        Drawing
            Shows itself in a notebook; `save` writes it as ``.svg``.

        Raises
        ------
        InputError
            For a run of another layout, or a point that it does not have.

        Examples
        --------
        >>> import fuelsim as fs
        >>> "return line" in fs.Car.named("finch").system("return").draw().svg
        True
        """
        if run is None:
            run = self.solve(rpm=self.car.engine.idle_speed, load=0.0)
        return opener.draw_system(self, run, point)

    def filled(self, conditions: Conditions) -> Conditions:
        """Return conditions in which the car's own stand for those that were left out.

        Parameters
        ----------
        conditions : Conditions

        Returns
        -------
        Conditions

        Examples
        --------
        >>> import fuelsim as fs
        >>> float(fs.Car.named("finch").system("return").filled(fs.Conditions(rpm=800)).altitude)
        0.0
        """
        return conditions.filled(self._defaults(conditions))

    def _given_pots(self, pot_temperatures: Mapping[str, Given]) -> dict[str, FloatLike]:
        """Return given temperatures of pots, K."""
        pots = self.plumbing.pots
        for name in pot_temperatures:
            if name not in pots:
                raise InputError("no such pot", given=name, accepted=nearest(name, pots), part="solve")
        return {name: CONDITIONS["tank_temperature"].to_si(value) for name, value in pot_temperatures.items()}

    def _shape(self, conditions: Conditions) -> tuple[int, ...]:
        """Return the shape of the operating points that conditions and lists of ratings make together."""
        ratings = rating_shape(self.car)
        try:
            return np.broadcast_shapes(conditions.shape, ratings)
        except ValueError:
            raise InputError(
                f"ratings of shape {ratings} and conditions of shape {conditions.shape} do not broadcast",
                accepted="equal lengths, or conditions with a last axis as long as the lists of ratings",
                part="solve",
            ) from None

    def _at_points(self, conditions: Conditions) -> System:
        """Return the system with one value of each listed rating, and of the filter's clogging, per operating point."""
        shape = self._shape(conditions)
        car = broadcast_ratings(self.car, shape)
        if conditions.filter_clogging is not None:
            clogging = np.broadcast_to(conditions.filter_clogging, shape).reshape(-1)
            car = car.with_values({f"{link.table}.clogging": clogging for link in self.plumbing.filters})
        if car is self.car:
            return self
        if self.fuel_in_tank is not None or car.fuel.listed:
            return System(car, self.layout, self.fuel_in_tank)
        return System(car, self.layout, self.fuel)

    def _defaults(self, conditions: Conditions) -> dict[str, FloatLike]:
        surroundings = self.car.surroundings
        air = surroundings.air_temperature if conditions.air_temperature is None else conditions.air_temperature
        tank = surroundings.tank_temperature
        bay = conditions.bay_temperature
        if bay is None:
            bay = air + between(
                surroundings.bay_rise, surroundings.cruising_bay_rise, moving_share(conditions.vehicle_speed)
            )
        return {
            "air_temperature": air,
            "tank_temperature": air if tank is None else tank,
            "supply_voltage": unchecked(self.car.supply_voltage)(conditions.rpm, air, bay),
            "altitude": surroundings.altitude,
            "engine_temperature": surroundings.engine_temperature,
        }
