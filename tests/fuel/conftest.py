"""Fuels that several tests share."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from fuelsim.fuel.fuel import Fuel

sys.path.insert(0, str(Path(__file__).parent))

from published_values import CHECK_MIXTURE


@pytest.fixture(scope="session")
def palette_volumes() -> dict[str, float]:
    return CHECK_MIXTURE


@pytest.fixture(scope="session")
def palette() -> Fuel:
    """The check mixture with the default vapour model."""
    return Fuel.from_components(CHECK_MIXTURE)


@pytest.fixture(scope="session")
def summer_e0() -> Fuel:
    return Fuel.named("summer_e0")


@pytest.fixture(scope="session")
def summer_e10() -> Fuel:
    return Fuel.named("summer_e10")
