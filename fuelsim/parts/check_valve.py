"""A check valve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, NamedTuple

from fuelsim.arguments import takes
from fuelsim.constants import L_PER_HOUR
from fuelsim.fields import Quantity, quantity
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.valve import CHECK_VALVE, CheckValveCoefficients
from fuelsim.liquid import Liquid
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.part import Part
from fuelsim.typing import FloatLike

__all__ = ["CheckValve", "SeatCoefficients", "seat_coefficients"]

_REFERENCE_DENSITY = 740.0
"""Density at which the loss of an open seat is rated, kg/m3; its loss is proportional to density."""
_LINEAR_SHARE = 0.03
"""Part of the rated loss of an open seat that is proportional to flow (viscous), over the whole loss [assumed]."""


class SeatCoefficients(NamedTuple):
    """Loss of an open seat, a q + b q|q|.

    Attributes
    ----------
    linear, quadratic : float or array (points,)
        a, Pa s/m3, and b, Pa s2/m6.
    """

    linear: FloatLike
    quadratic: FloatLike


def seat_coefficients(pressure: FloatLike, flow: FloatLike, density: FloatLike) -> SeatCoefficients:
    """Return the linear and the quadratic coefficient of an open seat that loses `pressure` at `flow`.

    Parameters
    ----------
    pressure : float or array (points,)
        Loss of the open seat with liquid of 740 kg/m3, Pa.
    flow : float or array (points,)
        Flow at which the loss is given, m3/s.
    density : float or array (points,)
        Density of the liquid that flows, kg/m3.

    Returns
    -------
    SeatCoefficients

    Examples
    --------
    >>> seat = seat_coefficients(5000.0, 1e-5, 740.0)
    >>> round(seat.linear * 1e-5 + seat.quadratic * 1e-10)
    5000
    """
    loss = pressure * density / _REFERENCE_DENSITY
    return SeatCoefficients(_LINEAR_SHARE * loss / flow, (1.0 - _LINEAR_SHARE) * loss / flow**2)


@dataclass(frozen=True)
class CheckValve(Part, Catalogued):
    """A valve that passes fuel one way only, above its cracking pressure.

    Defaults are typical of a small inline valve [common_practice].

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
        "Loss of the open valve above the cracking pressure, at the open flow of petrol at 740 kg/m3.",
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
        "Rated pressure above the atmosphere; compared with the greatest pressure of the pump.",
        least=1e3,
        most=1e8,
        default=None,
        example="1000 kPa",
    )

    @takes()
    def coefficients(self, liquid: Liquid) -> CheckValveCoefficients:
        """Return the coefficients of the check valve law."""
        seat = seat_coefficients(self.open_pressure, self.open_flow, liquid.density)
        return CheckValveCoefficients(self.cracking_pressure, seat.linear, seat.quadratic)
