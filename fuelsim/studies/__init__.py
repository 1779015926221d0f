"""Questions: each asks the system many operating points in one call."""
