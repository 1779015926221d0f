"""Density and viscosity of a liquid: all that the hydraulic laws depend on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.errors import InputError
from fuelsim.typing import FloatLike

__all__ = ["Liquid"]


@dataclass(frozen=True)
class Liquid:
    """Density and viscosity of a liquid at one or many operating points.

    Parameters
    ----------
    density : float or array (points,)
        Density, kg/m3.
    kinematic_viscosity : float or array (points,)
        Kinematic viscosity, m2/s.

    Raises
    ------
    InputError
        Where a value is not a positive finite number.

    Examples
    --------
    >>> Liquid(density=740.0, kinematic_viscosity=0.6e-6).dynamic_viscosity
    0.000444
    """

    density: FloatLike
    kinematic_viscosity: FloatLike

    def __post_init__(self) -> None:
        for key in ("density", "kinematic_viscosity"):
            given = getattr(self, key)
            try:
                value = np.asarray(given, dtype=float)
            except (TypeError, ValueError) as error:
                raise InputError("not a number", given=given, accepted="SI numbers", part="liquid", key=key) from error
            if not np.all(np.isfinite(value)) or np.any(value <= 0.0):
                raise InputError("must be positive and finite", given=given, part="liquid", key=key)
            object.__setattr__(self, key, float(value) if value.ndim == 0 else value)

    @property
    def dynamic_viscosity(self) -> FloatLike:
        """Dynamic viscosity, Pa s."""
        return self.density * self.kinematic_viscosity
