"""The car as data: what stands in a car file, one frozen dataclass per table."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from fuelsim import opener
from fuelsim.arguments import AIR_TEMPERATURE, ENGINE_SPEED, number, takes, unchecked
from fuelsim.car.car_tables import CarTables
from fuelsim.car.floor_plan import Plan
from fuelsim.car.layouts import layouts_of
from fuelsim.car.part_names import check_names, named_part
from fuelsim.car.plumbing_description import PlumbingDescription
from fuelsim.car.references import with_parts_by_name
from fuelsim.car.runs import check_runs
from fuelsim.car.surroundings import SUPPLY_VOLTAGE
from fuelsim.car.tables import (
    plain_table,
)
from fuelsim.data_files import named_path
from fuelsim.errors import InputError
from fuelsim.fields import Ratings
from fuelsim.shown import cut_short
from fuelsim.typing import FloatLike, Given, Quantity

__all__ = ["Car"]


@dataclass(frozen=True)
class Car(CarTables):
    """A car with every part of its fuel delivery, ready to be plumbed in any of the standard layouts or its own.

    A car comes from a file (`read_car`), by name (`Car.named`) or from another with some values replaced
    (`with_values`); nothing is solved before `system(layout).solve(...)`.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron").with_values({"feed.bore": "10 mm"})
    >>> car.feed.bore
    0.01
    """

    def __repr__(self) -> str:
        return f"<Car {cut_short(self.name, 60)}: {cut_short(', '.join(self.layouts()) or 'no layout')}>"

    def check(self) -> None:
        """Raise InputError where tables contradict each other."""
        self._check_suction()
        if self.supply is not None and np.any(self.surroundings.supply_voltage != SUPPLY_VOLTAGE):
            raise InputError(
                "the supply is given twice",
                given=self.surroundings.supply_voltage,
                accepted="either a table [supply] or surroundings.supply_voltage",
                key="surroundings.supply_voltage",
            )
        self._check_steps()
        self._check_control()
        check_names(self)
        for name in self.plumbing:
            check_runs(self, name)
        number = None if self.rail is None else self.rail.injectors
        if number not in (None, self.injectors.count) and not self.plumbing:
            raise InputError(
                "the only rail has all injectors",
                given=number,
                accepted=f"{self.injectors.count}, as injectors.count says, or no number",
                key="rail.injectors",
            )

    def _check_suction(self) -> None:
        """Check what stands before the pump of the table ``pump``; a car's own plumbing may use other tables."""
        external = self.pump is not None and self.pump.mounting == "external"
        if external and self.suction is None and not self.plumbing:
            raise InputError("an external pump needs a suction line", accepted="a table [suction]", key="suction")
        if not external and self.pump is not None and self.suction is not None:
            raise InputError(
                "a pump in the tank has no suction line",
                accepted="no table [suction], or pump.mounting = 'external'",
                key="suction",
            )
        if self.anti_siphon is not None and self.suction is None and not self.plumbing:
            raise InputError(
                "an anti-siphon valve belongs to a suction line",
                accepted="no table [anti_siphon], or an external pump with [suction]",
                key="anti_siphon",
            )

    def _check_steps(self) -> None:
        if self.pump_steps is None:
            return
        controlled = plain_table(self.pump, "pump").speed is not None
        wrong = ("duty", "resistance") if controlled else ("speed",)
        for key in wrong:
            if getattr(self.pump_steps, key) is not None:
                raise InputError(
                    f"the pump has {'a' if controlled else 'no'} speed control",
                    accepted="speed" if controlled else "duty or resistance",
                    key=f"pump_steps.{key}",
                )

    def _check_control(self) -> None:
        """Check that no pump has two controllers."""
        plain = "pump" if self.pump_control is not None else None
        if plain is not None and self.pump is None:
            raise InputError(
                "a controller without its pump",
                accepted="a table [pump], or [pump_controls.<pump>]",
                key="pump_control",
            )
        if plain in self.pump_controls:
            raise InputError(
                "the pump has two controllers",
                accepted="either a table [pump_control] or [pump_controls.pump]",
                key="pump_controls.pump",
            )
        if self.pump_steps is not None and (plain is not None or "pump" in self.pump_controls):
            raise InputError(
                "the pump has two controllers", accepted="either [pump_steps] or [pump_control]", key="pump_steps"
            )

    @takes()
    def part(self, name: str) -> Ratings | None:
        """Return a part by its name in runs.

        Parameters
        ----------
        name : str
            Name of a plain table such as ``"feed"``, or of a named one, ``"crossover"`` of ``[lines.crossover]``.

        Returns
        -------
        Ratings or None
            A pot is a part here; None for the tank, for a junction, for a table that is no part of the flow (a wire),
            and for a plain table that the car leaves out.

        Examples
        --------
        >>> car = Car.named("finch")
        >>> car.part("feed") is car.feed, car.part("tank") is None
        (True, True)
        """
        found = named_part(self, name)
        return None if found is None else found.part

    @takes()
    def kind_of(self, name: str) -> str | None:
        """Return the key that holds a part, by its name in runs.

        Parameters
        ----------
        name : str
            As for `part`.

        Returns
        -------
        str or None
            ``"lines"`` for a part of ``[lines.crossover]``, the name itself for a plain table; None where `part` is.

        Examples
        --------
        >>> Car.named("finch").kind_of("feed")
        'feed'
        """
        found = named_part(self, name)
        return None if found is None else found.kind

    @takes()
    def table_of(self, name: str) -> str | None:
        """Return the dotted key of a part's table, by its name in runs.

        Parameters
        ----------
        name : str
            As for `part`.

        Returns
        -------
        str or None
            As in ``"lines.crossover"`` or ``"feed"``, for `with_values` and messages; None where `part` is.

        Examples
        --------
        >>> import fuelsim as fs
        >>> car = Car.named("finch").with_values({"orifices.bleed": fs.Orifice(diameter="0.6 mm")})
        >>> car.table_of("bleed"), car.table_of("feed")
        ('orifices.bleed', 'feed')
        """
        found = named_part(self, name)
        return None if found is None else found.table

    @takes(
        {
            "engine_speed": ENGINE_SPEED,
            "air_temperature": replace(AIR_TEMPERATURE, optional=True),
            "bay_temperature": number("temperature", 223.15, 473.15, example="80 degC", optional=True),
        }
    )
    def supply_voltage(
        self,
        engine_speed: Quantity,
        air_temperature: Quantity = None,
        bay_temperature: Quantity = None,
    ) -> FloatLike:
        """Return the voltage of battery or alternator.

        Parameters
        ----------
        engine_speed : float, str or array
            Engine speed, rpm; 0 with the engine at rest.
        air_temperature, bay_temperature : float, str or array, optional
            Temperatures of battery and regulator, K; those of the car's own surroundings if left out.

        Returns
        -------
        float or array
            V, shaped like `engine_speed`, or one value where the car has no table ``supply``.

        Examples
        --------
        >>> car = Car.named("finch")
        >>> car.supply_voltage(3000.0) == car.surroundings.supply_voltage
        True
        """
        around = self.surroundings
        if self.supply is None:
            voltage: FloatLike = around.supply_voltage
            return voltage
        air = around.air_temperature if air_temperature is None else air_temperature
        bay = air + around.bay_rise if bay_temperature is None else bay_temperature
        return unchecked(self.supply.voltage)(engine_speed, bay, air)

    @classmethod
    @takes()
    def named(cls, name: str) -> Car:
        """Return a demo car of ``data/cars``.

        Parameters
        ----------
        name : str
            Name of the file without its ending, as in ``"finch"``.

        Returns
        -------
        Car

        Raises
        ------
        InputError
            For an unknown name, with the nearest known one.

        Examples
        --------
        >>> Car.named("finch").name
        'Finch'
        """
        return opener.read_car(named_path("cars", name))

    @takes()
    def with_values(self, values: Mapping[str, Given]) -> Car:
        """Return a copy with some values replaced.

        Parameters
        ----------
        values : mapping of str to object
            New values by key as in the car file, as in ``{"feed.bore": "10 mm"}``. A whole table also by the name of a
            generic part of the catalogue, a fuel or a place, as in ``{"pump": "in_tank_220", "fuel": "e85"}``: what is
            the car's own, such as the length of a line or a wire, stays.

        Returns
        -------
        Car
            This one stays as it is.

        Raises
        ------
        InputError
            Naming the car's file and the key.

        Examples
        --------
        >>> import fuelsim as fs
        >>> changes = {"feed": "braided_ptfe -8", "return_line.bore": "10 mm", "pump": "in_tank_220"}
        >>> wide = Car.named("finch").with_values(changes)
        >>> wide.feed.catalogue, wide.feed.length, wide.return_line.bore, wide.pump.catalogue
        ('braided_ptfe_8', 3.0, 0.01, 'in_tank_220')
        """
        try:
            return super().with_values(with_parts_by_name(self, values))
        except InputError as error:
            raise error.at(file=self.file) from None

    @takes({"height": number("length", 0.0, 1.0, example="5 cm", single=True)})
    def with_pump_in_tank(self, height: Quantity = 0.03) -> Car:
        """Return a copy whose pump stands in the tank, without a suction line.

        Parameters
        ----------
        height : float or str
            Height of the pump above the tank's floor, m.

        Returns
        -------
        Car

        Examples
        --------
        >>> car = Car.named("heron").with_pump_in_tank("5 cm")
        >>> car.pump.mounting, car.suction is None, car.pump_height
        ('in_tank', True, 0.05)
        """
        pump = dataclasses.replace(plain_table(self.pump, "pump"), mounting="in_tank")
        return dataclasses.replace(self, pump=pump, suction=None, pump_height=height)

    @takes()
    def with_plumbing(
        self,
        name: str,
        runs: Sequence[Sequence[str]],
        title: str = "",
        heights: Mapping[str, Given] = MappingProxyType({}),
    ) -> Car:
        """Return a copy that can be plumbed in one more way.

        Parameters
        ----------
        name : str
            Name of the plumbing, for `system`; one of that name is replaced.
        runs : list of list of str
            Names in the order of flow: ``"tank"`` and pots, parts of the car's tables, and junctions of any name.
        title : str
            Title for people; left out, the name.
        heights : mapping of str to float or str
            Height of stations above the tank's floor, m; left out, that of what is connected.

        Returns
        -------
        Car

        Raises
        ------
        InputError
            For runs that describe no working plumbing: an unknown name, a part that stands in them twice, a dead end.

        Examples
        --------
        >>> car = Car.named("finch").with_plumbing(
        ...     "short", runs=[["tank", "pump", "feed", "rail", "rail_regulator", "tank"]], title="no filter"
        ... )
        >>> car.layouts()[-1], car.plumbing["short"].title
        ('short', 'no filter')
        """
        try:
            own = PlumbingDescription(runs=runs, title=title, heights=heights)  # type: ignore[arg-type]
        except InputError as error:
            raise error.at(key=f"plumbing.{name}", file=self.file) from None
        try:
            return dataclasses.replace(self, plumbing={**self.plumbing, name: own})  # type: ignore[arg-type]
        except InputError as error:
            raise error.at(file=self.file) from None

    @takes()
    def with_plan(self, plan: Plan) -> Car:
        """Return a copy whose tank and rail lie as a floor plan says.

        Parameters
        ----------
        plan : Plan
            Where they lie, seen from above.

        Returns
        -------
        Car

        Examples
        --------
        >>> Car.named("finch").with_plan(Plan(tank_length="0.6 m")).plan.tank_length
        0.6
        """
        return dataclasses.replace(self, plan=plan)

    def to_toml(self) -> str:
        """Return the text of a car file that reads back as an equal car; `write_car` writes it.

        Returns
        -------
        str
            TOML.
        """
        return opener.car_text(self)

    def layouts(self) -> list[str]:
        """Return the layouts this car has the parts for.

        Returns
        -------
        list of str
            Names that `system` takes.
        """
        return layouts_of(self)

    @takes()
    def system(self, layout: str) -> opener.System:
        """Return the car plumbed in one layout.

        Parameters
        ----------
        layout : str
            Name of one of `layouts`; ``data/layouts.toml`` describes them.

        Returns
        -------
        System
            Its method ``solve`` runs it at operating points.

        Raises
        ------
        InputError
            For an unknown layout, or a part the layout needs and the car lacks.

        Examples
        --------
        >>> run = Car.named("finch").system("return").solve(rpm="5000 rpm", load=1.0)
        >>> bool(run.outcome.converged)
        True
        """
        return opener.System(self, layout)
