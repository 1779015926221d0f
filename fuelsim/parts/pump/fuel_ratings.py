"""Declarations of what a pump needs at its inlet and does with hot and with cold fuel."""

from __future__ import annotations

from fuelsim.fields import Quantity, quantity, series

__all__ = [
    "declared_body_conductance",
    "declared_cold_flow_change",
    "declared_contact_heat",
    "declared_hot_flow_loss",
    "declared_hot_flow_share",
    "declared_hot_inlet_pressure",
    "declared_hot_ratio",
    "declared_hot_temperature",
    "declared_hot_vapour_pressure",
    "declared_inlet_head",
    "declared_superheat",
    "declared_vapour_tolerance",
]


def declared_hot_flow_share() -> Quantity:
    """Declare the flows measured with hot fuel."""
    return series(
        "fraction",
        "Share of the flow without vapour that was measured with hot fuel, for each row of V/L or temperature; left "
        "out, it falls as 1/(1 + V/L) up to the tolerance and collapses beyond it (assumed).",
        least=1e-3,
        most=1.0,
        default=None,
        example="60 %",
    )


def declared_hot_ratio() -> Quantity:
    """Declare the ratios of vapour to liquid at which flows were measured with hot fuel."""
    return series(
        "number",
        "Ratio of vapour to liquid volume at the inlet, V/L, of each flow measured with hot fuel.",
        least=0.0,
        most=300.0,
        default=None,
        example="0.5",
    )


def declared_hot_temperature() -> Quantity:
    """Declare the temperatures at which flows were measured with hot fuel."""
    return series(
        "temperature",
        "Temperature of the liquid fuel before the inlet, of each flow measured with hot fuel, instead of V/L.",
        least=250.0,
        most=420.0,
        default=None,
        example="60 degC",
    )


def declared_hot_inlet_pressure() -> Quantity:
    """Declare the pressure at the inlet of a test with hot fuel."""
    return quantity(
        "absolute pressure",
        "Pressure at the inlet during the test with hot fuel, absolute.",
        least=20e3,
        most=300e3,
        default=None,
        example="95 kPa absolute",
    )


def declared_hot_vapour_pressure() -> Quantity:
    """Declare the vapour pressure of the petrol of a test with hot fuel."""
    return quantity(
        "absolute pressure",
        "Dry vapour pressure equivalent (DVPE) of the hot test's petrol, absolute, where it has no name.",
        least=10e3,
        most=150e3,
        default=None,
        example="62 kPa",
    )


def declared_inlet_head() -> Quantity:
    """Declare the NPSH that a pump requires."""
    return quantity(
        "pressure difference",
        "Pressure above the bubble pressure that the inlet needs for quiet running.",
        least=0.0,
        most=2e5,
        default=None,
        example="15 kPa",
    )


def declared_vapour_tolerance() -> Quantity:
    """Declare the vapour that a pump tolerates."""
    return quantity(
        "number",
        "Ratio of vapour to liquid volume at the inlet, V/L, above which the flow collapses.",
        least=0.05,
        most=20.0,
        default=None,
        example="2",
    )


def declared_superheat() -> Quantity:
    """Declare the superheat of the fuel at a pump's inlet."""
    return quantity(
        "temperature difference",
        "Temperature above the bubble point up to which fuel at the inlet stays liquid; it then boils as if it were "
        "colder by as much (0 to 5 K, assumed).",
        least=0.0,
        most=5.0,
        default=0.0,
        example="2 K",
    )


def declared_hot_flow_loss() -> Quantity:
    """Declare the flow that a pump loses with hot fuel that does not boil."""
    return quantity(
        "fraction",
        "Fraction of the flow lost from 20 to 60 degC, without bubbles.",
        least=0.0,
        most=0.4,
        default=0.05,
        example="5 %",
    )


def declared_cold_flow_change() -> Quantity:
    """Declare by how much cold fuel changes a pump's flow."""
    return quantity(
        "fraction",
        "Fraction by which the flow on petrol at -20 degC exceeds that at 20 degC; negative where it is less.",
        least=-0.5,
        most=0.3,
        default=None,
        example="2 %",
    )


def declared_body_conductance() -> Quantity:
    """Declare how a pump's fuel exchanges heat through its body."""
    return quantity(
        "heat conductance",
        "Heat conductance from the fuel in the pump through its body, mount and the gap around it to the air or fuel "
        "it stands in (assumed, if left out); a pump in a rubber-lined clamp or a foam sleeve has less, one clamped "
        "bare to sheet metal more.",
        least=0.0,
        most=50.0,
        default=1.0,
        example="1 W/K",
    )


def declared_contact_heat() -> Quantity:
    """Declare the heat that a pump's body takes from hot parts."""
    return quantity(
        "heat flow",
        "Heat flow into the pump's body by contact with a hot part, such as a crossmember above an exhaust, or "
        "radiated onto it, beside what the air gives.",
        least=0.0,
        most=500.0,
        default=0.0,
        example="20 W",
    )
