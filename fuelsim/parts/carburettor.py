"""A carburettor as a consumer of fuel: its float valve takes what the engine draws, as long as enough comes."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import ClassVar

import numpy as np

from fuelsim.arguments import takes
from fuelsim.fields import Quantity, count, quantity
from fuelsim.laws.injector import INJECTOR, InjectorCoefficients
from fuelsim.laws.link import LinkLaw
from fuelsim.liquid import Liquid
from fuelsim.parts.part import Part

__all__ = ["Carburettor"]


@dataclass(frozen=True)
class Carburettor(Part):
    """The float valves of a carburettor, from its inlet to its bowl, behind a reducing regulator as a rule.

    Each valve meters what leaves its bowl, q = min(demand, n C A sqrt(2 dp / rho)): the law of injectors without a
    shortest pulse. Where its seat is wide open (regime "saturated") the bowl runs empty. Above the pressure at which
    its float can no longer hold the needle the bowl floods; `Network.findings` then says so.

    Examples
    --------
    Two seats of 2 mm at 20 kPa pass 0.61 x 2 x pi mm2 x 7.3 m/s:

    >>> from fuelsim.network.network import Network
    >>> net = Network()
    >>> net.add_reservoir("inlet", "20 kPa gauge")
    >>> net.add_reservoir("bowl", "0 kPa gauge")
    >>> net.connect("inlet", "bowl", Carburettor(demand=["60 L/h", "200 L/h"], seats=2), name="carburettor")
    >>> state = net.solve(Liquid(density=745.0, kinematic_viscosity=0.6e-6))
    >>> (state.flow["carburettor"] * 3.6e6).round(0).tolist(), state.regime["carburettor"].tolist()
    ([60.0, 101.0], ['metering', 'saturated'])
    """

    law: ClassVar[LinkLaw] = INJECTOR

    demand: Quantity = quantity(
        "volume flow", "Volume flow that the engine draws from the bowls.", least=0.0, most=1e-3, example="60 L/h"
    )
    seats: int = count("Number of float valves.", least=1, most=12, default=1)
    seat_diameter: Quantity = quantity(
        "bore", "Diameter of the seat of each float valve.", least=5e-4, most=0.01, default=2e-3, example="2 mm"
    )
    discharge_coefficient: Quantity = quantity(
        "number",
        "Discharge coefficient of a seat with its needle off it, the ratio of the flow to that of the ideal jet.",
        least=0.2,
        most=1.0,
        default=0.61,
        example="0.61",
    )
    flooding_pressure: Quantity = quantity(
        "pressure difference",
        "Pressure above the atmosphere at which the float no longer holds its needle shut; from its maker, or measured "
        "with a hand pump.",
        least=1e3,
        most=1e6,
        default=None,
        example="40 kPa",
    )

    @takes()
    def coefficients(self, liquid: Liquid) -> InjectorCoefficients:
        """Return the coefficients of the injector law, which has no shortest pulse here."""
        area = self.seats * 0.25 * pi * self.seat_diameter**2
        conductance = self.discharge_coefficient * area * np.sqrt(2.0 / np.asarray(liquid.density))
        return InjectorCoefficients(self.demand, conductance)
