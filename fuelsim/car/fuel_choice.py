"""The table of a car file that says what is in the tank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.arguments import number, takes
from fuelsim.data_files import names
from fuelsim.errors import InputError, nearest
from fuelsim.fields import Quantity, Ratings, choice, quantity, text
from fuelsim.fuel.fuel import Fuel
from fuelsim.fuel.fuels import FuelPerPoint
from fuelsim.fuel.molecules.species import ACTIVITY_MODELS
from fuelsim.typing import ActivityModel

__all__ = ["FuelChoice"]


@dataclass(frozen=True)
class FuelChoice(Ratings):
    """What is in the tank: a fuel by name, or a petrol by vapour pressure and ethanol.

    Examples
    --------
    >>> FuelChoice(vapour_pressure="60 kPa", ethanol="10 %").ethanol
    0.1
    """

    name: str | None = text("Name of a fuel of data/fuels, such as 'summer_e10'.", default=None)
    vapour_pressure: Quantity = quantity(
        "absolute pressure",
        "Dry vapour pressure equivalent (DVPE) at 37.8 degC of the finished fuel, absolute.",
        least=10e3,
        most=150e3,
        default=None,
        example="62 kPa",
    )
    ethanol: Quantity = quantity(
        "fraction", "Ethanol content as a fraction of the volume.", least=0.0, most=1.0, default=None, example="10 %"
    )
    activity_model: ActivityModel = choice(
        ACTIVITY_MODELS,
        "Model of the liquid's activity coefficients, original or modified (Dortmund) UNIFAC; the vapour pressure is "
        "met by either, and what differs is the fuel at other temperatures and in mixtures.",
        default="unifac",
    )

    def check(self) -> None:
        """Raise InputError unless the fuel is given in exactly one way."""
        if (self.name is None) == (self.vapour_pressure is None):
            raise InputError("give the fuel in one way", accepted="either name or vapour_pressure", key="name")
        if self.name is not None and self.ethanol is not None:
            raise InputError("a named fuel has its own ethanol content", given=self.ethanol, key="ethanol")
        if self.name is not None and self.name not in names("fuels"):
            raise InputError("no such fuel", given=self.name, accepted=nearest(self.name, names("fuels")), key="name")

    def fuel(self) -> Fuel:
        """Return the fuel itself.

        Returns
        -------
        Fuel

        Raises
        ------
        InputError
            For a list over operating points.

        Examples
        --------
        >>> round(float(FuelChoice(vapour_pressure="60 kPa").fuel().dvpe()) / 1e3, 3)
        60.0
        """
        if self.name is not None:
            return Fuel.named(self.name, activity_model=self.activity_model)
        if self.listed:
            raise InputError(
                "a list of fuels, where one is wanted",
                accepted="one vapour pressure and one ethanol content",
                key="vapour_pressure",
                part=type(self).__name__,
            )
        ethanol = 0.0 if self.ethanol is None else float(self.ethanol)
        return Fuel.petrol(float(self.vapour_pressure), ethanol, activity_model=self.activity_model)

    @property
    def listed(self) -> bool:
        """Whether vapour pressure or ethanol is a list over operating points."""
        return self.name is None and (np.ndim(self.vapour_pressure) > 0 or np.ndim(self.ethanol) > 0)

    def per_point(self) -> Fuel | FuelPerPoint:
        """Return the fuel, or where it is a list over operating points the fuel of each.

        Returns
        -------
        Fuel or FuelPerPoint

        Examples
        --------
        >>> FuelChoice(name="summer_e10").per_point() == FuelChoice(name="summer_e10").fuel()
        True
        """
        if not self.listed:
            return self.fuel()
        ethanol = 0.0 if self.ethanol is None else self.ethanol
        return FuelPerPoint.petrols(self.vapour_pressure, ethanol, self.activity_model)

    @takes({"vapour_pressure": number("absolute pressure", 10e3, 150e3, example="54 kPa")})
    def with_vapour_pressure(self, vapour_pressure: Quantity) -> FuelChoice:
        """Return a petrol of another vapour pressure (DVPE) with the same ethanol.

        Parameters
        ----------
        vapour_pressure : float, str or array (points,)
            Dry vapour pressure equivalent (DVPE) at 37.8 degC, Pa absolute.

        Returns
        -------
        FuelChoice

        Examples
        --------
        >>> FuelChoice(name="summer_e10").with_vapour_pressure(54e3).ethanol
        0.1
        """
        ethanol = self.fuel().ethanol if self.name is not None else self.ethanol
        return FuelChoice(vapour_pressure=vapour_pressure, ethanol=ethanol, activity_model=self.activity_model)
