"""fuelsim: size and prove the fuel delivery of a car converted to electronic fuel injection.

The public names below load their modules when first used, so that ``import fuelsim`` costs little.

Examples
--------
>>> import fuelsim as fs
>>> fs.si("300 kPa", "Pa")
300000.0
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fuelsim.errors import FuelsimError, InputError, RangeError, SolveError
    from fuelsim.finding import Finding, Severity
    from fuelsim.fuel.fuel import Fuel
    from fuelsim.laws.liquid import Liquid
    from fuelsim.network.network import Network
    from fuelsim.network.state import State
    from fuelsim.outcome import Outcome, OutcomeCode
    from fuelsim.parts.check_valve import CheckValve
    from fuelsim.parts.filter import Filter
    from fuelsim.parts.fittings import Fitting
    from fuelsim.parts.injectors import Injectors
    from fuelsim.parts.line import Line
    from fuelsim.parts.line_size import LineSize
    from fuelsim.parts.orifice import Orifice
    from fuelsim.parts.pump import Pump
    from fuelsim.parts.regulator import ControlledPump, ReducingRegulator, ReturnRegulator
    from fuelsim.parts.supply import PumpSteps, Supply
    from fuelsim.parts.tank_parts import JetPump, TankVent
    from fuelsim.parts.wire import Wire
    from fuelsim.studies.altitude import boiling_temperature
    from fuelsim.studies.climates import over_climates
    from fuelsim.studies.compare import compare
    from fuelsim.studies.drop_split import split_drop
    from fuelsim.studies.findings import findings
    from fuelsim.studies.handover import hand_over
    from fuelsim.studies.margins import margin_map
    from fuelsim.studies.remedies import remedies
    from fuelsim.studies.requirements import Requirements, assess, proving_conditions
    from fuelsim.studies.sensitivity import sensitivity, what_if
    from fuelsim.studies.size import Sizing, size
    from fuelsim.studies.vary import vary
    from fuelsim.system.car import Car
    from fuelsim.system.carfile import read_car
    from fuelsim.system.carwriter import write_car
    from fuelsim.system.climate import Climate, hot_day
    from fuelsim.system.conditions import Conditions
    from fuelsim.system.engine import Engine
    from fuelsim.system.heat_parts import Cooler, SurgePot
    from fuelsim.system.manoeuvre import Plan, manoeuvre, pot_cover
    from fuelsim.system.run import Run
    from fuelsim.transients.drive import drive
    from fuelsim.transients.schedule import Phase, Schedule, typical_phase
    from fuelsim.transients.soak import hot_soak, residual_pressure_needed
    from fuelsim.units import from_si, prefer_units, si

__version__ = "0.1.0"

_WHERE = {
    "Car": "system.car",
    "CheckValve": "parts.check_valve",
    "Climate": "system.climate",
    "Conditions": "system.conditions",
    "ControlledPump": "parts.regulator",
    "Cooler": "system.heat_parts",
    "Engine": "system.engine",
    "Filter": "parts.filter",
    "Finding": "finding",
    "Fitting": "parts.fittings",
    "Fuel": "fuel.fuel",
    "FuelsimError": "errors",
    "Injectors": "parts.injectors",
    "InputError": "errors",
    "JetPump": "parts.tank_parts",
    "Line": "parts.line",
    "LineSize": "parts.line_size",
    "Liquid": "laws.liquid",
    "Network": "network.network",
    "Orifice": "parts.orifice",
    "Outcome": "outcome",
    "OutcomeCode": "outcome",
    "Phase": "transients.schedule",
    "Plan": "system.manoeuvre",
    "Pump": "parts.pump",
    "PumpSteps": "parts.supply",
    "RangeError": "errors",
    "ReducingRegulator": "parts.regulator",
    "Requirements": "studies.requirements",
    "ReturnRegulator": "parts.regulator",
    "Run": "system.run",
    "Schedule": "transients.schedule",
    "Severity": "finding",
    "Sizing": "studies.size",
    "SolveError": "errors",
    "State": "network.state",
    "Supply": "parts.supply",
    "SurgePot": "system.heat_parts",
    "TankVent": "parts.tank_parts",
    "Wire": "parts.wire",
    "assess": "studies.requirements",
    "boiling_temperature": "studies.altitude",
    "compare": "studies.compare",
    "drive": "transients.drive",
    "findings": "studies.findings",
    "from_si": "units",
    "hand_over": "studies.handover",
    "hot_day": "system.climate",
    "hot_soak": "transients.soak",
    "manoeuvre": "system.manoeuvre",
    "margin_map": "studies.margins",
    "over_climates": "studies.climates",
    "pot_cover": "system.manoeuvre",
    "prefer_units": "units",
    "proving_conditions": "studies.requirements",
    "read_car": "system.carfile",
    "remedies": "studies.remedies",
    "residual_pressure_needed": "transients.soak",
    "sensitivity": "studies.sensitivity",
    "si": "units",
    "size": "studies.size",
    "split_drop": "studies.drop_split",
    "typical_phase": "transients.schedule",
    "vary": "studies.vary",
    "what_if": "studies.sensitivity",
    "write_car": "system.carwriter",
}

__all__ = [
    "Car",
    "CheckValve",
    "Climate",
    "Conditions",
    "ControlledPump",
    "Cooler",
    "Engine",
    "Filter",
    "Finding",
    "Fitting",
    "Fuel",
    "FuelsimError",
    "Injectors",
    "InputError",
    "JetPump",
    "Line",
    "LineSize",
    "Liquid",
    "Network",
    "Orifice",
    "Outcome",
    "OutcomeCode",
    "Phase",
    "Plan",
    "Pump",
    "PumpSteps",
    "RangeError",
    "ReducingRegulator",
    "Requirements",
    "ReturnRegulator",
    "Run",
    "Schedule",
    "Severity",
    "Sizing",
    "SolveError",
    "State",
    "Supply",
    "SurgePot",
    "TankVent",
    "Wire",
    "assess",
    "boiling_temperature",
    "compare",
    "drive",
    "findings",
    "from_si",
    "hand_over",
    "hot_day",
    "hot_soak",
    "manoeuvre",
    "margin_map",
    "over_climates",
    "pot_cover",
    "prefer_units",
    "proving_conditions",
    "read_car",
    "remedies",
    "residual_pressure_needed",
    "sensitivity",
    "si",
    "size",
    "split_drop",
    "typical_phase",
    "vary",
    "what_if",
    "write_car",
]


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'fuelsim' has no attribute {name!r}")
    value = getattr(import_module(f"fuelsim.{_WHERE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_WHERE])
