"""Fuels: species, phase equilibrium, liquid properties, petrols of a specification, weathering."""
