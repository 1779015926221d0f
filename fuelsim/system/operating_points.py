"""Operating points: everything that a batch of points is solved with, filled in and broadcast once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace

import numpy as np

from fuelsim.arguments import unchecked
from fuelsim.car.car import Car
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.fuels import FuelPerPoint
from fuelsim.laws.atmosphere import standard_pressure
from fuelsim.system.conditions import Conditions
from fuelsim.typing import BoolArray, FloatLike, IndexArray, PointArray

__all__ = ["OperatingPoints"]


@dataclass(frozen=True)
class OperatingPoints:
    """What the driver, the weather, the engine and the pump's controller ask at each point; every array is (points,).

    Attributes
    ----------
    rpm : array
        Engine speed, rpm.
    load : array
        Fraction of the full-load air charge.
    tank_temperature, air_temperature : array
        K.
    atmospheric_pressure, manifold_pressure : array
        Pa absolute.
    vapour_space_pressure : array
        In the tank, Pa above the atmosphere.
    supply_voltage : array
        V at the battery or alternator.
    vehicle_speed : array
        m/s.
    fuel_mass_flow : array
        Fuel that the engine asks for, kg/s.
    lambda_demanded : array
        Air-fuel ratio that the engine asks for over the stoichiometric one.
    asked_duty : array
        Share of the time the pumps are switched on, as asked.
    pump_duty : array
        The same of the car's plain pump, times what its steps make of it.
    pump_speed : array
        Speed of the car's plain pump if it is speed-controlled, rpm; 0 for others.
    pump_resistance : array
        Resistance that the steps of the car's plain pump put into its wire, ohm.
    pump_wear : array
        Share of its flow that a pump has lost.
    staged_before : bool array
        Whether pumps that are staged ran before, which decides between their two thresholds.
    engine_temperature : array
        Temperature of the engine's metal, K.
    bay_temperature, underfloor_temperature : array or None
        K; None where they follow from the air's temperature.
    pot_temperatures : dict of str to array
        Given temperature of the fuel in each pot, K; a pot that is not there takes the mean of what flows in.
    """

    rpm: PointArray
    load: PointArray
    tank_temperature: PointArray
    air_temperature: PointArray
    atmospheric_pressure: PointArray
    vapour_space_pressure: PointArray
    manifold_pressure: PointArray
    supply_voltage: PointArray
    vehicle_speed: PointArray
    fuel_mass_flow: PointArray
    lambda_demanded: PointArray
    asked_duty: PointArray
    pump_duty: PointArray
    pump_speed: PointArray
    pump_resistance: PointArray
    pump_wear: PointArray
    staged_before: BoolArray
    engine_temperature: PointArray
    bay_temperature: PointArray | None = None
    underfloor_temperature: PointArray | None = None
    pot_temperatures: dict[str, PointArray] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.rpm)

    @property
    def tank_pressure(self) -> PointArray:
        """Pressure in the tank, Pa absolute."""
        return self.atmospheric_pressure + self.vapour_space_pressure

    @classmethod
    def of(
        cls,
        car: Car,
        fuel: Fuel | FuelPerPoint,
        conditions: Conditions,
        pot_temperatures: Mapping[str, FloatLike] | None = None,
    ) -> OperatingPoints:
        """Return the operating points of a car.

        Parameters
        ----------
        car : Car
            Ratings that are lists have one value per point.
        fuel : Fuel or FuelPerPoint
            In the tank.
        conditions : Conditions
            Filled in; its shape is that of the batch.
        pot_temperatures : mapping of str to float or array, optional
            Given temperature of the fuel in each pot, K; of shapes that broadcast with the conditions.
        """
        asked = conditions.points()
        atmosphere = np.asarray(standard_pressure(asked["altitude"]), dtype=float)
        demand = unchecked(car.engine.demand)(
            asked["rpm"],
            asked["load"],
            stoichiometric_air_fuel_ratio=fuel.stoichiometric_air_fuel_ratio,
            atmospheric_pressure=atmosphere,
            air_temperature=asked["air_temperature"],
            engine_temperature=asked["engine_temperature"],
        )
        asked_flow = demand.fuel_mass_flow * asked["fuel_demand"]
        burnt = asked_flow / fuel.tables().density(asked["tank_temperature"])
        gauge = asked.get("vapour_space_pressure")
        steps = car.pump_steps
        bench_speed = np.full(np.shape(burnt), 0.0 if car.pump is None else car.pump.bench_speed or 0.0)
        return cls(
            rpm=asked["rpm"],
            load=asked["load"],
            tank_temperature=asked["tank_temperature"],
            air_temperature=asked["air_temperature"],
            atmospheric_pressure=atmosphere,
            vapour_space_pressure=unchecked(car.tank.gauge_pressure)(burnt) if gauge is None else gauge,
            manifold_pressure=demand.manifold_pressure,
            supply_voltage=asked["supply_voltage"],
            vehicle_speed=asked["vehicle_speed"],
            fuel_mass_flow=asked_flow,
            lambda_demanded=demand.lambda_demanded,
            asked_duty=asked["pump_duty"],
            pump_duty=asked["pump_duty"] * (1.0 if steps is None else unchecked(steps.duty_at)(burnt)),
            pump_speed=bench_speed if steps is None else unchecked(steps.speed_at)(burnt, bench_speed),
            pump_resistance=np.zeros(np.shape(burnt)) if steps is None else unchecked(steps.resistance_at)(burnt),
            pump_wear=asked["pump_wear"],
            staged_before=np.full(np.shape(burnt), conditions.staging == "falling"),
            engine_temperature=asked["engine_temperature"],
            bay_temperature=asked.get("bay_temperature"),
            underfloor_temperature=asked.get("underfloor_temperature"),
            pot_temperatures={
                pot: np.broadcast_to(temperature, conditions.shape).reshape(-1)
                for pot, temperature in (pot_temperatures or {}).items()
            },
        )

    def take(self, index: IndexArray) -> OperatingPoints:
        """Return some of the points."""
        given = {item.name: getattr(self, item.name) for item in fields(self) if item.name != "pot_temperatures"}
        pots = {pot: temperature[index] for pot, temperature in self.pot_temperatures.items()}
        values = {name: value[index] for name, value in given.items() if value is not None}
        return replace(self, pot_temperatures=pots, **values)
