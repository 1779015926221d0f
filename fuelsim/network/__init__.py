"""Topology and the batched solver."""
