"""Pressure regulators."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Self

from fuelsim.arguments import takes
from fuelsim.constants import L_PER_HOUR
from fuelsim.fields import Quantity, quantity
from fuelsim.laws.link import LinkLaw
from fuelsim.laws.regulator import (
    REDUCING_REGULATOR,
    RETURN_REGULATOR,
    ReducingRegulatorCoefficients,
    ReturnRegulatorCoefficients,
)
from fuelsim.liquid import Liquid
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.check_valve import seat_coefficients
from fuelsim.parts.part import Part

__all__ = ["ReducingRegulator", "ReturnRegulator", "declared_droop", "declared_set_pressure"]

_LEAST_DROOP = 0.1 / L_PER_HOUR
_TYPICAL_DROOP = 80.0 / L_PER_HOUR


def _reference_in_words(outlet: str, reference: str | None) -> str:
    if reference is None:
        return "above the atmosphere"
    return "above its own outlet" if reference == outlet else f"above '{reference}'"


def declared_set_pressure(doc: str, example: str) -> Quantity:
    """Declare a set pressure.

    Parameters
    ----------
    doc : str
        One phrase: the quantity first, without its unit.
    example : str
        How a person would write it.

    Returns
    -------
    Quantity

    Examples
    --------
    >>> declared_set_pressure("Pressure held.", "300 kPa").metadata["declaration"].example
    '300 kPa'
    """
    return quantity("pressure difference", doc, least=1e3, most=2e6, example=example)


def declared_droop(doc: str) -> Quantity:
    """Declare a change of a held pressure with the flow, typical of regulators where it is left out.

    Parameters
    ----------
    doc : str
        One phrase: the quantity first, without its unit.

    Returns
    -------
    Quantity

    Examples
    --------
    >>> round(declared_droop("Rise of the held pressure with the flow.").default / 3.6e6)  # Pa h/L
    80
    """
    return quantity(
        "pressure per flow",
        doc,
        least=_LEAST_DROOP,
        most=1e4 * _TYPICAL_DROOP,
        default=_TYPICAL_DROOP,
        example="0.08 kPa h/L",
    )


def _wide_open_pressure(default: float) -> Quantity:
    return quantity(
        "pressure difference",
        "Loss of the wide-open regulator at the wide-open flow.",
        least=10.0,
        most=1e6,
        default=default,
        example="30 kPa",
    )


def _wide_open_flow() -> Quantity:
    return quantity(
        "volume flow",
        "Flow at which the wide-open loss is given.",
        least=1.0 * L_PER_HOUR,
        most=10000.0 * L_PER_HOUR,
        default=150.0 * L_PER_HOUR,
        example="150 L/h",
    )


@dataclass(frozen=True)
class ReturnRegulator(Part, Catalogued):
    """A regulator that holds the pressure upstream of it by spilling fuel: return (back-pressure) regulator.

    It holds set pressure + droop x flow above its reference. That is the atmosphere, unless it is connected with
    ``reference=`` another node: the intake manifold, or the node at its own outlet, as a regulator without a
    reference port has it.

    SAE J1862 tests slope, range of flow, hysteresis and response [sae_j1862]. A droop of 5-20 kPa over the range of
    flow is typical [common_practice], a hysteresis of 2-5 kPa too [memory]. A network uses the middle of the hysteresis
    band; `branches` are its edges. Losses of the wide-open seat are those with petrol of 740 kg/m3: they set the least
    difference that the regulator can hold.

    Examples
    --------
    >>> regulator = ReturnRegulator(set_pressure="300 kPa", hysteresis="4 kPa")
    >>> regulator.set_pressure
    300000.0
    >>> opening, closing = regulator.branches
    >>> opening.set_pressure, closing.set_pressure
    (302000.0, 298000.0)
    """

    law: ClassVar[LinkLaw] = RETURN_REGULATOR
    catalogue_kind: ClassVar[str] = "regulators"

    set_pressure: Quantity = declared_set_pressure(
        "Pressure above the reference (the atmosphere, unless another node is given) at which the regulator opens, in"
        " the middle of its hysteresis band.",
        "300 kPa",
    )
    droop: Quantity = declared_droop("Rise of the held pressure with the flow through the regulator.")
    wide_open_pressure: Quantity = _wide_open_pressure(30e3)
    wide_open_flow: Quantity = _wide_open_flow()
    back_pressure_coupling: Quantity = quantity(
        "fraction",
        "Fraction of the return line's pressure above the reference that adds to the held pressure (seat area over"
        " diaphragm area); 0 is a balanced seat.",
        least=0.0,
        most=1.0,
        default=0.0,
        example="0.02",
    )
    hysteresis: Quantity = quantity(
        "pressure difference",
        "Hysteresis, the difference of the pressures held while the flow through it rises and while it falls.",
        least=0.0,
        most=1e5,
        default=3.5e3,
        example="3.5 kPa",
    )

    @property
    def branches(self) -> tuple[Self, Self]:
        """The same regulator on the opening and on the closing edge of its hysteresis band, without a band."""
        half = 0.5 * self.hysteresis
        opening, closing = (
            replace(self, set_pressure=self.set_pressure + side, hysteresis=0.0) for side in (half, -half)
        )
        return opening, closing

    @takes()
    def coefficients(self, liquid: Liquid) -> ReturnRegulatorCoefficients:
        """Return the coefficients of the return regulator law."""
        seat = seat_coefficients(self.wide_open_pressure, self.wide_open_flow, liquid.density)
        return ReturnRegulatorCoefficients(
            set_pressure=self.set_pressure,
            droop=self.droop,
            open_linear=seat.linear,
            open_quadratic=seat.quadratic,
            back_pressure_coupling=self.back_pressure_coupling,
        )

    @takes()
    def reference_in_words(self, outlet: str, reference: str | None) -> str:
        """Return above which pressure the set pressure is held.

        Parameters
        ----------
        outlet : str
            Station at the outlet.
        reference : str or None
            Station to which the spring side is open; None for the atmosphere.

        Returns
        -------
        str

        Examples
        --------
        >>> regulator = ReturnRegulator(set_pressure="300 kPa")
        >>> [regulator.reference_in_words("return", node) for node in (None, "manifold", "return")]
        ['above the atmosphere', "above 'manifold'", 'above its own outlet']
        """
        return _reference_in_words(outlet, reference)


@dataclass(frozen=True)
class ReducingRegulator(Part, Catalogued):
    """A regulator that holds the pressure downstream of it, such as the one before a carburettor.

    It holds set pressure - droop x flow above its reference: the atmosphere, unless it is connected with ``reference=``
    another node.

    Losses of the wide-open seat are those with petrol of 740 kg/m3.

    Examples
    --------
    >>> ReducingRegulator(set_pressure="25 kPa").set_pressure
    25000.0
    """

    law: ClassVar[LinkLaw] = REDUCING_REGULATOR
    catalogue_kind: ClassVar[str] = "reducing_regulators"

    set_pressure: Quantity = declared_set_pressure(
        "Pressure above the reference (the atmosphere, unless another node is given) that is held at zero flow.",
        "25 kPa",
    )
    droop: Quantity = declared_droop("Fall of the held pressure with the flow through the regulator.")
    wide_open_pressure: Quantity = _wide_open_pressure(20e3)
    wide_open_flow: Quantity = _wide_open_flow()

    @takes()
    def coefficients(self, liquid: Liquid) -> ReducingRegulatorCoefficients:
        """Return the coefficients of the reducing regulator law."""
        seat = seat_coefficients(self.wide_open_pressure, self.wide_open_flow, liquid.density)
        return ReducingRegulatorCoefficients(
            set_pressure=self.set_pressure,
            droop=self.droop,
            open_linear=seat.linear,
            open_quadratic=seat.quadratic,
        )

    @takes()
    def reference_in_words(self, outlet: str, reference: str | None) -> str:
        """Return above which pressure the set pressure is held.

        Parameters
        ----------
        outlet : str
            Station at the outlet.
        reference : str or None
            Station to which the spring side is open; None for the atmosphere.

        Returns
        -------
        str

        Examples
        --------
        >>> regulator = ReducingRegulator(set_pressure="300 kPa")
        >>> [regulator.reference_in_words("return", node) for node in (None, "manifold", "return")]
        ['above the atmosphere', "above 'manifold'", 'above its own outlet']
        """
        return _reference_in_words(outlet, reference)
