"""Pure functions of arrays: one physical law each, SI, no files, no units."""
