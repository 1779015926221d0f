"""Molecules: pure species, activity in the liquid, virial vapour, properties of the liquid, combustion, blending."""
