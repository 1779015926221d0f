"""Density and viscosity of a liquid: all that the hydraulic laws depend on."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.typing import FloatLike

__all__ = ["Liquid", "computed_liquid"]


@dataclass(frozen=True, eq=False)
class Liquid(Ratings):
    """Density and viscosity of a liquid at one or many operating points.

    Raises
    ------
    InputError
        For a value that is not accepted.

    Examples
    --------
    >>> Liquid(density="740 kg/m3", kinematic_viscosity="0.6 mm2/s").dynamic_viscosity
    0.000444
    """

    density: Quantity = quantity("density", "Density of the liquid.", least=100.0, most=3000.0, example="740 kg/m3")
    kinematic_viscosity: Quantity = quantity(
        "kinematic viscosity", "Kinematic viscosity of the liquid.", least=1e-15, most=1e-2, example="0.6 mm2/s"
    )

    @property
    def dynamic_viscosity(self) -> FloatLike:
        """Dynamic viscosity, Pa s."""
        viscosity: FloatLike = self.density * self.kinematic_viscosity
        return viscosity


def computed_liquid(density: FloatLike, kinematic_viscosity: FloatLike) -> Liquid:
    """Return a liquid of values that fuelsim has computed, such as those of fuel with vapour in it, without its checks.

    Parameters
    ----------
    density : float or array (points,)
        Density, kg/m3.
    kinematic_viscosity : float or array (points,)
        Kinematic viscosity, m2/s.
    """
    liquid = object.__new__(Liquid)
    object.__setattr__(liquid, "density", density)
    object.__setattr__(liquid, "kinematic_viscosity", kinematic_viscosity)
    return liquid
