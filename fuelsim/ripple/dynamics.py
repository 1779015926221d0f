"""What a car file does not say of how its plumbing moves: inertia, damping, ripple, volumes."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from fuelsim.arguments import number, takes
from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.network.inputs import LateWall
from fuelsim.parts.batches import require_single

__all__ = ["Dynamics"]


@dataclass(frozen=True, eq=False)
class Dynamics(Ratings):
    """How the parts of a fuel system move: figures that makers seldom give, each with a default.

    All defaults are [memory]: classes of parts, not measurements. What they are likely to lie between is written at
    each. A regulator without mass follows every wave at once and can hunt with the line behind it; one with a mass and
    little damping resonates itself.

    Examples
    --------
    >>> Dynamics(regulator_frequency="250 Hz").regulator_frequency
    250.0
    """

    regulator_frequency: Quantity = quantity(
        "frequency",
        "Natural frequency of a regulator's valve and diaphragm on their spring; 100 to 350 Hz.",
        least=5.0,
        most=5000.0,
        default=180.0,
        example="180 Hz",
    )
    regulator_damping: Quantity = quantity(
        "fraction",
        "Share of the critical damping that a regulator's valve has; 0.2 to 1.",
        least=0.0,
        most=10.0,
        default=0.6,
        example="0.6",
    )
    swept_volume: Quantity = quantity(
        "volume",
        "Volume that a regulator's diaphragm sweeps for each 100 kPa by which the pressure rises over the one at which "
        "it opens; 5 cm2 and 0.3 mm at 10 kPa make 1.5 mL; 0.3 to 5 mL.",
        least=1e-8,
        most=1e-4,
        default=1.5e-6,
        example="1.5 mL",
    )
    rotor_time: Quantity = quantity(
        "time",
        "Time in which a pump's rotor finds its speed after a change of pressure; 0.01 to 0.1 s.",
        least=1e-3,
        most=10.0,
        default=0.03,
        example="30 ms",
    )
    rotor_share: Quantity = quantity(
        "fraction",
        "Share of the fall of a pump's flow over the pressure that comes from its rotor turning slower; the rest is "
        "leakage, which follows at once; 0.4 to 0.8.",
        least=0.0,
        most=0.98,
        default=0.6,
        example="0.6",
    )
    pump_ripple: Quantity = quantity(
        "fraction",
        "Share of a pump's flow by which it ripples from peak to peak; 0.01 for turbines, 0.03 to 0.15 for rollers and "
        "gerotors.",
        least=0.0,
        most=1.0,
        default=0.03,
        example="3 %",
    )
    ripple_frequency: Quantity = quantity(
        "frequency",
        "Frequency of a pump's ripple: speed times number of its chambers; 200 to 700 Hz.",
        least=1.0,
        most=1e4,
        default=350.0,
        example="350 Hz",
    )
    wall_damping: Quantity = quantity(
        "number",
        "Loss factor of the walls of hoses and nylon tubes at their frequency of greatest loss: tangent of the angle "
        "by which they lag behind the pressure; rubber 0.1 to 0.3, braided PTFE 0.05 to 0.15, nylon 0.03 to 0.1.",
        least=0.0,
        most=2.0,
        default=0.12,
    )
    wall_frequency: Quantity = quantity(
        "frequency",
        "Frequency at which the walls of hoses damp most; the loss of rubber hardly depends on it.",
        least=1.0,
        most=1e4,
        default=100.0,
        example="100 Hz",
    )
    filter_volume: Quantity = quantity(
        "volume",
        "Volume of fuel in a filter behind a pump; 0.1 to 0.5 L.",
        least=0.0,
        most=5e-3,
        default=0.25e-3,
        example="0.25 L",
    )
    pump_volume: Quantity = quantity(
        "volume",
        "Volume of fuel between a pump's chambers and its outlet; 10 to 60 mL.",
        least=1e-7,
        most=1e-3,
        default=30e-6,
        example="30 mL",
    )

    def check(self) -> None:
        """Check that every figure is one value."""
        require_single(self, [item.name for item in fields(self)])

    @property
    def late_share(self) -> float:
        """Widening of a soft wall that comes late over the one that comes at once, D = 2 t^2 + 2 t sqrt(t^2 + 1).

        A Kelvin-Voigt element in series with a spring has its greatest loss factor t = D/(2 sqrt(1 + D)) at the
        frequency sqrt(1 + D)/(2 pi tau).
        """
        tangent = float(self.wall_damping)
        return 2.0 * tangent**2 + 2.0 * tangent * float(np.sqrt(tangent**2 + 1.0))

    @takes({"compliance": number("compliance", 0.0, 1e-4, example="0.02 1/MPa", single=True)})
    def late_wall(self, compliance: Quantity) -> LateWall:
        """Return the late part of a soft wall.

        Parameters
        ----------
        compliance : quantity
            Share of its contents by which the wall widens for each pascal in the end, 1/Pa.

        Returns
        -------
        LateWall
            Compliance, 1/Pa, and time constant, s.

        Examples
        --------
        The loss factor of the whole at its greatest is the one asked for:

        >>> dynamics = Dynamics(wall_damping=0.2, wall_frequency="80 Hz")
        >>> late = dynamics.late_wall(4e-8)
        >>> turned = 4e-8 - late.compliance + late.compliance / (1.0 + 2j * np.pi * 80.0 * late.time)
        >>> round(-turned.imag / turned.real, 6)
        0.2
        """
        share = self.late_share
        time = np.sqrt(1.0 + share) / (2.0 * np.pi * float(self.wall_frequency))
        return LateWall(compliance * share / (1.0 + share), float(time))
