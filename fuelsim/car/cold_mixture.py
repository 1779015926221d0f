"""Fuel that a cold engine asks for beside that of a warm one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fuelsim.arguments import number, takes
from fuelsim.constants import ZERO_CELSIUS
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, series
from fuelsim.typing import BoolArray, FloatArray

__all__ = ["ColdMixture"]

_TEMPERATURES = tuple(celsius + ZERO_CELSIUS for celsius in (-30.0, -20.0, 0.0, 20.0, 40.0, 60.0, 80.0))
# Typical of port injection [memory]: 1.1 to 2 from a cold start on, several times the fuel while cranking.
_RUNNING = (1.9, 1.7, 1.45, 1.25, 1.10, 1.03, 1.0)
_CRANKING = (10.0, 6.0, 3.0, 2.0, 1.5, 1.2, 1.0)


@dataclass(frozen=True, eq=False)
class ColdMixture(Ratings):
    """Enrichment of a cold engine over the temperature of its metal or coolant; straight lines between the figures.

    An empty table has the typical figures of port injection with petrol; fuels that evaporate less need more while
    cranking (`fuelsim.fuel.lighting.richness_to_light`).

    Examples
    --------
    >>> ColdMixture().factor([273.15, 273.15, 368.15], [False, True, False]).tolist()
    [1.45, 3.0, 1.0]
    """

    temperatures: Quantity = series(
        "temperature",
        "Temperature of the engine's metal in each column of the enrichments, rising.",
        least=223.15,
        most=423.15,
        default=_TEMPERATURES,
        example="['-20 degC', '20 degC', '80 degC']",
    )
    running: Quantity = series(
        "number",
        "Ratio of the fuel asked for to that of the warm engine at each temperature while it runs.",
        least=0.5,
        most=10.0,
        default=_RUNNING,
        example="[1.7, 1.2, 1.0]",
    )
    cranking: Quantity = series(
        "number",
        "Ratio of the fuel asked for to that of the warm engine at each temperature while it cranks, below half of the "
        "idle speed.",
        least=0.5,
        most=50.0,
        default=_CRANKING,
        example="[6.0, 2.0, 1.0]",
    )

    def check(self) -> None:
        """Raise InputError where the lists do not fit together."""
        if np.any(np.diff(self.temperatures) <= 0.0):
            raise InputError("the temperatures must rise", given=self.temperatures.tolist(), key="temperatures")
        for key in ("running", "cranking"):
            values = getattr(self, key)
            if len(values) != len(self.temperatures):
                raise InputError(
                    f"{len(values)} values for {len(self.temperatures)} temperatures",
                    given=values.tolist(),
                    accepted="as many as temperatures",
                    key=key,
                )

    @takes({"temperature": number("temperature", 173.15, 473.15, example="-10 degC")})
    def factor(self, temperature: Quantity, cranks: BoolArray | bool | Sequence[bool]) -> FloatArray:
        """Return the ratio of the fuel asked for to that of the warm engine.

        Parameters
        ----------
        temperature : float, str or array
            Temperature of the engine's metal, K; beyond the figures that of the nearest.
        cranks : bool or bool array
            Whether it cranks; it broadcasts with the temperature.

        Returns
        -------
        array

        Examples
        --------
        >>> float(ColdMixture(temperatures=[273.15, 353.15], running=[1.4, 1.0], cranking=[4, 1]).factor(313.15, False))
        1.2
        """
        at = np.asarray(temperature, dtype=float)
        running, cranking = (np.interp(at, self.temperatures, row) for row in (self.running, self.cranking))
        ratio: FloatArray = np.where(cranks, cranking, running)
        return ratio
