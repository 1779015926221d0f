"""Print the JSON schema of a car file."""

from __future__ import annotations

import json

from fuelsim.car.read import car_schema

__all__ = ["run"]


def run() -> None:
    """Print the schema."""
    print(json.dumps(car_schema(), indent=2, ensure_ascii=False))
