"""The supply of the pump's circuit, battery or alternator, and a controller that slows the pump in steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.arguments import AIR_TEMPERATURE, ENGINE_SPEED, VOLUME_FLOW, number, takes
from fuelsim.constants import ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, quantity, series
from fuelsim.typing import ArrayLike, FloatArray

__all__ = ["PumpSteps", "Supply"]

VOLTAGE_PER_KELVIN = -0.0105
"""Change of an alternator's voltage with the temperature of its regulator, V/K: from 14.55 V at -20 degC to 13.5 V at
80 degC, the middles of the permitted ranges [service_manuals_a]."""
# Least voltage of a battery under half of its cold-cranking current for 15 s, V, by its temperature
# [service_manuals_b]; below -18 degC the last line goes on [assumed].
_BATTERY_TEMPERATURES = np.array([-42.0, -18.0, -12.0, -7.0, -1.0, 10.0, 20.0]) + ZERO_CELSIUS
_LEAST_VOLTAGES = np.array([7.7, 8.5, 8.7, 8.9, 9.1, 9.4, 9.6])

REGULATOR_TEMPERATURE, BATTERY_TEMPERATURE = 45.0 + ZERO_CELSIUS, float(_BATTERY_TEMPERATURES[-1])
"""Temperatures of regulator and battery at which the ratings hold, K."""


@dataclass(frozen=True, eq=False)
class Supply(Ratings):
    """Voltage at the start of the pump's circuit.

    Defaults are those of a battery of 12.6 V at rest (12.5 at 80 % of charge, 12.7 full) [battery_pages], 12.1 V with
    the key on (11.8-12.3) and 10 V cranking at 20 degC (9-11) [memory], and of an alternator whose regulator has 45
    degC: 13.7-14.6 V at 20 degC, 12.9-14.1 at 80 [service_manuals_a].

    Examples
    --------
    >>> Supply().voltage([0.0, 200.0, 800.0, 3000.0]).tolist()
    [12.1, 10.0, 13.2, 13.9]
    """

    rest_voltage: Quantity = quantity("voltage", "Voltage of the battery at rest.", least=0.0, most=60.0, default=12.6)
    key_on_voltage: Quantity = quantity(
        "voltage", "Voltage of the battery with the key on.", least=0.0, most=60.0, default=12.1
    )
    cranking_voltage: Quantity = quantity(
        "voltage", "Voltage of the battery while cranking.", least=0.0, most=60.0, default=10.0
    )
    idle_voltage: Quantity = quantity(
        "voltage", "Voltage of the alternator at idle with loads on.", least=0.0, most=60.0, default=13.2
    )
    running_voltage: Quantity = quantity(
        "voltage", "Voltage of the alternator from the full speed on.", least=0.0, most=60.0, default=13.9
    )
    idle_speed: Quantity = quantity(
        "engine speed", "Engine speed at idle, from which the voltage rises.", least=300.0, most=3000.0, default=800.0
    )
    full_speed: Quantity = quantity(
        "engine speed",
        "Engine speed from which the alternator holds its voltage.",
        least=500.0,
        most=6000.0,
        default=1500.0,
    )

    def check(self) -> None:
        """Check the order of the speeds."""
        if np.any(np.asarray(self.full_speed) <= self.idle_speed):
            raise InputError(
                "not above idle", given=self.full_speed, accepted=f"above {self.idle_speed:g} rpm", key="full_speed"
            )

    @takes(
        {
            "engine_speed": ENGINE_SPEED,
            "regulator_temperature": number("temperature", 223.15, 473.15, example="45 degC"),
            "battery_temperature": AIR_TEMPERATURE,
        }
    )
    def voltage(
        self,
        engine_speed: Quantity,
        regulator_temperature: Quantity = REGULATOR_TEMPERATURE,
        battery_temperature: Quantity = BATTERY_TEMPERATURE,
    ) -> FloatArray:
        """Return the supply voltage at an engine speed.

        Parameters
        ----------
        engine_speed : float, str or array (points,)
            Engine speed, rpm; 0 is key on, below half of idle is cranking.
        regulator_temperature : float, str or array (points,)
            Temperature of the alternator's regulator, about that of the bay, K.
        battery_temperature : float, str or array (points,)
            Temperature of the battery, K; a cold one gives less while cranking.

        Returns
        -------
        array
            Voltage, V.

        Examples
        --------
        >>> float(Supply().voltage(0.0))
        12.1

        A hot day, with the regulator at 80 degC, and cranking at -18 degC:

        >>> round(float(Supply().voltage(3000.0, regulator_temperature=353.15)), 2)
        13.53
        >>> round(float(Supply().voltage(200.0, battery_temperature=255.15)), 2)
        8.85
        """
        speed = np.asarray(engine_speed, dtype=float)
        position = np.clip((speed - self.idle_speed) / (np.asarray(self.full_speed) - self.idle_speed), 0.0, 1.0)
        running = self.idle_voltage + (np.asarray(self.running_voltage) - self.idle_voltage) * position
        running = running + VOLTAGE_PER_KELVIN * (np.asarray(regulator_temperature) - REGULATOR_TEMPERATURE)
        cold = np.interp(battery_temperature, _BATTERY_TEMPERATURES, _LEAST_VOLTAGES) / _LEAST_VOLTAGES[-1]
        cranking = np.where(speed < 0.5 * np.asarray(self.idle_speed), self.cranking_voltage * cold, running)
        voltage: FloatArray = np.where(speed <= 0.0, self.key_on_voltage, cranking)
        return voltage


@dataclass(frozen=True, eq=False)
class PumpSteps(Ratings):
    """A controller that slows the pump at low fuel demand, in two or more steps of resistor, duty or speed.

    Examples
    --------
    >>> two_speed = PumpSteps(demand=["0 L/h", "40 L/h"], resistance=["0.4 ohm", "0 ohm"])
    >>> two_speed.resistance_at([1e-6, 2e-5]).tolist()
    [0.4, 0.0]
    """

    demand: Quantity = series(
        "volume flow",
        "Volume flow that the engine asks, from which each step applies, rising from zero.",
        least=0.0,
        most=1e-2,
        example="40 L/h",
    )
    duty: Quantity = series(
        "fraction",
        "Fraction of time for which the pump is switched on in each step.",
        least=0.0,
        most=1.0,
        default=None,
        example="66 %",
    )
    resistance: Quantity = series(
        "resistance", "Resistance in series in each step.", least=0.0, most=20.0, default=None, example="0.4 ohm"
    )
    speed: Quantity = series(
        "engine speed",
        "Speed of a speed-controlled pump in each step.",
        least=0.0,
        most=60e3,
        default=None,
        example="4000 rpm",
    )

    def check(self) -> None:
        """Check that the steps fit together."""
        if self.demand[0] != 0.0 or np.any(np.diff(self.demand) <= 0.0):
            raise InputError(
                "the steps do not rise from zero",
                given=self.demand.tolist(),
                accepted="as in [0, 40 L/h]",
                key="demand",
            )
        for key in ("duty", "resistance", "speed"):
            column = getattr(self, key)
            if column is not None and len(column) != len(self.demand):
                raise InputError(
                    f"{len(column)} values for {len(self.demand)} steps",
                    given=column.tolist(),
                    accepted=f"{len(self.demand)} values",
                    key=key,
                )
        if self.duty is None and self.resistance is None and self.speed is None:
            raise InputError("nothing changes from step to step", accepted="duty, resistance or speed", key="duty")

    @takes({"demand": VOLUME_FLOW})
    def duty_at(self, demand: Quantity) -> FloatArray:
        """Return the duty at a fuel demand.

        Parameters
        ----------
        demand : float, str or array (points,)
            Fuel demand, m3/s.

        Returns
        -------
        array
            Fraction of time switched on; 1 where the steps give no duty.

        Examples
        --------
        >>> PumpSteps(demand=[0.0, "40 L/h"], duty=["66 %", "100 %"]).duty_at([1e-6, 2e-5]).tolist()
        [0.66, 1.0]
        """
        return self._value_at(self.duty, demand, 1.0)

    @takes({"demand": VOLUME_FLOW})
    def resistance_at(self, demand: Quantity) -> FloatArray:
        """Return the resistance in series at a fuel demand.

        Parameters
        ----------
        demand : float, str or array (points,)
            Fuel demand, m3/s.

        Returns
        -------
        array
            Resistance, ohm; 0 where the steps give none.

        Examples
        --------
        >>> PumpSteps(demand=[0.0, "40 L/h"], resistance=[0.4, 0.0]).resistance_at([1e-6, 2e-5]).tolist()
        [0.4, 0.0]
        """
        return self._value_at(self.resistance, demand, 0.0)

    @takes({"demand": VOLUME_FLOW, "otherwise": number("engine speed", 0.0, 60e3, example="6000 rpm")})
    def speed_at(self, demand: Quantity, otherwise: Quantity) -> FloatArray:
        """Return the speed of the pump at a fuel demand.

        Parameters
        ----------
        demand : float, str or array (points,)
            Fuel demand, m3/s.
        otherwise : float, str or array (points,)
            Speed where the steps give none, rpm.

        Returns
        -------
        array
            Speed, rpm.

        Examples
        --------
        >>> PumpSteps(demand=[0.0, "40 L/h"], speed=[4000, 6000]).speed_at([1e-6, 2e-5], 6000.0).tolist()
        [4000.0, 6000.0]
        """
        return np.asarray(otherwise) if self.speed is None else self._value_at(self.speed, demand, 0.0)

    def _value_at(self, column: FloatArray | None, demand: ArrayLike, otherwise: float) -> FloatArray:
        demand = np.asarray(demand, dtype=float)
        if column is None:
            return np.full(demand.shape, otherwise)
        step = np.maximum(np.searchsorted(self.demand, demand, side="right") - 1, 0)
        return np.asarray(column[step])
