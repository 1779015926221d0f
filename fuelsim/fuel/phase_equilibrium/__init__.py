"""Phase equilibrium: flashes and their iteration, distillation, laboratory tests."""
