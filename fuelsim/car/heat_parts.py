"""Parts that are there for the heat: a cooler in the return line, and a surge pot."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.constants import L_PER_HOUR
from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.parts.line import Line

__all__ = ["Cooler", "SurgePot"]


@dataclass(frozen=True)
class Cooler(Line):
    """A cooler in the return line, with fins to the ambient air or with a coolant such as that of the cabin's cooling.

    A cooler that runs below ambient draws humid air's water onto itself and needs its own protection against freezing.
    """

    length: Quantity = quantity("length", "Length of its passage.", least=1e-2, most=20.0, default=1.0, example="1 m")
    bore: Quantity = quantity("bore", "Bore of its passage.", least=1e-3, most=0.05, default=8e-3, example="8 mm")
    loss_coefficient: Quantity = quantity("number", "Sum of its bends' K.", least=0.0, most=1e3, default=4.0)
    heat_conductance: Quantity = quantity(
        "heat conductance",
        "Standing, with what air its fan or the jam gives it; fin coolers 8 to 15 W/K (typical, from memory).",
        least=0.0,
        most=500.0,
        default=8.0,
        example="12 W/K",
    )
    moving_heat_conductance: Quantity = quantity(
        "heat conductance", "At cruising speed; the standing one if left out.", least=0.0, most=500.0, default=None
    )
    coolant_temperature: Quantity = quantity(
        "temperature",
        "Of a coolant; ambient air if left out.",
        least=233.15,
        most=373.15,
        default=None,
        example="8 degC",
    )


@dataclass(frozen=True)
class SurgePot(Ratings):
    """A small pot beside the pump, kept full by a lift pump from the tank; fuel that comes back flows into it.

    What the lift pump brings beyond what the engine burns overflows to the tank.
    """

    volume: Quantity = quantity("volume", "Fuel in it.", least=1e-4, most=2e-2, default=1.5e-3, example="1.5 L")
    lift_flow: Quantity = quantity(
        "volume flow",
        "What the lift pump brings.",
        least=1e-7,
        most=1e-3,
        default=100.0 * L_PER_HOUR,
        example="100 L/h",
    )
    lift_power: Quantity = quantity(
        "electrical power", "Of a submerged lift pump.", least=0.0, most=500.0, default=20.0, example="20 W"
    )
    heat_conductance: Quantity = quantity(
        "heat conductance", "From the pot to the air around it.", least=0.0, most=50.0, default=1.0, example="1 W/K"
    )
