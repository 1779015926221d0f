"""The hydraulic solver: one equation per link, one mass balance per node, all operating points at once."""
