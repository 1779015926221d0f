"""A check valve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from fuelsim.constants import L_PER_HOUR
from fuelsim.fields import Quantity, quantity
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.liquid import Liquid
from fuelsim.laws.valve import CHECK_VALVE
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.part import Part

__all__ = ["CheckValve"]

_REFERENCE_DENSITY = 740.0
"""Density at which the loss of an open seat is rated, kg/m3; its loss is proportional to density."""
_LINEAR_SHARE = 0.03
"""Share of the rated loss of an open seat that rises in proportion to flow (viscous)."""


def seat_coefficients(pressure: Any, flow: Any, density: Any) -> tuple[Any, Any]:
    """Return the linear and the quadratic coefficient of an open seat that loses `pressure` at `flow`.

    Parameters
    ----------
    pressure : float or array (points,)
        Pa, at 740 kg/m3.
    flow : float or array (points,)
        m3/s.
    density : float or array (points,)
        kg/m3.

    Returns
    -------
    linear, quadratic
        Pa s/m3 and Pa s2/m6.
    """
    loss = pressure * density / _REFERENCE_DENSITY
    return _LINEAR_SHARE * loss / flow, (1.0 - _LINEAR_SHARE) * loss / flow**2


@dataclass(frozen=True)
class CheckValve(Part, Catalogued):
    """A valve that passes fuel one way only, above its cracking pressure.

    Parameters
    ----------
    cracking_pressure : quantity, optional
        Difference at which it opens, Pa.
    open_pressure, open_flow : quantity, optional
        Loss above the cracking pressure (Pa) at a flow (m3/s), of petrol at 740 kg/m3. The defaults are typical of a
        small inline valve (common practice, no source).
    working_pressure : quantity, optional
        Rated pressure above the atmosphere, Pa; compared with what the pump can reach.

    Examples
    --------
    >>> CheckValve(cracking_pressure="7 kPa").cracking_pressure
    7000.0
    """

    law: ClassVar[LinkLaw] = CHECK_VALVE
    catalogue_kind: ClassVar[str] = "check_valves"

    cracking_pressure: Quantity = quantity(
        "pressure difference",
        "Pressure difference at which the valve opens.",
        least=0.0,
        most=1e6,
        default=3000.0,
        example="3 kPa",
    )
    open_pressure: Quantity = quantity(
        "pressure difference",
        "Loss of the open valve, above the cracking pressure, at the open flow.",
        least=1.0,
        most=1e6,
        default=5000.0,
        example="5 kPa",
    )
    open_flow: Quantity = quantity(
        "volume flow",
        "Flow at which the loss of the open valve is given.",
        least=1.0 * L_PER_HOUR,
        most=10000.0 * L_PER_HOUR,
        default=150.0 * L_PER_HOUR,
        example="150 L/h",
    )
    working_pressure: Quantity = quantity(
        "pressure difference",
        "Rated pressure above the atmosphere.",
        least=1e3,
        most=1e8,
        default=None,
        example="1000 kPa",
    )

    def coefficients(self, liquid: Liquid) -> tuple[Any, ...]:
        """Return the coefficients of the check valve law."""
        linear, quadratic = seat_coefficients(self.open_pressure, self.open_flow, liquid.density)
        return self.cracking_pressure, linear, quadratic
