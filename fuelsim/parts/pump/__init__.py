"""The electric pump: ratings, bench tables, map of curves and the running pump that the network sees."""
