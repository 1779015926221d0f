"""Lets tests read the modules beside them, and a plumbing that several of them drive."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import fuelsim as fs

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def past_the_pot():
    """A car of which one rail returns to the tank past its pot."""
    runs = [
        ["tank", "lift_strainer", "lift", "lift_line", "pot"],
        ["pot", "left_pump", "left_check", "tee"],
        ["tee", "main_filter", "feed_line", "front"],
        ["front", "left_feed", "left_rail", "left_rear"],
        ["left_rear", "rail_end", "return_hose", "tank"],
        ["pot", "overflow", "tank"],
    ]
    return fs.Car.named("plover").with_plumbing("past_the_pot", runs=runs, title="return past the pot")
