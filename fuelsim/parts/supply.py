"""What feeds the pump's circuit: battery or alternator, and a controller that slows the pump in steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, quantity, series

__all__ = ["PumpSteps", "Supply"]


@dataclass(frozen=True, eq=False)
class Supply(Ratings):
    """Voltage at the start of the pump's circuit.

    Defaults are typical (from memory): battery 12.4-12.7 V at rest, 11.8-12.3 with the key on, 9-11 cranking;
    alternator 13.2-14.4 V.

    Parameters
    ----------
    rest_voltage, key_on_voltage, cranking_voltage : float or str
        Of the battery, V.
    idle_voltage, running_voltage : float or str
        Of the alternator at idle with loads on, and from `full_speed` on, V.
    idle_speed, full_speed : float or str
        Engine speeds between which the voltage rises, rpm.

    Examples
    --------
    >>> Supply().voltage([0.0, 200.0, 800.0, 3000.0]).tolist()
    [12.1, 10.0, 13.2, 13.9]
    """

    rest_voltage: Quantity = quantity("voltage", "Battery at rest.", least=0.0, most=60.0, default=12.6)
    key_on_voltage: Quantity = quantity("voltage", "Battery with the key on.", least=0.0, most=60.0, default=12.1)
    cranking_voltage: Quantity = quantity("voltage", "Battery while cranking.", least=0.0, most=60.0, default=10.0)
    idle_voltage: Quantity = quantity("voltage", "Alternator at idle.", least=0.0, most=60.0, default=13.2)
    running_voltage: Quantity = quantity("voltage", "Alternator at speed.", least=0.0, most=60.0, default=13.9)
    idle_speed: Quantity = quantity("engine speed", "Idle.", least=300.0, most=3000.0, default=800.0)
    full_speed: Quantity = quantity(
        "engine speed", "From which the alternator holds its voltage.", least=500.0, most=6000.0, default=1500.0
    )

    def check(self) -> None:
        """Check the order of the speeds."""
        if np.any(np.asarray(self.full_speed) <= self.idle_speed):
            raise InputError(
                "not above idle", given=self.full_speed, accepted=f"above {self.idle_speed:g} rpm", key="full_speed"
            )

    def voltage(self, engine_speed: Any) -> np.ndarray:
        """Return the supply voltage at an engine speed.

        Parameters
        ----------
        engine_speed : array
            rpm; 0 is key on, below half of idle is cranking.

        Returns
        -------
        array
            V.
        """
        speed = np.asarray(engine_speed, dtype=float)
        share = np.clip((speed - self.idle_speed) / (np.asarray(self.full_speed) - self.idle_speed), 0.0, 1.0)
        running = self.idle_voltage + (np.asarray(self.running_voltage) - self.idle_voltage) * share
        cranking = np.where(speed < 0.5 * np.asarray(self.idle_speed), self.cranking_voltage, running)
        return np.where(speed <= 0.0, self.key_on_voltage, cranking)


@dataclass(frozen=True, eq=False)
class PumpSteps(Ratings):
    """A controller that runs the pump slower at low fuel demand: two-speed, several steps; resistor, duty or speed.

    Parameters
    ----------
    demand : list
        Fuel demand from which each step holds, m3/s, rising from zero.
    duty : list, optional
        Share of the time switched on in each step.
    resistance : list, optional
        Resistor in series in each step, ohm.
    speed : list, optional
        Of a speed-controlled pump in each step, rpm.

    Examples
    --------
    >>> two_speed = PumpSteps(demand=["0 L/h", "40 L/h"], resistance=["0.4 ohm", "0 ohm"])
    >>> two_speed.resistance_at([1e-6, 2e-5]).tolist()
    [0.4, 0.0]
    """

    demand: Quantity = series("volume flow", "From which each step holds.", least=0.0, most=1e-2, example="40 L/h")
    duty: Quantity = series(
        "fraction", "Time switched on in each step.", least=0.0, most=1.0, default=None, example="66 %"
    )
    resistance: Quantity = series(
        "resistance", "Resistor in each step.", least=0.0, most=20.0, default=None, example="0.4 ohm"
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

    def duty_at(self, demand: Any) -> np.ndarray:
        """Return the duty at a fuel demand, m3/s; 1 where the steps change a resistor only."""
        return self._step(self.duty, demand, 1.0)

    def resistance_at(self, demand: Any) -> np.ndarray:
        """Return the resistor in series, ohm, at a fuel demand, m3/s."""
        return self._step(self.resistance, demand, 0.0)

    def speed_at(self, demand: Any, otherwise: Any) -> np.ndarray:
        """Return the pump's speed, rpm, at a fuel demand, m3/s; `otherwise` where the steps give no speeds."""
        return np.asarray(otherwise) if self.speed is None else self._step(self.speed, demand, 0.0)

    def _step(self, column: Any, demand: Any, otherwise: float) -> np.ndarray:
        demand = np.asarray(demand, dtype=float)
        if column is None:
            return np.full(demand.shape, otherwise)
        place = np.clip(np.searchsorted(self.demand, demand, side="right") - 1, 0, len(column) - 1)
        return column[place]
