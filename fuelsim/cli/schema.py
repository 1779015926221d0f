"""Print the JSON schema of a car file."""

from __future__ import annotations

import json

from fuelsim.car.read import car_schema
from fuelsim.cli.console import say

__all__ = ["run"]


def run() -> None:
    """Print the schema, in ASCII: sent to a file it is valid in any encoding of the console."""
    say(json.dumps(car_schema(), indent=2))
