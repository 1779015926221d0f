"""Parts that are there for the heat: a cooler in the return line, and a surge pot."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.constants import L_PER_HOUR
from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.parts.line import Line

__all__ = ["Cooler", "SurgePot"]


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
