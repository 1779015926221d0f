"""What a bench or a catalogue is asked backwards: power from a pump, bore from a loss, clogging from two gauges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fuelsim import opener
from fuelsim.arguments import Quantity, number, takes, unchecked
from fuelsim.car.car import Car
from fuelsim.errors import InputError
from fuelsim.fuel.fuel import Fuel
from fuelsim.laws.filter import filter_loss
from fuelsim.laws.friction import line_loss
from fuelsim.liquid import Liquid
from fuelsim.numerics.bracket import bisect
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.line import Line
from fuelsim.parts.line_size import LineSize
from fuelsim.parts.pump.pump import Pump
from fuelsim.shown import Shown
from fuelsim.typing import FloatArray, Given, UnitSystem
from fuelsim.units import shown

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "LineForLoss",
    "PumpPower",
    "clogging_of",
    "line_for_loss",
    "power_of_pump",
    "set_pressure_for",
    "tank_liquid",
]

DEFAULT_FUEL = "summer_e10"
BENCH_TEMPERATURE = 293.15
"""Temperature of the fuel where none is said, K."""
REFERENCE_AIR_FUEL_RATIO = 14.7
"""Stoichiometric air-fuel ratio of the petrol in which consumption is stated [doe_fuel_properties]."""
LEAST_BORE, GREATEST_BORE = 1e-3, 0.05
"""Bores between which a line is looked for, m."""
STEPS = 60
"""Halvings of a bracket: below the rounding of any input."""


@dataclass(frozen=True)
class PumpPower(Shown):
    """The engine power that a pump carries.

    Attributes
    ----------
    fuels : tuple of str
        Names of the fuels.
    supply_voltage : array (voltages,)
        Voltage at the pump's terminals, V.
    set_pressure : array (pressures,)
        Set pressure of the regulator, Pa.
    flow : array (voltages, pressures)
        Flow of the pump at set pressure, boost and loss, m3/s.
    power : array (fuels, voltages, pressures)
        Greatest engine power, W; 0 where the pump does not reach the pressure.

    Examples
    --------
    >>> import fuelsim as fs
    >>> fs.power_of_pump(fs.Pump.named("in_tank_220"), ["300 kPa", "400 kPa"]).power.shape
    (2, 1, 2)
    """

    fuels: tuple[str, ...]
    supply_voltage: FloatArray
    set_pressure: FloatArray
    flow: FloatArray
    power: FloatArray

    @property
    def headline(self) -> str:
        """Return the power at the last voltage and first pressure, of each fuel."""
        told = ", ".join(
            f"{shown(float(one[-1, 0]), 'power', digits=3)} on {name}"
            for name, one in zip(self.fuels, self.power, strict=True)
        )
        volts, pressure = float(self.supply_voltage[-1]), float(self.set_pressure[0])
        return f"{told} at {volts:.4g} V and {shown(pressure, 'pressure difference')}"

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per voltage and set pressure: the pump's flow, and the power on each fuel.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> list(fs.power_of_pump(fs.Pump.named("in_tank_220"), "3 bar").table())
        ['pump_L_h', 'summer_e10_kW', 'e85_kW']
        """
        return opener.pump_power_table(self, units)


@takes(
    {
        "set_pressure": number("pressure difference", 1e4, 1e6, flat=True, example="300 kPa"),
        "supply_voltage": number("voltage", 6.0, 60.0, flat=True, example="13.5 V"),
        "boost": number("pressure difference", 0.0, 4e5, single=True, example="60 kPa"),
        "loss": number("pressure difference", 0.0, 5e5, single=True, example="30 kPa"),
        "margin": number("fraction", 0.0, 5.0, single=True, example="20 %"),
        "brake_specific_fuel_consumption": number(
            "specific fuel consumption", 180.0 / 3.6e9, 800.0 / 3.6e9, single=True, example="305 g/kWh"
        ),
    }
)
def power_of_pump(
    pump: Pump,
    set_pressure: Quantity,
    *,
    supply_voltage: Quantity = 13.5,
    boost: Quantity = 0.0,
    loss: Quantity = 30e3,
    margin: Quantity = 0.2,
    fuels: Sequence[str] = (DEFAULT_FUEL, "e85"),
    brake_specific_fuel_consumption: Quantity = 305.0 / 3.6e9,
) -> PumpPower:
    """Return the greatest engine power that a pump carries, over volts, set pressure and fuel.

    The pump delivers against set pressure, boost and the loss on the way; of its flow the margin over what is burnt
    returns. On another fuel than petrol the engine burns more mass in proportion to the stoichiometric air-fuel ratios.

    Parameters
    ----------
    pump : Pump
        The pump.
    set_pressure : float, str or array (pressures,)
        Set pressure of the regulator, Pa.
    supply_voltage : float, str or array (voltages,)
        Voltage at the pump's terminals, in V: what the wire leaves.
    boost : float or str
        Boost pressure that is added to the set pressure, Pa.
    loss : float or str
        Pressure lost in filter, lines and height between pump and regulator, Pa.
    margin : float or str
        Flow of the pump beyond what is burnt, as a fraction of the latter [common_practice].
    fuels : sequence of str
        Names of fuels.
    brake_specific_fuel_consumption : float or str
        Petrol burnt per shaft work, kg/J: naturally aspirated 274 to 304 g/kWh, boosted 335 to 395 [trade_guides].

    Returns
    -------
    PumpPower

    Raises
    ------
    InputError
        For an unknown fuel or a value that is not plausible.

    Examples
    --------
    >>> import fuelsim as fs
    >>> pump = fs.Pump.named("in_tank_220")
    >>> answer = power_of_pump(pump, ["300 kPa", "400 kPa"], supply_voltage=["12 V", "13.5 V"])
    >>> answer.table()["e85_kW"].round(0).tolist()
    [284.0, 244.0, 342.0, 303.0]
    """
    if not fuels:
        raise InputError("no fuels", accepted="at least one name, such as 'summer_e10'", key="fuels")
    volts, pressures = np.atleast_1d(supply_voltage).astype(float), np.atleast_1d(set_pressure).astype(float)
    rise = pressures + boost + loss
    running = [pump.at(supply_voltage=float(one)) for one in volts]
    flow = np.array([np.maximum([float(unchecked(one.flow)(float(each))) for each in rise], 0.0) for one in running])
    powers = []
    for name in fuels:
        fuel = Fuel.named(name)
        per_work = brake_specific_fuel_consumption * REFERENCE_AIR_FUEL_RATIO / fuel.stoichiometric_air_fuel_ratio
        powers.append(flow * float(fuel.density(BENCH_TEMPERATURE)) / (1.0 + margin) / per_work)
    return PumpPower(tuple(fuels), volts, pressures, flow, np.array(powers))


@dataclass(frozen=True)
class LineForLoss(Shown):
    """The bore that loses what was stated, and the sizes of each family that lose no more.

    Attributes
    ----------
    flow : float
        Volume flow, m3/s.
    loss : float
        Pressure that may be lost, Pa.
    bore : float
        Least bore that loses no more, m.
    velocity : float
        Velocity in that bore, m/s.
    sizes : tuple of str
        Smallest size of each family of the catalogue that loses no more, the smallest bore first.
    size_bores, size_losses : array (sizes,)
        Their bores, m, and what each loses, Pa.

    Examples
    --------
    >>> import fuelsim as fs
    >>> fs.line_for_loss("10 kPa", "200 L/h", "5 m")
    <LineForLoss: 200 L/h lose 10 kPa in a bore of 7.655 mm; smallest size: dash_tube_6>
    """

    flow: float
    loss: float
    bore: float
    velocity: float
    sizes: tuple[str, ...]
    size_bores: FloatArray
    size_losses: FloatArray

    @property
    def headline(self) -> str:
        """Return the bore, and the smallest size of the catalogue that loses no more."""
        smallest = f"smallest size: {self.sizes[0]}" if self.sizes else "no size of the catalogue is as large"
        flow, loss = shown(self.flow, "volume flow"), shown(self.loss, "pressure difference")
        return f"{flow} lose {loss} in a bore of {shown(self.bore, 'bore')}; {smallest}"

    def table(self, units: UnitSystem | None = None) -> pd.DataFrame:
        """Return one row per family: its smallest size that loses no more, with bore, loss and velocity.

        Parameters
        ----------
        units : str, optional
            A name of `units.SYSTEMS`; left out, the preferred one.

        Returns
        -------
        pandas.DataFrame

        Examples
        --------
        >>> import fuelsim as fs
        >>> sizes = fs.line_for_loss("10 kPa", "200 L/h", "5 m").table()
        >>> bool((sizes["loss_kPa"] <= 10.0).all())
        True
        """
        return opener.line_for_loss_table(self, units)


@takes(
    {
        "loss": number("pressure difference", 1.0, 2e6, single=True, example="10 kPa"),
        "flow": number("volume flow", 1e-7, 1e-2, single=True, example="200 L/h"),
        "length": number("length", 1e-2, 100.0, single=True, example="5 m"),
        "roughness": number("roughness", 0.0, 1e-3, single=True, example="1.5 µm"),
        "loss_coefficient": number("number", 0.0, 1e4, single=True, example="3"),
    }
)
def line_for_loss(
    loss: Quantity,
    flow: Quantity,
    length: Quantity,
    *,
    liquid: Liquid | None = None,
    roughness: Quantity = 1.5e-6,
    loss_coefficient: Quantity = 0.0,
) -> LineForLoss:
    """Return the least bore of a line that loses no more than stated, and the sizes to buy.

    Parameters
    ----------
    loss : float or str
        Pressure that may be lost, Pa.
    flow : float or str
        Volume flow, m3/s.
    length : float or str
        Length of the line, m.
    liquid : Liquid, optional
        The fuel; left out, summer petrol at 20 degC.
    roughness : float or str
        Roughness of the wall, in m; left out, that of drawn tube. A size of the catalogue that is rougher has its own.
    loss_coefficient : float
        Sum of the loss coefficients K of bends and fittings.

    Returns
    -------
    LineForLoss

    Raises
    ------
    InputError
        Where no bore from 1 mm to 50 mm loses as much or as little.

    Examples
    --------
    >>> import fuelsim as fs
    >>> answer = line_for_loss("21 kPa", "200 L/h", "5 m")
    >>> answer.sizes[0], round(answer.bore * 1e3, 1)
    ('dash_tube_6', 6.6)
    """
    fluid = _or_usual(liquid)

    def lost(bore: FloatArray, wall: float) -> FloatArray:
        line = Line(length=length, bore=bore, roughness=wall, loss_coefficient=loss_coefficient)
        return np.asarray(line_loss(np.full(np.shape(bore), flow), line.coefficients(fluid))[0])

    ends = lost(np.array([LEAST_BORE, GREATEST_BORE]), roughness)
    if not ends[1] < loss < ends[0]:
        raise InputError(
            "no usual bore loses that",
            given=shown(float(loss), "pressure difference"),
            accepted=f"{shown(float(ends[1]), 'pressure difference')} at 50 mm to "
            f"{shown(float(ends[0]), 'pressure difference')} at 1 mm",
            key="loss",
        )
    bore = float(bisect(lambda middle: lost(np.atleast_1d(middle), roughness)[0] > loss, 1e-3, GREATEST_BORE, STEPS))
    smallest: dict[str, tuple[float, float, str]] = {}
    for name in catalogue_names("lines"):
        size = LineSize.named(name)
        own = float(size.inside_diameter)
        its_loss = float(lost(np.array([own]), max(float(size.roughness), roughness))[0])
        if its_loss <= loss and (size.family not in smallest or own < smallest[size.family][0]):
            smallest[size.family] = (own, its_loss, name)
    rows = sorted(smallest.values())
    return LineForLoss(
        flow=float(flow),
        loss=float(loss),
        bore=bore,
        velocity=float(flow) / (0.25 * np.pi * bore**2),
        sizes=tuple(name for _, _, name in rows),
        size_bores=np.array([own for own, _, _ in rows]),
        size_losses=np.array([its_loss for _, its_loss, _ in rows]),
    )


@takes(
    {
        "flow": number("volume flow", 1e-7, 1e-2, single=True, example="120 L/h"),
        "pressure_before": number("pressure difference", -1e5, 2e6, single=True, example="340 kPa"),
        "pressure_after": number("pressure difference", -1e5, 2e6, single=True, example="300 kPa"),
    }
)
def clogging_of(
    filter: Filter,  # the part's own name
    flow: Quantity,
    pressure_before: Quantity,
    pressure_after: Quantity,
    *,
    liquid: Liquid | None = None,
) -> float:
    """Return how clogged a filter is from a gauge before and a gauge after it.

    Clogging multiplies the viscous part of the resistance; the inertial part stays.

    Parameters
    ----------
    filter : Filter
        The clean filter, such as ``fs.Filter.named("canister_medium")`` or one of its own rated flow and drop.
    flow : float or str
        Volume flow through it while both were read, m3/s.
    pressure_before, pressure_after : float or str
        Pressures read, Pa, both above the same atmosphere.
    liquid : Liquid, optional
        The fuel; left out, summer petrol at 20 degC.

    Returns
    -------
    float
        Factor on the clean filter's viscous resistance: 1 clean, 4 old, 10 blocked; below 1 where it lost less than
        the clean one, as where a gauge reads wrong.

    Raises
    ------
    InputError
        Where the pressure rises across the filter.

    Examples
    --------
    >>> import fuelsim as fs
    >>> medium = fs.Filter.named("canister_medium")
    >>> round(clogging_of(medium, "200 L/h", "340 kPa", "300 kPa"), 1)
    3.1
    """
    drop = float(pressure_before - pressure_after)
    if drop <= 0.0:
        raise InputError(
            "the pressure rises across the filter",
            given=f"{shown(float(pressure_before), 'pressure difference')} before and "
            f"{shown(float(pressure_after), 'pressure difference')} after",
            accepted="the greater pressure before it; the two gauges may be exchanged",
            key="pressure_before",
        )
    fluid = _or_usual(liquid)
    once, twice = (
        float(filter_loss(np.asarray(flow, dtype=float), filter.with_values({"clogging": c}).coefficients(fluid))[0])
        for c in (1.0, 2.0)
    )
    return 1.0 + (drop - once) / (twice - once)


@takes(
    {
        "density": number("density", 500.0, 1200.0, single=True, optional=True, example="745 kg/m3"),
    }
)
def set_pressure_for(injectors: Injectors, flow: Given, *, density: Quantity = None) -> float:
    """Return the pressure of rail over manifold at which one injector held open passes a wanted flow.

    Parameters
    ----------
    injectors : Injectors
        With their static flow at the rated pressure and density.
    flow : float or str
        Wanted static flow of one injector, m3/s, or text such as ``"260 mL/min"`` or ``"42 lb/h"``; a mass flow is of
        the rated fluid.
    density : float or str, optional
        Density of the fuel in the rail, kg/m3; left out, that of the rated fluid.

    Returns
    -------
    float
        Rail over manifold pressure, Pa: the set pressure of a regulator with its hose at the manifold. Whether pump,
        lines and injectors bear it is another question.

    Raises
    ------
    InputError
        For a value that is not plausible.

    Examples
    --------
    Flow goes with the square root of the pressure: a third more pressure gives 15.5 % more flow.

    >>> import fuelsim as fs
    >>> injectors = fs.Injectors(count=1, static_flow="200 mL/min", rated_pressure="300 kPa")
    >>> round(set_pressure_for(injectors, "231 mL/min") / 1e3)
    400
    """
    fluid = injectors.rated_density if density is None else density
    wanted = injectors.with_values({"static_flow": flow}).static_flow
    if np.ndim(wanted) or wanted is None:
        raise InputError("not one flow", given=flow, accepted="one value, such as '260 mL/min'", key="flow")
    rated = unchecked(injectors.static_volume_flow)(np.asarray(injectors.rated_pressure), np.asarray(fluid))
    return float(injectors.rated_pressure * (float(wanted) * injectors.count / rated) ** 2)


def _or_usual(liquid: Liquid | None) -> Liquid:
    """Return a liquid; left out, the usual petrol at the temperature of a bench."""
    return Fuel.named(DEFAULT_FUEL).liquid(BENCH_TEMPERATURE) if liquid is None else liquid


def tank_liquid(car: Car) -> Liquid:
    """Return the fuel of a car as a liquid at the temperature of its tank.

    Parameters
    ----------
    car : Car

    Returns
    -------
    Liquid

    Examples
    --------
    >>> 700.0 < float(tank_liquid(Car.named("finch")).density) < 760.0
    True
    """
    return car.fuel.fuel().liquid(float(np.max(car.surroundings.fuel_temperature)))
