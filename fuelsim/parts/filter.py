"""Filters and strainers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from fuelsim.arguments import takes
from fuelsim.fields import Quantity, choice, quantity
from fuelsim.laws.filter import FILTER, FilterCoefficients, filter_coefficients
from fuelsim.laws.link import LinkLaw
from fuelsim.liquid import Liquid
from fuelsim.parts.batches import require_one_batch, require_single
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.part import Part

__all__ = ["REFERENCE_PETROL_DENSITY", "REFERENCE_PETROL_VISCOSITY", "Filter"]

REFERENCE_PETROL_DENSITY = 745.0
"""Density of petrol near 30 degC, kg/m3: ratings are taken to be given with it [common_practice]."""
REFERENCE_PETROL_VISCOSITY = 0.45e-3
"""Dynamic viscosity of that petrol, Pa s [common_practice]."""


@dataclass(frozen=True, eq=False)
class Filter(Part, Catalogued):
    """A filter or strainer, dp = a mu Q + b rho Q^2, through one rated point.

    Ratings are those with petrol near 30 degC. The defaults are a typical 10 um canister: 5-12 kPa at 120 L/h [memory].
    The viscous share of clean paper is 0.80-0.95 [memory]. Limits of the drop that are left out are usual
    [common_practice]: ISO 4020 ends a test life at 70 kPa, for diesel [iso_4020]; ISO 19438 and QC/T 918 test petrol
    filters without a public limit [iso_19438] [qc_t_918].

    Examples
    --------
    >>> from fuelsim.liquid import Liquid
    >>> petrol = Liquid(density=745.0, kinematic_viscosity=0.45e-3 / 745.0)
    >>> clean = Filter(rated_flow="120 L/h", rated_drop="8 kPa")
    >>> loss, slope = clean.law.loss(120e-3 / 3600.0, clean.coefficients(petrol))
    >>> round(float(loss), 6)
    8000.0
    """

    law: ClassVar[LinkLaw] = FILTER
    catalogue_kind: ClassVar[str] = "filters"

    rated_flow: Quantity = quantity(
        "volume flow",
        "Flow at which the drop is rated.",
        least=1e-7,
        most=1e-2,
        default=120e-3 / 3600.0,
        example="120 L/h",
    )
    rated_drop: Quantity = quantity(
        "pressure difference",
        "Pressure drop of the clean filter at the rated flow.",
        least=1.0,
        most=3e5,
        default=8e3,
        example="8 kPa",
    )
    viscous_share: Quantity = quantity(
        "fraction",
        "Viscous share of the rated drop; 0 for a purely quadratic loss, on which clogging has no effect.",
        least=0.0,
        most=1.0,
        default=0.85,
        example="0.85",
    )
    clogging: Quantity = quantity(
        "number",
        "Factor of clogging on the viscous part of the drop; 1 is clean, 10 is spent.",
        least=1.0,
        most=1e6,
        default=1.0,
        example="1",
    )
    side: str = choice(("pressure", "suction"), "Side of the pump on which the filter is.", default="pressure")
    terminal_drop: Quantity = quantity(
        "pressure difference",
        "Pressure drop at which the filter is changed; left out, 50 kPa, or 4 kPa on the suction side.",
        least=100.0,
        most=5e5,
        default=None,
        example="50 kPa",
    )
    working_pressure: Quantity = quantity(
        "pressure difference",
        "Greatest pressure above the atmosphere for which the filter is rated.",
        least=1e3,
        most=5e6,
        default=None,
        example="1000 kPa",
    )
    fineness: Quantity = quantity(
        "particle size",
        "Size of the particles that the filter holds back.",
        least=1e-6,
        most=2e-3,
        default=None,
        example="10 µm",
    )

    def check(self) -> None:
        """Check that lists over operating points agree."""
        require_one_batch(self, ("rated_flow", "rated_drop", "viscous_share", "clogging"))
        require_single(self, ("terminal_drop", "working_pressure", "fineness"))

    @property
    def change_drop(self) -> float:
        """Pressure drop at which the filter is changed, Pa: as given, else 50 kPa, or 4 kPa on the suction side."""
        if self.terminal_drop is not None:
            return float(self.terminal_drop)
        return 50e3 if self.side == "pressure" else 4e3

    @takes()
    def coefficients(self, liquid: Liquid) -> FilterCoefficients:
        """Return the viscous and the inertial resistance for a liquid."""
        return filter_coefficients(
            self.rated_flow,
            self.rated_drop,
            self.viscous_share,
            self.clogging,
            liquid.density,
            liquid.dynamic_viscosity,
            REFERENCE_PETROL_DENSITY,
            REFERENCE_PETROL_VISCOSITY,
        )
