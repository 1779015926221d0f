"""Ratings as frozen dataclasses that choose a law and give it numbers."""
