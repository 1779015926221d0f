"""Fuels that several tests share."""

from __future__ import annotations

import pytest

from fuelsim.fuel.fuel import Fuel

# Volume fractions of a petrol-like mixture, invented for checks against other libraries.
PALETTE = {
    "n-butane": 0.045,
    "isopentane": 0.14,
    "n-pentane": 0.06,
    "2-methylhexane": 0.14,
    "1-hexene": 0.06,
    "isooctane": 0.165,
    "toluene": 0.14,
    "m-xylene": 0.13,
    "1,2,4-trimethylbenzene": 0.08,
    "n-decane": 0.04,
}


@pytest.fixture(scope="session")
def palette_volumes() -> dict[str, float]:
    return PALETTE


@pytest.fixture(scope="session")
def palette() -> Fuel:
    """The check mixture with the default vapour model."""
    return Fuel.from_components(PALETTE)


@pytest.fixture(scope="session")
def summer_e0() -> Fuel:
    return Fuel.named("summer_e0")


@pytest.fixture(scope="session")
def summer_e10() -> Fuel:
    return Fuel.named("summer_e10")
