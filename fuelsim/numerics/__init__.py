"""Numerical methods that know no physics: cubic interpolation, bracketing, smooth extremes, curves through points."""
