"""The car as data: what stands in a car file, one frozen dataclass per table."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fuelsim import opener
from fuelsim.car.engine import Engine
from fuelsim.car.floor_plan import Plan
from fuelsim.car.heat_parts import Cooler, SurgePot
from fuelsim.car.layouts import layouts_of
from fuelsim.car.tables import SUPPLY_VOLTAGE, FuelChoice, PlacedRegulator, PlumbedLine, Rail, Surroundings, Tank
from fuelsim.data_files import named_path
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, origin, quantity, table, text
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.damper import Damper
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.supply import PumpSteps, Supply
from fuelsim.parts.wire import Wire
from fuelsim.typing import FloatLike, Given

__all__ = ["Car"]


@dataclass(frozen=True)
class Car(Ratings):
    """A car with every part of its fuel delivery, ready to be plumbed in any of the layouts.

    A car comes from a file (`read_car`), by name (`Car.named`) or from another with some values replaced
    (`with_values`); nothing is solved before `system(layout).solve(...)`.

    Examples
    --------
    >>> import fuelsim as fs
    >>> car = fs.Car.named("heron").with_values({"feed.bore": "10 mm"})
    >>> car.feed.bore
    0.01
    """

    name: str = text("Name of the car.")
    fuel: FuelChoice = table(FuelChoice, "Fuel in the tank.")
    engine: Engine = table(Engine, "Engine, and how much fuel it asks for.")
    tank: Tank = table(Tank, "Tank and the fuel in it.")
    strainer: Filter = table(Filter, "Suction strainer in the tank.")
    pump: Pump = table(Pump, "Electric fuel pump.")
    wire: Wire = table(Wire, "Wire of the pump with relay, fuse and ground.")
    filter: Filter = table(Filter, "Filter after the pump.")
    feed: PlumbedLine = table(PlumbedLine, "Feed line from the filter to the engine bay.")
    rail: Rail = table(Rail, "Fuel rail.")
    injectors: Injectors = table(Injectors, "Injectors of the engine.")
    suction: PlumbedLine | None = table(PlumbedLine, "Suction line from the tank to an external pump.", default=None)
    return_line: PlumbedLine | None = table(
        PlumbedLine, "Return line from a regulator in the bay to the tank.", default=None
    )
    bay_line: PlumbedLine | None = table(
        PlumbedLine,
        "Line from the regulator in the bay to a dead-ended rail; left out, 0.3 m of the feed's bore.",
        default=None,
    )
    rail_regulator: PlacedRegulator | None = table(
        PlacedRegulator, "The regulator at the end of the rail.", default=None
    )
    tank_regulator: PlacedRegulator | None = table(PlacedRegulator, "The regulator at the tank.", default=None)
    bay_regulator: PlacedRegulator | None = table(
        PlacedRegulator, "The regulator in the bay before the rail.", default=None
    )
    supply: Supply | None = table(
        Supply,
        "Voltage of battery and alternator over the engine's speed; left out, surroundings.supply_voltage at every "
        "speed.",
        default=None,
    )
    pump_steps: PumpSteps | None = table(
        PumpSteps,
        "Controller that slows the pump at low fuel demand; left out, the pump runs at full speed.",
        default=None,
    )
    anti_siphon: CheckValve | None = table(
        CheckValve, "Anti-siphon valve between the tank and the suction line.", default=None
    )
    check_valve: CheckValve | None = table(
        CheckValve, "Check valve at the pump's outlet, where its loss is not in the pump's bench rows.", default=None
    )
    damper: Damper | None = table(Damper, "Pulsation damper on the rail.", default=None)
    cooler: Cooler | None = table(Cooler, "Cooler in the return line.", default=None)
    surge_pot: SurgePot | None = table(SurgePot, "Surge pot beside the pump, for drives.", default=None)
    plan: Plan | None = table(Plan, "Floor plan of the car: where tank and rail lie, for acceleration.", default=None)
    surroundings: Surroundings = table(
        Surroundings, "Weather, supply voltage and the air around the parts.", default=Surroundings()
    )
    about: str = text("Sentence on the car.", default="")
    pump_height: Quantity = quantity(
        "length", "Height of the pump above the tank's floor.", least=-1.0, most=2.0, default=0.05, example="0.1 m"
    )
    file: str | None = origin("File that the car was read from, for messages.")

    def check(self) -> None:
        """Raise InputError where tables contradict each other."""
        external = self.pump.mounting == "external"
        if external and self.suction is None:
            raise InputError("an external pump needs a suction line", accepted="a table [suction]", key="suction")
        if not external and self.suction is not None:
            raise InputError(
                "a pump in the tank has no suction line",
                accepted="no table [suction], or pump.mounting = 'external'",
                key="suction",
            )
        if self.anti_siphon is not None and self.suction is None:
            raise InputError(
                "an anti-siphon valve belongs to a suction line",
                accepted="no table [anti_siphon], or an external pump with [suction]",
                key="anti_siphon",
            )
        if self.supply is not None and np.any(self.surroundings.supply_voltage != SUPPLY_VOLTAGE):
            raise InputError(
                "the supply is given twice",
                given=self.surroundings.supply_voltage,
                accepted="either a table [supply] or surroundings.supply_voltage",
                key="surroundings.supply_voltage",
            )
        self._check_steps()

    def _check_steps(self) -> None:
        if self.pump_steps is None:
            return
        controlled = self.pump.speed is not None
        wrong = ("duty", "resistance") if controlled else ("speed",)
        for key in wrong:
            if getattr(self.pump_steps, key) is not None:
                raise InputError(
                    f"the pump has {'a' if controlled else 'no'} speed control",
                    accepted="speed" if controlled else "duty or resistance",
                    key=f"pump_steps.{key}",
                )

    def supply_voltage(
        self,
        engine_speed: FloatLike,
        air_temperature: FloatLike | None = None,
        bay_temperature: FloatLike | None = None,
    ) -> FloatLike:
        """Return the voltage of battery or alternator.

        Parameters
        ----------
        engine_speed : float or array
            Engine speed, rpm; 0 with the engine at rest.
        air_temperature, bay_temperature : float or array, optional
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
        return self.supply.voltage(engine_speed, bay, air)

    @classmethod
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

    def with_values(self, values: Mapping[str, Given]) -> Car:
        """Return a copy with some values replaced.

        Parameters
        ----------
        values : mapping of str to object
            New values by key as in the car file, as in ``{"feed.bore": "10 mm"}``.

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
        >>> wide = Car.named("finch").with_values({"feed.bore": "10 mm", "pump": Pump.named("in_tank_220")})
        >>> wide.feed.bore, wide.pump.catalogue
        (0.01, 'in_tank_220')
        """
        try:
            return super().with_values(values)
        except InputError as error:
            raise error.at(file=self.file) from None

    def with_pump_in_tank(self, height: Given = 0.03) -> Car:
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
        pump = dataclasses.replace(self.pump, mounting="in_tank")
        return dataclasses.replace(self, pump=pump, suction=None, pump_height=height)

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
