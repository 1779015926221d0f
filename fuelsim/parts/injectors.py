"""Injectors: static flow, dead time, pulse and duty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fuelsim import fields
from fuelsim.arguments import (
    ENGINE_SPEED,
    FUEL_DENSITY,
    MASS_FLOW,
    PRESSURE_DIFFERENCE,
    VOLTAGE,
    number,
    takes,
    unchecked,
)
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, quantity, series
from fuelsim.laws.injector import INJECTOR, InjectorCoefficients, dead_time_at, event_window, static_flow
from fuelsim.laws.link import LinkLaw
from fuelsim.liquid import Liquid
from fuelsim.parts.batches import require_one_batch, require_single
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.part import Part
from fuelsim.typing import FloatArray

__all__ = ["HEPTANE_DENSITY", "TYPICAL_DEAD_TIMES", "TYPICAL_DEAD_TIME_VOLTAGES", "Injectors"]

HEPTANE_DENSITY = 684.0
"""Density of n-heptane near 20 degC, kg/m3: injectors are rated with it at 300 kPa by custom
of the trade [common_practice]; the scope of SAE J1832 names neither fluid nor pressure [sae_j1832]."""
TYPICAL_DEAD_TIME_VOLTAGES, TYPICAL_DEAD_TIMES = (
    (8.0, 10.0, 12.0, 13.0, 14.0, 16.0),
    (2.4e-3, 1.55e-3, 1.10e-3, 0.95e-3, 0.83e-3, 0.68e-3),
)
"""Voltages, and dead time of a high-impedance injector at these voltages and 300 kPa, s [memory]."""
_AT_A_POINT = {
    "pressure_difference": PRESSURE_DIFFERENCE,
    "density": FUEL_DENSITY,
    "engine_speed": ENGINE_SPEED,
    "voltage": VOLTAGE,
}
"""Arguments that describe the operating point of an injector."""
_LEAST_OPENING = 1e-6
"""Fraction of time open at the least, so that injectors without a demand keep a law; their demand is 0 then."""


@dataclass(frozen=True, eq=False)
class Injectors(Part, Catalogued):
    """The injectors of one rail, all alike.

    As a link from rail to manifold they pass the mass flow that the engine asks for, up to their static flow.

    The static flow falls with vapour in the rail as 1/sqrt(1 + 2 V/L): a homogeneous mixture whose gas, at the mean of
    rail and manifold pressure, has twice the volume it has in the rail [assumed]. A V/L of 0.05 then leans an open-loop
    mixture by 4.7 %; 3-5 % are quoted [memory], low confidence.

    A controller's own limit of the duty is often 0.85-0.95. The dead time grows by 0.04-0.10 ms/bar at 14 V, and the
    flow is proportional to the pulse from 1.2-2.0 ms on [memory].

    Examples
    --------
    >>> bank = Injectors(count=8, static_flow="250 mL/min")
    >>> duty = bank.duty(mass_flow=0.015, pressure_difference=3e5, density=745.0, engine_speed=5400.0, voltage=13.5)
    >>> round(float(duty), 3)
    0.67
    """

    law: ClassVar[LinkLaw] = INJECTOR
    catalogue_kind: ClassVar[str] = "injectors"

    count: int = fields.count("Number of injectors on this rail.", least=1, most=48, example="8")
    static_flow: Quantity = quantity(
        "injector flow",
        "Volume flow of one injector held open, at the rated pressure with the rated fluid; a mass flow, as in "
        "'24 lb/h', is divided by the rated density. Where a supplier counts 10.5 mL/min for 1 lb/h, it is 720 kg/m3.",
        least=1e-7,
        most=1e-4,
        default=250e-6 / 60.0,
        example="250 mL/min",
        mass_by="rated_density",
    )
    rated_pressure: Quantity = quantity(
        "pressure difference",
        "Pressure difference at which the static flow is rated.",
        least=3e4,
        most=2e6,
        default=3e5,
        example="300 kPa",
    )
    rated_density: Quantity = quantity(
        "density",
        "Density of the rated fluid: n-heptane 684, petrol 745.",
        least=600.0,
        most=900.0,
        default=HEPTANE_DENSITY,
        example="684 kg/m3",
    )
    mass_demand: Quantity = quantity(
        "mass flow",
        "Mass flow that the engine asks of all injectors together.",
        least=0.0,
        most=2.0,
        default=0.0,
        operating=True,
    )
    vapour_liquid_ratio: Quantity = quantity(
        "number",
        "Ratio of vapour to liquid volume in the rail, V/L.",
        least=0.0,
        most=1e6,
        default=0.0,
        operating=True,
    )
    longest_opening: Quantity = quantity(
        "fraction",
        "Greatest fraction of time that the controller holds the injectors open, dead time excluded.",
        least=0.0,
        most=1.0,
        default=1.0,
        operating=True,
    )
    shortest_opening: Quantity = quantity(
        "fraction",
        "Least fraction of time that the controller holds the injectors open, dead time excluded.",
        least=0.0,
        most=1.0,
        default=0.0,
        operating=True,
    )
    duty_limit: Quantity = quantity(
        "fraction",
        "Greatest fraction of time the injectors are open; 1 is held open.",
        least=0.05,
        most=1.0,
        default=1.0,
        example="95 %",
    )
    injections_per_cycle: int = fields.count(
        "Injections of each injector in two turns of the crankshaft: 1 sequential, 2 batch fire.",
        least=1,
        most=4,
        default=1,
    )
    dead_time_voltage: Quantity = series(
        "voltage", "Voltages of the dead-time table.", least=1.0, most=60.0, default=TYPICAL_DEAD_TIME_VOLTAGES
    )
    dead_time: Quantity = series(
        "pulse time",
        "Dead time at each voltage of the table.",
        least=0.0,
        most=1e-2,
        default=TYPICAL_DEAD_TIMES,
        example="0.83 ms",
    )
    dead_time_pressure: Quantity = quantity(
        "pressure difference",
        "Pressure difference of the dead-time table.",
        least=3e4,
        most=2e6,
        default=3e5,
        example="300 kPa",
    )
    dead_time_rise: Quantity = quantity(
        "time per pressure",
        "Growth of the dead time with pressure.",
        least=0.0,
        most=1e-8,
        default=0.07e-8,
        example="0.07 ms/bar",
    )
    shortest_pulse: Quantity = quantity(
        "pulse time",
        "Shortest pulse to which the flow is proportional.",
        least=0.0,
        most=1e-2,
        default=1.5e-3,
        example="1.5 ms",
    )
    coil_resistance: Quantity = quantity(
        "resistance",
        "Resistance of one injector's coil.",
        least=0.1,
        most=200.0,
        default=12.0,
        example="12 ohm",
    )
    hold_current: Quantity = quantity(
        "current",
        "Current to which a driver limits one injector while it holds it open; left out, what voltage and resistance "
        "let through.",
        least=0.05,
        most=10.0,
        default=None,
        example="1 A",
    )
    coil_heat_share: Quantity = quantity(
        "fraction",
        "Share of the coils' heat that warms the fuel of the rail; what goes into the engine's metal, into the air, or "
        "with the injected fuel into the engine is not among it.",
        least=0.0,
        most=1.0,
        default=0.0,
        example="30 %",
    )

    def check(self) -> None:
        """Check the dead-time table, and that lists over operating points agree."""
        require_one_batch(self, ("static_flow", "rated_pressure", "rated_density", "mass_demand", "duty_limit"))
        require_single(self, ("dead_time_pressure", "dead_time_rise", "shortest_pulse"))
        if len(self.dead_time) != len(self.dead_time_voltage):
            raise InputError(
                f"{len(self.dead_time)} times, but {len(self.dead_time_voltage)} voltages",
                given=self.dead_time.tolist(),
                accepted=f"{len(self.dead_time_voltage)} times",
                key="dead_time",
            )
        if np.any(np.diff(self.dead_time_voltage) <= 0.0):
            raise InputError("the voltages do not rise", given=self.dead_time_voltage.tolist(), key="dead_time_voltage")
        if np.any(np.diff(self.dead_time) > 0.0):
            raise InputError("the dead time grows with voltage", given=self.dead_time.tolist(), key="dead_time")

    @takes()
    def coefficients(self, liquid: Liquid) -> InjectorCoefficients:
        """Return the coefficients of the injector law: volume flow asked for, and conductance of the open injectors."""
        rated = unchecked(self.static_volume_flow)(self.rated_pressure, liquid.density)
        held_open = rated / np.sqrt(self.rated_pressure)
        longest = np.maximum(np.minimum(self.duty_limit, self.longest_opening), _LEAST_OPENING)
        return InjectorCoefficients(
            demand=self.mass_demand / liquid.density,
            conductance=longest * held_open,
            least_conductance=np.minimum(self.shortest_opening, longest) * held_open,
        )

    @takes({"pressure_difference": PRESSURE_DIFFERENCE, "density": FUEL_DENSITY})
    def static_volume_flow(self, pressure_difference: Quantity, density: Quantity) -> FloatArray:
        """Return the volume flow of liquid through all injectors held open.

        Parameters
        ----------
        pressure_difference : float, str or array (points,)
            Rail over manifold pressure, Pa.
        density : float, str or array (points,)
            Density of the fuel in the rail, kg/m3.

        Returns
        -------
        array
            Volume flow, m3/s.

        Examples
        --------
        >>> bank = Injectors(count=4, static_flow="240 mL/min")
        >>> round(float(bank.static_volume_flow(4 * 3e5, 684.0)) * 1e6, 6)  # twice 16 mL/s
        32.0
        """
        held_open = static_flow(self.static_flow, self.rated_pressure, self.rated_density, pressure_difference, density)
        result: FloatArray = self.count * held_open / np.sqrt(1.0 + 2.0 * self.vapour_liquid_ratio)
        return result

    @takes({"engine_speed": ENGINE_SPEED})
    def window(self, engine_speed: Quantity) -> FloatArray:
        """Return the time from one injection to the next of one injector.

        Parameters
        ----------
        engine_speed : float, str or array (points,)
            Engine speed, rpm.

        Returns
        -------
        array
            Time, s; infinite for an engine at rest.

        Examples
        --------
        >>> float(Injectors(count=4, injections_per_cycle=2).window(6000.0))
        0.01
        """
        return np.asarray(event_window(np.asarray(engine_speed, dtype=float)) / self.injections_per_cycle)

    @takes({"voltage": VOLTAGE, "pressure_difference": PRESSURE_DIFFERENCE})
    def opening_loss(self, voltage: Quantity, pressure_difference: Quantity) -> FloatArray:
        """Return the dead time.

        Parameters
        ----------
        voltage : float, str or array (points,)
            Voltage at the injectors, V.
        pressure_difference : float, str or array (points,)
            Rail over manifold pressure, Pa.

        Returns
        -------
        array
            Dead time, s.

        Examples
        --------
        >>> round(1e3 * float(Injectors(count=4).opening_loss(14.0, 4e5)), 3)  # 0.83 ms and 0.07 ms/bar
        0.9
        """
        return dead_time_at(
            voltage,
            pressure_difference,
            self.dead_time_voltage,
            self.dead_time,
            self.dead_time_pressure,
            self.dead_time_rise,
        )

    @takes(_AT_A_POINT | {"mass_flow": MASS_FLOW})
    def pulse(
        self,
        mass_flow: Quantity,
        pressure_difference: Quantity,
        density: Quantity,
        engine_speed: Quantity,
        voltage: Quantity,
    ) -> FloatArray:
        """Return the commanded pulse of one injection, dead time included.

        Parameters
        ----------
        mass_flow : float, str or array (points,)
            Mass flow of all injectors together, kg/s.
        pressure_difference : float, str or array (points,)
            Rail over manifold pressure, Pa.
        density : float, str or array (points,)
            Density of the fuel, kg/m3.
        engine_speed : float, str or array (points,)
            Engine speed, rpm.
        voltage : float, str or array (points,)
            Voltage at the injectors, V.

        Returns
        -------
        array
            Pulse, s; zero without flow, infinite where no pressure drives the flow.

        Examples
        --------
        Half of the static mass flow at 6000 rpm, 20 ms a cycle, with a dead time of 0.83 ms:

        >>> bank = Injectors(count=4, static_flow="240 mL/min")
        >>> round(1e3 * float(bank.pulse(0.5 * 16e-6 * 684.0, 3e5, 684.0, 6000.0, 14.0)), 2)
        10.83
        """
        mass_flow = np.asarray(mass_flow, dtype=float)
        held_open = unchecked(self.static_volume_flow)(pressure_difference, density) * density
        with np.errstate(divide="ignore", invalid="ignore"):
            open_time = mass_flow / held_open * unchecked(self.window)(engine_speed)
        pulse = open_time + unchecked(self.opening_loss)(voltage, pressure_difference)
        return np.where(mass_flow > 0.0, pulse, 0.0)

    @takes(_AT_A_POINT | {"mass_flow": MASS_FLOW})
    def duty(
        self,
        mass_flow: Quantity,
        pressure_difference: Quantity,
        density: Quantity,
        engine_speed: Quantity,
        voltage: Quantity,
    ) -> FloatArray:
        """Return pulse over window, the duty with which a controller delivers the mass flow.

        Above 1 the injectors are static and cannot deliver the mass flow. Size for 0.85: 0.92 and more
        is static [injector_glossaries].

        Parameters
        ----------
        mass_flow : float, str or array (points,)
            Mass flow of all injectors together, kg/s.
        pressure_difference : float, str or array (points,)
            Rail over manifold pressure, Pa.
        density : float, str or array (points,)
            Density of the fuel, kg/m3.
        engine_speed : float, str or array (points,)
            Engine speed, rpm.
        voltage : float, str or array (points,)
            Voltage at the injectors, V.

        Returns
        -------
        array
            Duty; 0 for an engine at rest.

        Examples
        --------
        >>> bank = Injectors(count=4, static_flow="240 mL/min")
        >>> round(float(bank.duty(0.5 * 16e-6 * 684.0, 3e5, 684.0, 6000.0, 14.0)), 4)
        0.5415
        """
        pulse, window = (
            unchecked(self.pulse)(mass_flow, pressure_difference, density, engine_speed, voltage),
            unchecked(self.window)(engine_speed),
        )
        with np.errstate(invalid="ignore"):
            return np.where(np.isinf(window), 0.0, pulse / window)

    @takes({"voltage": VOLTAGE})
    def coil_power(self, voltage: Quantity) -> FloatArray:
        """Return the heat of one coil while it is switched on.

        Parameters
        ----------
        voltage : float, str or array (points,)
            Voltage at the injectors, V.

        Returns
        -------
        array
            Heat, W: I^2 R with the current that voltage or driver lets through.

        Examples
        --------
        >>> round(float(Injectors(count=4).coil_power(13.5)), 1)  # 13.5 V squared over 12 ohm
        15.2
        """
        through = np.asarray(voltage, dtype=float) / self.coil_resistance
        current = through if self.hold_current is None else np.minimum(through, self.hold_current)
        power: FloatArray = current * current * self.coil_resistance
        return power

    @takes(_AT_A_POINT | {"pulse": number("pulse time", 0.0, 1.0, example="5 ms")})
    def delivered_mass_flow(
        self,
        pulse: Quantity,
        pressure_difference: Quantity,
        density: Quantity,
        engine_speed: Quantity,
        voltage: Quantity,
    ) -> FloatArray:
        """Return the mass flow of all injectors for a commanded pulse, as with an open-loop controller.

        Parameters
        ----------
        pulse : float, str or array (points,)
            Commanded pulse, dead time included, s.
        pressure_difference : float, str or array (points,)
            Rail over manifold pressure, Pa.
        density : float, str or array (points,)
            Density of the fuel, kg/m3.
        engine_speed : float, str or array (points,)
            Engine speed, rpm.
        voltage : float, str or array (points,)
            Voltage at the injectors, V.

        Returns
        -------
        array
            Mass flow, kg/s.

        Examples
        --------
        The mixture error of an open-loop controller whose rail has lost a tenth of its pressure:

        >>> bank = Injectors(count=4, static_flow="220 mL/min", dead_time_rise=0.0)
        >>> pulse = bank.pulse(0.004, 3.0e5, 745.0, 4000.0, 13.5)
        >>> round(float(bank.delivered_mass_flow(pulse, 2.7e5, 745.0, 4000.0, 13.5)) / 0.004 - 1.0, 3)
        -0.051
        """
        held_open = unchecked(self.static_volume_flow)(pressure_difference, density) * density
        open_time = np.asarray(pulse, dtype=float) - unchecked(self.opening_loss)(voltage, pressure_difference)
        result: FloatArray = held_open * np.clip(open_time / unchecked(self.window)(engine_speed), 0.0, 1.0)
        return result

    @takes(_AT_A_POINT | {"mass_flow": MASS_FLOW, "assumed_pressure_difference": PRESSURE_DIFFERENCE})
    def mixture_error(
        self,
        mass_flow: Quantity,
        pressure_difference: Quantity,
        assumed_pressure_difference: Quantity,
        density: Quantity,
        engine_speed: Quantity,
        voltage: Quantity,
    ) -> FloatArray:
        """Return the relative error of mass flow when an open-loop controller assumes another pressure difference.

        An example is a controller set up for manifold reference with a rail at a fixed pressure above the atmosphere.

        Parameters
        ----------
        mass_flow : float, str or array (points,)
            Mass flow wanted of all injectors together, kg/s.
        pressure_difference, assumed_pressure_difference : float, str or array (points,)
            True and assumed rail over manifold pressure, Pa.
        density : float, str or array (points,)
            Density of the fuel, kg/m3.
        engine_speed : float, str or array (points,)
            Engine speed, rpm.
        voltage : float, str or array (points,)
            Voltage at the injectors, V.

        Returns
        -------
        array
            Delivered over wanted mass flow less 1: positive is rich. NaN where none is wanted.

        Examples
        --------
        300 kPa assumed, 365 true (manifold at 36 kPa absolute without reference):

        >>> bank = Injectors(count=8, static_flow="300 mL/min", dead_time_rise=0.0)
        >>> round(float(bank.mixture_error(0.004, 365e3, 300e3, 745.0, 2500.0, 13.5)), 3)
        0.103
        """
        wanted = np.asarray(mass_flow, dtype=float)
        pulse = unchecked(self.pulse)(wanted, assumed_pressure_difference, density, engine_speed, voltage)
        delivered = unchecked(self.delivered_mass_flow)(pulse, pressure_difference, density, engine_speed, voltage)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(wanted > 0.0, delivered / wanted - 1.0, np.nan)
