"""Coolers and pots: parts whose heat exchange or contents matter more than their loss of pressure."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.car.tables import ZONES
from fuelsim.constants import L_PER_HOUR
from fuelsim.fields import Quantity, Ratings, choice, quantity
from fuelsim.parts.line import Line

__all__ = ["Cooler", "Pot", "SurgePot"]


@dataclass(frozen=True)
class Cooler(Line):
    """A cooler in the return line, with fins to the ambient air or to a coolant, such as that of the air conditioning.

    Water from humid air condenses on a cooler that runs below ambient, which needs its own protection against freezing.

    Examples
    --------
    >>> cooler = Cooler(heat_conductance="12 W/K")
    >>> cooler.heat_conductance, cooler.moving_heat_conductance is None
    (12.0, True)
    """

    length: Quantity = quantity(
        "length", "Length of the cooler's passage.", least=1e-2, most=20.0, default=1.0, example="1 m"
    )
    bore: Quantity = quantity(
        "bore", "Bore of the cooler's passage.", least=1e-3, most=0.05, default=8e-3, example="8 mm"
    )
    loss_coefficient: Quantity = quantity(
        "number", "Sum of the loss coefficients K of the cooler's bends.", least=0.0, most=1e3, default=4.0
    )
    heat_conductance: Quantity = quantity(
        "heat conductance",
        "Heat conductance with the car at rest, in the air that a fan or traffic moves; fin coolers 8 to 15 W/K "
        "(typical, from memory).",
        least=0.0,
        most=500.0,
        default=8.0,
        example="12 W/K",
    )
    moving_heat_conductance: Quantity = quantity(
        "heat conductance",
        "Heat conductance at cruising speed; left out, that at rest.",
        least=0.0,
        most=500.0,
        default=None,
    )
    coolant_temperature: Quantity = quantity(
        "temperature",
        "Temperature of the coolant; left out, the ambient air cools.",
        least=233.15,
        most=373.15,
        default=None,
        example="8 degC",
    )


@dataclass(frozen=True)
class SurgePot(Ratings):
    """A small pot beside the pump, kept full by a lift pump from the tank; fuel that comes back flows into it.

    What the lift pump brings beyond what the engine burns overflows to the tank.

    Examples
    --------
    >>> SurgePot(volume="2 L").volume
    0.002
    """

    volume: Quantity = quantity(
        "volume", "Volume of fuel in the pot.", least=1e-4, most=2e-2, default=1.5e-3, example="1.5 L"
    )
    lift_flow: Quantity = quantity(
        "volume flow",
        "Volume flow of the lift pump.",
        least=1e-7,
        most=1e-3,
        default=100.0 * L_PER_HOUR,
        example="100 L/h",
    )
    lift_power: Quantity = quantity(
        "electrical power",
        "Electrical power of a submerged lift pump.",
        least=0.0,
        most=500.0,
        default=20.0,
        example="20 W",
    )
    heat_conductance: Quantity = quantity(
        "heat conductance",
        "Heat conductance from the pot to the air around it.",
        least=0.0,
        most=50.0,
        default=1.0,
        example="1 W/K",
    )


@dataclass(frozen=True)
class Pot(Ratings):
    """A vessel with a free surface in a plumbing of the car's own, such as a surge pot that a lift pump keeps full.

    What flows in beyond what leaves it overflows to the tank.

    Examples
    --------
    >>> Pot(volume="2 L", zone="bay").volume
    0.002
    """

    volume: Quantity = quantity(
        "volume", "Volume of fuel in the full pot.", least=1e-4, most=2e-2, default=1.5e-3, example="1.5 L"
    )
    height: Quantity = quantity(
        "length",
        "Height of the full pot's surface above the tank's floor.",
        least=-2.0,
        most=3.0,
        default=0.3,
        example="0.3 m",
    )
    heat_conductance: Quantity = quantity(
        "heat conductance",
        "Heat conductance from the pot to the air around it.",
        least=0.0,
        most=50.0,
        default=1.0,
        example="1 W/K",
    )
    zone: str = choice(ZONES, "Zone whose air surrounds the pot.", default="underfloor")
