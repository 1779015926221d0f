"""Lets the tests of this folder import the browser they share, and the random plumbings of the system's tests."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "system"))
