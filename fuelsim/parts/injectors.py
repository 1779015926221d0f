"""Injectors: static flow as rated, dead time, duty; the demand of the engine meets the rail here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from fuelsim import fields
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, quantity, series
from fuelsim.laws.injector import INJECTOR, InjectorCoefficients, dead_time_at, event_window, static_flow
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.liquid import Liquid
from fuelsim.parts.batches import require_one_batch, require_single
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.part import Part

__all__ = ["HEPTANE_DENSITY", "TYPICAL_DEAD_TIMES", "TYPICAL_DEAD_TIME_VOLTAGES", "Injectors"]

HEPTANE_DENSITY = 684.0
"""n-heptane near 20 degC, kg/m3: the fluid injectors are rated with (scope of SAE J1832)."""
TYPICAL_DEAD_TIME_VOLTAGES = (8.0, 10.0, 12.0, 13.0, 14.0, 16.0)
TYPICAL_DEAD_TIMES = (2.4e-3, 1.55e-3, 1.10e-3, 0.95e-3, 0.83e-3, 0.68e-3)
"""High-impedance injector at 300 kPa, s: typical, from memory."""


@dataclass(frozen=True, eq=False)
class Injectors(Part, Catalogued):
    """The injectors of one rail, working alike.

    As a link from rail to manifold they pass the mass the engine asks for, or what they can while held open.

    Parameters
    ----------
    count : int
        Number of injectors on this rail.
    static_flow : float or str
        Of one injector held open, m3/s, at the rated pressure and with the rated fluid.
    rated_pressure : float or str
        Pressure difference of the rating, Pa.
    rated_density : float or str
        Of the fluid of the rating, kg/m3; n-heptane by default.
    mass_demand : float, str or array (points,)
        What the engine asks of all of them together, kg/s.
    vapour_liquid_ratio : float or array (points,)
        V/L of the fuel in the rail. The mass held open falls as 1/sqrt(1 + 2 V/L): a homogeneous mixture whose gas, at
        the mean of rail and manifold pressure, has twice the volume it has in the rail (assumed). A V/L of 0.05 then
        leans an open-loop mixture by 4.7 %; 3-5 % are quoted (from memory, low confidence).
    duty_limit : float
        Largest share of the time they are open; 1 is static. A controller's own limit is often 0.85-0.95.
    injections_per_cycle : int
        Per cylinder and two turns: 1 sequential, 2 for batch fire.
    dead_time_voltage, dead_time : list
        Table of the time lost in opening, V and s.
    dead_time_pressure : float or str
        Pressure difference of that table, Pa.
    dead_time_rise : float or str
        Growth of the dead time with pressure, s/Pa; 0.04-0.10 ms/bar at 14 V (from memory).
    shortest_pulse : float or str
        Below which flow no longer follows the pulse, s; 1.2-2.0 ms (from memory).

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
        "Of one injector held open.",
        least=1e-7,
        most=1e-4,
        default=250e-6 / 60.0,
        example="250 mL/min",
    )
    rated_pressure: Quantity = quantity(
        "pressure difference", "Of the rating.", least=3e4, most=2e6, default=3e5, example="300 kPa"
    )
    rated_density: Quantity = quantity(
        "density",
        "Of the fluid of the rating: n-heptane 684, petrol 745.",
        least=600.0,
        most=900.0,
        default=HEPTANE_DENSITY,
        example="684 kg/m3",
    )
    mass_demand: Quantity = quantity(
        "mass flow", "What the engine asks of all injectors together.", least=0.0, most=2.0, default=0.0, operating=True
    )
    vapour_liquid_ratio: Quantity = quantity(
        "number",
        "Volume of vapour per volume of liquid in the rail.",
        least=0.0,
        most=1e6,
        default=0.0,
        operating=True,
    )
    duty_limit: Quantity = quantity(
        "fraction", "Largest share of the time open.", least=0.05, most=1.0, default=1.0, example="95 %"
    )
    injections_per_cycle: int = fields.count("Injections of each in two turns.", least=1, most=4, default=1)
    dead_time_voltage: Quantity = series(
        "voltage", "Voltages of the dead-time table.", least=1.0, most=60.0, default=TYPICAL_DEAD_TIME_VOLTAGES
    )
    dead_time: Quantity = series(
        "pulse time", "Time lost in opening.", least=0.0, most=1e-2, default=TYPICAL_DEAD_TIMES, example="0.83 ms"
    )
    dead_time_pressure: Quantity = quantity(
        "pressure difference", "Of the dead-time table.", least=3e4, most=2e6, default=3e5, example="300 kPa"
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
        "pulse time", "Below which flow does not follow.", least=0.0, most=1e-2, default=1.5e-3, example="1.5 ms"
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

    def coefficients(self, liquid: Liquid) -> InjectorCoefficients:
        """Return the coefficients of the injector law: volume flow asked for, and what the open injectors conduct."""
        held_open = self.static_volume_flow(self.rated_pressure, liquid.density)
        return InjectorCoefficients(
            demand=self.mass_demand / liquid.density,
            conductance=self.duty_limit * held_open / np.sqrt(self.rated_pressure),
        )

    def static_volume_flow(self, pressure_difference: Any, density: Any) -> Any:
        """Return the volume flow of liquid through all injectors held open, m3/s.

        Parameters
        ----------
        pressure_difference : array
            Rail less manifold, Pa.
        density : array
            Of the fuel in the rail, kg/m3.
        """
        held_open = static_flow(self.static_flow, self.rated_pressure, self.rated_density, pressure_difference, density)
        return self.count * held_open / np.sqrt(1.0 + 2.0 * self.vapour_liquid_ratio)

    def window(self, engine_speed: Any) -> Any:
        """Return the time from one injection to the next of one injector, s, at an engine speed in rpm."""
        return event_window(np.asarray(engine_speed, dtype=float)) / self.injections_per_cycle

    def opening_loss(self, voltage: Any, pressure_difference: Any) -> Any:
        """Return the dead time, s, at a voltage, V, and a pressure difference, Pa."""
        return dead_time_at(
            voltage,
            pressure_difference,
            self.dead_time_voltage,
            self.dead_time,
            self.dead_time_pressure,
            self.dead_time_rise,
        )

    def pulse(self, mass_flow: Any, pressure_difference: Any, density: Any, engine_speed: Any, voltage: Any) -> Any:
        """Return the commanded pulse of one injection, dead time included.

        Parameters
        ----------
        mass_flow : array
            Of all injectors together, kg/s.
        pressure_difference : array
            Rail less manifold, Pa.
        density : array
            kg/m3.
        engine_speed : array
            rpm.
        voltage : array
            At the injectors, V.

        Returns
        -------
        array
            s; no pulse without flow, and infinite where no pressure drives the flow.
        """
        mass_flow = np.asarray(mass_flow, dtype=float)
        held_open = self.static_volume_flow(pressure_difference, density) * density
        with np.errstate(divide="ignore", invalid="ignore"):
            open_time = mass_flow / held_open * self.window(engine_speed)
        pulse = open_time + self.opening_loss(voltage, pressure_difference)
        return np.where(mass_flow > 0.0, pulse, 0.0)

    def duty(self, mass_flow: Any, pressure_difference: Any, density: Any, engine_speed: Any, voltage: Any) -> Any:
        """Return pulse over window: what a controller that holds the mixture ends up with; arguments as `pulse`.

        Above 1 the injectors are static and cannot give the mass; 0 for an engine at rest. Size for 0.80-0.85 (common
        practice, no source).
        """
        pulse, window = (
            self.pulse(mass_flow, pressure_difference, density, engine_speed, voltage),
            self.window(engine_speed),
        )
        with np.errstate(invalid="ignore"):
            return np.where(np.isinf(window), 0.0, pulse / window)

    def delivered_mass_flow(
        self, pulse: Any, pressure_difference: Any, density: Any, engine_speed: Any, voltage: Any
    ) -> Any:
        """Return the mass flow of all injectors for a commanded pulse: what an open-loop controller gets.

        Parameters
        ----------
        pulse : array
            s, dead time included.
        pressure_difference, density, engine_speed, voltage : array
            As `pulse`.

        Returns
        -------
        array
            kg/s.

        Examples
        --------
        The mixture error of an open-loop controller whose rail has lost a tenth of its pressure:

        >>> bank = Injectors(count=4, static_flow="220 mL/min", dead_time_rise=0.0)
        >>> pulse = bank.pulse(0.004, 3.0e5, 745.0, 4000.0, 13.5)
        >>> round(float(bank.delivered_mass_flow(pulse, 2.7e5, 745.0, 4000.0, 13.5)) / 0.004 - 1.0, 3)
        -0.051
        """
        held_open = self.static_volume_flow(pressure_difference, density) * density
        open_time = np.asarray(pulse, dtype=float) - self.opening_loss(voltage, pressure_difference)
        return held_open * np.clip(open_time / self.window(engine_speed), 0.0, 1.0)

    def mixture_error(
        self,
        mass_flow: Any,
        pressure_difference: Any,
        assumed_pressure_difference: Any,
        density: Any,
        engine_speed: Any,
        voltage: Any,
    ) -> Any:
        """Return by what share an open-loop controller misses the mass because it assumes another pressure difference.

        Such as that of a rail with manifold reference where the rail stands at a fixed pressure over the atmosphere.

        Parameters
        ----------
        mass_flow : array
            Wanted of all injectors together, kg/s.
        pressure_difference, assumed_pressure_difference : array
            True and assumed, Pa.
        density, engine_speed, voltage : array
            As `pulse`.

        Returns
        -------
        array
            Delivered over wanted mass less 1: positive is rich. NaN where no mass is wanted.

        Examples
        --------
        300 kPa assumed, 365 true (manifold at 36 kPa absolute without reference):

        >>> bank = Injectors(count=8, static_flow="300 mL/min", dead_time_rise=0.0)
        >>> round(float(bank.mixture_error(0.004, 365e3, 300e3, 745.0, 2500.0, 13.5)), 3)
        0.103
        """
        wanted = np.asarray(mass_flow, dtype=float)
        pulse = self.pulse(wanted, assumed_pressure_difference, density, engine_speed, voltage)
        delivered = self.delivered_mass_flow(pulse, pressure_difference, density, engine_speed, voltage)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(wanted > 0.0, delivered / wanted - 1.0, np.nan)
