"""The car: engine, wiring, fuel, surroundings and layouts joined."""
