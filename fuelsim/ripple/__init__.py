"""Pulsation in a plumbed car: injectors, pumps, regulators and hoses that make, carry and damp pressure waves.

`dynamics` holds what a car file does not say, `injection` when which injector opens, `car_waves` makes the network of a
car's own lines with the steady flow of a run as its start, `study` runs it over engine speeds, `transfer` computes the
same small swings by exact lines in the domain of frequencies, `events` lets something happen at a moment.
"""
