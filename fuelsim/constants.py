"""Constants of nature, of standards and of units, and the version, each once."""

from __future__ import annotations

__all__ = [
    "AIR_GAS_CONSTANT",
    "GAS_CONSTANT",
    "GRAVITY",
    "L_PER_HOUR",
    "STANDARD_ATMOSPHERE",
    "VERSION",
    "ZERO_CELSIUS",
]

VERSION = "0.2.0"
"""Version of fuelsim, as in ``pyproject.toml``."""
GRAVITY = 9.80665
"""Standard acceleration of gravity, m/s2 (exact; 3rd CGPM, 1901)."""
GAS_CONSTANT = 8.31446261815324
"""Molar gas constant, J/mol/K (exact in the SI of 2019)."""
AIR_GAS_CONSTANT = 287.053
"""Gas constant of dry air, J/kg/K (US Standard Atmosphere 1976)."""
STANDARD_ATMOSPHERE = 101325.0
"""Pressure of the standard atmosphere at sea level, Pa (exact; 10th CGPM, 1954; ISO 2533)."""
ZERO_CELSIUS = 273.15
"""Temperature of 0 degC, K (exact)."""
L_PER_HOUR = 1e-3 / 3600.0
"""One litre per hour, m3/s."""
